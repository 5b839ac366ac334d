"""The verdict: each reason at its published or stated threshold, the gravest sets the level."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.home import verdict as rules
from simulator.home.strain import Strain
from simulator.home.verdict import (
    LEVELS,
    MUST_BE_KNOWN,
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
        ({"busy_day_km": 25.0}, CARE),
        ({"busy_day_km": 0.5}, WALK),
        ({"event": "flood"}, CARE),
        ({"event": "storm"}, CARE),
        ({"fords": 1.0}, CARE),
        ({"fords": 1.0, "event": "flood"}, STAY),
        ({"fords": 1.0, "RAIN_MM_H": 8.0}, STAY),
        ({"floods_km": 0.5}, WALK),
        ({"floods_km": 0.5, "event": "flood"}, STAY),
        ({"steep_km": 0.5}, WALK),
        ({"steep_km": 0.5, "RAIN_MM_H": 1.0}, CARE),
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


def test_every_reason_says_what_to_do() -> None:
    # Of each finding above that calls for anything, at its gravest.
    verbs = (
        *("wait", "walk", "cover", "carry", "go ", "take", "be ", "rest", "leave", "wear", "keep"),
        *("start", "look", "turn", "never", "do not"),
    )
    worst = found(
        loss_pct=5.0, short_ml=3000.0, first_short_h=2.0, coldest_felt_c=-30.0, hottest_felt_c=41.0,
        HEAT_OVER_C=6.0, SUN_FELT_C=50.0,
        HOT_CORE_H=2.0, WIND_M_S=30.0, RAIN_MM_H=60.0, ICE_MM=3.0, SNOW_MM=30.0,
        unlit_h=3.0, light_short_h=3.0, elapsed_h=20.0, halt_short_clo=1.0, halt_h=9.0,
        halt_open=True, busy_dark_km=3.0, fords=1.0, event="flood", FOOT_SHORT_CLO=2.0,
        LOAD_SHARE=0.5, EFFORT=1.5, BEYOND_AGE=1.0, unpriced=("water_ml of 'flask'",),
    )  # fmt: skip
    reasons = judge(worst).reasons
    assert len(reasons) == len(rules.RULES) - 3  # two of the unknown, and the dark with a lamp
    for reason in reasons:
        assert any(verb in reason for verb in verbs), reason


def test_a_reason_of_an_hour_names_hour_and_place() -> None:
    gale = replace(
        found(WIND_M_S=25.0, WIND_AT_H=2.5, event="none"),
        place=lambda hours: f"at 19:30, km {3 * hours:.1f}",
    )
    assert "at 19:30, km 7.5" in judge(gale).reasons[0]
    assert "in hour 3" in judge(replace(gale, place=None)).reasons[0]


def test_what_is_not_known_is_named_and_never_lightens_the_verdict() -> None:
    verdict = judge(found(unpriced=("water of 'flask'",)))
    assert verdict.level == "walk with care"
    assert "flask" in verdict.reasons[0]


def test_a_heavy_bag_and_a_child_are_told_in_plain_words() -> None:
    told = judge(found(LOAD_SHARE=0.34, beyond_age=("walker 2 is 9 years old",))).reasons
    assert told[0].startswith("the bag weighs 34% of body mass, more than the 30%")
    assert told[1].startswith("walker 2 is 9 years old: the models were measured on adults")


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


UPWARD = (
    *("loss_pct", "short_ml", "hottest_felt_c", "unlit_h", "light_short_h", "elapsed_h"),
    *("halt_short_clo", "halt_h", "busy_dark_km", "busy_day_km", "slowed_share"),
    *("fords", "floods_km", "steep_km"),
    *("WIND_M_S", "RAIN_MM_H", "ICE_MM", "SNOW_MM", "HEAT_OVER_C", "FOOT_SHORT_CLO", "EFFORT"),
    *("LOAD_SHARE", "FRAIL", "BEYOND_AGE"),
)
"""Findings of which more is graver; of the coldest felt temperature and the hour of a hot core less
is."""


@settings(max_examples=4 * EXAMPLES)
@given(data=st.data())
def test_a_graver_hazard_never_lightens_the_word(data: st.DataObject) -> None:
    sizes = {"hottest_felt_c": 45.0, "HEAT_OVER_C": 9.0, "short_ml": 4000.0, "halt_h": 12.0}
    start = {
        name: data.draw(st.floats(0.0, sizes.get(name, 30.0)))
        for name in data.draw(st.lists(st.sampled_from(UPWARD), unique=True, max_size=6))
    }
    event = data.draw(st.sampled_from(["none", "flood", "storm", "power failure"]))
    before = found(**start, event=event)
    level = int(levels_of(before)[0])
    name = data.draw(st.sampled_from(UPWARD))
    more = start.get(name, max(NUMBERS.get(name, 0.0), 0.0) if name != "halt_h" else 0.0)
    graver = start | {name: more + data.draw(st.floats(0.0, 30.0))}
    assert int(levels_of(found(**graver, event=event))[0]) >= level
    colder = data.draw(st.floats(0.0, 60.0))
    cold = found(**start, event=event, coldest_felt_c=12.0 - colder)
    assert int(levels_of(cold)[0]) >= level
    assert int(levels_of(found(**start, event=event, HOT_CORE_H=colder))[0]) >= level
    for unknown in ("loss_pct", "WIND_M_S", "EFFORT"):
        assert int(levels_of(found(**(start | {unknown: NAN}), event=event))[0]) == 2


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
