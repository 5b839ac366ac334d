"""The verdict: each reason at its published or stated threshold, the gravest sets the level."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.home import verdict as rules
from simulator.home.strain import Strain
from simulator.home.verdict import (
    LEVELS,
    MUST_BE_KNOWN,
    NOTHING_FOUND,
    STRAIN_KNOWN,
    Findings,
    calm_strain,
    judge,
    levels_of,
    worst_of,
)
from simulator.units import Units
from tests.conftest import EXAMPLES

NAN = float("nan")

NUMBERS = {
    "loss_pct": 0.5,
    "short_ml": 0.0,
    "first_short_h": NAN,
    "coldest_felt_c": 12.0,
    "hottest_felt_c": 18.0,
    "unlit_h": 0.0,
    "light_short_h": 0.0,
    "elapsed_h": 6.0,
    "halt_short_clo": NAN,
    "halt_h": NAN,
    "busy_dark_km": 0.0,
    "busy_day_km": 0.0,
    "busy_danger": 1.0,
    "slowed_share": 0.0,
    "fords": 0.0,
    "floods_km": 0.0,
    "steep_km": 0.0,
}


def found(**changes: Any) -> Findings:  # noqa: ANN401 - as the fields of the record
    """Give a calm walk's findings with some changed; names of ``Strain`` in capitals."""
    strain = calm_strain()
    for row in Strain:
        if row.name in changes:
            strain[row] = changes[row.name]
    numbers: dict[str, Any] = {
        name: np.array([changes.get(name, value)]) for name, value in NUMBERS.items()
    }
    words = {
        name: changes[name]
        for name in ("event", "unpriced", "beyond_age", "beyond_index_c")
        if name in changes
    }
    return Findings(
        **numbers,
        halt_open=np.array([bool(changes.get("halt_open", False))]),
        strain=strain,
        **words,
    )


def test_a_walk_without_findings_is_a_walk_with_one_reason() -> None:
    verdict = judge(found())
    assert verdict.level == "walk"
    assert len(verdict.reasons) == 1


WALK, CARE, STAY = LEVELS


@pytest.mark.parametrize(
    ("changes", "level"),
    [
        # Sawka et al. 2007 (ACSM position stand): above 2 % of body mass performance suffers.
        ({"loss_pct": 1.9}, WALK),
        ({"loss_pct": 0.6, "short_ml": 1000.0}, WALK),
        ({"loss_pct": 2.1, "short_ml": 1700.0, "first_short_h": 3.0}, CARE),
        ({"loss_pct": 4.5, "short_ml": 3600.0, "first_short_h": 3.0}, STAY),
        # Wind chill categories of Environment and Climate Change Canada: frostbite from -28.
        ({"coldest_felt_c": -5.0}, CARE),
        ({"coldest_felt_c": -28.0}, STAY),
        # Heat index table of the US National Weather Service, from memory: 90 degF, 103 degF.
        ({"hottest_felt_c": 33.0}, CARE),
        ({"hottest_felt_c": 40.0}, STAY),
        # ISO 7243: over the limit; five degrees over, a stated assumption.
        ({"HEAT_OVER_C": -0.1}, WALK),
        ({"HEAT_OVER_C": 0.1}, CARE),
        ({"HEAT_OVER_C": 4.4}, CARE),
        ({"HEAT_OVER_C": 4.5}, STAY),
        ({"SUN_FELT_C": 45.0}, WALK),
        ({"SUN_FELT_C": 46.5}, STAY),
        ({"SUN_FELT_C": 43.0, "FRAIL": 1.0}, STAY),
        ({"HEAT_OVER_C": 3.1, "FRAIL": 1.0}, STAY),
        # ISO 7933: a core of 38 degC is the limit, whenever it comes.
        ({"HOT_CORE_H": 3.0}, STAY),
        ({"HOT_CORE_H": NAN}, WALK),  # beyond that standard: the index above judges alone
        # WMO Beaufort 7 from 13.9, 9 from 20.8 m/s; 6 and 8 (10.8, 17.2) for the frail.
        ({"WIND_M_S": 13.8}, WALK),
        ({"WIND_M_S": 13.9}, CARE),
        ({"WIND_M_S": 20.8}, STAY),
        ({"WIND_M_S": 11.0, "FRAIL": 1.0}, CARE),
        ({"WIND_M_S": 17.2, "FRAIL": 1.0}, STAY),
        # AMS: heavy above 7.6 mm/h; UK Met Office: violent above 50 mm/h; from memory.
        ({"RAIN_MM_H": 7.5}, WALK),
        ({"RAIN_MM_H": 8.0}, CARE),
        ({"RAIN_MM_H": 60.0}, STAY),
        ({"ICE_MM": 0.3}, CARE),
        ({"ICE_MM": 0.3, "FRAIL": 1.0}, STAY),
        ({"ICE_MM": 3.0}, STAY),
        ({"SNOW_MM": 2.0}, CARE),
        ({"unlit_h": 0.4}, WALK),
        ({"unlit_h": 2.0}, CARE),
        ({"unlit_h": 1.0, "light_short_h": 1.0}, CARE),
        ({"unlit_h": 3.0, "light_short_h": 3.0}, STAY),
        # A stated assumption, and common practice: at most 18 h for about 25 km.
        ({"elapsed_h": 10.0}, WALK),
        ({"elapsed_h": 11.0}, CARE),
        ({"elapsed_h": 19.0}, STAY),
        ({"elapsed_h": 9.0, "FRAIL": 1.0}, CARE),
        ({"halt_short_clo": 1.0, "halt_h": 9.0}, STAY),
        ({"halt_short_clo": 0.0, "halt_h": 9.0, "halt_open": True}, STAY),
        ({"halt_short_clo": 0.0, "halt_h": 9.0}, WALK),
        ({"busy_dark_km": 2.0}, CARE),
        ({"busy_dark_km": 2.0, "light_short_h": 1.0}, STAY),
        # Two kilometres as along a main road at 80 km/h; half of a quiet one's count less.
        ({"busy_day_km": 25.0}, CARE),
        ({"busy_day_km": 1.9}, WALK),
        ({"busy_day_km": 2.3, "busy_danger": 0.6}, WALK),
        ({"busy_day_km": 4.0, "busy_danger": 0.6}, CARE),
        ({"busy_dark_km": 0.4, "busy_danger": 0.6}, WALK),
        ({"busy_dark_km": 0.4, "busy_danger": 1.5}, CARE),
        ({"event": "flood"}, CARE),
        ({"event": "storm"}, CARE),
        ({"fords": 1.0}, CARE),
        ({"fords": 1.0, "event": "flood"}, STAY),
        ({"fords": 1.0, "RAIN_MM_H": 8.0}, STAY),
        ({"floods_km": 0.5}, WALK),
        ({"floods_km": 0.5, "event": "flood"}, STAY),
        ({"steep_km": 0.5}, WALK),
        ({"steep_km": 0.5, "RAIN_MM_H": 1.0, "WET_MM": 0.4}, WALK),
        ({"steep_km": 0.5, "RAIN_MM_H": 0.2, "WET_MM": 1.8}, CARE),
        ({"steep_km": 0.5, "SNOW_MM": 0.3}, CARE),
        # ASHRAE 55, table of garments, from memory: a jumper gives about 0.3 clo.
        ({"FOOT_SHORT_CLO": 0.29}, WALK),
        ({"FOOT_SHORT_CLO": 0.31}, CARE),
        ({"FOOT_SHORT_CLO": 1.1}, STAY),
        # US Army ADP 3-90 (restated): about 30 % of body weight keeps most agility.
        ({"LOAD_SHARE": 0.30}, WALK),
        ({"LOAD_SHARE": 0.31}, CARE),
        ({"LOAD_SHARE": 0.2, "FRAIL": 1.0}, CARE),
        ({"EFFORT": 0.9, "slowed_share": 0.04}, WALK),
        ({"EFFORT": 0.9, "slowed_share": 0.3}, CARE),
        ({"EFFORT": 1.1, "slowed_share": 0.5}, CARE),
        ({"EFFORT": 1.3, "slowed_share": 0.5}, STAY),
        ({"BEYOND_AGE": 1.0}, CARE),
        ({"beyond_age": ("the walker is 9 years old",)}, CARE),
    ],
)
def test_each_finding_calls_for_its_level(changes: dict[str, object], level: str) -> None:
    findings = found(**changes)
    verdict = judge(findings)
    assert verdict.level == level
    assert LEVELS[int(levels_of(findings)[0])] == level


def test_the_gravest_reason_comes_first() -> None:
    verdict = judge(found(hottest_felt_c=41.0, light_short_h=1.0))
    assert verdict.level == LEVELS[-1]
    assert "heat" in verdict.reasons[0]
    assert len(verdict.reasons) == 2


VERBS = (
    *("wait", "walk ", "cover", "carry", "go ", "take", "be ", "rest", "leave", "wear", "keep"),
    *("start", "look", "turn", "never", "do not", "drink", "face", "have", "watch", "gritted ways"),
)

GRAVEST: dict[str, Any] = {
    "loss_pct": 5.0, "short_ml": 3000.0, "first_short_h": 2.0, "coldest_felt_c": -30.0,
    "hottest_felt_c": 41.0, "HEAT_OVER_C": 6.0, "SUN_FELT_C": 50.0, "HOT_CORE_H": 2.0,
    "WIND_M_S": 30.0, "RAIN_MM_H": 60.0, "ICE_MM": 3.0, "SNOW_MM": 30.0, "unlit_h": 3.0,
    "light_short_h": 3.0, "elapsed_h": 20.0, "halt_short_clo": 1.0, "halt_h": 9.0,
    "halt_open": True, "busy_dark_km": 3.0, "fords": 1.0, "event": "flood", "FOOT_SHORT_CLO": 2.0,
    "LOAD_SHARE": 0.5, "EFFORT": 1.5, "BEYOND_AGE": 1.0, "unpriced": ("water_ml of 'flask'",),
}  # fmt: skip
"""Every finding at its gravest."""

HOUR_AND_PLACE = re.compile(
    r"(\d\d:\d\d, (km|mi) \d+\.\d|hour \d+, (km|mi) \d+\.\d|from the start, (km|mi) 0\.0)"
)


def needs_nothing_more(reason: str) -> bool:
    """Whether a reason says when, where and what to do."""
    found = HOUR_AND_PLACE.search(reason)
    do = reason[found.end() :] if found else ""
    return found is not None and any(verb in do or verb in reason for verb in VERBS)


@pytest.mark.parametrize("units", [Units(), Units("us")])
@pytest.mark.parametrize("told_hours", [True, False])
def test_every_reason_says_when_where_and_what_to_do(units: Units, told_hours: bool) -> None:
    worst = found(**GRAVEST)
    if told_hours:
        worst = replace(worst, place=lambda hours: f"at 19:30, {units.long_name} {3 * hours:.1f}")
    reasons = judge(worst, units=units).reasons
    assert len(reasons) == len(rules.RULES) - 3  # two of the unknown, and the dark with a lamp
    for reason in reasons:
        assert needs_nothing_more(reason), reason


LIGHTER: tuple[dict[str, Any], ...] = (
    {"loss_pct": 2.5}, {"loss_pct": 0.5, "short_ml": 400.0, "first_short_h": 3.0},
    {"loss_pct": NAN}, {"halt_h": 9.0, "halt_short_clo": NAN}, {"hottest_felt_c": NAN},
    {"coldest_felt_c": -5.0}, {"hottest_felt_c": 34.0}, {"HEAT_OVER_C": 1.0}, {"WIND_M_S": 15.0},
    {"RAIN_MM_H": 9.0}, {"ICE_MM": 0.5}, {"SNOW_MM": 2.0}, {"unlit_h": 2.0},
    {"light_short_h": 0.5}, {"elapsed_h": 12.0}, {"elapsed_h": 9.0, "FRAIL": 1.0},
    {"busy_day_km": 9.0}, {"busy_dark_km": 0.5}, {"fords": 2.0},
    {"floods_km": 1.0, "event": "flood"}, {"steep_km": 1.0, "WET_MM": 2.0}, {"event": "storm"},
    {"FOOT_SHORT_CLO": 0.5}, {"EFFORT": 1.1}, {"slowed_share": 0.2}, {"LOAD_SHARE": 0.4},
    {"beyond_age": ("walker 2 is 9 years old",)}, {"unpriced": ("x",)},
)  # fmt: skip
"""Findings that call for care, or are told though they call for none."""


@pytest.mark.parametrize("changes", LIGHTER)
def test_reasons_for_care_say_so_too(changes: dict[str, Any]) -> None:
    reasons = judge(found(**changes)).reasons
    assert reasons[0] != NOTHING_FOUND
    for reason in reasons:
        assert needs_nothing_more(reason), reason


def test_a_reason_of_an_hour_names_hour_and_place() -> None:
    gale = replace(
        found(WIND_M_S=25.0, WIND_AT_H=2.5, event="none"),
        place=lambda hours: f"at 19:30, km {3 * hours:.1f}",
    )
    assert "at 19:30, km 7.5" in judge(gale).reasons[0]
    assert "in hour 3" in judge(replace(gale, place=None)).reasons[0]
    # Five kilometres in each of the first two hours, four in the third: half of it at 2.5 h.
    gone = replace(gale, place=None, along_m=np.array([[5000.0], [10000.0], [14000.0], [NAN]]))
    assert "in hour 3, km 12.0" in judge(gone).reasons[0]


def test_what_is_not_known_is_named_and_never_lightens_the_verdict() -> None:
    verdict = judge(found(unpriced=("water of 'flask'",)))
    assert verdict.level == "walk with care"
    assert "flask" in verdict.reasons[0]


def test_a_heavy_bag_and_a_child_are_told_in_plain_words() -> None:
    told = judge(found(LOAD_SHARE=0.34, beyond_age=("walker 2 is 9 years old",))).reasons
    assert told[0].startswith("the bag weighs 34% of body mass from the start, km 0.0, more than")
    assert told[1].startswith("walker 2 is 9 years old (from the start, km 0.0): the models were")


def test_reasons_speak_the_units_asked_for() -> None:
    told = " ".join(
        judge(
            found(coldest_felt_c=-5.0, busy_dark_km=3.0, WIND_M_S=15.0, RAIN_MM_H=25.4),
            units=Units("us"),
        ).reasons
    )
    # NIST Special Publication 811: 3 km are 1.86 mi, -5 degC is 23 degF, 15 m/s 33.6 mph.
    assert "1.9 mi" in told
    assert "23 °F" in told
    assert "34 mph" in told
    assert "1.0 in/h" in told
    assert "km" not in told


@pytest.mark.parametrize("name", [*MUST_BE_KNOWN, *(row.name for row in STRAIN_KNOWN)])
def test_a_number_that_no_model_gives_counts_as_the_worst_and_is_named(name: str) -> None:
    verdict = judge(found(**{name: NAN}))
    assert verdict.level == LEVELS[-1]
    words = {**MUST_BE_KNOWN, **{row.name: text for row, text in STRAIN_KNOWN.items()}}[name]
    assert any(words in reason and "taken as" in reason for reason in verdict.reasons)


@pytest.mark.parametrize(
    "changes",
    [
        # 43 degC at 90 % humidity lies beyond the printed heat index table.
        {"coldest_felt_c": NAN, "hottest_felt_c": NAN, "beyond_index_c": 43.0},
        {"hottest_felt_c": NAN},
        {"halt_h": 9.0, "halt_short_clo": NAN},
    ],
)
def test_weather_and_halts_beyond_the_tables_count_as_the_worst(
    changes: dict[str, object],
) -> None:
    verdict = judge(found(**changes))
    assert verdict.level == LEVELS[-1]
    assert "taken as" in verdict.reasons[0]


FRAIL_AGE = {"FRAIL": 1.0}

HAZARDS: dict[str, tuple[dict[str, Any], ...]] = {
    # From light to grave; each step changes one hazard alone.
    "wind": tuple({"WIND_M_S": speed} for speed in (0.0, 8.0, 12.0, 15.0, 18.0, 25.0, 60.0)),
    "rain": tuple({"RAIN_MM_H": rain, "WET_MM": rain} for rain in (0.0, 0.5, 3.0, 8.0, 30.0, 60.0)),
    "ice": tuple({"ICE_MM": rain} for rain in (0.0, 0.2, 1.0, 5.0)),
    "snow": tuple({"SNOW_MM": fallen} for fallen in (0.0, 0.5, 2.0, 30.0)),
    "heat": tuple({"hottest_felt_c": felt} for felt in (15.0, 31.0, 33.0, 38.0, 41.0, 60.0)),
    "sun": (
        *({"HEAT_OVER_C": over, "SUN_FELT_C": 30.0 + over} for over in (-5.0, 0.5, 3.5, 5.0)),
        {"HEAT_OVER_C": 5.0, "SUN_FELT_C": 47.0},
        {"HEAT_OVER_C": 5.0, "SUN_FELT_C": 47.0, "HOT_CORE_H": 1.0},
    ),
    "cold": tuple({"coldest_felt_c": felt} for felt in (10.0, 0.5, -3.0, -20.0, -28.0, -60.0)),
    "clothes": tuple({"FOOT_SHORT_CLO": lack} for lack in (0.0, 0.2, 0.5, 1.2, 4.0)),
    "age": ({}, FRAIL_AGE, FRAIL_AGE | {"BEYOND_AGE": 1.0}),
    "load": tuple({"LOAD_SHARE": share} for share in (0.0, 0.1, 0.2, 0.4, 0.9)),
    "effort": (
        *({"slowed_share": share} for share in (0.0, 0.03, 0.1)),
        *({"slowed_share": 0.3, "EFFORT": over} for over in (0.9, 1.1, 1.3, 3.0)),
    ),
    "dark": (
        *({"unlit_h": hours} for hours in (0.0, 0.3, 2.0, 9.0)),
        *({"unlit_h": 9.0, "light_short_h": hours} for hours in (0.1, 1.0, 3.0, 9.0)),
    ),
    "road by day": tuple({"busy_day_km": km} for km in (0.0, 1.0, 3.0, 25.0)),
    "road in the dark": tuple({"busy_dark_km": km} for km in (0.0, 0.2, 0.6, 3.0, 25.0)),
    "kind of road": tuple({"busy_danger": danger} for danger in (1.0, 1.2, 2.0, 5.0)),
    "food": tuple({"elapsed_h": hours, "EFFORT": hours / 30.0} for hours in (4.0, 9.0, 16.0, 20.0)),
    "water": tuple(
        {"loss_pct": loss, "short_ml": 700.0 * loss, "first_short_h": 2.0}
        for loss in (0.0, 0.5, 1.9, 2.5, 4.5, 9.0)
    ),
    "ford": tuple({"fords": count} for count in (0.0, 1.0, 3.0)),
    "floods": tuple({"floods_km": km} for km in (0.0, 0.1, 3.0)),
    "steep": tuple({"steep_km": km} for km in (0.0, 0.05, 0.5)),
    "halt": (
        {},
        {"halt_h": 6.0, "halt_short_clo": 0.0},
        {"halt_h": 9.0, "halt_short_clo": 1.0},
        {"halt_h": 9.0, "halt_short_clo": 1.0, "halt_open": True},
    ),
    "event": ({"event": "none"}, {"event": "flood"}),
    "storm": ({"event": "none"}, {"event": "storm"}),
    "unknown": ({}, {"unpriced": ("water_ml of 'flask'",)}),
}
"""Steps of every hazard; what a body lacks of food shows in the effort and in the hours."""

PAIRS = [(one, other) for one in HAZARDS for other in HAZARDS if one < other]
PAIRS.remove(("event", "storm"))  # one key of the plan: not both at once
"""Every hazard beside every other."""


def level_of(*changes: dict[str, Any]) -> int:
    merged: dict[str, Any] = {}
    for change in changes:
        for name, value in change.items():
            # Where two hazards speak of one finding, the graver holds.
            known = merged.get(name)
            merged[name] = max(known, value) if isinstance(known, float) else value
    return int(levels_of(found(**merged))[0])


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_of_every_pair_neither_hazard_lightens_the_other(one: str, other: str) -> None:
    grid = np.array([[level_of(a, b) for b in HAZARDS[other]] for a in HAZARDS[one]])
    assert (np.diff(grid, axis=0) >= 0).all(), grid
    assert (np.diff(grid, axis=1) >= 0).all(), grid
    alone = np.array([level_of(a) for a in HAZARDS[one]])
    assert (grid >= alone[:, None]).all()


def test_every_hazard_but_flooding_ground_reaches_the_word_by_itself() -> None:
    gravest = {name: level_of(steps[-1]) for name, steps in HAZARDS.items()}
    only_with_another = {"floods", "steep", "kind of road"}
    assert {name for name, level in gravest.items() if level == 0} == only_with_another


@settings(max_examples=4 * EXAMPLES)
@given(data=st.data())
def test_a_graver_hazard_never_lightens_the_word(data: st.DataObject) -> None:
    """However many hazards there are at once, one step graver in any of them is no lighter."""
    names = data.draw(st.lists(st.sampled_from(sorted(HAZARDS)), unique=True, max_size=8))
    at = {name: data.draw(st.integers(0, len(HAZARDS[name]) - 1)) for name in names}
    name = data.draw(st.sampled_from(sorted(HAZARDS)))
    step = at.setdefault(name, 0)
    graver = at | {name: min(step + 1, len(HAZARDS[name]) - 1)}
    if {"event", "storm"} <= graver.keys():
        return
    before, after = (
        level_of(*(HAZARDS[each][row] for each, row in steps.items())) for steps in (at, graver)
    )
    assert after >= before, (at, name)
    for unknown in (*MUST_BE_KNOWN, *(row.name for row in STRAIN_KNOWN)):
        merged = [HAZARDS[each][row] for each, row in at.items() if each != "event"]
        missing: dict[str, Any] = {}
        for change in merged:
            missing |= change
        assert int(levels_of(found(**(missing | {unknown: NAN})))[0]) == 2


def test_one_walk_and_many_are_judged_by_the_same_rule() -> None:
    walks = [
        found(),
        found(WIND_M_S=25.0),
        found(loss_pct=2.5),
        found(unlit_h=3.0, light_short_h=3.0),
        found(EFFORT=NAN),
    ]
    names = [name for name in NUMBERS if name not in {"fords", "floods_km", "steep_km"}]
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(one, name) for one in walks]) for name in names
    }
    many = replace(
        found(),
        **joined,
        halt_open=np.concatenate([one.halt_open for one in walks]),
        strain=np.concatenate([one.strain for one in walks], axis=1),
    )
    singly = [int(levels_of(one)[0]) for one in walks]
    assert levels_of(many).tolist() == singly
    assert [judge(many.one(row)) for row in range(len(walks))] == [judge(one) for one in walks]
    assert worst_of(many) == ("none", "wind and rain", "water", "light", "other")


def test_a_loss_says_what_the_published_step_means() -> None:
    # ACSM 2007 and NATA 2017 (read in summary): from 2 % slower and worse judgement.
    verdict = judge(found(loss_pct=2.1, short_ml=1700.0, first_short_h=3.0))
    assert "from hour 4" in verdict.reasons[0]
    assert "worse judgement" in verdict.reasons[0]


def test_losing_more_than_is_safe_to_drink_is_not_called_an_empty_bottle() -> None:
    verdict = judge(found(loss_pct=2.5))
    assert verdict.level == "walk with care"
    assert "safe to drink" in verdict.reasons[0]


def test_unlit_way_is_told_once_by_the_lamp_that_lacks_or_by_the_dark() -> None:
    # A quarter of an hour without a lamp is where the lamp begins to be told, that one included.
    short_h = np.array([0.0, 0.2, 0.25, 0.3])
    findings = cast("Findings", SimpleNamespace(light_short_h=short_h, unlit_h=np.full(4, 3.0)))
    care, calm = rules.CARE, rules.CALM
    assert rules._dark(findings).tolist() == [care, care, calm, calm]
    assert rules._light(findings).tolist() == [calm, calm, care, care]
