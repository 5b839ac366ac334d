"""One walk home as it is given to a person: tables, summary, and the files they can be saved to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.home.records import document

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.bag.items import Items
    from simulator.ground.osm import Line
    from simulator.ground.places import Places
    from simulator.ground.streets import Streets
    from simulator.home.directions import Direction
    from simulator.home.records import Summary
    from simulator.home.variants import WhatIf
    from simulator.home.water import WaterAnswers
    from simulator.plan import Plan
    from simulator.walk.course import Course
    from simulator.walk.records import Outcome

Page = Literal["A4", "Letter"]
"""Paper of the sheets."""

Writer = Callable[["Walk", FilePath, Page | None], list[FilePath]]


@dataclass(frozen=True, slots=True)
class Walk:
    """One walk home, with everything the reports show.

    Attributes
    ----------
    plan : Plan
        What was asked.
    streets : Streets
        The network walked on.
    lines : tuple of Line
        Water, parks and railways of the extract, for drawing.
    course : Course
        The way, step by step.
    hours : pandas.DataFrame
        The ledger, one row an hour; ``clock_start`` and ``clock_end`` are local times with their
        zone.
    segments : pandas.DataFrame
        One row a step of the way.
    refills : pandas.DataFrame
        Every refill, shelter and help place within reach.
    facts : Summary
        Everything that is told beside the tables.
    sun : dict
        Civil dawn, sunrise, sunset and civil dusk of the day of departure, local and aware; None
        where one does not happen.
    items : Items or None
        The bag's list.
    places : Places
        All places of the map.
    outcome : Outcome
        The engine's own record.
    directions : tuple of Direction
        The way street by street.
    closed : (M,) bool or None
        Streets that the plan closes at all hours, for drawing; None when not told.
    what_if : WhatIf or None
        Other departures, water, paces and closures; None when they were not asked for.
    water : WaterAnswers or None
        Bottles compared and the way that never runs dry; None when they were not asked for.
    writer : callable or None
        Writes the files of the contract; set by ``simulator.walk_home``.
    """

    plan: Plan
    streets: Streets
    lines: tuple[Line, ...]
    course: Course
    hours: pd.DataFrame
    segments: pd.DataFrame
    refills: pd.DataFrame
    facts: Summary
    sun: dict[str, Any]
    items: Items | None
    places: Places
    outcome: Outcome
    directions: tuple[Direction, ...] = ()
    closed: NDArray[np.bool_] | None = None
    what_if: WhatIf | None = None
    water: WaterAnswers | None = None
    writer: Writer | None = None

    @property
    def summary(self) -> dict[str, Any]:
        """The content of summary.json, as plain values."""
        return document(self.facts)

    @property
    def path_lonlat(self) -> NDArray[np.float64]:
        """The way as longitude and latitude, shape (S + 1, 2) [deg]."""
        return np.column_stack([self.course.lon, self.course.lat])

    def save(self, folder: str | FilePath, *, page: Page | None = None) -> list[FilePath]:
        """Write the files of the plan command.

        Parameters
        ----------
        folder : str or pathlib.Path
            Made when it does not exist.
        page : {"A4", "Letter"}, optional
            Paper of the timeline; the plan's choice when left out.

        Returns
        -------
        list of pathlib.Path
            The files written, all or none.

        Raises
        ------
        InputError
            When the folder cannot be written to.
        """
        if self.writer is None:
            message = "this walk has no writer; make it with simulator.walk_home"
            raise TypeError(message)
        return self.writer(self, FilePath(folder), page)

    def __repr__(self) -> str:
        """Say the answer in a line; the tables say the rest."""
        time = self.facts.time
        return (
            f"<Walk {self.plan.title!r}: {self.course.length_m / 1000.0:.1f} km, "
            f"{time.depart:%Y-%m-%d %H:%M} to {time.arrive:%Y-%m-%d %H:%M}, "
            f"{self.facts.verdict.level}>"
        )

    def _repr_html_(self) -> str:
        """Show the ledger in a notebook."""
        return self.hours.to_html(max_cols=None, index=False, float_format="{:.1f}".format)
