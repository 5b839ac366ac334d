"""A table of people on paper and as files: people.csv and .parquet, what they pass, one page."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from simulator import files
from simulator.plan import inputs
from simulator.questions.many import COLUMNS, NOT_READ, PASSED, PeoplePart
from simulator.report.exports import json_text, parquet, weather_credit, with_credits
from simulator.report.figures.many import (
    home_figure,
    home_words,
    passed_figure,
    passed_words,
)
from simulator.report.paper.answers import AnswerPart as Section
from simulator.report.paper.answers import Picture, answer_pdf
from simulator.report.paper.press import Page
from simulator.report.text import files_written, item, loud, wrapped

if TYPE_CHECKING:
    from simulator.plan import Plan

WHAT: Final = "People walking home"
"""What the pages are headed."""

STANDING: Final = (
    "A model, not a promise. People do not hold each other up here: crowds on bridges and queues "
    "at taps come on top."
)
"""The caution that stands on the page."""

SCHEMA: Final = "walkhome many 1"
PARTS: Final = "people-parts"
"""Folder of finished parts; it goes when all are done."""

DECIMALS: Final = {
    "elapsed_h": 4,
    "distance_km": 3,
    "dark_h": 3,
    "water_short_l": 3,
    "body_mass_loss_pct": 3,
    "energy_short_kcal": 1,
    "light_short_h": 3,
    "coldest_felt_c": 2,
    "hottest_felt_c": 2,
    "short_from_h": 3,
    "refills": 0,
}
"""Digits after the point in people.csv."""


class PartStore:
    """Finished parts in a folder, so that a run that was broken off goes on from there.

    Parameters
    ----------
    folder : pathlib.Path
        Where the results shall be.
    plan : Plan
        What is asked.
    people : pathlib.Path
        The table; other inputs begin anew.
    size : int
        People in a part.
    """

    def __init__(self, folder: Path, plan: Plan, people: Path, *, size: int) -> None:
        files.require_writable_folder(folder)
        self.folder = folder / PARTS
        self.inputs = {**inputs(plan), people.name: files.sha256_of(people)}
        asked = {"inputs": self.inputs, "plan": plan.model_dump_json(), "size": size}
        key = hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()
        mark = self.folder / "of"
        if not mark.is_file() or mark.read_text(encoding="utf-8") != key:
            shutil.rmtree(self.folder, ignore_errors=True)
            self.folder.mkdir(parents=True)
            files.write_text(mark, key)

    def _path(self, number: int, kind: str) -> Path:
        return self.folder / f"{number:06d}-{kind}.csv"

    def has(self, number: int) -> bool:
        """Say whether a part is finished.

        Parameters
        ----------
        number : int
            Which.

        Returns
        -------
        bool
            True once it is complete.
        """
        return self._path(number, "rows").is_file()

    def put(self, part: PeoplePart) -> None:
        """Keep a finished part.

        Parameters
        ----------
        part : PeoplePart
            Rows and counts; the rows are put last, since they mark it as complete.
        """
        for kind, table in (("passed", part.passed), ("rows", part.rows)):
            path = self._path(part.number, kind)
            beside = path.with_suffix(".new")
            rows = table.itertuples(index=False, name=None)
            files.write_text(beside, files.csv_text(list(table.columns), rows))
            beside.replace(path)

    def rows(self) -> pd.DataFrame:
        """Give everyone's rows in the order of the table.

        Returns
        -------
        pandas.DataFrame
            ``COLUMNS`` without ``row``.
        """
        kinds = {name: kind for name, kind in COLUMNS.items() if kind == "str"}
        parts = [
            pd.read_csv(path, dtype=kinds, keep_default_na=False, na_values=_blank_numbers())
            for path in sorted(self.folder.glob("*-rows.csv"))
        ]
        table = pd.concat(parts, ignore_index=True).sort_values("row", ignore_index=True)
        for name in (name for name, kind in COLUMNS.items() if kind == "bool"):
            table[name] = table[name].isin(["yes", True])
        return table.drop(columns="row")

    def passed(self) -> pd.DataFrame:
        """Give how many pass what, in which hour."""
        kinds = dict(PASSED)
        blank = {name: [""] for name in ("lat", "lon")}
        parts = [
            pd.read_csv(path, dtype=kinds, keep_default_na=False, na_values=blank)
            for path in sorted(self.folder.glob("*-passed.csv"))
        ]
        table = pd.concat(parts, ignore_index=True)
        same = [name for name in PASSED if name != "people"]
        summed = table.groupby(same, sort=True, dropna=False)["people"].sum()
        return summed.reset_index()[list(PASSED)]

    def clear(self) -> None:
        """Remove the parts once the results stand."""
        shutil.rmtree(self.folder, ignore_errors=True)


def _blank_numbers() -> dict[str, list[str]]:
    return {name: [""] for name, kind in COLUMNS.items() if kind == "float64"}


def many_document(
    plan: Plan, store: PartStore, *, attribution: str, notes: Sequence[str] = ()
) -> dict[str, Any]:
    """Sum the people up."""
    rows = store.rows()
    home = rows["status"] == "home"
    elapsed, verdicts = rows.loc[home, "elapsed_h"], rows.loc[home, "verdict"].value_counts()
    return {
        "schema": SCHEMA,
        "title": plan.title,
        "seed": 0,
        "inputs": dict(sorted(store.inputs.items())),
        "attribution": attribution,
        "people": len(rows),
        "status": {str(name): int(count) for name, count in rows["status"].value_counts().items()},
        "verdicts": {str(name): int(count) for name, count in verdicts.items()},
        "home_within_h": {
            f"{hours:g}": int((elapsed <= hours).sum()) for hours in (3, 6, 9, 12, 18, 24)
        },
        "arrive_after_dark": int((rows["arrives_after_dark"] & home).sum()),
        "do_not_arrive": int((~home & ~rows["status"].isin(["at home", NOT_READ])).sum()),
        "not_walked": [
            {"id": one.id, "status": one.status, "reason": one.reason}
            for one in rows[rows["reason"] != ""].head(MOST_TOLD).itertuples()
        ],
        "not_read": int((rows["status"] == NOT_READ).sum()),
        "needs_a_night_halt": int(rows["needs_a_night_halt"].sum()),
        "water_runs_short": int((rows["water_short_l"] >= SHORT_L).sum()),
        "assumptions": [*notes, *ASSUMPTIONS],
    }


MOST_TOLD: Final = 20
"""Rows that were not walked which many.json tells of; people.csv has them all."""

SHORT_L: Final = 0.1
"""Shortage of water that is worth a word [l]; as in the verdict."""

ASSUMPTIONS: Final = (
    (
        "Everyone walks alone, on the way of least time for a pace factor of 1; people do not "
        "hold each other up at bridges or taps."
    ),
    (
        "Bottles are filled where the plan would fill them for that person and bag; nobody shares "
        "water."
    ),
    "Sun and weather are those of the middle of the plan's own trip.",
    "Night halts are not walked: who needs longer than the longest day is marked and walks on.",
)
"""What holds for all people."""


def write_many(
    plan: Plan,
    store: PartStore,
    folder: Path,
    *,
    attribution: str,
    page: Page = "A4",
    notes: Sequence[str] = (),
) -> tuple[list[Path], dict[str, Any]]:
    """Write every file of a table of people.

    Parameters
    ----------
    plan : Plan
        What was asked.
    store : PartStore
        All parts; cleared afterwards.
    folder : pathlib.Path
        Made when it does not exist.
    attribution : str
        Credit of map and heights, as `simulator.questions.many.many` gave it.
    page : {"A4", "Letter"}
        Paper of the figures.
    notes : sequence of str
        What the map does not say, from ``simulator.questions.many.many``.

    Returns
    -------
    paths : list of pathlib.Path
        ``many.json``, ``people.csv``, ``people.parquet`` where pyarrow is installed,
        ``passed.csv``, ``many.pdf``, ``credits.txt``; all or none.
    document : dict
        The content of many.json.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    rows, passed = store.rows(), store.passed()
    document = many_document(plan, store, attribution=attribution, notes=notes)
    table = rows.itertuples(index=False, name=None)
    contents = {
        "many.json": json_text(document).encode(),
        "people.csv": files.csv_text(list(rows.columns), table, decimals=DECIMALS).encode(),
        "passed.csv": files.csv_text(
            list(PASSED),
            passed.itertuples(index=False, name=None),
            decimals={"lat": 6, "lon": 6},
        ).encode(),
        "many.pdf": many_pdf(plan, document, rows, passed, page=page),
    }
    if find_spec("pyarrow") is not None:
        contents["people.parquet"] = parquet(rows, attribution=attribution)
    contents = with_credits(contents, folder, attribution=attribution, weather=weather_credit(plan))
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    store.clear()
    return [folder / name for name in contents], document


def many_pdf(
    plan: Plan,
    document: dict[str, Any],
    rows: pd.DataFrame,
    passed: pd.DataFrame,
    *,
    page: Page = "A4",
) -> bytes:
    """Draw who is home when, and what bridges and refills carry."""
    bridges, refills = "People over each crossing, by hour", "Bottles filled, by hour"
    shelters = "Where the day ends for those who are not home by then"
    pictures = (
        Picture(home_figure(rows), home_words(rows)),
        Picture(
            passed_figure(passed, "crossing", title=bridges),
            passed_words(passed, "crossing", title=bridges),
        ),
        Picture(
            passed_figure(passed, "refill", title=refills),
            passed_words(passed, "refill", title=refills),
        ),
        *(
            [
                Picture(
                    passed_figure(passed, "shelter", title=shelters),
                    passed_words(passed, "shelter", title=shelters),
                )
            ]
            if (passed["kind"] == "shelter").any()
            else []
        ),
    )
    part = Section(told=many_headline(document), rows=tuple((one,) for one in pictures))
    return answer_pdf(
        WHAT,
        plan.title,
        [part],
        standing=STANDING,
        attribution=document["attribution"],
        page=page,
        font=plan.choices.font,
    )


def many_headline(document: dict[str, Any]) -> str:
    """Say the main numbers in one sentence."""
    within = document["home_within_h"]
    return (
        f"Of {document['people']:,} people {within['6']:,} are home within 6 h, "
        f"{within['12']:,} within 12 h and {within['18']:,} within 18 h; "
        f"{document['arrive_after_dark']:,} arrive after dark, {document['do_not_arrive']:,} "
        f"do not arrive; water runs short on {document['water_runs_short']:,}."
        + _unread_words(document["not_read"])
    )


def _unread_words(count: int) -> str:
    """Say how many rows could not be read; nothing for none."""
    return f" {count:,} row{'' if count == 1 else 's'} could not be read." if count else ""


MOST_REASONS: Final = 5
"""Rows that could not be walked whose reasons are printed; people.csv has them all."""


def many_text(document: dict[str, Any], *, written: Sequence[Path]) -> str:
    """Sum the people up for a terminal.

    Parameters
    ----------
    document : dict
        Content of many.json.
    written : sequence of pathlib.Path
        Files written.

    Returns
    -------
    str
        Lines safe to print.
    """
    lines = [*wrapped(str(document["title"])), "", *wrapped(many_headline(document)), ""]
    lines += [f"  {name:16s} {count:,}" for name, count in document["status"].items()]
    lines += [f"  {name:16s} {count:,}" for name, count in document["verdicts"].items()]
    for one in document["not_walked"][:MOST_REASONS]:
        lines += item(f"{one['id']}: {one['status']}, {one['reason']}")
    lines += [*loud(document["assumptions"]), *files_written(written)]
    return "\n".join(files.terminal_safe(line) for line in lines)
