"""The bag against the walk: the same numbers as the ledger, and changes that hold when made."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator import Plan, cli, walk_home
from simulator.bag.items import items_from, read_items
from simulator.errors import InputError
from simulator.home.scene import prepare
from simulator.home.walk import tabulate, walk_way
from simulator.home.way import find_way
from simulator.questions.bag import Packed, document, journey_of, pack, what_of
from tests.conftest import PLAN, TownWriter

HEADER = (
    "item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,holds_ml,treats_ml,"
    "energy_kcal,light_h,warmth_clo,power_wh,caution\n"
)
BOTTLE = "bottle,water,basic,1,540,560,4,,500,,,,,,,\n"
POOR = HEADER + BOTTLE + "brick,other,comfort,1,1900,800,0,,,,,,,,,\n"
TWO = """\
[[walker]]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[[walker]]
mass_kg = 60
height_m = 1.65
age_y = 38
sex = "female"
"""

Night = Callable[..., Packed]


def night_plan(plan: str = PLAN) -> str:
    """Make the walk a cold night in a power cut."""
    changed = plan.replace("T09:30:00", "T22:30:00").replace("air_c = 12", "air_c = 2")
    return changed + '[event]\nkind = "power failure"\n[choices]\nhalt = false\n'


def two_walkers(plan: str) -> str:
    before, rest = plan.split("[walker]\n")
    return before + TWO + "[bag]\n" + rest.split("[bag]\n")[1]


@pytest.fixture
def night(write_town: TownWriter) -> Night:
    """Give a function that judges a bag for the night walk."""

    def judge(bag: str = POOR, *, plan: str | None = None, **options: object) -> Packed:
        path = write_town(night_plan() if plan is None else plan, bag=bag)
        return pack(Plan.read(path), **{"most_runs": 0, **options})  # type: ignore[arg-type]

    return judge


def test_the_demands_are_the_ledgers_own_sums(write_town: TownWriter) -> None:
    scene = prepare(Plan.read(write_town(night_plan(two_walkers(PLAN)), bag=POOR)))
    walked = walk_way(scene, find_way(scene))
    journey, hours = journey_of(scene, walked), tabulate(scene, walked).hours
    assert journey.walkers == 2
    assert journey.lost_ml[-1] == pytest.approx(hours["water_lost_ml"].sum())
    assert journey.energy_kcal[-1] == pytest.approx(hours["energy_used_kcal"].sum())
    assert journey.distance_km[-1] == pytest.approx(hours["distance_so_far_km"].iloc[-1])
    assert 60.0 * journey.unlit_h[-1] == pytest.approx(hours["unlit_min"].sum())


def test_light_falls_short_when_the_walk_itself_says_so(night: Night) -> None:
    found = night()
    (light,) = (one for one in found.shortages if one.demand.key == "light")
    assert light.have == 0.0
    scene = prepare(found.plan)
    told = tabulate(scene, walk_way(scene, find_way(scene))).summary["light"]
    assert light.short == pytest.approx(told["short_h"])
    assert light.begins_h == pytest.approx(told["first_short_h"], abs=0.05)


def test_a_bag_that_holds_all_that_is_asked_has_no_shortage(night: Night) -> None:
    rows = "lamp,light,basic,1,60,50,8,,,,,,9,,,\ncoat,warmth,basic,1,900,900,9,,,,,,,3,,\n"
    found = night(HEADER + BOTTLE + rows)
    assert [one.demand.key for one in found.shortages] == []


def test_warmth_has_no_figure_on_a_mild_day_and_none_is_made_up(night: Night) -> None:
    mild = night(plan=PLAN.replace("air_c = 12", "air_c = 20"))
    (warmth,) = (one for one in mild.balances if one.demand.key == "warmth_walking")
    assert np.isnan(warmth.demand.need)
    told = {one["key"]: one["need"] for one in document(mild)["demands"]}
    assert told["warmth_walking"] is None
    assert "no figure" in warmth.demand.note


@pytest.mark.parametrize(("people_per_lamp", "lamps"), [(1, 2), (2, 1)])
def test_a_list_for_two_names_what_each_should_have(
    night: Night, people_per_lamp: int, lamps: int
) -> None:
    lamp = HEADER + BOTTLE + "lamp,light,basic,1,60,50,8,,,,,,0.1,,,\n"
    plan = night_plan(two_walkers(PLAN)) + f"people_per_lamp = {people_per_lamp}\n"
    found = night(lamp, plan=plan)
    (light,) = (b for b in found.balances if b.demand.key == "light")
    assert light.demand.need == pytest.approx(lamps * found.elapsed_h, rel=0.1)
    # Verdict and engine hold the same rule; who sees by no lamp lacks all its hours.
    lacks_h = walk_home(found.plan).summary["light"]["short_h"]
    assert light.short == pytest.approx(lamps * lacks_h, abs=0.1 * lamps)
    assert set(found.fit.too_few) == {"water", "light"}
    assert any("shared by body mass" in note for note in found.notes)


def test_the_best_bag_mends_what_falls_short_and_reads_back(night: Night, tmp_path: Path) -> None:
    found = night(choosing=True)
    assert found.choice is not None
    assert found.shortages
    assert not [one for one in found.chosen_balances if np.isfinite(one.begins_h)]
    assert found.choice.spent <= 150.0
    assert found.choice.volume_ml <= 5000.0 * 0.85
    (tmp_path / "chosen.csv").write_text(str(found.chosen_csv), encoding="utf-8")
    again = read_items(tmp_path / "chosen.csv")
    assert again.item == found.choice.items.item
    assert again.total("mass_g") == found.choice.items.total("mass_g")


def test_the_chosen_list_serves_as_the_bag_of_the_plan(
    night: Night, tmp_path_factory: pytest.TempPathFactory
) -> None:
    found = night(choosing=True)
    path = tmp_path_factory.mktemp("again") / "chosen.csv"
    path.write_text(str(found.chosen_csv), encoding="utf-8")
    plan = found.plan.model_copy(update={"bag": found.plan.bag.model_copy(update={"items": path})})
    # The fuller bag is heavier, so that the walk differs a little; what it lacks does not.
    assert pack(plan, most_runs=0).shortages == ()


def test_a_change_does_when_made_what_was_said_of_it(
    night: Night, tmp_path_factory: pytest.TempPathFactory
) -> None:
    found = night(most_runs=4)
    best = found.changes[0]
    assert best.kind == "add"
    assert best.gain > 0.0
    name = best.what.removeprefix("add ")
    catalogue = Path(__file__).parents[2] / "data" / "catalogue.csv"
    lines = catalogue.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    (row,) = (line for line in rows if line["item"] == name)
    header = POOR.splitlines()[0].split(",")
    made = tmp_path_factory.mktemp("made") / "bag.csv"
    made.write_text(f"{POOR}{','.join(row[column] for column in header)}\n", encoding="utf-8")
    plan = found.plan.model_copy(update={"bag": found.plan.bag.model_copy(update={"items": made})})
    after = pack(plan, most_runs=0)
    short = {one.demand.label: one.short for one in after.balances}
    assert short[best.target] == pytest.approx(best.after)
    assert 60.0 * (after.elapsed_h - found.elapsed_h) == pytest.approx(best.later_min)


def test_changes_are_ranked_by_what_they_mend_for_their_money_and_mass(night: Night) -> None:
    found = night(most_runs=20)
    gains = [one.gain > 0.0 for one in found.changes]
    assert gains == sorted(gains, reverse=True)
    kinds = {one.kind for one in found.changes}
    assert {"add", "drop", "leave earlier"} <= kinds
    (drop,) = (one for one in found.changes if one.what == "drop brick")
    assert drop.mass_g == -1900.0
    assert drop.later_min < 0.0


def test_runs_are_bounded_and_told(night: Night) -> None:
    stages: list[str] = []
    assert len(night(most_runs=2, progress=stages.append).changes) <= 2
    tried = [stage for stage in stages if stage.startswith("trying change")]
    assert tried == [stage for stage in tried if " of 2: " in stage]
    assert len(tried) == 2


def test_an_amount_from_elsewhere_takes_the_place_of_the_walks_own(night: Night) -> None:
    found = night(needed={"light": 6.5}, choosing=True)
    (light,) = (one for one in found.balances if one.demand.key == "light")
    assert light.demand.need == 6.5
    assert found.choice is not None
    assert found.choice.items.total("light_h").known >= 6.5
    assert any("light" in note for note in found.notes if "outside this walk" in note)


def test_a_demand_that_there_is_not_is_refused(night: Night) -> None:
    with pytest.raises(InputError, match=r"'lihgt'; allowed: .*light"):
        night(needed={"lihgt": 6.5})


def test_a_plan_without_a_list_is_an_empty_bag(night: Night) -> None:
    found = night(plan=night_plan(PLAN.replace('items = "bag.csv"\n', "")), choosing=True)
    assert len(found.items) == 0
    assert found.fit.missing_first == ("shelter", "water", "food", "first aid")
    assert found.choice is not None
    assert not found.choice.uncovered


def test_the_document_is_plain_json_and_says_where_its_numbers_come_from(night: Night) -> None:
    told = json.loads(json.dumps(document(night(choosing=True, most_runs=2)), allow_nan=False))
    assert told["schema"] == "walkhome bag 1"
    assert {"fit", "shortages", "price_by_tier", "changes", "chosen", "upkeep"} <= told.keys()
    assert set(told["price_by_tier"]) == {"basic", "comfort"}
    assert all(len(digest) == 64 for digest in told["inputs"].values())
    assert any("invented" in text for text in told["assumptions"])
    assert "medicines" in told["cautions"][0]
    assert [one["what"] for one in told["shortages"]]


def test_a_night_in_the_open_is_reckoned_even_when_none_is_planned(night: Night) -> None:
    cold = night().if_halted
    assert cold.more_clo > 1.0  # 2 degrees in street clothes, sitting: IREQ asks for over 2 clo
    assert "first light" in cold.note


def test_a_halt_is_not_reckoned_as_an_hour_on_the_move(night: Night) -> None:
    walking = night()
    choices = walking.plan.choices.model_copy(update={"halt": True})
    halting = pack(walking.plan.model_copy(update={"choices": choices}), most_runs=0)
    assert halting.elapsed_h > walking.elapsed_h + 4.0  # without a lamp the walk waits for dawn
    more = [
        next(one.demand.need for one in found.balances if one.demand.key == "warmth_walking")
        for found in (walking, halting)
    ]
    assert more[1] == pytest.approx(more[0], abs=0.3)
    (rest,) = (one for one in halting.balances if one.demand.key == "warmth_halt")
    assert rest.demand.need > more[1] + 0.5  # stopping about doubles what must be worn


def test_raw_water_is_seen_by_a_bag_that_treats_none(write_town: TownWriter) -> None:
    path = write_town(night_plan(), bag=POOR)
    town = path.parent / "town.osm"
    spring = (
        '<node id="5" version="1" lat="46.0042" lon="-64.798"><tag k="natural" v="spring"/></node>'
    )
    text = town.read_text(encoding="utf-8")
    town.write_text(text.replace("</osm>", "</osm>").replace("<node ", f"{spring}<node ", 1))
    scene = prepare(Plan.read(path))
    journey = journey_of(scene, walk_way(scene, find_way(scene)))
    assert len(journey.raw_h) == 1
    assert journey.safe_h == ()
    treated = replace(scene, items=items_from([]))
    assert journey_of(treated, walk_way(treated, find_way(treated))).raw_h == journey.raw_h


# The command --------------------------------------------------------------------------------


def test_the_command_writes_its_files_and_says_how_the_bag_does(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = write_town(night_plan(), bag=POOR)
    out = tmp_path / "out"
    words = ["bag", str(plan), "--choose", "--changes", "1", "--out", str(out)]
    assert cli.main(words) == 0
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines() if "/" not in line) <= 80
    assert "Light to see by:" in said
    assert "The best bag within these limits:" in said
    names = {"bag.json", "checklist.pdf", "upkeep.ics", "upkeep.csv", "chosen.csv"}
    assert {path.name for path in out.iterdir()} == names
    read_items(out / "chosen.csv")


def test_json_is_the_file_and_nothing_else(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = write_town(night_plan(), bag=POOR)
    out = tmp_path / "out"
    assert cli.main(["bag", str(plan), "--json", "--changes", "0", "--out", str(out)]) == 0
    said = capsys.readouterr()
    assert said.out == (out / "bag.json").read_text(encoding="utf-8")
    assert said.err == ""
    assert not (out / "chosen.csv").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--changes", "-1"], "found '-1'; allowed: a whole number from 0"),
        (["--changes", "many"], "found 'many'; allowed: a whole number from 0"),
        (["--need", "light"], "found 'light'; allowed: KEY=AMOUNT"),
        (["--need", "light=-2"], "found 'light=-2'; allowed: KEY=AMOUNT"),
        (["--need", "light=inf"], "found 'light=inf'; allowed: KEY=AMOUNT"),
        (["--need", "glow=2"], "no demand is called 'glow'; allowed: "),
        (["--catalogue", "none.csv"], "found no file none.csv"),
    ],
)
def test_a_wrong_option_is_refused_in_one_line(
    write_town: TownWriter,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    said: str,
) -> None:
    plan = write_town(night_plan(), bag=POOR)
    arguments = ["bag", str(plan), "--out", str(tmp_path / "out"), *words]
    try:
        code: object = cli.main(arguments)
    except SystemExit as end:
        code = end.code
    caught = capsys.readouterr()
    assert code == 2
    assert said in caught.err
    assert len(caught.err.splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_without_a_way_home_the_bag_is_not_judged(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = write_town(bridge=False)
    out = tmp_path / "out"
    assert cli.main(["bag", str(plan), "--out", str(out)]) == 3
    assert {path.name for path in out.iterdir()} == {"summary.json", "timeline.pdf", "page.html"}
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_what_falls_short_is_what_the_plan_itself_says(night: Night) -> None:
    found = night(most_runs=0)
    told = {one["what"]: one for one in walk_home(found.plan).summary["shortages"]}
    mine = {what_of(one.demand.key): one for one in found.shortages}
    own = {"blister_care", "phone_power"}
    assert set(mine) - own == set(told) - {"time"}
    assert told
    for what, one in mine.items():
        if what in own:
            continue
        factor = 1000.0 if one.demand.unit == "ml" else 1.0
        assert one.begins_h == pytest.approx(told[what]["from_h"])
        assert one.short == pytest.approx(factor * told[what]["missing"])
