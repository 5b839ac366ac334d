"""The commands ``fetch`` and ``cache``, run as a person would, against loopback servers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from simulator import cli
from simulator.errors import InputError
from simulator.fetch.geocode import look_up
from simulator.fetch.http import TransferError
from simulator.plan import Plan, inputs
from simulator.plan.tables import names_beside, read_names, write_names

if TYPE_CHECKING:
    from tests.fetch.conftest import Exchange, Misbehave, Server, Waits

    PlanWriter = Callable[..., Path]

PLAN = """\
[trip]
start = {start}
home = {home}
via = {via}
depart = 2026-05-04T09:30:00
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[weather]
{weather}
[fetch]
margin_km = 0.5
{more}
"""
CONSTANTS = "air_c = 12\nhumidity_pct = 60\nwind_m_s = 3\ncloud_pct = 50\nrain_mm_h = 0\n"
STATION, HAKANIEMI = '"Central Station, Helsinki"', '"Hakaniemi"'


@pytest.fixture(autouse=True)
def world(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    street_server: Server,
    height_server: Server,
    place_server: Server,
) -> None:
    """Point the environment at the servers of the test, and at a cache of its own."""
    monkeypatch.setenv("WALKHOME_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("WALKHOME_STREETS_FROM", f"{street_server.address}/interpreter")
    monkeypatch.setenv("WALKHOME_HEIGHTS_FROM", height_server.address)
    monkeypatch.setenv("WALKHOME_PLACES_FROM", place_server.address)


@pytest.fixture
def write_plan(tmp_path: Path) -> PlanWriter:
    """Give a function that writes a plan across central Helsinki."""

    def write(
        *,
        start: str = "[60.1700, 24.9400]",
        home: str = "[60.1740, 24.9500]",
        via: str = "[]",
        weather: str = CONSTANTS,
        more: str = "",
    ) -> Path:
        path = tmp_path / "plan.toml"
        text = PLAN.format(start=start, home=home, via=via, weather=weather, more=more)
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_plan_without_a_map_is_fetched_and_then_planned_offline(
    write_plan: PlanWriter,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    street_server: Server,
) -> None:
    plan = write_plan()
    assert cli.main(["plan", str(plan), "--out", str(tmp_path / "out")]) == 2
    assert "run `walkhome fetch" in capsys.readouterr().err
    assert cli.main(["fetch", str(plan)]) == 0
    said = capsys.readouterr().out
    assert "1 pieces (0 of them kept before), data of 2026-11-20." in said
    assert "© OpenStreetMap contributors, ODbL 1.0" in said
    assert "WorldDEM-30" in said
    asked = len(street_server.seen)
    assert cli.main(["plan", str(plan), "--out", str(tmp_path / "out")]) == 0
    assert len(street_server.seen) == asked
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert "map.osm.pbf" in summary["inputs"]
    assert "accessed 2" in summary["attribution"]
    assert "WorldDEM-30" in summary["attribution"]
    assert "Heights are of the surface" in json.dumps(summary)


def test_the_result_is_given_as_json(
    write_plan: PlanWriter, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["fetch", str(write_plan()), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["pieces"] == 1
    assert all(Path(file["path"]).stat().st_size == file["bytes"] for file in told["files"])
    assert cli.main(["cache", "--json"]) == 0
    held = json.loads(capsys.readouterr().out)
    assert {row["kind"] for row in held["records"]} == {"area", "piece"}


def test_looking_asks_no_server(
    write_plan: PlanWriter, capsys: pytest.CaptureFixture[str], street_server: Server
) -> None:
    assert cli.main(["fetch", str(write_plan()), "--look"]) == 0
    said = capsys.readouterr().out
    assert "60.1 to 60.2 north, 24.9 to 25.0 east, 1 pieces" in said
    assert "nothing for this area" in said
    assert street_server.seen == []


def test_the_cache_is_listed_limited_and_cleared(
    write_plan: PlanWriter, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert cli.main(["cache"]) == 0
    assert f"{tmp_path / 'cache'}: 0.0 MB of at most 2000 MB" in capsys.readouterr().out
    cli.main(["fetch", str(write_plan())])
    assert cli.main(["cache", "--limit", "500"]) == 0
    said = capsys.readouterr().out
    assert "of at most 500 MB" in said
    assert "60.1700,24.9400 to 60.1740,24.9500" in said
    assert cli.main(["cache", "--limit", "1"]) == 2
    assert "at least 10 MB" in capsys.readouterr().err
    assert cli.main(["cache", "--clear"]) == 0
    assert "0.0 MB of at most 500 MB" in capsys.readouterr().out


def test_places_by_name_are_shown_before_they_are_used(
    write_plan: PlanWriter, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = write_plan(start=STATION, home=HAKANIEMI)
    with pytest.raises(
        InputError, match=r"trip\.start: found 'Central Station, Helsinki'; two num"
    ):
        Plan.read(plan)
    # Nobody is there to look.
    assert cli.main(["fetch", str(plan)]) == 2
    said = capsys.readouterr().err
    assert "found: Central Station, Kluuvi, Helsinki, Finland" in said
    assert "at:    [60.171100, 24.941400]" in said
    assert "run it in a terminal, or with --yes" in said
    assert not names_beside(plan).exists()
    assert cli.main(["fetch", str(plan), "--yes"]) == 0
    read = Plan.read(plan)
    assert read.trip.start == (60.1711, 24.9414)
    assert read.trip.home == (60.1787, 24.9510)
    assert "plan.names.toml" in inputs(read)
    assert plan.read_text(encoding="utf-8").startswith(f"[trip]\nstart = {STATION}")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(("answer", "code"), [(b"y\n", 0), (b"\n", 2)])
def test_on_a_terminal_the_person_is_asked(
    write_plan: PlanWriter, answer: bytes, code: int
) -> None:
    import pty

    plan = write_plan(start=STATION)
    owner, terminal = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "simulator", "fetch", str(plan)],
        stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as run:  # fmt: skip
        os.write(owner, answer)
        out, err = run.communicate(timeout=60)
    os.close(owner)
    os.close(terminal)
    assert run.returncode == code
    assert b"Are these the right places? [y/N]" in err
    assert names_beside(plan).exists() == (code == 0)
    assert (b"Nothing was taken" in out) == (code == 2)


def test_a_place_that_is_not_found_is_named(place_server: Server) -> None:
    with pytest.raises(InputError, match="'Nowhere at all': no such place found"):
        look_up(["Hakaniemi", "Nowhere at all"], address=place_server.address)


def test_a_geocoder_that_stays_busy_is_left_alone(
    place_server: Server, misbehave: type[Misbehave], waits: Waits
) -> None:
    place_server.misbehave += [misbehave.refuse(429)] * 5
    with pytest.raises(TransferError, match=r"is busy \(code 429\)"):
        look_up(["Hakaniemi"], address=place_server.address, patience=waits.patience(tries=3))
    assert len(place_server.seen) == 3


def test_a_geocoder_that_sends_a_page_is_said(
    place_server: Server, misbehave: type[Misbehave], waits: Waits
) -> None:
    place_server.misbehave += [misbehave.instead(b"<html>Welcome</html>")] * 5
    with pytest.raises(TransferError, match="did not send the place that was asked for"):
        look_up(["Hakaniemi"], address=place_server.address, patience=waits.patience())


def test_a_hostile_name_survives_the_list_of_places(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    name = 'Inn "A]\n= \\b\x1b[31m\x7f\u2028'
    write_names(plan, [(name, 60.0, 24.0, f"{name} found"), ("Ünter", 1.0, -2.0, "")], credit="c")
    assert read_names(plan) == {name: (60.0, 24.0), "Ünter": (1.0, -2.0)}
    write_names(plan, [("third", 3.0, 4.0, "")], credit="c")
    assert len(read_names(plan)) == 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[here]\nfound = 1\n", "a place lacks `at`"),
        ("[here]\nat = [200, 1]\n", "latitude -90 to 90"),
        ("here = [1, 2]\n", "delete the file and run walkhome fetch again"),
        ("[here\n", "delete the file and run walkhome fetch again"),
    ],
)
def test_a_spoilt_list_of_places_is_refused_in_one_line(
    tmp_path: Path, text: str, said: str
) -> None:
    plan = tmp_path / "plan.toml"
    names_beside(plan).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said) as caught:
        read_names(plan)
    assert "\n" not in str(caught.value)


def test_a_typical_year_is_fetched_where_the_plan_names_one(
    write_plan: PlanWriter,
    tmp_path: Path,
    street_server: Server,
    capsys: pytest.CaptureFixture[str],
) -> None:
    # A typical year (TMY3) of Greensboro, as the package pvlib carries it.
    body = (Path(str(files("pvlib"))) / "data" / "723170TYA.CSV").read_bytes()

    def answer(exchange: Exchange) -> None:
        if exchange.path == "/60.2/24.9/year.csv":
            exchange.send(200, body, "text/plain")
        else:
            good(exchange)

    good, street_server.answer = street_server.answer, answer
    place = f'weather_from = "{street_server.address}/{{lat:.1f}}/{{lon:.1f}}/year.csv"'
    plan = write_plan(weather='file = "year.csv"\nmonth = 5', more=place)
    assert cli.main(["fetch", str(plan)]) == 0
    assert (tmp_path / "year.csv").read_bytes() == body
    assert Plan.read(plan).weather.month == 5
    (tmp_path / "year.csv").unlink()
    body = b"Time,Temperature\n1,2\n"
    assert cli.main(["fetch", str(plan)]) == 2
    assert "sent no typical year" in capsys.readouterr().err
    assert not (tmp_path / "year.csv").exists()
