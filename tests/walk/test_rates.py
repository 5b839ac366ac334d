"""Rates inside the engine where an equation's limits are left: flagged, finite, never cheaper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.body import energy
from simulator.walk import rates
from simulator.walk.engine import simulate
from simulator.walk.party import Manner
from simulator.walk.records import Total
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers


@pytest.mark.parametrize("model", ["lcda", "pandolf"])
@pytest.mark.parametrize("slope", [-0.5, -0.2, -0.1, -0.05, -0.005, 0.0, 0.05, 0.1, 0.3, 0.5])
@pytest.mark.parametrize("speed", [0.5, 0.9, 1.34, 1.9, 2.1])
@pytest.mark.parametrize("terrain", [1.0, 2.1])
def test_heavier_never_costs_less_at_any_load_slope_and_speed(
    model: str, slope: float, speed: float, terrain: float
) -> None:
    for mass_kg in (45.0, 60.0, 110.0):
        load = mass_kg * np.linspace(0.2, 0.8, 241)
        mass, speeds = np.full_like(load, mass_kg), np.full_like(load, speed)
        power, outside = rates.walking_w(
            mass, load, speeds, slope, terrain, model=model, light=False
        )
        assert outside
        assert (np.diff(power) > 0.0).all()
        # A quarter of a percent of body mass moves the rate by watts, not by tens of them.
        assert np.diff(power).max() < 0.02 * power.mean()


def test_the_load_at_which_the_equation_ends_no_longer_saves_twenty_watts() -> None:
    # 60 kg with 23.9 and 24.1 kg, level, 1.34 m/s: 4.41400 W/kg (Looney et al. 2019, by hand)
    # times 83.9 kg is 370.3 W, times 84.1 kg is 371.2 W. Minetti et al. 2002 and one MET would
    # say 70 + 84.1 x 1.34 x 2.5 = 351.7 W.
    load = np.array([23.9, 24.1])
    power, outside = rates.walking_w(
        np.full(2, 60.0), load, np.full(2, 1.34), 0.0, 1.0, model="lcda", light=False
    )
    assert outside
    assert power.tolist() == pytest.approx([370.3, 371.2], abs=0.1)
    assert float(energy.walking_w(60, 24.1, 1.34, 0.0, model="minetti")) < power[0]


@pytest.mark.parametrize("model", ["lcda", "pandolf"])
@pytest.mark.parametrize("slope", [-0.06, 0.0, 0.06])
def test_a_heavier_bag_never_lowers_the_need_of_the_whole_walk(model: str, slope: float) -> None:
    shares = np.linspace(0.1, 0.69, 60)
    walkers = replace(make_walkers(shares.size), bag_kg=80.0 * shares)
    outcome = simulate(
        make_course(5_000.0, slope=slope),
        walkers,
        manner=Manner(energy_model=model),
        conditions=make_conditions(air_c=22.0),
        depart_epoch_s=np.full(shares.size, DEPART_EPOCH_S),
    )
    assert (np.diff(outcome.totals[Total.ENERGY_KCAL]) > 0.0).all()
    assert (np.diff(outcome.totals[Total.LOST_ML]) > 0.0).all()
