"""What felt temperature and the warmth of a halt must obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.body import exposure
from simulator.body.assumed import WET_INSULATION_SHARE, wet_clothing_clo
from simulator.body.warmth import exposure_limit_h, halt_warmth, required_clo


@given(st.floats(-60, 10), st.floats(-60, 10), st.floats(4.8, 110))
def test_colder_air_never_feels_warmer(air: float, other: float, wind: float) -> None:
    cold, mild = sorted((air, other))
    assert exposure.wind_chill_c(cold, wind) <= exposure.wind_chill_c(mild, wind)


@given(st.floats(-60, 10), st.floats(4.8, 110), st.floats(4.8, 110))
def test_more_wind_never_feels_warmer(air: float, wind: float, other: float) -> None:
    calm, windy = sorted((wind, other))
    assert exposure.wind_chill_c(air, windy) <= exposure.wind_chill_c(air, calm) + 1e-12


@given(st.floats(26.7, 44), st.floats(40, 100), st.floats(40, 100))
def test_damper_heat_never_feels_cooler(air: float, humid: float, other: float) -> None:
    dry, damp = sorted((humid, other))
    low, high = exposure.heat_index_c(air, [dry, damp])
    assert np.isnan(high) or low <= high + 1e-9


@given(st.floats(-25, 26), st.floats(-25, 26), st.floats(25, 60))
def test_frost_bites_no_later_in_colder_air(air: float, other: float, wind: float) -> None:
    cold, mild = sorted((air - 35, other - 35))
    soon, late = exposure.frostbite_min([cold, mild], wind)
    assert np.isnan(late) or soon <= late or np.isnan(soon)


def test_felt_temperature_takes_the_index_that_applies() -> None:
    air = np.array([-10.0, -10.0, 10.0, 10.1, 26.0, 30.0])
    wind_m_s = np.array([1.0, 20 / 3.6, 30 / 3.6, 8.0, 8.0, 8.0])
    felt = exposure.felt_c(air, 80, wind_m_s)
    expected = [
        float(exposure.low_wind_chill_c(-10, 3.6)),
        float(exposure.wind_chill_c(-10, 20)),
        float(exposure.wind_chill_c(10, 30)),
        10.1,
        26.0,
        float(exposure.heat_index_c(30, 80)),
    ]
    np.testing.assert_allclose(felt, expected)
    assert float(exposure.felt_c(30, 80, 0)) == pytest.approx(37.67, abs=0.006)


def test_felt_temperature_jumps_at_its_borders_by_what_is_documented() -> None:
    wind = 30 / 3.6
    drop = float(exposure.felt_c(10.0001, 50, wind) - exposure.felt_c(10, 50, wind))
    assert drop == pytest.approx(3.4, abs=0.05)
    below, above = exposure.felt_c([26.6, 26.7], 90, 0)
    assert float(above - below) == pytest.approx(3.5, abs=0.25)
    # None where the low-wind form meets the index, at 5 km/h.
    calm, brisk = exposure.felt_c(-10, 50, [4.999 / 3.6, 5.0 / 3.6])
    assert float(calm) == pytest.approx(float(brisk), abs=0.02)


def test_felt_temperature_is_missing_beyond_the_indices_and_where_weather_is() -> None:
    assert np.isnan(exposure.felt_c(43, 90, 1))  # beyond the printed heat index
    assert np.isnan(exposure.felt_c(-70, 50, 1))
    assert np.isnan(exposure.felt_c(-10, 50, 40))  # hurricane
    for missing in ((np.nan, 50, 1), (15, np.nan, 1), (15, 50, np.nan)):
        assert np.isnan(exposure.felt_c(*missing))


@pytest.mark.parametrize(
    ("humidity_pct", "jump_c"), [(20, 0.56), (40, 0.04), (60, 0.85), (80, 1.55), (100, 3.21)]
)
def test_heat_index_jumps_where_the_service_changes_formula_by_what_is_documented(
    humidity_pct: float, jump_c: float
) -> None:
    # The published algorithm does not meet itself near 80 F.
    index = exposure.heat_index_c(np.linspace(24, 30, 60_001), humidity_pct)
    assert np.abs(np.diff(index)).max() == pytest.approx(jump_c, abs=0.01)


def test_impossible_weather_is_refused() -> None:
    with pytest.raises(ValueError, match="humidity_pct = 120 is impossible; allowed: 0 to 100 %"):
        exposure.heat_index_c(30, 120)
    with pytest.raises(ValueError, match="wind_km_h = -5 is impossible; allowed: 0 to 540 km/h"):
        exposure.wind_chill_c(-10, -5)
    with pytest.raises(ValueError, match="criterion = 'warm' is unknown"):
        required_clo(100, 0, 1, criterion="warm")


@given(
    st.floats(58, 400),
    st.floats(58, 400),
    st.floats(-40, 10),
    st.floats(-40, 10),
    st.floats(0.4, 18),
)
def test_less_heat_or_colder_air_never_needs_less_clothing(
    watts: float, other: float, air: float, colder: float, wind: float
) -> None:
    idle, busy = sorted((watts, other))
    cold, mild = sorted((air, colder))
    need = required_clo
    assert need(busy, mild, wind) <= need(idle, mild, wind) + 1e-6
    assert need(idle, mild, wind) <= need(idle, cold, wind) + 1e-6
    assert need(idle, mild, wind) <= need(idle, mild, wind, criterion="neutral") + 1e-6


@given(st.floats(58, 300), st.floats(-40, 10), st.floats(0.4, 10))
def test_the_required_insulation_is_what_holds_the_balance(
    watts: float, air: float, wind: float
) -> None:
    need = float(required_clo(watts, air, wind))
    if need < 19:  # more than 20 clo is refused as impossible to wear
        assert exposure_limit_h(watts, air, wind, need + 0.01) > 24
    if 0.1 < need < 20:
        assert np.isfinite(exposure_limit_h(watts, air, wind, need - 0.05))


@given(st.floats(-30, 15), st.floats(0, 10), st.floats(0, 3), st.floats(0, 3), st.floats(0.5, 14))
def test_more_in_the_bag_never_makes_a_halt_colder(
    air: float, wind: float, bag: float, other: float, hours: float
) -> None:
    little, much = sorted((bag, other))
    poor = halt_warmth(air, wind, 0.9, little, hours)
    rich = halt_warmth(air, wind, 0.9, much, hours)
    assert poor.exposure_limit_h <= rich.exposure_limit_h * (1 + 1e-9)
    assert poor.short_clo >= rich.short_clo
    assert bool(rich.enough) or not bool(poor.enough)


def test_a_halt_that_needs_the_bag_says_that_it_hangs_on_it() -> None:
    halt = halt_warmth(15, 0, 0.9, [0.0, 3.0], 2)
    assert halt.enough.tolist() == [False, True] or halt.hangs_on_bag.tolist() == [False, False]
    cold = halt_warmth(5, 0, 1.0, [0.0, 3.0], 3)
    assert cold.enough.tolist() == [False, True]
    assert cold.hangs_on_bag.tolist() == [False, True]
    warm = halt_warmth(5, 0, 5.0, 1.0, 3)
    assert bool(warm.enough)
    assert not bool(warm.hangs_on_bag)


def test_a_night_exactly_as_long_as_can_be_borne_is_borne() -> None:
    limit_h = float(halt_warmth(2, 1.0, 0.9, 1.0, 10).exposure_limit_h)
    assert 0.5 < limit_h < 10.0
    lengths_h = [limit_h, np.nextafter(limit_h, np.inf)]
    assert halt_warmth(2, 1.0, 0.9, 1.0, lengths_h).enough.tolist() == [True, False]


def test_a_halt_outside_the_standard_is_answered_and_flagged() -> None:
    # ISO 11079 ends at 10 degrees C (restated); a night at 14 still needs an answer.
    halt = halt_warmth([9.9, 14.0], 1.0, 0.9, 0.5, 8)
    assert halt.in_range.tolist() == [True, False]
    assert np.isfinite(halt.required_minimal_clo).all()
    assert float(halt.required_minimal_clo[1]) < float(halt.required_minimal_clo[0])
    assert np.isnan(required_clo(60, 14, 1.0))


def test_a_halt_in_unknown_weather_is_not_called_warm_enough() -> None:
    halt = halt_warmth(np.nan, 1.0, 0.9, 3.0, 8)
    assert np.isnan(halt.required_minimal_clo)
    assert np.isnan(halt.short_clo)
    assert not bool(halt.enough)
    assert not bool(halt.in_range)


def test_a_warm_night_needs_no_clothing_at_all() -> None:
    halt = halt_warmth(36, 0, 0.5, 0, 8)
    assert float(halt.required_minimal_clo) == 0
    assert float(halt.exposure_limit_h) == np.inf
    assert bool(halt.enough)


@given(st.floats(0, 3), st.floats(0, 50), st.floats(0, 50))
def test_rain_only_takes_insulation(clo: float, rain: float, other: float) -> None:
    little, much = sorted((rain, other))
    dry, wet = wet_clothing_clo(clo, [little, much])
    kept = WET_INSULATION_SHARE.middle
    assert kept * clo - 1e-12 <= wet <= dry <= clo + 1e-12


def test_wet_clothes_make_a_halt_colder() -> None:
    wet = float(wet_clothing_clo(0.9, 20.0))
    dry_halt = halt_warmth(8, 1.0, 0.9, 1.0, 8)
    wet_halt = halt_warmth(8, 1.0, wet, 1.0, 8)
    assert wet_halt.exposure_limit_h < dry_halt.exposure_limit_h


def test_steps_of_heat_and_cold_are_in_order() -> None:
    heat = [step.from_c for step in exposure.HEAT_STEPS]
    cold = [step.from_c for step in exposure.COLD_STEPS]
    assert heat == sorted(heat)
    assert cold == sorted(cold, reverse=True)
