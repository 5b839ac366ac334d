"""The verdict: each reason at its published or stated threshold, the gravest sets the level."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from simulator.home.verdict import LEVELS, Findings, judge
from simulator.units import Units

CALM = Findings(
    loss_pct=0.5,
    short_ml=0.0,
    first_short_h=float("nan"),
    coldest_felt_c=12.0,
    hottest_felt_c=18.0,
    unlit_h=0.0,
    light_short_h=0.0,
    elapsed_h=6.0,
    halt_short_clo=float("nan"),
    halt_h=float("nan"),
    halt_sheltered=True,
    busy_dark_km=0.0,
    event="none",
)


def test_a_walk_without_findings_is_a_walk_with_one_reason() -> None:
    verdict = judge(CALM)
    assert verdict.level == "walk"
    assert len(verdict.reasons) == 1


@pytest.mark.parametrize(
    ("changes", "level"),
    [
        # Sawka et al. 2007 (ACSM position stand): above 2 % of body mass performance suffers.
        ({"loss_pct": 1.9}, "walk"),
        ({"loss_pct": 2.1, "short_ml": 1700.0, "first_short_h": 3.0}, "walk with care"),
        ({"loss_pct": 4.5, "short_ml": 3600.0, "first_short_h": 3.0}, "stay and wait"),
        # Wind chill categories of Environment and Climate Change Canada: frostbite from -28.
        ({"coldest_felt_c": -5.0}, "walk with care"),
        ({"coldest_felt_c": -28.0}, "stay and wait"),
        # Heat index table of the US National Weather Service, from memory: 90 degF, 103 degF.
        ({"hottest_felt_c": 33.0}, "walk with care"),
        ({"hottest_felt_c": 40.0}, "stay and wait"),
        ({"unlit_h": 0.4}, "walk"),
        ({"unlit_h": 2.0}, "walk with care"),
        ({"light_short_h": 1.0}, "walk with care"),
        # Common practice: 12 h, at most 18 h, for about 25 km.
        ({"elapsed_h": 13.0}, "walk with care"),
        ({"elapsed_h": 19.0}, "stay and wait"),
        ({"halt_short_clo": 1.0, "halt_h": 9.0}, "stay and wait"),
        ({"halt_h": 9.0, "halt_sheltered": False}, "stay and wait"),
        ({"busy_dark_km": 2.0}, "walk with care"),
        ({"event": "flood"}, "walk with care"),
        # ASHRAE 55, table of garments, from memory: a jumper gives about 0.3 clo.
        ({"foot_short_clo": 0.29}, "walk"),
        ({"foot_short_clo": 0.31}, "walk with care"),
        ({"foot_short_clo": 1.1}, "stay and wait"),
        # US Army ADP 3-90 (restated): about 30 % of body weight keeps most agility.
        ({"load_share": 0.29}, "walk"),
        ({"load_share": 0.31}, "walk with care"),
        ({"beyond_age": ("the walker is 9 years old",)}, "walk with care"),
    ],
)
def test_each_finding_calls_for_its_level(changes: dict[str, float], level: str) -> None:
    verdict = judge(replace(CALM, **changes))  # type: ignore[arg-type]  # names as in the table
    assert verdict.level == level


def test_the_gravest_reason_comes_first() -> None:
    verdict = judge(replace(CALM, hottest_felt_c=41.0, light_short_h=1.0))
    assert verdict.level == LEVELS[-1]
    assert "heat" in verdict.reasons[0]
    assert len(verdict.reasons) == 2


def test_what_is_not_known_is_named_and_never_lightens_the_verdict() -> None:
    verdict = judge(replace(CALM, unpriced=("water of 'flask'",)))
    assert verdict.level == "walk with care"
    assert "flask" in verdict.reasons[0]


def test_a_heavy_bag_and_a_child_are_told_in_plain_words() -> None:
    told = judge(replace(CALM, load_share=0.34, beyond_age=("walker 2 is 9 years old",))).reasons
    assert told[0].startswith("walker 2 is 9 years old: the models were measured on adults")
    assert told[1].startswith("the bag weighs 34% of body mass, more than the 30%")


def test_reasons_speak_the_units_asked_for() -> None:
    found = replace(CALM, coldest_felt_c=-5.0, busy_dark_km=3.0)
    told = " ".join(judge(found, units=Units("us")).reasons)
    # NIST Special Publication 811: 3 km are 1.86 mi, -5 degC is 23 degF.
    assert "1.9 mi" in told
    assert "23 °F" in told
    assert "km" not in told


@pytest.mark.parametrize(
    "changes",
    [
        {"loss_pct": float("nan")},
        {"short_ml": float("nan")},
        # 43 degC at 90 % humidity lies beyond the printed heat index table.
        {"coldest_felt_c": float("nan"), "hottest_felt_c": float("nan"), "beyond_index_c": 43.0},
        {"hottest_felt_c": float("nan")},
        {"unlit_h": float("nan")},
        {"light_short_h": float("nan")},
        {"elapsed_h": float("nan")},
        {"busy_dark_km": float("nan")},
        {"load_share": float("nan")},
        {"halt_h": 9.0, "halt_short_clo": float("nan")},
    ],
)
def test_a_number_that_no_model_gives_counts_as_the_worst_and_is_named(
    changes: dict[str, float],
) -> None:
    verdict = judge(replace(CALM, **changes))  # type: ignore[arg-type]  # names of findings
    assert verdict.level == LEVELS[-1]
    assert "taken as" in verdict.reasons[0]


def test_no_finding_made_unknown_ever_lightens_the_verdict() -> None:
    grave = replace(CALM, loss_pct=4.5, short_ml=3600.0, first_short_h=3.0, halt_h=9.0)
    for field in fields(Findings):
        if isinstance(getattr(grave, field.name), float):
            unknown = judge(replace(grave, **{field.name: float("nan")}))  # type: ignore[arg-type]
            assert unknown.level == judge(grave).level == LEVELS[-1], field.name


def test_a_loss_says_what_the_published_step_means() -> None:
    # ACSM 2007 and NATA 2017 (read in summary): from 2 % slower and worse judgement.
    verdict = judge(replace(CALM, loss_pct=2.1, short_ml=1700.0, first_short_h=3.0))
    assert "from hour 4" in verdict.reasons[0]
    assert "worse judgement" in verdict.reasons[0]


def test_losing_more_than_is_safe_to_drink_is_not_called_an_empty_bottle() -> None:
    verdict = judge(replace(CALM, loss_pct=2.5))
    assert verdict.level == "walk with care"
    assert "safe to drink" in verdict.reasons[0]
