"""Wind chill, frostbite, heat index and required insulation against tables and a library."""

from __future__ import annotations

import numpy as np
import pytest
from pythermalcomfort.models import heat_index_rothfusz, ireq, wind_chill_temperature

from simulator.body import exposure
from simulator.body.assumed import ASSUMED_CLO
from simulator.body.warmth import exposure_limit_h, halt_warmth, required_clo

WINDS_KM_H = (5, 10, 20, 30, 40, 60)


@pytest.mark.parametrize(
    ("air_c", "row"),
    [
        # Osczevski and Bluestein 2005 (read); every cell rounds to the table printed by the
        # Canadian weather service (restated).
        (5, (4.08, 2.66, 1.07, 0.05, -0.71, -1.85)),
        (0, (-1.59, -3.31, -5.24, -6.47, -7.40, -8.77)),
        (-5, (-7.26, -9.29, -11.55, -13.00, -14.08, -15.70)),
        (-10, (-12.93, -15.26, -17.86, -19.52, -20.77, -22.62)),
        (-20, (-24.28, -27.21, -30.48, -32.57, -34.13, -36.47)),
        (-30, (-35.62, -39.15, -43.10, -45.62, -47.50, -50.32)),
        (-40, (-46.97, -51.10, -55.72, -58.66, -60.87, -64.17)),
    ],
)
def test_wind_chill_table(air_c: float, row: tuple[float, ...]) -> None:
    found = exposure.wind_chill_c(air_c, WINDS_KM_H)
    np.testing.assert_allclose(found, row, atol=0.006)
    library = [
        float(wind_chill_temperature(tdb=air_c, v=wind, round_output=False).wct)
        for wind in WINDS_KM_H
    ]
    np.testing.assert_allclose(found, library, atol=1e-9)


@pytest.mark.parametrize(
    ("air_f", "wind_mph", "chill_f"),
    [
        # The US weather service's form in degrees F and mph, by arithmetic.
        (40, 5, 36.47),
        (30, 10, 21.25),
        (20, 20, 4.24),
        (0, 15, -19.40),
        (-10, 30, -39.45),
    ],
)
def test_wind_chill_in_the_us_form(air_f: float, wind_mph: float, chill_f: float) -> None:
    found = float(exposure.wind_chill_c((air_f - 32) / 1.8, 1.609344 * wind_mph))
    assert 1.8 * found + 32 == pytest.approx(chill_f, abs=0.1)  # two roundings of coefficients


def test_wind_chill_in_hardly_any_wind_meets_the_index_at_5_km_h() -> None:
    # Canadian weather service (from memory): -12.94 against -12.93 at -10 degrees C.
    low = float(exposure.low_wind_chill_c(-10, 5))
    assert low == pytest.approx(-12.94, abs=0.01)
    assert float(exposure.wind_chill_c(-10, 5)) == pytest.approx(low, abs=0.02)
    assert float(exposure.low_wind_chill_c(-10, 0)) == -10


@pytest.mark.parametrize(
    ("air_c", "printed_c"),
    [(5, 4), (0, -2), (-5, -7), (-10, -13), (-20, -24), (-30, -36), (-40, -47)],
)
def test_wind_chill_in_hardly_any_wind_ends_at_the_printed_column_of_5_km_h(
    air_c: float, printed_c: float
) -> None:
    # Table of the Canadian weather service (restated), whole degrees, wind of 5 km/h.
    assert round(float(exposure.low_wind_chill_c(air_c, 5))) == printed_c


@pytest.mark.parametrize(
    ("air_c", "wind_km_h", "chill_c"),
    [
        # T + (-1.59 + 0.1345 T) / 5 x V, Canadian weather service (from memory), by hand:
        (0, 2.5, -0.795),  # -1.59 / 5 x 2.5
        (5, 4, 4.266),  # 5 - 0.9175 / 5 x 4
        (-20, 3, -22.568),  # -20 - 4.28 / 5 x 3
        (-40, 1, -41.394),  # -40 - 6.97 / 5
    ],
)
def test_wind_chill_in_hardly_any_wind(air_c: float, wind_km_h: float, chill_c: float) -> None:
    assert float(exposure.low_wind_chill_c(air_c, wind_km_h)) == pytest.approx(chill_c, abs=6e-4)


@pytest.mark.parametrize(
    ("air_c", "wind_km_h", "minutes"),
    # Osczevski and Bluestein (from memory), by arithmetic.
    [(-20, 40, 14.31), (-25, 30, 9.99), (-30, 40, 6.16), (-35, 30, 5.11), (-40, 40, 3.53)],
)
def test_frostbite_time(air_c: float, wind_km_h: float, minutes: float) -> None:
    found = float(exposure.frostbite_min(air_c, wind_km_h))
    assert found == pytest.approx(minutes, abs=0.006)


@pytest.mark.parametrize(
    ("air_c", "wind_km_h", "band_min"),
    [
        # Warning bands of the Canadian weather service by wind chill (restated).
        (-25, 30, (10, 30)),  # wind chill -39: the formula's 9.99 is on the border
        (-30, 40, (5, 10)),
    ],
)
def test_frostbite_time_agrees_with_the_warning_bands(
    air_c: float, wind_km_h: float, band_min: tuple[float, float]
) -> None:
    found = float(exposure.frostbite_min(air_c, wind_km_h))
    assert band_min[0] - 0.02 <= found <= band_min[1]


def test_at_the_extreme_the_warning_band_is_stricter_than_the_formula() -> None:
    # Wind chill -60.9: the band says under 2 minutes, the formula 3.5. Both are kept; the steps
    # of cold carry the band.
    assert float(exposure.wind_chill_c(-40, 40)) < -55
    assert float(exposure.frostbite_min(-40, 40)) > 2
    assert "under 2 minutes" in exposure.COLD_STEPS[-1].means


@pytest.mark.parametrize(
    ("air_f", "humidity_pct", "index_f"),
    [
        # Rothfusz 1990 and the US weather service's adjustments (read), by arithmetic.
        (80, 90, 86.342),
        (84, 90, 98.343),
        (86, 90, 105.394),
        (90, 40, 90.680),
        (90, 70, 105.922),
        (95, 10, 89.450),
        (96, 50, 107.637),
        (100, 40, 109.256),
        (100, 60, 129.489),
        (104, 55, 137.361),
        (110, 40, 135.657),
        # printed table of the service, whole degrees (from memory)
        (90, 40, 91),
        (90, 70, 106),
        (100, 40, 109),
        (100, 60, 129),
        (110, 40, 136),
    ],
)
def test_heat_index_table(air_f: float, humidity_pct: float, index_f: float) -> None:
    found = 1.8 * float(exposure.heat_index_c((air_f - 32) / 1.8, humidity_pct)) + 32
    tolerance = 0.5 if float(index_f).is_integer() else 6e-4
    assert found == pytest.approx(index_f, abs=tolerance)


@pytest.mark.parametrize(
    ("air_c", "humidity_pct", "index_c"),
    [(30, 50, 31.05), (30, 80, 37.67), (32, 70, 40.41), (35, 40, 37.22), (40, 30, 43.13)],
)
def test_heat_index_agrees_with_the_comfort_library(
    air_c: float, humidity_pct: float, index_c: float
) -> None:
    found = float(exposure.heat_index_c(air_c, humidity_pct))
    assert found == pytest.approx(index_c, abs=0.006)
    library = heat_index_rothfusz(tdb=air_c, rh=humidity_pct, round_output=False).hi
    assert found == pytest.approx(float(library), abs=2e-5)  # its coefficients are in degrees C


def test_heat_index_below_eighty_is_the_simple_value_averaged_with_the_air() -> None:
    # 80 F and 40 %: the two readings of the service's text give 79.58 and 79.79; ours averages.
    found = 1.8 * float(exposure.heat_index_c((80 - 32) / 1.8, 40)) + 32
    assert found == pytest.approx(79.79, abs=0.006)


IREQ_CASES = [
    (metabolic, air_c, air_speed)
    for metabolic in (58.2, 76.0, 110.0, 151.5, 175.0)
    for air_c in (10.0, 2.0, -5.0, -20.0)
    for air_speed in (0.4, 1.2, 5.0)
]


@pytest.mark.parametrize(("metabolic", "air_c", "air_speed"), IREQ_CASES)
def test_required_insulation_agrees_with_the_comfort_library(
    metabolic: float, air_c: float, air_speed: float
) -> None:
    # pythermalcomfort `ireq` (ISO 11079:2007). Its search stops at 0.01 W/m2, which moves its
    # insulation by up to 0.002 clo and its time by up to 1 %; ours solves to the last digit.
    walk = float(np.clip(0.0052 * (metabolic - 58), 1e-9, 1.2))
    theirs = ireq(
        tdb=air_c,
        tr=air_c,
        vr=air_speed,
        rh=60,
        met=metabolic / 58.15,
        clo=1.5,
        p=50,
        walk_sp=walk,
        limit_inputs=False,
        round_output=False,
    )
    for criterion, name in (("minimal", "min"), ("neutral", "neutral")):
        resultant = float(
            required_clo(
                metabolic, air_c, air_speed, humidity_pct=60, criterion=criterion, basic=False
            )
        )
        basic = float(
            required_clo(metabolic, air_c, air_speed, humidity_pct=60, criterion=criterion)
        )
        hours = float(
            exposure_limit_h(metabolic, air_c, air_speed, 1.5, humidity_pct=60, criterion=criterion)
        )
        assert resultant == pytest.approx(float(getattr(theirs, f"ireq_{name}")), abs=0.003)
        assert basic == pytest.approx(float(getattr(theirs, f"icl_{name}")), abs=0.004)
        library_hours = getattr(theirs, f"dle_{name}")
        if isinstance(library_hours, str):  # "more than 8"
            assert hours > 8
        else:
            assert hours == pytest.approx(float(library_hours), rel=0.01)


def test_exposure_time_has_no_jump_where_the_library_has_one() -> None:
    # At isolated inputs, 75.8 W/m2 at 10 degrees C and 5 m/s, the library's search ends before its
    # insulation has settled (0.719 h between 0.769 h at 75.5 and 0.777 h at 76).
    below, here, above = (
        float(exposure_limit_h(metabolic, 10, 5.0, 1.5, humidity_pct=60))
        for metabolic in (75.5, 75.8, 76.0)
    )
    assert (below, above) == pytest.approx((0.76865, 0.77662), rel=1e-3)
    assert below < here < above


@pytest.mark.parametrize(
    ("watts", "air_c", "air_speed", "minimal", "neutral", "icl_minimal", "icl_neutral"),
    [
        # The same library's rounded values as recorded, 1.98 m2 (version 4.8.1).
        (300, 10, 1.2, 0.5, 0.8, 0.6, 1.0),
        (150, 0, 0.5, 2.7, 3.1, 2.9, 3.3),
        (150, -10, 0.5, 3.7, 4.1, 4.0, 4.4),
    ],
)
def test_required_insulation_at_a_walk_and_at_rest(
    watts: float,
    air_c: float,
    air_speed: float,
    minimal: float,
    neutral: float,
    icl_minimal: float,
    icl_neutral: float,
) -> None:
    found = [
        float(
            required_clo(
                watts / 1.98, air_c, air_speed, humidity_pct=60, criterion=criterion, basic=basic
            )
        )
        for basic in (False, True)
        for criterion in ("minimal", "neutral")
    ]
    assert found == pytest.approx([minimal, neutral, icl_minimal, icl_neutral], abs=0.1)


def test_stopping_doubles_the_clothing_that_is_needed() -> None:
    # Half the metabolic rate at 0 degrees C, by the library: 1.4 clo walking, 3.0 resting.
    walking = float(required_clo(300 / 1.98, 0, 1.2))
    resting = float(required_clo(150 / 1.98, 0, 0.5))
    assert resting > 2 * walking


def test_a_night_at_two_degrees_in_street_clothes_and_a_blanket_is_not_warm_enough() -> None:
    # The library asks for 3.7 clo at rest at 2 degrees C; street clothes are 0.96 (ASHRAE 55:
    # trousers, shirt and jacket) and a blanket is assumed to add 1.0.
    night = halt_warmth(2, 0.4, 0.96, ASSUMED_CLO["blanket"].middle, 10)
    assert float(night.required_minimal_clo) == pytest.approx(3.68, abs=0.05)
    assert not bool(night.enough)
    assert float(night.exposure_limit_h) < 2
    assert float(night.short_clo) == pytest.approx(3.68 - 1.96, abs=0.05)
