"""The functions that the contract names: there, with these arguments, for scalars and arrays."""

from __future__ import annotations

import importlib
import inspect
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

import simulator
from simulator.ground.streets import Streets

# Name, arguments in order, a possible scalar call, an impossible call and what it must name. The
# values are checked against their sources in tests/body, tests/sky and tests/published.
Call = dict[str, Any]
TABLE: list[tuple[str, tuple[str, ...], Call, Call]] = [
    (
        "body.pace.tobler_speed_m_s",
        ("slope", "off_path"),
        {"slope": 0.05, "off_path": False},
        {"slope": 50.0},
    ),
    (
        "body.energy.pandolf_w",
        ("mass_kg", "load_kg", "speed_m_s", "slope", "terrain"),
        {"mass_kg": 80.0, "load_kg": 5.0, "speed_m_s": 1.34, "slope": 0.05, "terrain": 1.0},
        {"mass_kg": -80.0, "load_kg": 5.0, "speed_m_s": 1.34, "slope": 0.05},
    ),
    (
        "body.energy.lcda_w_kg",
        ("speed_m_s", "slope"),
        {"speed_m_s": 1.34, "slope": 0.05},
        {"speed_m_s": -1.0, "slope": 0.0},
    ),
    ("body.energy.minetti_walk_j_kg_m", ("slope",), {"slope": 0.1}, {"slope": -30.0}),
    (
        "body.energy.resting_w",
        ("mass_kg", "height_m", "age_y", "sex"),
        {"mass_kg": 80.0, "height_m": 1.78, "age_y": 40.0, "sex": "male"},
        {"mass_kg": 80.0, "height_m": 17.8, "age_y": 40.0, "sex": "male"},
    ),
    (
        "body.water.sweat_g_m2_h",
        ("required_evaporation_w_m2", "max_evaporation_w_m2"),
        {"required_evaporation_w_m2": 250.0, "max_evaporation_w_m2": 150.0},
        {"required_evaporation_w_m2": 1e6, "max_evaporation_w_m2": 150.0},
    ),
    (
        "body.exposure.wind_chill_c",
        ("air_c", "wind_km_h"),
        {"air_c": -10.0, "wind_km_h": 20.0},
        {"air_c": -10.0, "wind_km_h": -1.0},
    ),
    (
        "body.exposure.heat_index_c",
        ("air_c", "humidity_pct"),
        {"air_c": 32.0, "humidity_pct": 60.0},
        {"air_c": 32.0, "humidity_pct": 160.0},
    ),
]


def named(path: str) -> Callable[..., Any]:
    """Find a function by its full name, the package left out."""
    module, name = path.rsplit(".", maxsplit=1)
    found: Callable[..., Any] = getattr(importlib.import_module(f"simulator.{module}"), name)
    return found


@pytest.mark.parametrize(("path", "arguments", "call", "impossible"), TABLE)
def test_a_named_function_takes_these_arguments_scalar_or_array_and_refuses_the_impossible(
    path: str, arguments: tuple[str, ...], call: Call, impossible: Call
) -> None:
    function = named(path)
    parameters = inspect.signature(function).parameters
    assert tuple(parameters)[: len(arguments)] == arguments
    extra = list(parameters.values())[len(arguments) :]
    assert all(one.kind is one.KEYWORD_ONLY for one in extra)

    one = function(**call)
    assert np.ndim(one) == 0
    assert np.isfinite(one)
    many: NDArray[np.float64] = function(
        **{
            name: np.full((2, 3), value) if isinstance(value, float) else value
            for name, value in call.items()
        }
    )
    assert many.shape == (2, 3)
    assert (many == one).all()  # arrays equal scalars, to the bit
    assert float(function(*call.values())) == float(one)

    with pytest.raises(ValueError, match=r"= .* is impossible; allowed: .* to "):
        function(**impossible)
    with pytest.raises(ValueError, match="is impossible"):
        function(
            **{
                name: np.array([call[name], value]) if isinstance(value, float) else value
                for name, value in impossible.items()
            }
        )


def test_the_sun_is_asked_by_a_time_with_its_zone() -> None:
    height = named("sky.sun.sun_elevation_deg")
    assert tuple(inspect.signature(height).parameters)[:3] == ("lat", "lon", "when")
    when = datetime(2026, 6, 21, 12, tzinfo=UTC)
    one = float(height(51.5, 0.0, when))
    # 90 - 51.5 + 23.44 degrees near noon on the day of the solstice (spherical astronomy).
    assert one == pytest.approx(61.9, abs=0.2)
    many = height(np.array([51.5, 51.5]), np.array([0.0, 0.0]), when)
    assert np.asarray(many).tolist() == [one, one]
    with pytest.raises(ValueError, match="-90 to 90"):
        height(151.5, 0.0, when)
    with pytest.raises(ValueError, match="zone"):
        height(51.5, 0.0, when.replace(tzinfo=None))


def test_the_events_of_a_day_are_told_by_name_and_none_where_there_is_none() -> None:
    events = named("sky.sun.sun_events")
    assert tuple(inspect.signature(events).parameters) == ("lat", "lon", "date", "tz")
    names = {"civil_dawn", "sunrise", "sunset", "civil_dusk"}
    assert set(events(51.5, -0.13, date(2026, 6, 21), "Europe/London")) == names
    # The sun does not set on Svalbard in June (any almanac).
    polar = events(78.2, 15.6, date(2026, 6, 21), "Arctic/Longyearbyen")
    assert set(polar) == names
    assert set(polar.values()) == {None}
    with pytest.raises(ValueError, match="-90 to 90"):
        events(99.0, 0.0, date(2026, 6, 21), "UTC")


def test_streets_and_the_walk_have_the_faces_that_the_contract_names() -> None:
    reading = inspect.signature(Streets.read).parameters
    assert list(reading)[:2] == ["path", "elevation"]
    assert reading["elevation"].default == ()
    assert next(iter(inspect.signature(Streets.from_networkx).parameters)) == "graph"
    assert callable(Streets.to_networkx)
    assert next(iter(inspect.signature(simulator.walk_home).parameters)) == "plan"


def test_a_plan_and_its_answer_say_themselves_in_a_line(write_town: Callable[..., Any]) -> None:
    plan = simulator.Plan.read(write_town())
    walk = simulator.walk_home(plan)
    for told in (repr(plan), str(plan), repr(walk), repr(walk.streets)):
        assert "\n" not in told
        assert len(told) < 160
    assert plan.title in repr(plan)
    assert walk.summary["verdict"]["level"] in repr(walk)


def test_hours_have_real_local_times(write_town: Callable[..., Any]) -> None:
    walk = simulator.walk_home(simulator.Plan.read(write_town()))
    begin, end = walk.hours["clock_start"], walk.hours["clock_end"]
    assert str(begin.dt.tz) == str(end.dt.tz)
    assert begin.iloc[0].isoformat() == walk.summary["time"]["depart"]
    assert (end >= begin).all()
    assert (end.iloc[:-1].to_numpy() == begin.iloc[1:].to_numpy()).all()
