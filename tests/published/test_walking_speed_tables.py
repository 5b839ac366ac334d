"""Walking speeds against published tables and spot values, the source beside each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.body import pace

KM_H = 3.6


@pytest.mark.parametrize(
    ("slope", "km_h"),
    [
        # Tobler 1993, NCGIA 93-1: formula restated by several sources, values by arithmetic.
        (-0.30, 2.5012),
        (-0.20, 3.5493),
        (-0.10, 5.0367),
        (-0.05, 6.0),
        (0.0, 5.0367),
        (0.05, 4.2281),
        (0.10, 3.5493),
        (0.20, 2.5012),
        (0.30, 1.7625),
    ],
)
def test_tobler_speed_at_slopes(slope: float, km_h: float) -> None:
    assert KM_H * float(pace.tobler_speed_m_s(slope)) == pytest.approx(km_h, abs=5e-5)
    off = KM_H * float(pace.tobler_speed_m_s(slope, off_path=True))
    assert off == pytest.approx(0.6 * km_h, abs=5e-5)


@pytest.mark.parametrize(
    ("angle_deg", "km_h"),
    [
        # Published table of sample values of Tobler's function (restated), printed to 0.01 km/h.
        (5.0, 3.71),
        (10.0, 2.72),
        (-2.8624, 6.00),
        (-10.0, 3.86),
    ],
)
def test_tobler_speed_agrees_with_its_published_table_by_angle(
    angle_deg: float, km_h: float
) -> None:
    slope = math.tan(math.radians(angle_deg))
    assert KM_H * float(pace.tobler_speed_m_s(slope)) == pytest.approx(km_h, abs=0.006)


@pytest.mark.parametrize(
    ("slope", "m_s"),
    [
        # The pace form, 0.6 exp(3.5 |m + 0.05|) seconds per metre (restated).
        (slope, 1.0 / (0.6 * math.exp(3.5 * abs(slope + 0.05))))
        for slope in (-0.4, -0.07, 0.0, 0.33)
    ],
)
def test_tobler_speed_is_the_inverse_of_its_pace_form(slope: float, m_s: float) -> None:
    assert float(pace.tobler_speed_m_s(slope)) == pytest.approx(m_s, rel=1e-12)


@pytest.mark.parametrize(
    ("slope_pct", "male_on", "female_on", "male_off", "female_off"),
    [
        # Irmischer and Clarke 2018, coefficients from memory, values by arithmetic, m/s.
        (-20, 0.9925, 0.9429, 0.6696, 0.6361),
        (-5, 1.1100, 1.0545, 0.7767, 0.7378),
        (0, 1.0962, 1.0414, 0.7785, 0.7396),
        (5, 1.0560, 1.0032, 0.7620, 0.7239),
        (10, 0.9925, 0.9429, 0.7285, 0.6921),
        (20, 0.8166, 0.7758, 0.6220, 0.5909),
    ],
)
def test_irmischer_clarke_speed_at_slopes(
    slope_pct: float, male_on: float, female_on: float, male_off: float, female_off: float
) -> None:
    speed = pace.irmischer_clarke_2018_speed_m_s
    slope = slope_pct / 100
    assert float(speed(slope)) == pytest.approx(male_on, abs=6e-5)
    assert float(speed(slope, "female")) == pytest.approx(female_on, abs=6e-5)
    assert float(speed(slope, "male", off_path=True)) == pytest.approx(male_off, abs=6e-5)
    assert float(speed(slope, "female", off_path=True)) == pytest.approx(female_off, abs=6e-5)


def test_irmischer_clarke_speed_agrees_with_a_public_set_of_check_values() -> None:
    # A public test fixture (restated), km/h, at level ground for the four cases and at +10 %.
    speed = pace.irmischer_clarke_2018_speed_m_s
    found = [
        KM_H * float(speed(0.0)),
        KM_H * float(speed(0.0, "male", off_path=True)),
        KM_H * float(speed(0.0, "female")),
        KM_H * float(speed(0.0, "female", off_path=True)),
        KM_H * float(speed(0.10)),
    ]
    assert found == pytest.approx([3.9463, 2.8026, 3.7490, 2.6625, 3.5730], abs=6e-5)


@pytest.mark.parametrize(
    ("angle_deg", "median_2019", "median_2022"),
    [
        # Campbell et al. 2019 and 2022, coefficients from memory, values by arithmetic, m/s.
        (-20, 0.6802, 0.7042),
        (-10, 0.9592, 1.0128),
        (-5, 1.1202, 1.1269),
        (0, 1.1447, 1.1481),
        (5, 0.9925, 1.0646),
        (10, 0.7911, 0.9162),
        (20, 0.5144, 0.6120),
    ],
)
def test_campbell_speeds_at_angles(
    angle_deg: float, median_2019: float, median_2022: float
) -> None:
    slope = math.tan(math.radians(angle_deg))
    assert float(pace.campbell_2019_speed_m_s(slope)) == pytest.approx(median_2019, abs=6e-5)
    assert float(pace.campbell_2022_speed_m_s(slope)) == pytest.approx(median_2022, abs=6e-5)


def test_the_misprinted_square_of_the_lorentz_curve_is_not_used() -> None:
    # One public restatement squares the whole of 1 + (theta - a)/b; at -1.53 degrees the true
    # curve has its peak, the misprint has not.
    a_deg, b_deg = -1.53, 14.04
    there, beyond = (
        float(pace.campbell_2019_speed_m_s(math.tan(math.radians(angle))))
        for angle in (a_deg, a_deg + b_deg)
    )
    # One width away from the peak the Lorentz part has halved.
    peak = 36.81 / (math.pi * b_deg)
    assert there - beyond == pytest.approx(peak / 2 + 2.73e-3 * b_deg, abs=1e-9)


@pytest.mark.parametrize(
    ("run_m", "climb_m", "hours"),
    [
        # Naismith 1892, metric form (restated).
        (25_000, 0, 5.0),
        (25_000, 300, 5.5),
        (10_000, 600, 3.0),
    ],
)
def test_naismith_time(run_m: float, climb_m: float, hours: float) -> None:
    speed = float(pace.naismith_1892_speed_m_s(climb_m / run_m))
    assert run_m / speed / 3600 == pytest.approx(hours, rel=1e-12)


def test_published_speeds_on_level_ground_run_from_3_95_to_5_04_km_h() -> None:
    # The fits disagree; each as its own source has it, and the band shows the spread.
    level = {name: KM_H * float(model(0.0)) for name, model in pace.PACE_MODELS.items()}
    assert level["tobler_1993"] == pytest.approx(5.04, abs=0.005)
    assert level["naismith_1892"] == pytest.approx(5.00, abs=0.005)
    assert level["campbell_2022"] == pytest.approx(4.13, abs=0.005)
    assert level["campbell_2019"] == pytest.approx(4.12, abs=0.005)
    assert level["irmischer_clarke_2018"] == pytest.approx(3.95, abs=0.005)
    band = pace.speed_band(0.0)
    assert KM_H * float(band.low) == pytest.approx(3.95, abs=0.005)
    assert KM_H * float(band.high) == pytest.approx(5.04, abs=0.005)


def test_published_speeds_at_ten_percent_up_are_close() -> None:
    # At 5.711 degrees: 0.986, 0.993, 1.046 and 0.964 m/s by arithmetic of each formula.
    found = [
        float(pace.PACE_MODELS[name](0.10))
        for name in ("tobler_1993", "irmischer_clarke_2018", "campbell_2022", "campbell_2019")
    ]
    assert found == pytest.approx([0.986, 0.993, 1.046, 0.964], abs=1e-3)


@pytest.mark.parametrize(
    ("age_y", "male_cm_s", "female_cm_s"),
    [
        # Bohannon 1997, comfortable speed by decade. 146.2 and 127.2 read in the abstract, the
        # other cells from memory.
        (25, 139.3, 140.7),
        (35, 145.8, 141.5),
        (45, 146.2, 139.1),
        (55, 139.3, 139.5),
        (65, 135.9, 129.6),
        (75, 133.0, 127.2),
    ],
)
def test_comfortable_speed_by_decade(age_y: float, male_cm_s: float, female_cm_s: float) -> None:
    assert 100 * float(pace.comfortable_speed_m_s(age_y, "male")) == pytest.approx(male_cm_s)
    assert 100 * float(pace.comfortable_speed_m_s(age_y, "female")) == pytest.approx(female_cm_s)


def test_old_people_cross_streets_slower_than_they_walk_indoors() -> None:
    # Gates et al. 2006 (read in the abstract): over-65s cross at 1.161 m/s; Bohannon's indoor
    # trials give more, so they are an upper bound.
    old = pace.comfortable_speed_m_s([65.0, 75.0], ["male", "female"])
    assert np.all(old > 1.161)


@pytest.mark.parametrize(
    ("load_kg", "m_s"),
    [(0, 1.34), (5, 1.2980), (10, 1.2551), (15, 1.2105), (20, 1.1632)],
)
def test_load_slows_as_constant_metabolic_rate_demands(load_kg: float, m_s: float) -> None:
    # Pandolf 1977 solved for V at 335.47 W, 80 kg, by independent arithmetic.
    assert 1.34 * float(pace.load_factor(80, load_kg)) == pytest.approx(m_s, abs=6e-5)


@pytest.mark.parametrize(
    ("surface", "eta", "factor"),
    [
        # Pandolf 1977 solved for V, 80 + 5 kg at the rate of 1.34 m/s on blacktop.
        ("compacted", 1.1, 0.953),
        ("ground", 1.2, 0.913),
        ("rock", 1.5, 0.816),
        ("mud", 1.8, 0.745),
        ("sand", 2.1, 0.690),
    ],
)
def test_surfaces_slow_less_than_their_energy_factor(
    surface: str, eta: float, factor: float
) -> None:
    found = pace.SURFACE_SPEED_FACTORS[surface]
    assert found == pytest.approx(factor, abs=6e-4)
    # de Gruchy et al. 2017 (read): the effect on speed is smaller than on energy.
    assert found > 1 / eta


def test_stairs_are_between_the_crowded_and_the_free_flow_sources() -> None:
    # NIST TN 1839 fire drills 0.47 m/s (read) and SFPE free flow 0.918 m/s (from memory), both
    # along the stair; 7/11 stairs have 0.8437 m of plan a metre of stair.
    down = float(pace.stairs_speed_m_s(up=False))
    assert 0.47 * 0.8437 < down < 0.918 * 0.8437
    assert 0.7 <= down <= 0.8  # Fruin 1971, plan run, from memory
    assert 0.5 <= float(pace.stairs_speed_m_s(up=True)) <= 0.6


@pytest.mark.parametrize(
    ("riser_in", "tread_in", "k"),
    [(7.5, 10, 1.00), (7, 11, 1.08), (6.5, 12, 1.16), (6.5, 13, 1.23)],
)
def test_stairs_down_agree_with_the_free_flow_of_the_fire_handbook(
    riser_in: float, tread_in: float, k: float
) -> None:
    # SFPE Handbook, hydraulic model (from memory): 0.85 k m/s along the stair below 0.54 persons a
    # square metre, one speed for up and down. Riser and tread turn it into plan: 0.68 to 0.94 m/s.
    # Its stairs are of buildings and its people leave them; a fifth is the spread of its own k.
    plan_m_s = 0.85 * k * tread_in / math.hypot(riser_in, tread_in)
    assert float(pace.stairs_speed_m_s(up=False)) == pytest.approx(plan_m_s, rel=0.21)
    assert float(pace.stairs_speed_m_s(up=True)) < plan_m_s


def test_stair_sources_are_compared_along_one_length() -> None:
    along_plan = {source.source[:4]: source.plan_m_s() for source in pace.STAIR_SOURCES}
    assert along_plan["NIST"] == pytest.approx(0.47 * 11 / math.hypot(7, 11))
    assert along_plan["SFPE"] == pytest.approx(0.918 * 11 / math.hypot(7, 11))


def test_the_march_rate_already_contains_its_halts() -> None:
    # Army road march (from memory): 106 steps a minute of 0.762 m for 50 minutes an hour is
    # 4.04 km in a clock hour, so the moving pace is 4.85 km/h. Tobler's level speed with ten
    # minutes' rest an hour of walking gives 25 km in 5.96 h if rest comes after each 50 minutes.
    clock_km_h = 106 * 0.762 * 50 / 1000
    assert clock_km_h == pytest.approx(4.0386, abs=1e-4)
    moving_h = 25_000 / float(pace.tobler_speed_m_s(0.0)) / 3600
    assert moving_h == pytest.approx(4.9635, abs=1e-4)
    assert 25 / (moving_h * 60 / 50) == pytest.approx(4.197, abs=1e-3)
