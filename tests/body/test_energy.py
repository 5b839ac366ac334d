"""What metabolic rates must obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.body import energy, pace
from simulator.body.energy import SANTEE_BRIDGE_SLOPE, SANTEE_LEAST_SPEED_M_S

masses = st.floats(45, 130)
speeds = st.floats(0.3, 1.9)
MODELS = sorted(energy.WALKING_LIMITS)


@given(masses, st.floats(0, 0.39), speeds, st.floats(0, 0.25), st.floats(0, 0.25))
def test_steeper_uphill_never_costs_less(
    mass: float, share: float, speed: float, slope: float, other: float
) -> None:
    gentle, steep = sorted((slope, other))
    for model in MODELS:
        low = energy.walking_w(mass, share * mass, speed, gentle, model=model)
        high = energy.walking_w(mass, share * mass, speed, steep, model=model)
        assert low <= high * (1 + 1e-12)


@given(masses, st.floats(0, 0.39), st.floats(0, 0.39), speeds, st.floats(-0.15, 0.25))
def test_a_heavier_load_never_costs_less(
    mass: float, share: float, other: float, speed: float, slope: float
) -> None:
    light, heavy = sorted((share * mass, other * mass))
    for model in ("lcda", "minetti"):
        low = energy.walking_w(mass, light, speed, slope, model=model)
        assert low <= energy.walking_w(mass, heavy, speed, slope, model=model) * (1 + 1e-12)
    uphill = abs(slope)
    low = energy.pandolf_w(mass, light, speed, uphill)
    assert low <= energy.pandolf_w(mass, heavy, speed, uphill) * (1 + 1e-12)


@pytest.mark.parametrize("model", ["lcda", "pandolf"])
@given(
    masses,
    st.floats(0.2, 0.8),
    st.floats(0.2, 0.8),
    st.floats(0.7, 1.9),
    st.floats(-0.15, 0.25),
    st.floats(1, 2.1),
)
def test_a_load_beyond_what_was_measured_never_costs_less_than_a_lighter_one(
    model: str, mass: float, share: float, other: float, speed: float, slope: float, terrain: float
) -> None:
    light, heavy = sorted((share * mass, other * mass))
    low, high = (
        float(energy.heavy_walking_w(mass, load, speed, slope, terrain, model=model))
        for load in (light, heavy)
    )
    assert low <= high * (1 + 1e-12)
    within = energy.walking_w(mass, light, speed, slope, terrain, model=model)
    if np.isfinite(within):
        assert low == float(within)


@pytest.mark.parametrize(("model", "limit"), [("lcda", 0.4), ("pandolf", 0.7)])
@pytest.mark.parametrize("slope", [-0.1, 0.0, 0.1])
@pytest.mark.parametrize("terrain", [1.0, 2.1])
def test_the_rate_has_no_jump_where_the_load_leaves_the_limit(
    model: str, limit: float, slope: float, terrain: float
) -> None:
    within, beyond = 60.0 * limit * np.array([1 - 1e-9, 1 + 1e-9])
    measured = float(energy.walking_w(60, within, 1.34, slope, terrain, model=model))
    assert np.isnan(energy.walking_w(60, beyond, 1.34, slope, terrain, model=model))
    stand_in = float(energy.heavy_walking_w(60, beyond, 1.34, slope, terrain, model=model))
    assert stand_in == pytest.approx(measured, rel=1e-7)


def test_other_limits_than_the_load_s_stay_limits_under_a_heavy_load() -> None:
    assert np.isnan(energy.heavy_walking_w(60, 30, 2.2, 0.0))
    assert np.isnan(energy.heavy_walking_w(60, 30, 1.3, 0.5))
    assert np.isnan(energy.heavy_walking_w(60, 45, 0.5, -0.05, model="pandolf"))
    with pytest.raises(ValueError, match="model = 'minetti' is unknown"):
        energy.heavy_walking_w(60, 30, 1.3, 0.0, model="minetti")


@given(masses, st.floats(0, 0.3), speeds, speeds, st.floats(0, 0.25))
def test_faster_uphill_or_level_never_costs_less(
    mass: float, share: float, speed: float, other: float, slope: float
) -> None:
    slow, fast = sorted((speed, other))
    for model in MODELS:
        low = energy.walking_w(mass, share * mass, slow, slope, model=model)
        assert low <= energy.walking_w(mass, share * mass, fast, slope, model=model) * (1 + 1e-12)


@given(masses, st.floats(0.7, 1.9), st.floats(-0.15, 0.25), st.floats(1, 2.1))
def test_rough_ground_never_costs_less(
    mass: float, speed: float, slope: float, terrain: float
) -> None:
    for model in MODELS:
        smooth = energy.walking_w(mass, 5, speed, slope, model=model)
        assert smooth <= energy.walking_w(mass, 5, speed, slope, terrain, model=model) * (1 + 1e-12)


@given(masses, st.floats(0.7, 1.9), st.floats(-0.15, 0.25))
def test_walking_always_costs_something(mass: float, speed: float, slope: float) -> None:
    for model in MODELS:
        assert energy.walking_w(mass, 5, speed, slope, model=model) > 0.6 * mass


@pytest.mark.parametrize("speed", [0.7, 1.0, 1.34, 1.6])
@pytest.mark.parametrize("mass", [50, 80, 110])
def test_pandolf_is_continuous_from_downhill_to_uphill(mass: float, speed: float) -> None:
    slopes = np.linspace(-0.15, 0.25, 40_001)
    watts = energy.pandolf_w(mass, 8, speed, slopes)
    # A hundred-thousandth of slope moves the rate by hundredths of a watt; the correction alone
    # would jump by more than ten.
    assert np.abs(np.diff(watts)).max() < 0.1


@given(masses, speeds, st.floats(-0.15, 0.0), st.floats(1, 2.1))
def test_going_down_never_costs_less_than_standing(
    mass: float, speed: float, slope: float, terrain: float
) -> None:
    watts = energy.pandolf_w(mass, 5, speed, slope, terrain)
    if slope < 0 and speed < SANTEE_LEAST_SPEED_M_S:
        assert np.isnan(watts)
    else:
        assert watts >= energy.pandolf_w(mass, 5, 0, 0)


def test_the_bridge_of_the_downhill_correction_is_straight_and_ends_exactly() -> None:
    end = SANTEE_BRIDGE_SLOPE
    level, half, full = (
        float(energy.pandolf_w(80, 5, 1.34, slope)) for slope in (0.0, end / 2, end)
    )
    assert half == pytest.approx((level + full) / 2)
    # At -1 %: 120.664 + 85 x 1.34 x (1.5 x 1.34 - 0.35) W, less a correction of
    # -1 x 85 x 1.34 / 3.5 - 85 x 25 / 80 + 25 - 1.34^2 W, by arithmetic.
    assert full == pytest.approx(309.735 + 35.904, abs=0.002)


def test_standing_has_no_slope() -> None:
    for slope in (-0.1, 0.0, 0.1):
        assert float(energy.pandolf_w(80, 5, 0, slope)) == pytest.approx(120.66, abs=0.006)
        assert float(energy.lcda_w_kg(0, slope)) == pytest.approx(1.44)
    downhill = energy.pandolf_w(80, 5, [0.0, 1.34], -0.05)
    assert float(downhill[0]) == pytest.approx(120.66, abs=0.006)


def test_walking_rate_is_missing_beyond_the_limits_and_the_companion_says_which() -> None:
    slope = np.array([0.0, -0.5, 0.0, 0.0])
    speed = np.array([1.3, 1.3, 2.2, 1.3])
    load = np.array([5, 5, 5, 50.0])
    watts = energy.walking_w(80, load, speed, slope)
    assert np.isnan(watts).tolist() == [False, True, True, True]
    failed = energy.walking_limits(80, load, speed, slope)
    assert {name: flag.tolist() for name, flag in failed.items()} == {
        "speed_m_s": [False, False, True, False],
        "slope": [False, True, False, False],
        "load_kg / mass_kg": [False, False, False, True],
    }


def test_steep_ground_is_filled_only_where_slope_alone_is_beyond() -> None:
    slope = np.array([0.0, -0.42, -0.42, -0.5])
    speed = np.array([1.3, 0.4, 2.2, 0.4])
    plain = energy.walking_w(80, 5, speed, slope)
    filled = energy.walking_w(80, 5, speed, slope, steep_ground=True)
    assert np.isnan(plain).tolist() == [False, True, True, True]
    assert np.isnan(filled).tolist() == [False, False, True, True]
    assert float(filled[1]) == float(energy.walking_w(80, 5, 0.4, -0.42, model="minetti"))
    assert float(energy.walking_w(80, 5, 0.4, -0.42, steep_ground=True)) == float(filled[1])


@pytest.mark.parametrize(
    ("model", "border", "most"),
    [
        ("lcda", -0.40, 0.06),
        ("lcda", 0.45, 0.06),
        ("pandolf", 0.25, 0.05),
        ("pandolf", -0.15, 0.35),
    ],
)
@pytest.mark.parametrize("mass", [60, 80, 100])
def test_the_jump_at_the_border_to_steep_ground_is_no_larger_than_documented(
    model: str, border: float, most: float, mass: float
) -> None:
    speed = float(pace.tobler_speed_m_s(border))
    here = float(energy.walking_w(mass, 5, speed, border, model=model))
    beyond = float(energy.walking_w(mass, 5, speed, border, model="minetti"))
    assert abs(beyond / here - 1) < most


def test_an_unknown_model_or_sex_is_refused() -> None:
    with pytest.raises(ValueError, match="model = 'guess' is unknown; allowed: 'lcda'"):
        energy.walking_w(80, 5, 1.3, 0, model="guess")
    with pytest.raises(ValueError, match="sex = nan"):
        energy.resting_w(80, 1.8, 40, np.nan)
    with pytest.raises(ValueError, match=r"mass_kg = -80 is impossible; allowed: 1 to 700 kg"):
        energy.pandolf_w(-80, 5, 1.3, 0)


def test_resting_rate_takes_people_together() -> None:
    watts = energy.resting_w([80, 65], [1.78, 1.65], [40, 40], ["male", "female"])
    assert watts.tolist() == pytest.approx([83.17, 63.93], abs=0.006)
    assert np.isnan(energy.resting_w(30, 1.3, 9, "female"))


@given(st.floats(0, 5000), st.floats(0, 5000), st.floats(0, 12))
def test_nobody_eats_more_than_was_used_or_is_left_or_can_be_taken_up(
    used: float, left: float, hours: float
) -> None:
    eaten = float(energy.eat_kcal(used, left, hours))
    assert 0 <= eaten <= min(used, left, energy.MAX_EAT_KCAL_H * hours) + 1e-9


def test_the_words_on_a_short_day_warn_those_for_whom_it_is_different() -> None:
    assert "not starvation" in energy.ONE_DAY_SHORTAGE
    for word in ("insulin", "children", "pregnancy", "without water"):
        assert word in energy.ONE_DAY_SHORTAGE
