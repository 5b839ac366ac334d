"""A table of people on paper and as files: people.csv and .parquet, what they pass, one page."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import pandas as pd
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from simulator import files
from simulator.plan import inputs
from simulator.questions.many_table import COLUMNS, Part
from simulator.report.exports import json_text
from simulator.report.style import GREY, INK, PALE, in_ink, inked
from simulator.report.words import drawable, loud

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from simulator.plan import Plan

Page = Literal["A4", "Letter"]

PAPER_IN: Final = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Width and height of a page [in]."""

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
    "refills": 0,
}
"""Digits after the point in people.csv."""

MOST_ROWS: Final = 12
"""Bridges and refills shown on the page; passed.csv has them all."""

PASSED: Final = ("kind", "name", "hour", "people")


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

    def put(self, part: Part) -> None:
        """Keep a finished part.

        Parameters
        ----------
        part : Part
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
        table["needs_a_night_halt"] = table["needs_a_night_halt"].isin(["yes", True])
        return table.drop(columns="row")

    def passed(self) -> pd.DataFrame:
        """Give how many pass what, in which hour.

        Returns
        -------
        pandas.DataFrame
            ``kind``, ``name``, ``hour``, ``people``.
        """
        parts = [
            pd.read_csv(path, dtype={"name": "str"}, keep_default_na=False)
            for path in sorted(self.folder.glob("*-passed.csv"))
        ]
        table = pd.concat(parts, ignore_index=True)
        if table.empty:
            return pd.DataFrame(columns=list(PASSED))
        summed = table.groupby(["kind", "name", "hour"], sort=True)["people"].sum()
        return summed.to_frame().reset_index()

    def clear(self) -> None:
        """Remove the parts once the results stand."""
        shutil.rmtree(self.folder, ignore_errors=True)


def _blank_numbers() -> dict[str, list[str]]:
    return {name: [""] for name, kind in COLUMNS.items() if kind == "float64"}


def many_document(plan: Plan, store: PartStore, *, notes: Sequence[str] = ()) -> dict[str, Any]:
    """Sum the people up.

    Parameters
    ----------
    plan : Plan
        What was asked.
    store : PartStore
        All parts.
    notes : sequence of str
        What the map does not say, from ``simulator.questions.many.many``.

    Returns
    -------
    dict
        The content of many.json.
    """
    rows = store.rows()
    home = rows["status"] == "home"
    elapsed, verdicts = rows.loc[home, "elapsed_h"], rows.loc[home, "verdict"].value_counts()
    return {
        "schema": SCHEMA,
        "title": plan.title,
        "seed": 0,
        "inputs": dict(sorted(store.inputs.items())),
        "people": len(rows),
        "status": {str(name): int(count) for name, count in rows["status"].value_counts().items()},
        "verdicts": {str(name): int(count) for name, count in verdicts.items()},
        "home_within_h": {
            f"{hours:g}": int((elapsed <= hours).sum()) for hours in (3, 6, 9, 12, 18, 24)
        },
        "needs_a_night_halt": int(rows["needs_a_night_halt"].sum()),
        "water_runs_short": int((rows["water_short_l"] >= SHORT_L).sum()),
        "assumptions": [*notes, *ASSUMPTIONS],
    }


SHORT_L: Final = 0.1
"""Shortage of water that is worth a word [l]; as in the verdict."""

ASSUMPTIONS: Final = (
    (
        "Everyone walks alone, on the way of least time for a pace factor of 1; people do not "
        "hold each other up at bridges or taps."
    ),
    (
        "Bottles are filled only in need, at the next place without treatment that can be relied "
        "on and is open; nobody shares water."
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
    page : {"A4", "Letter"}
        Paper of the figures.
    notes : sequence of str
        What the map does not say, from ``simulator.questions.many.many``.

    Returns
    -------
    paths : list of pathlib.Path
        ``many.json``, ``people.csv``, ``people.parquet`` where pyarrow is installed,
        ``passed.csv``, ``many.pdf``; all or none.
    document : dict
        The content of many.json.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    rows, passed, document = store.rows(), store.passed(), many_document(plan, store, notes=notes)
    table = rows.itertuples(index=False, name=None)
    contents = {
        "many.json": json_text(document).encode(),
        "people.csv": files.csv_text(list(rows.columns), table, decimals=DECIMALS).encode(),
        "passed.csv": files.csv_text(
            list(PASSED), passed.itertuples(index=False, name=None)
        ).encode(),
        "many.pdf": many_pdf(plan, document, rows, passed, page=page),
    }
    parquet = _parquet(rows)
    if parquet is not None:
        contents["people.parquet"] = parquet
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    store.clear()
    return [folder / name for name in contents], document


def _parquet(rows: pd.DataFrame) -> bytes | None:
    """Give the rows as Parquet; None where the package for it is not installed."""
    try:
        import pyarrow  # noqa: ICN001, PLC0415 - optional, and heavy
        import pyarrow.parquet  # noqa: PLC0415
    except ImportError:
        return None
    sink = io.BytesIO()
    pyarrow.parquet.write_table(pyarrow.Table.from_pandas(rows, preserve_index=False), sink)
    return sink.getvalue()


def many_pdf(
    plan: Plan,
    document: dict[str, Any],
    rows: pd.DataFrame,
    passed: pd.DataFrame,
    *,
    page: Page = "A4",
) -> bytes:
    """Draw who is home when, and what bridges and refills carry.

    Parameters
    ----------
    plan : Plan
        What was asked.
    document : dict
        Content of many.json.
    rows, passed : pandas.DataFrame
        People, and what they pass.
    page : {"A4", "Letter"}
        Paper.

    Returns
    -------
    bytes
        PDF; the same for the same people.
    """
    stream = io.BytesIO()
    nothing: dict[str, Any] = {"CreationDate": None, "Producer": None, "Creator": None}
    with inked(), PdfPages(stream, metadata={**nothing, "Title": "People walking home"}) as pdf:
        figure = Figure(figsize=PAPER_IN[page])
        figure.text(0.08, 0.955, drawable(plan.title, longest=70), size=14, weight="bold")
        figure.text(0.08, 0.935, many_headline(document), size=8.5, va="top", color=INK)
        grid = figure.add_gridspec(
            3, 1, left=0.26, right=0.95, top=0.88, bottom=0.07, hspace=0.35, height_ratios=[1, 1, 1]
        )
        _home_figure(figure.add_subplot(grid[0]), rows)
        for place, (kind, title) in enumerate(
            (("bridge", "People over each bridge, by hour"), ("refill", "Bottles filled, by hour")),
            start=1,
        ):
            _passed_figure(figure.add_subplot(grid[place]), passed, kind, title)
        figure.text(
            0.08,
            0.018,
            "A model, not a promise. People do not hold each other up here: crowds on bridges and "
            "queues at taps come on top.",
            color=GREY,
        )
        pdf.savefig(figure)
    return stream.getvalue()


def many_headline(document: dict[str, Any]) -> str:
    """Say the main numbers in one sentence.

    Parameters
    ----------
    document : dict
        Content of many.json.

    Returns
    -------
    str
        A sentence.
    """
    within = document["home_within_h"]
    return (
        f"Of {document['people']:,} people {within['6']:,} are home within 6 h, "
        f"{within['12']:,} within 12 h and {within['18']:,} within 18 h; "
        f"water runs short on {document['water_runs_short']:,}."
    )


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
    lines = [str(document["title"]), "", many_headline(document), ""]
    lines += [f"  {name:16s} {count:,}" for name, count in document["status"].items()]
    lines += [f"  {name:16s} {count:,}" for name, count in document["verdicts"].items()]
    lines += loud(document["assumptions"])
    lines += ["", "Written:", *(f"  {path}" for path in written)]
    return "\n".join(files.terminal_safe(line) for line in lines)


@in_ink
def _home_figure(ax: Axes, rows: pd.DataFrame) -> None:
    elapsed = np.sort(rows.loc[rows["status"] == "home", "elapsed_h"].to_numpy(dtype=float))
    ax.plot(elapsed, np.arange(1, elapsed.size + 1), color=INK, linewidth=1.4)
    ax.set_ylim(0.0, len(rows) * 1.02)
    ax.axhline(len(rows), color=GREY, linewidth=0.6, linestyle=":")
    ax.set_xlabel("hours after setting out; dotted: everyone in the table")
    ax.set_title("How many are home")


@in_ink
def _passed_figure(ax: Axes, passed: pd.DataFrame, kind: str, title: str) -> None:
    ax.set_title(title)
    table = passed[passed["kind"] == kind]
    if table.empty:
        ax.set_axis_off()
        ax.text(0.0, 0.9, "none", transform=ax.transAxes, color=GREY)
        return
    grid = table.pivot_table(index="name", columns="hour", values="people", aggfunc="sum")
    grid = grid.fillna(0.0)
    busiest = grid.sum(axis=1).sort_values(ascending=False).index[:MOST_ROWS]
    grid = _every_hour(grid.loc[busiest])
    hours = [text[11:16] for text in grid.columns]
    most = float(grid.to_numpy().max())
    for row, name in enumerate(grid.index):
        for column, people in enumerate(grid.loc[name].to_numpy(dtype=float).tolist()):
            if people > 0.0:
                height = 0.8 * people / most
                ax.bar(column, height, 0.9, bottom=-row - 0.9, color=PALE, edgecolor=INK, lw=0.4)
                ax.text(column, -row - 0.88, f"{people:.0f}", ha="center", va="bottom", size=6.0)
    names = [drawable(name, longest=34) for name in grid.index]
    ax.set_yticks(-np.arange(len(names)) - 0.5, names)
    ax.tick_params(axis="y", length=0)
    ax.set_ylim(-len(names) - 0.1, 0.05)
    ax.set_xticks(range(len(hours)), hours)
    ax.set_xlim(-0.7, len(hours) - 0.3)


def _every_hour(grid: pd.DataFrame) -> pd.DataFrame:
    """Put the hours in which nobody passes anything between the others."""
    known = {datetime.fromisoformat(text): text for text in grid.columns}
    first, last = min(known), max(known)
    count = round((last - first) / timedelta(hours=1)) + 1
    hours = [first + timedelta(hours=hour) for hour in range(count)]
    columns = [known.get(when, when.isoformat()) for when in hours]
    return grid.reindex(columns=columns, fill_value=0.0)
