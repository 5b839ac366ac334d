"""Whether a way home is left when a bridge is closed, by where, and at what price."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
import shapely

from simulator.errors import InputError, NoWayHomeError
from simulator.questions.answer import Walk
from simulator.questions.detour_tables import (
    ALTERNATIVE_COLUMNS,
    Row,
    alternative_row,
    blockages_table,
    crossings_of,
    detour_row,
    lost_row,
    pairs_table,
    ranked,
    untouched_row,
)
from simulator.questions.home import tabulate, walk_way
from simulator.questions.legs import Legs, Pair, prepare_legs
from simulator.questions.scene import Scene, prepare
from simulator.questions.unknown_heights import map_notes
from simulator.questions.ways import find_way, street_times
from simulator.route.alternatives import MOST_SHARED, MOST_STRETCH, alternatives
from simulator.route.crossings import BESIDE_M, DEGREE_M, Crossings, group_crossings
from simulator.route.cut import Cut, smallest_cut

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.plan import Plan

    Page = Literal["A4", "Letter"]
    Writer = Callable[["Detours", FilePath, Page | None], list[FilePath]]

ON_IT_M = 40.0
"""A crossing whose middle lies this near a detour is told as one that it uses [m] (assumed)."""


STANDS_ON_IT = "start, home or a via stands on it"
"""Why a crossing is not closed in turn."""


@dataclass(frozen=True, slots=True)
class Detours:
    """What each closed bridge costs, and what else is worth knowing about the way.

    Attributes
    ----------
    walk : Walk
        The way with nothing more closed than the plan says.
    crossings : pandas.DataFrame
        One row a crossing, dearest first: ``crossing``, ``ways`` (OSM numbers), ``spans``,
        ``extra_min``, ``extra_km``, ``water_short_l``, ``dark_min``, ``reachable`` (yes, no, or
        unknown where the verdict says why), and
        ``kind``, ``on_way`` (yes, no), ``along_km``, ``lat``, ``lon``, ``extra_ascent_m``,
        ``energy_short_kcal``, ``extra_dark_min``, ``arrive``, ``next_refill``,
        ``next_refill_km``, ``turn_km``, ``turn_lat``, ``turn_lon``, ``turn_into``, ``instead``
        (crossings of the way around that the open way does not use), ``met_extra_min`` (walking
        time lost when the closure is found out at the crossing), ``verdict``.
    lonlat : dict of str to ndarray, shape (K, 2)
        The way when a crossing is closed, by its name [deg]; only where it differs.
    pairs : pandas.DataFrame
        Pairs that cost more together than the dearer alone: ``first``, ``second``,
        ``extra_min``, ``reachable``, and what each costs alone (``first_extra_min``,
        ``second_extra_min``); walking time, dearest first.
    cut : tuple of str or None
        The fewest crossings whose loss cuts home off; None when home is reached without any.
    cut_is_smallest : bool
        Whether it is proved that no smaller set does.
    blockages : pandas.DataFrame
        One row a piece of street of the way: ``from_km``, ``to_km``, ``street``,
        ``known_extra_min``, ``met_extra_min`` (walking time; infinite where there is no way).
    alternatives : pandas.DataFrame
        Other ways, least time first: ``extra_min``, ``extra_km``, ``shared_pct``,
        ``extra_ascent_m``, ``water_short_l``, ``dark_min``, ``unlit_km``, ``bridges``,
        ``verdict``.
    other_walks : tuple of Walk
        They, walked.
    notes : tuple of str
        What was assumed, and how the figures are meant.
    writer : callable or None
        Writes the files of the contract.
    """

    walk: Walk
    crossings: pd.DataFrame
    lonlat: dict[str, NDArray[np.float64]]
    pairs: pd.DataFrame
    cut: tuple[str, ...] | None
    cut_is_smallest: bool
    blockages: pd.DataFrame
    alternatives: pd.DataFrame
    other_walks: tuple[Walk, ...]
    notes: tuple[str, ...]
    writer: Writer | None = None

    def save(self, folder: str | FilePath, *, page: Page | None = None) -> list[FilePath]:
        """Write the files of the detours command.

        Parameters
        ----------
        folder : str or pathlib.Path
            Made when it does not exist.
        page : {"A4", "Letter"}, optional
            Paper; the plan's choice when left out.

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
            message = "these detours have no writer; make them with one"
            raise TypeError(message)
        return self.writer(self, FilePath(folder), page)

    def _repr_html_(self) -> str:
        """Show the crossings in a notebook."""
        return self.crossings.to_html(max_cols=None, index=False, float_format="{:.1f}".format)


def find_detours(
    plan: Plan,
    *,
    progress: Callable[[str], None] | None = None,
    writer: Writer | None = None,
) -> Detours:
    """Close each crossing of the way in turn, and in pairs, and look for other ways.

    Parameters
    ----------
    plan : Plan
        What is asked; what it closes stays closed throughout.
    progress : callable, optional
        Told the name of each stage as it begins.
    writer : callable, optional
        Writes the files for ``Detours.save``.

    Returns
    -------
    Detours
        Every crossing of the way walked around in full, and everything beside it.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When there is no way home to begin with.
    """
    tell = progress or (lambda _stage: None)
    scene = prepare(plan, progress=tell)
    times = street_times(scene)
    tell("walking the open way")
    way = find_way(scene, times=times)
    walk = tabulate(scene, walk_way(scene, way))
    tell("putting bridges together")
    crossings = group_crossings(scene.streets, lines=scene.lines)
    legs = prepare_legs(scene, times)
    used = crossings_of(crossings, way)
    rows: list[Row] = []
    lonlat: dict[str, NDArray[np.float64]] = {}
    for place, number in enumerate(used, 1):
        tell(f"closing {crossings.name[number]} ({place} of {len(used)})")
        also_closed = crossings.mask(number)
        met_s = legs.met_extra_s(crossings.segments(number))
        if any(crossings.of_segment[end.segment] == number for end in scene.ends):
            rows.append(lost_row(crossings, number, walk=walk, way=way, why=STANDS_ON_IT))
            continue
        try:
            walked = walk_way(scene, find_way(scene, times=times, also_closed=also_closed))
        except NoWayHomeError:
            rows.append(lost_row(crossings, number, walk=walk, way=way))
            continue
        except InputError as fault:
            # What is asked for beyond the open way may lack heights, or hours of weather.
            rows.append(lost_row(crossings, number, walk=walk, way=way, why=fault.problem))
            continue
        other = tabulate(scene, walked)
        rows.append(
            detour_row(
                crossings,
                number,
                walk=walk,
                way=way,
                scene=scene,
                other=other,
                walked=walked,
                met_s=met_s,
            )
        )
        lonlat[crossings.name[number]] = other.path_lonlat
    tell("closing pairs, and every street of the way")
    groups = [crossings.segments(number) for number in range(len(crossings))]
    pairs = legs.pairs(groups)
    cut = smallest_cut(
        scene.network,
        groups,
        (scene.ends[0].segment, scene.ends[0].fraction),
        (scene.ends[-1].segment, scene.ends[-1].fraction),
        closed=scene.closed,
    )
    beside = _beside(crossings, used, pairs, cut, lonlat)
    rows += [untouched_row(crossings, number, walk=walk) for number in beside]
    tell("looking for other ways")
    table, other_walks = _other_ways(scene, legs, crossings, walk)
    return Detours(
        walk=walk,
        crossings=ranked(rows),
        lonlat=lonlat,
        pairs=pairs_table(crossings, pairs, legs.alone_s(groups)),
        cut=None if cut is None else tuple(crossings.name[number] for number in cut.crossings),
        cut_is_smallest=cut is None or cut.smallest,
        blockages=blockages_table(scene, legs),
        alternatives=table,
        other_walks=other_walks,
        notes=(*map_notes(scene.streets), *_notes(crossings, cut)),
        writer=writer,
    )


def _beside(
    crossings: Crossings,
    used: Sequence[int],
    pairs: Sequence[Pair],
    cut: Cut | None,
    lonlat: dict[str, NDArray[np.float64]],
) -> list[int]:
    """Choose the crossings off the way that matter: near it, on a detour, or in the cut."""
    wanted = {number for pair in pairs for number in (pair.first, pair.second)}
    wanted |= set() if cut is None else set(cut.crossings)
    for line in lonlat.values():
        off_m = _off_m(crossings, line)
        wanted |= set(np.flatnonzero(off_m <= ON_IT_M).tolist())
    return sorted(wanted - set(used))


def _off_m(crossings: Crossings, line: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance of the middle of each crossing from the points and pieces of a line [m]."""
    if not len(crossings):
        return np.empty(0)
    scale = np.array([np.cos(np.radians(line[:, 1].mean())), 1.0]) * DEGREE_M
    points = shapely.points(np.column_stack([crossings.lon, crossings.lat]) * scale)
    return np.asarray(shapely.distance(points, shapely.linestrings(line * scale)))


def _other_ways(
    scene: Scene, legs: Legs, crossings: Crossings, walk: Walk
) -> tuple[pd.DataFrame, tuple[Walk, ...]]:
    """Walk the other ways worth knowing, on the leg that takes longest."""
    longest = int(np.argmax([trip.open_way.cost_s for trip in legs.trips]))
    found = alternatives(legs.trips[longest], scene.streets.length_m)
    walks, rows = [], []
    for other in found:
        way = legs.with_leg(scene, longest, other.path)
        walked = tabulate(scene, walk_way(scene, way))
        walks.append(walked)
        bridges = [crossings.name[number] for number in crossings_of(crossings, way)]
        rows.append(alternative_row(walked, walk=walk, shared=other.shared, bridges=bridges))
    return pd.DataFrame(rows, columns=list(ALTERNATIVE_COLUMNS)), tuple(walks)


def _notes(crossings: Crossings, cut: Cut | None) -> tuple[str, ...]:
    """Say how the figures are meant."""
    notes = [
        (
            "Every crossing of the way was closed in turn and the way around it walked in full: "
            "time with rests and stops, water, food, light. Pairs, blockages and figures for a "
            "closure met on arrival are walking time at the light of the open way."
        ),
        (
            "Pieces of one bridge count as one crossing: ways that touch, carriageways and "
            f"footways within {BESIDE_M:.0f} m of each other along the same line. What a bridge "
            "spans is read from the map."
        ),
        (
            f"Other ways share at most {MOST_SHARED:.0%} of their length with one given before "
            f"and take at most {MOST_STRETCH:.1f} times as long. These limits are assumptions."
        ),
        (
            "A map is not the state of a bridge: believe signs, tapes and the authorities, and "
            "never enter moving water."
        ),
    ]
    if crossings.ford.any():
        notes.append(
            f"{int(crossings.ford.sum())} fords count as crossings. They are the first to be lost "
            "when water rises; do not wade."
        )
    if cut is not None and not cut.smallest:
        notes.append("A smaller set of crossings that cuts home off could not be ruled out.")
    return tuple(notes)
