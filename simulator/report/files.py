"""All files of a walk, written together or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simulator import files
from simulator.report.calendar import walk_ics
from simulator.report.exports import (
    hours_csv,
    parquet,
    refills_csv,
    route_geojson,
    route_gpx,
    summary_json,
    weather_credit,
    with_credits,
)
from simulator.report.no_way import WALK_FILES
from simulator.report.page.html import page_html
from simulator.report.paper.press import Page
from simulator.report.paper.timeline import timeline_and_figures
from simulator.report.subject import DrawnWalk
from simulator.report.tables import attribution_of
from simulator.report.water import bottles_csv

if TYPE_CHECKING:
    from simulator.home.answer import Writer
    from simulator.plan import Plan


def writer_for(plan: Plan) -> Writer:
    """Give the writer of a walk's files; on the plan's paper unless another is asked for."""

    def write(walk: DrawnWalk, folder: Path, page: Page | None) -> list[Path]:
        return write_walk(walk, folder, page=page or plan.choices.page)

    return write


def write_walk(walk: DrawnWalk, folder: Path, *, page: Page = "A4") -> list[Path]:
    """Write every output file of a walk.

    Everything is made before anything is written, and the files reach the folder only when all
    of them are complete.

    Parameters
    ----------
    walk : DrawnWalk
        What `simulator.walk_home` gave.
    folder : pathlib.Path
        Where the files shall be; made when it does not exist.
    page : {"A4", "Letter"}
        Paper of the timeline.

    Returns
    -------
    list of pathlib.Path
        The files, the summary first.

    Raises
    ------
    InputError
        When nothing can be written there, or the plan asks for a file that needs a package which
        is not installed.
    ValueError
        For paper of another name.
    """
    folder = Path(folder)
    files.require_writable_folder(folder)
    timeline, figures = timeline_and_figures(walk, page=page)
    contents: dict[str, bytes] = {
        "summary.json": b"",
        "hours.csv": hours_csv(walk).encode(),
        "refills.csv": refills_csv(walk).encode(),
        "route.geojson": route_geojson(walk).encode(),
        "route.gpx": route_gpx(walk).encode(),
        "timeline.pdf": timeline,
        "page.html": page_html(walk, figures=figures).encode(),
    }
    if bottles := bottles_csv(walk):
        contents["bottles.csv"] = bottles.encode()
    also = walk.plan.choices.also
    if "calendar" in also:
        contents["walk.ics"] = walk_ics(walk).encode()
    if "parquet" in also:
        credit = attribution_of(walk)
        contents["hours.parquet"] = parquet(walk.hours, attribution=credit)
        contents["refills.parquet"] = parquet(walk.refills, attribution=credit)
    contents = with_credits(
        contents, folder, attribution=attribution_of(walk), weather=weather_credit(walk.plan)
    )
    # Last, so that it names the others: files of another run beside it can be told by that.
    contents["summary.json"] = summary_json(walk, files=contents).encode()
    with files.staged(folder, replaces=WALK_FILES) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]
