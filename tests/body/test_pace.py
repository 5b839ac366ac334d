"""What speeds and slowing factors must obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.body import pace
from simulator.body.pace import WHEELCHAIR_RAMP_STRICT_SLOPE

slopes = st.floats(-0.7, 0.7)


@given(st.floats(0, 0.6))
def test_tobler_speed_is_even_about_a_five_percent_descent(away: float) -> None:
    up, down = pace.tobler_speed_m_s(-0.05 + away), pace.tobler_speed_m_s(-0.05 - away)
    assert float(up) == pytest.approx(float(down), rel=1e-12)
    assert float(up) <= 6 / 3.6


@pytest.mark.parametrize("name", sorted(pace.PACE_MODELS))
def test_steeper_uphill_is_never_faster(name: str) -> None:
    speed = pace.PACE_MODELS[name](np.linspace(0, 0.7, 1401))
    speed = speed[np.isfinite(speed)]
    assert (np.diff(speed) <= 0).all()
    assert (speed > 0).all()


@pytest.mark.parametrize("name", sorted(pace.PACE_MODELS))
def test_speeds_are_continuous_in_slope(name: str) -> None:
    speed = pace.PACE_MODELS[name](np.linspace(-0.7, 0.7, 14_001))
    steps = np.abs(np.diff(speed))
    assert np.nanmax(steps) < 0.002  # over a ten-thousandth of slope


@given(st.lists(slopes, min_size=1, max_size=20))
def test_the_band_holds_every_fit(values: list[float]) -> None:
    band = pace.speed_band(values)
    for model in pace.PACE_MODELS.values():
        speed = model(values)
        known = np.isfinite(speed)
        assert (band.low[known] <= speed[known]).all()
        assert (band.high[known] >= speed[known]).all()
    assert (band.low <= band.middle).all()
    assert (band.middle <= band.high).all()


def test_the_band_counts_the_fits_that_reach() -> None:
    band = pace.speed_band(np.array([0.0, 0.35, 0.65, 0.8]))
    assert band.fits.tolist() == [5, 4, 1, 0]
    assert float(band.low[2]) == float(pace.tobler_speed_m_s(0.65))
    assert np.isnan(band.middle[3])
    assert int(pace.speed_band(0.0).fits) == 5


@given(st.floats(0.5, 1.5), st.lists(st.floats(-0.3, 0.3), min_size=1, max_size=9))
def test_a_timed_walk_gives_back_the_factor_it_was_walked_with(
    factor: float, walked: list[float]
) -> None:
    lengths = np.full(len(walked), 700.0)
    times = lengths / (factor * pace.tobler_speed_m_s(walked))
    found = pace.pace_factor_from_timed_walk(lengths, float(times.sum()), walked)
    assert found == pytest.approx(factor, rel=1e-9)
    assert pace.pace_factor_from_timed_walk(lengths, times, walked) == pytest.approx(factor)


def test_a_timed_walk_belongs_to_its_model() -> None:
    slow = pace.pace_factor_from_timed_walk(5000, 3600, model="irmischer_clarke_2018")
    assert slow > 1.2  # 5 km/h is fast for that fit's 3.95 km/h


def test_a_timed_walk_that_cannot_be_used_is_refused() -> None:
    with pytest.raises(ValueError, match="beyond the limits of tobler_1993"):
        pace.pace_factor_from_timed_walk(1000, 900, 0.9)
    with pytest.raises(ValueError, match="missing"):
        pace.pace_factor_from_timed_walk(np.nan, 900)
    with pytest.raises(ValueError, match="time_s = 0"):
        pace.pace_factor_from_timed_walk(1000, 0)
    with pytest.raises(ValueError, match="model = 'bus'"):
        pace.pace_factor_from_timed_walk(1000, 900, model="bus")
    with pytest.raises(ValueError, match="one value, or one for each length"):
        pace.pace_factor_from_timed_walk(1000, 900, [0.0, 0.1])


@given(st.floats(40, 120), st.floats(0, 27), st.floats(0, 27))
def test_more_load_is_never_faster(mass: float, load: float, other: float) -> None:
    light, heavy = sorted((load, other))
    assert pace.load_factor(mass, heavy) <= pace.load_factor(mass, light) <= 1


def test_no_load_does_not_slow_and_too_much_is_not_known() -> None:
    assert float(pace.load_factor(80, 0)) == 1
    assert np.isnan(pace.load_factor(50, 40))


def test_a_small_bag_slows_by_two_to_three_percent() -> None:
    # 3 to 5 kg on 80 kg, Pandolf at constant rate: inside the noise between the fits.
    assert 0.96 < float(pace.load_factor(80, 5)) < float(pace.load_factor(80, 3)) < 0.99


def test_only_known_lamps_make_a_way_lit() -> None:
    assert pace.dark_factor(np.array([1, 0, -1])).tolist() == [0.95, 0.8, 0.8]
    assert float(pace.dark_factor(0, unlit_factor=0.67)) == 0.67
    assert np.isnan(pace.dark_factor(1, lit_factor=np.nan))
    with pytest.raises(ValueError, match="unlit_factor = -1"):
        pace.dark_factor(0, unlit_factor=-1)


def test_the_dark_assumption_spans_the_march_rates() -> None:
    # Army march rates (from memory): roads 3.2 of 4.0 km/h, across country 1.6 of 2.4.
    assert pytest.approx(3.2 / 4.0) == pace.DARK_UNLIT_FACTOR
    assert pace.DARK_UNLIT_FACTOR < pace.DARK_LIT_FACTOR < 1


@given(st.floats(0, 30), st.floats(0, 30))
def test_tiredness_only_grows_and_has_a_floor(hours: float, other: float) -> None:
    early, late = sorted((hours, other))
    assert pace.FATIGUE_LEAST <= pace.fatigue_factor(late) <= pace.fatigue_factor(early) <= 1


def test_tiredness_begins_continuously_and_can_be_switched_off() -> None:
    free_h = pace.FATIGUE_FREE_H
    assert float(pace.fatigue_factor(free_h)) == 1
    assert float(pace.fatigue_factor(free_h + 1e-6)) == pytest.approx(1, abs=1e-7)
    assert float(pace.fatigue_factor(20, fatigue_per_h=0)) == 1
    assert np.isnan(pace.fatigue_factor(np.nan))


def test_stairs_are_slower_up_than_down_and_need_a_direction() -> None:
    assert pace.stairs_speed_m_s([True, False]).tolist() == [0.55, 0.75]
    with pytest.raises(ValueError, match="up = nan"):
        pace.stairs_speed_m_s(np.nan)


def test_a_group_walks_at_its_slowest_and_an_unknown_member_makes_it_unknown() -> None:
    speeds = np.array([[1.4, 1.2, 1.0], [1.1, 1.3, np.nan]])
    np.testing.assert_array_equal(pace.group_speed_m_s(speeds), [1.1, 1.2, np.nan])


def test_limits_of_a_group_bind_together() -> None:
    both = pace.strictest(["wheels", "push-chair"])
    assert both.max_slope == pytest.approx(1 / 12)
    assert not both.stairs
    assert {"gravel", "sand"} <= both.refused
    assert both.rest_factor == max(
        pace.LIMIT_RULES[word].rest_factor for word in ("wheels", "push-chair")
    )
    free = pace.strictest([])
    assert free.stairs
    assert free.max_slope == np.inf
    with pytest.raises(ValueError, match="limits = 'wheel' is unknown"):
        pace.strictest(["wheel"])


def test_refused_surfaces_are_known_surfaces() -> None:
    for rule in pace.LIMIT_RULES.values():
        assert rule.refused <= set(pace.SURFACE_SPEED_FACTORS)
        assert not rule.stairs
        assert rule.why


def test_wheels_take_no_more_than_the_standard_ramp() -> None:
    # ADA 405.2: 1 in 12 (from memory); DIN 18040-1: 6 % (from memory); both are kept.
    assert pace.LIMIT_RULES["wheels"].max_slope == pytest.approx(1 / 12)
    assert pace.LIMIT_RULES["wheels"].max_slope > WHEELCHAIR_RAMP_STRICT_SLOPE
