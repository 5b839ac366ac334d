"""What drawn walks ask of the bag at a chosen certainty."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from simulator import Plan
from simulator.bag.fit import Balance, Demand
from simulator.errors import InputError
from simulator.questions.bag import needed_for, read_odds
from simulator.questions.odds import QUANTILES, amount_of, chance_of

INPUTS = {"bag.csv": "a" * 64}
LIGHT = Balance(Demand("light", "light", "h", ("light_h",), 2.0, ""), 1.5, (), 1.0)
START = Balance(Demand("water_start", "water", "ml", ("water_ml",), 900.0, ""), 500.0, (), 1.0)

Writer = Callable[..., Path]


@pytest.fixture
def write_odds(tmp_path: Path) -> Writer:
    """Give a function that writes an odds.json of drawn shortages."""

    def write(light_h: np.ndarray, *, water_l: float = 0.0) -> Path:
        short = light_h > 0.0
        water = np.full(light_h.size, water_l)
        nothing = np.zeros(light_h.size, dtype=bool)
        told = {
            "inputs": INPUTS,
            "shortages": {
                "light": {**chance_of(short), "short_h": amount_of(light_h[short])},
                "water": {**chance_of(water > 0), "short_l": amount_of(water[water > 0])},
                "warmth_of_a_night_halt": {**chance_of(nothing), "short_clo": amount_of(water[:0])},
            },
        }
        path = tmp_path / "odds.json"
        path.write_text(json.dumps(told), encoding="utf-8")
        return path

    return write


def needed(path: Path, certainty: float, *balances: Balance, walkers: int = 1) -> dict[str, float]:
    told = read_odds(path, certainty)
    return needed_for(path, told, certainty, balances, walkers=walkers, inputs=INPUTS)


def test_the_amount_serves_the_share_of_walks_that_was_asked_for(write_odds: Writer) -> None:
    # 40 % of the walks lack light, evenly between 0 and 4 h.
    drawn = np.concatenate([np.zeros(6000), np.linspace(0.001, 4.0, 4000)])
    path = write_odds(drawn)
    for certainty in (0.7, 0.9, 0.95):
        told = needed(path, certainty, LIGHT)["light"]
        assert told == pytest.approx(1.5 + np.quantile(drawn, certainty), abs=0.02)
        assert np.mean(drawn <= told - 1.5) == pytest.approx(certainty, abs=0.01)


def test_what_few_enough_walks_lack_is_not_asked_for(write_odds: Writer) -> None:
    path = write_odds(np.concatenate([np.zeros(95), np.full(5, 3.0)]))
    assert needed(path, 0.9, LIGHT, START) == {}


def test_each_walker_needs_his_light_and_the_party_its_water(write_odds: Writer) -> None:
    path = write_odds(np.full(100, 1.0), water_l=0.75)
    told = needed(path, 0.9, LIGHT, START, walkers=3)
    assert told == {"light": pytest.approx(1.5 + 3.0), "water_start": pytest.approx(1250.0)}


def test_more_certainty_never_asks_for_less(write_odds: Writer) -> None:
    path = write_odds(np.random.default_rng(3).gamma(2.0, 1.0, 500))
    told = [needed(path, share, LIGHT)["light"] for share in (0.02, 0.1, 0.5, 0.8, 0.95)]
    assert told == sorted(told)


def test_a_certainty_beyond_the_last_quantile_is_refused(write_odds: Writer) -> None:
    path = write_odds(np.concatenate([np.zeros(50), np.linspace(1.0, 2.0, 50)]))
    assert max(QUANTILES) == 0.95
    assert needed(path, 0.975, LIGHT)["light"] == pytest.approx(1.5 + 1.95, abs=0.01)
    with pytest.raises(InputError, match=r"no more than a certainty of 0\.975; ask less"):
        needed(path, 0.99, LIGHT)


@pytest.mark.parametrize("certainty", [0.0, 1.0, -1.0, float("nan")])
def test_a_certainty_that_is_none_is_refused(write_odds: Writer, certainty: float) -> None:
    with pytest.raises(InputError, match="allowed: above 0 and below 1"):
        needed(write_odds(np.ones(30)), certainty, LIGHT)


def test_too_few_walks_are_refused(write_odds: Writer) -> None:
    with pytest.raises(InputError, match="draw more walks"):
        needed(write_odds(np.ones(5)), 0.9, LIGHT)


def test_odds_of_another_bag_are_refused(write_odds: Writer) -> None:
    path = write_odds(np.ones(30))
    with pytest.raises(InputError, match=r"was made from another bag\.csv"):
        needed_for(
            path, read_odds(path, 0.9), 0.9, [LIGHT], walkers=1, inputs={"bag.csv": "b" * 64}
        )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "cannot be read as JSON"),
        ("[]", "found no `shortages`"),
        ('{"shortages": {}}', "another bag.csv"),
        (json.dumps({"inputs": INPUTS, "shortages": {"light": 3}}), "make the odds again"),
    ],
)
def test_a_file_that_is_no_odds_is_refused_in_one_line(
    tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "odds.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said) as refused:
        needed(path, 0.9, LIGHT)
    assert len(str(refused.value).splitlines()) == 1


@pytest.mark.slow
def test_the_odds_of_the_demo_raise_what_its_bag_needs(tmp_path: Path) -> None:
    from simulator.demo import demo_folder
    from simulator.questions.bag import pack
    from simulator.questions.odds import odds

    plan = Plan.read(demo_folder() / "plan.toml")
    path = tmp_path / "odds.json"
    path.write_text(json.dumps(odds(plan, walks=2000, seed=1, decide=0).document), encoding="utf-8")
    own = {one.demand.key: one.demand.need for one in pack(plan, most_runs=0).balances}
    sure = {
        one.demand.key: one.demand.need
        for one in pack(plan, odds=path, certainty=0.95, most_runs=0).balances
    }
    assert all(sure[key] >= need - 1e-9 for key, need in own.items() if np.isfinite(need))
