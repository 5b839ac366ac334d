"""The moon against worked examples, dated phases and an independent library."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import astral
import astral.moon
import numpy as np
import pytest

from simulator.sky.moon import (
    ecliptic_deg,
    moon_elevation_deg,
    moon_illuminated_fraction,
    moon_light,
)

# 1992-04-12 0h dynamical time, 69 s (the fixed delta T) before the same reading in UTC.
EXAMPLE_S = datetime(1992, 4, 12, tzinfo=UTC).timestamp() - 69.0


def test_the_worked_example_of_meeus_is_met() -> None:
    # Meeus 1998, ch. 48, low-precision example: i = 68.88 deg, k = 0.680 (from memory).
    fraction = float(moon_illuminated_fraction(EXAMPLE_S))
    assert fraction == pytest.approx(0.680, abs=0.0005)
    angle_deg = np.degrees(np.arccos(2 * fraction - 1))
    assert angle_deg == pytest.approx(68.88, abs=0.01)


@pytest.mark.parametrize(
    ("when", "fraction", "error"),
    [
        # Moments of the phases by almanac; at the quarters the fraction is 0.500 +- 0.003 because a
        # quarter is defined by ecliptic longitude.
        ("2025-03-14T06:55", 1.0, 0.001),
        ("2025-03-29T10:58", 0.0, 0.001),
        ("2025-03-22T11:29", 0.5, 0.004),
        ("2025-06-03T03:41", 0.5, 0.004),
        ("2025-11-05T13:19", 1.0, 0.001),
    ],
)
def test_dated_phases_are_full_half_and_new(when: str, fraction: float, error: float) -> None:
    epoch_s = datetime.fromisoformat(f"{when}+00:00").timestamp()
    assert float(moon_illuminated_fraction(epoch_s)) == pytest.approx(fraction, abs=error)


def test_the_place_of_the_moon_is_within_the_stated_error() -> None:
    # Meeus 1998, example 47.a: longitude 133.167, latitude -3.229, parallax 0.99199 deg (from
    # memory). Stated errors of the low-precision formulae: 0.3, 0.2 and 0.003 deg.
    longitude, latitude, parallax = ecliptic_deg(EXAMPLE_S)
    assert float(longitude) == pytest.approx(133.167, abs=0.3)
    assert float(latitude) == pytest.approx(-3.229, abs=0.2)
    assert float(parallax) == pytest.approx(0.99199, abs=0.003)


@pytest.mark.parametrize(("lat", "lon"), [(51.5, -0.1), (-33.9, 151.2), (0.0, -78.5), (69.6, 19.0)])
def test_heights_agree_with_astral(lat: float, lon: float) -> None:
    # astral 3.2 uses another truncation of the same theory and no parallax (up to 1 deg at the
    # horizon); with parallax taken off here the rest is the stated errors of both.
    observer = astral.Observer(lat, lon, 0.0)
    start = datetime(2025, 1, 3, 5, tzinfo=UTC)
    moments = [start + timedelta(hours=37 * step) for step in range(60)]
    epoch_s = np.array([moment.timestamp() for moment in moments])
    theirs = np.array([astral.moon.elevation(observer, moment) for moment in moments])
    ours = moon_elevation_deg(lat, lon, epoch_s)
    _, _, parallax = ecliptic_deg(epoch_s)
    geocentric = ours + parallax * np.cos(np.radians(ours))
    assert np.abs(geocentric - theirs).max() < 0.8


def test_a_high_full_moon_gives_a_fraction_of_a_lux_and_a_set_moon_none() -> None:
    # Full moon of 2025-11-05, near its closest; illuminance of a full moon at the zenith is 0.25
    # to 0.32 lux, commonly 0.05 to 0.2 at mid latitudes (Kyba, Mohar & Posch 2017, Astronomy &
    # Geophysics 58:1.31, from memory).
    start = datetime(2025, 11, 5, tzinfo=UTC).timestamp()
    epoch_s = start + np.arange(0.0, 48.0, 0.25) * 3600
    light = moon_light(20.0, 0.0, epoch_s)
    assert 0.15 < light.clear_sky_lux.max() < 0.32
    assert np.all(light.clear_sky_lux[light.elevation_deg <= 0] == 0)
    assert np.all(light.clear_sky_lux >= 0)
    assert light.clear_sky_lux.argmax() == pytest.approx(light.elevation_deg.argmax(), abs=2)


def test_a_half_moon_gives_about_a_tenth_of_the_full_moons_light() -> None:
    # Krisciunas & Schaefer 1991, phase law: magnitude 0.026*90 + 4e-9*90^4 = 2.60 fainter, a
    # factor of 11; the height is made equal by taking the ratio per sine of the height.
    # The moments of the phases by almanac, at places that have the moon high up then.
    full = moon_light(0.0, 160.0, datetime(2025, 11, 5, 13, 19, tzinfo=UTC).timestamp())
    half = moon_light(0.0, -130.0, datetime(2025, 6, 3, 3, 41, tzinfo=UTC).timestamp())
    assert min(float(full.elevation_deg), float(half.elevation_deg)) > 40

    def overhead(light: float, height_deg: float) -> float:
        sine = np.sin(np.radians(height_deg))
        return float(light / sine * 10 ** (0.4 * 0.2 / sine))

    ratio = overhead(float(full.clear_sky_lux), float(full.elevation_deg)) / overhead(
        float(half.clear_sky_lux), float(half.elevation_deg)
    )
    assert ratio == pytest.approx(10 ** (0.4 * 2.60), rel=0.05)


def test_outside_the_stated_years_nothing_is_known_of_the_moon() -> None:
    late_s = 7e9
    light = moon_light(10.0, 10.0, np.array([late_s, 1e9]))
    assert np.isnan(light.illuminated).tolist() == [True, False]
    assert np.isnan(light.elevation_deg).tolist() == [True, False]
    assert np.isnan(light.clear_sky_lux).tolist() == [True, False]


def test_a_place_off_the_globe_is_refused() -> None:
    with pytest.raises(ValueError, match="lat must be"):
        moon_elevation_deg(95.0, 0.0, 0.0)
