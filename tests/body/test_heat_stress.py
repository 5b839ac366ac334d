"""Heat with sun and effort: a reference kernel, a standard's table and a comfort library."""

from __future__ import annotations

import numpy as np
import pytest
from pythermalcomfort.models import phs

from simulator.body.heat_stress import (
    HeatExposure,
    age_less_c,
    direct_sun_share,
    hours_to_hot_core,
    radiant_c,
    wbgt_c,
    wbgt_limit_c,
)

SUN_DEG = 64.5  # 46 N, 15 July, 13:00 summer time; pvlib 0.16.1


def _wind_10m(wind_2m: float, power: float) -> float:
    """Wind at 10 m that the power-law profile brings down to this at 2 m."""
    return float(wind_2m * 5.0**power)


@pytest.mark.parametrize(
    ("air_c", "humidity_pct", "wind_2m", "power", "sun_w_m2", "expected"),
    [
        # lwbgt (reference-compatible kernel of Liljegren's own program), globe and natural wet bulb
        # solved at the 2 m wind; 1010 hPa. The powers are those of Liljegren et al. 2008 for the
        # stability class of that sun and wind, urban.
        (35, 40, 1, 0.15, 900, 33.1),
        (35, 40, 1, 0.20, 100, 28.1),
        (35, 40, 3, 0.20, 900, 30.8),
        (30, 60, 1, 0.15, 850, 31.5),
        (42, 10, 3, 0.15, 950, 29.8),
        (28, 70, 0.5, 0.15, 800, 32.5),
        (20, 50, 2, 0.15, 700, 20.1),
    ],
)
def test_the_index_follows_the_reference_kernel(
    air_c: float,
    humidity_pct: float,
    wind_2m: float,
    power: float,
    sun_w_m2: float,
    expected: float,
) -> None:
    wind = _wind_10m(wind_2m, power)
    found = float(wbgt_c(air_c, humidity_pct, wind, sun_w_m2, SUN_DEG))
    # One printed digit, the pressure, and the class of the wind profile, which is a step.
    assert found == pytest.approx(expected, abs=0.35)


def test_sun_makes_the_difference_that_shade_cannot_show() -> None:
    sun, cloud = wbgt_c(35, 40, 1.3, np.array([900.0, 100.0]), SUN_DEG)
    assert sun - cloud > 4.0


def test_one_value_is_the_same_as_many_and_cool_air_is_not_asked() -> None:
    many = wbgt_c(np.array([[9.0, 25.0], [30.0, 40.0]]), 50, 2, 500, 40)
    assert np.isnan(many[0, 0])
    assert float(wbgt_c(30.0, 50, 2, 500, 40)) == many[1, 0]
    assert np.all(np.diff([many[0, 1], many[1, 0], many[1, 1]]) > 0.0)
    assert np.isfinite(wbgt_c(45.0, 0.0, 0.0, 0.0, -20.0))


def test_no_cool_air_in_full_sun_comes_near_any_limit() -> None:
    # The reason why air below 10 degrees is not asked: the least limit of the table is 20.
    edge = wbgt_c(10.0, np.array([20.0, 60.0, 100.0]), 0.7, 1000.0, SUN_DEG)
    assert float(np.max(edge)) < 20.0


def test_the_direct_share_is_none_at_night_and_most_in_clear_air() -> None:
    night, dull, clear = direct_sun_share([0.0, 100.0, 900.0], [-10.0, 60.0, 64.5])
    assert night == 0.0
    assert dull < 0.01
    assert 0.7 < clear <= 0.9


@pytest.mark.parametrize(
    ("watts", "limit", "used"),
    # ISO 7243:2017, Table A.1, from memory.
    [(115, 32, 33), (180, 29, 30), (300, 26, 28), (415, 23, 26), (520, 20, 25)],
)
def test_the_limits_are_the_standards(watts: float, limit: float, used: float) -> None:
    assert float(wbgt_limit_c(watts, 1.8)) == limit
    assert float(wbgt_limit_c(watts, 1.8, used_to_heat=True)) == used


@pytest.mark.parametrize("watts", [115, 180, 300, 415, 520])
def test_the_limits_lie_near_those_of_another_authority(watts: float) -> None:
    # NIOSH 2016 (DHHS 2016-106), from memory: recommended alert limit for people not used to heat
    # 59.9 - 14.1 log10 M, exposure limit for those who are 56.7 - 11.5 log10 M. Two bodies of
    # experts, one rounded by class of effort: a degree and a half.
    alert, exposure = 59.9 - 14.1 * np.log10(watts), 56.7 - 11.5 * np.log10(watts)
    assert float(wbgt_limit_c(watts, 1.8)) == pytest.approx(alert, abs=1.7)
    assert float(wbgt_limit_c(watts, 1.8, used_to_heat=True)) == pytest.approx(exposure, abs=1.0)


def test_more_effort_never_raises_the_limit_and_a_small_body_works_harder() -> None:
    watts = np.linspace(50.0, 900.0, 200)
    assert np.all(np.diff(wbgt_limit_c(watts, 1.8)) <= 1e-12)
    assert wbgt_limit_c(300, 1.4) < wbgt_limit_c(300, 2.0)
    assert age_less_c([8, 40, 70, 80], child_below_y=16, old_from_y=65).tolist() == [2, 0, 2, 3]


def _steady(
    air: float, radiant: float, humid: float, met: float, hours: int, *, clo: float = 0.6
) -> HeatExposure:
    vapour = 0.6105 * np.exp(17.27 * air / (air + 237.3)) * humid / 100.0
    columns = (air, radiant, vapour, 1.5, 0.0052 * (met * 58.15 - 58.0), met * 58.15, clo)
    return HeatExposure(*(np.full((hours, 1), value) for value in columns))


@pytest.mark.parametrize(
    ("air", "radiant", "humid", "met"),
    [(42, 65, 10, 3.0), (44, 70, 15, 3.0), (40, 70, 30, 3.5), (47, 80, 30, 3.0), (38, 60, 40, 4.0)],
)
def test_minutes_to_a_hot_core_agree_with_the_comfort_library(
    air: float, radiant: float, humid: float, met: float
) -> None:
    # pythermalcomfort 4.8.1, ISO 7933:2023; not used to heat. Its walking speed without direction
    # is at most 0.7 m/s.
    theirs = phs(
        tdb=air, tr=radiant, v=1.5, rh=humid, met=met, clo=0.6, posture="standing", duration=480,
        acclimatized=0, round_output=False, f_r=0.42,
    )  # fmt: skip
    exposure = _steady(air, radiant, humid, met, 8)
    exposure.walk_m_s[:] = np.minimum(exposure.walk_m_s, 0.7)
    ours = 60.0 * float(hours_to_hot_core(exposure)[0])
    assert float(theirs.d_lim_t_re) < 480.0
    assert ours == pytest.approx(float(theirs.d_lim_t_re), abs=1.0)


@pytest.mark.parametrize("clo", [0.1, 0.2, 0.3, 0.45])
@pytest.mark.parametrize(("air", "radiant", "humid"), [(44, 70, 25), (47, 80, 25)])
def test_the_skin_of_who_wears_little_is_that_of_the_comfort_library(
    air: float, radiant: float, humid: float, clo: float
) -> None:
    # The same library: bare up to 0.2 clo, clothed from 0.6 clo, in shares between.
    theirs = phs(
        tdb=air, tr=radiant, v=1.5, rh=humid, met=3.0, clo=clo, posture="standing", duration=480,
        acclimatized=0, round_output=False, f_r=0.42,
    )  # fmt: skip
    exposure = _steady(air, radiant, humid, 3.0, 8, clo=clo)
    exposure.walk_m_s[:] = np.minimum(exposure.walk_m_s, 0.7)
    assert float(theirs.d_lim_t_re) < 480.0
    assert 60.0 * float(hours_to_hot_core(exposure)[0]) == pytest.approx(
        float(theirs.d_lim_t_re), abs=1.0
    )


@pytest.mark.parametrize(("air", "radiant", "humid"), [(38, 60, 15), (35, 55, 40), (35, 35, 40)])
def test_where_the_library_finds_no_limit_in_eight_hours_neither_do_we(
    air: float, radiant: float, humid: float
) -> None:
    # pythermalcomfort 4.8.1: over 480 min.
    exposure = _steady(air, radiant, humid, 3.0, 8)
    exposure.walk_m_s[:] = np.minimum(exposure.walk_m_s, 0.7)
    assert np.isinf(hours_to_hot_core(exposure)[0])


def test_a_hot_hour_in_the_middle_is_felt_then_and_not_before() -> None:
    calm, hot = _steady(28, 35, 40, 2.5, 2), _steady(45, 70, 30, 3.5, 2)
    fields = HeatExposure.__dataclass_fields__
    joined = HeatExposure(
        *(np.concatenate([getattr(calm, name), getattr(hot, name)]) for name in fields)
    )
    reached = float(hours_to_hot_core(joined)[0])
    assert 2.0 < reached < 3.0


def test_outside_the_standard_nothing_is_said_and_before_it_the_answer_stands() -> None:
    assert np.isnan(hours_to_hot_core(_steady(55, 60, 10, 3.0, 1))[0])
    assert np.isnan(hours_to_hot_core(_steady(42, 65, 10, 5.0, 1))[0])


def test_the_radiant_temperature_gives_back_the_sun_it_was_made_of() -> None:
    # Stefan-Boltzmann by hand: 0.97 x 0.77 x 5.67e-8 x ((Tr)^4 - (Ta)^4).
    radiant = float(radiant_c(35.0, 120.0))
    watts = 0.97 * 0.77 * 5.67e-8 * ((radiant + 273.15) ** 4 - (35.0 + 273.15) ** 4)
    assert watts == pytest.approx(120.0, rel=1e-6)
    assert float(radiant_c(20.0, 0.0)) == pytest.approx(20.0)
