"""Several ways home on one map, told apart by their dashes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray

from simulator.arrays import Floats
from simulator.report.figures.profile import (
    APART_PT,
    BESIDE_PT,
    WORD,
    dot,
    dots_beside,
    unknown_spans,
)
from simulator.report.figures.profile import WORD as UNKNOWN_HEIGHT
from simulator.report.figures.style import (
    ACCENT,
    FAINT,
    GIVES,
    GREY,
    INK,
    PALE,
    PAPER,
    POINTS_PER_INCH,
    Labels,
    axes_size_pt,
    draw_glyphs,
    in_ink,
    new_axes,
)
from simulator.report.subject import DrawnWalk, Track, hour_letter, runs
from simulator.report.tables import attribution_of, bridge_spans, chosen, places_of, units_of
from simulator.report.words import drawable
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import Units

if TYPE_CHECKING:
    from simulator.ground.osm import Line

EARTH_M_PER_DEG = 111_194.93  # mean Earth radius 6 371 008.8 m (IUGG) times pi / 180

RANKS: tuple[tuple[frozenset[str], float, str], ...] = (
    (frozenset({"motorway", "trunk", "primary"}), 1.0, GREY),
    (frozenset({"secondary", "tertiary"}), 0.7, PALE),
    (
        frozenset({"unclassified", "residential", "living_street", "pedestrian", "road", "busway"}),
        0.4,
        PALE,
    ),
)
"""Highway values, line weight [pt] and grey of each rank; all others are drawn last, finest."""

FINEST = (0.25, PALE)
FLOWING = frozenset({"river", "canal"})
"""Values of ``waterway`` drawn as a course."""
POINTS_DRAWN = 45_000
"""Most street points on one map: keeps the drawing small and quick in any city."""
LEAST_AREA_SHARE = 2e-4
"""Ponds and greens smaller than this share of the frame are left out."""
CORRIDOR_SHARE = 0.07
"""Small streets are drawn within this share of the frame's longer side from the way."""


STREET_SHARE = 0.03
"""A street that the way follows for less than this share of it has no name on the map."""


@dataclass(frozen=True, slots=True)
class Plane:
    """A flat picture of a small piece of the globe: equirectangular, true at its middle latitude.

    Over a day's walk the error is far below a line's width.

    Parameters
    ----------
    lon, lat : float
        Middle of the picture [deg].
    """

    lon: float
    lat: float

    def project(self, lon: Floats, lat: Floats) -> Floats:
        """Metres east and north of the middle."""
        turn = (np.asarray(lon) - self.lon + 180.0) % 360.0 - 180.0
        east = turn * EARTH_M_PER_DEG * np.cos(np.radians(self.lat))
        return np.column_stack([east, (np.asarray(lat) - self.lat) * EARTH_M_PER_DEG])


def across(track: Track, plane: Plane, along_m: Floats, half_m: float) -> Floats:
    """Short lines across the way at given distances."""
    here = plane.project(*track.lonlat_at(along_m).T)
    before = plane.project(*track.lonlat_at(along_m - half_m).T)
    after = plane.project(*track.lonlat_at(along_m + half_m).T)
    ahead = after - before
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * half_m
    return np.stack([here - side, here + side], axis=1)


def chained(
    tail: NDArray[np.int32], head: NDArray[np.int32], way: NDArray[np.int32], points: Floats
) -> Floats:
    """Join segments that follow one another into lines parted by NaN: one path for all.

    Parameters
    ----------
    tail, head, way : ndarray of int, (S,)
        Segments in the order of the map data: end points as rows of `points`, and their way.
    points : ndarray of float64, (N, 2)
        Positions.

    Returns
    -------
    ndarray of float64, (Q, 2)
        Positions, with a row of NaN before each line but the first.
    """
    if tail.size == 0:
        return np.empty((0, 2))
    begins = np.ones(tail.size, dtype=bool)
    begins[1:] = (tail[1:] != head[:-1]) | (way[1:] != way[:-1])
    # A segment that begins a line writes a gap, its tail and its head; another only its head.
    last = np.cumsum(np.where(begins, 3, 1)) - 1
    line = np.full((int(last[-1]) + 1, 2), np.nan)
    line[last] = points[head]
    line[last[begins] - 1] = points[tail[begins]]
    return line[1:]


def ranked(streets: Any) -> NDArray[np.int8]:  # noqa: ANN401 - an earlier room's record
    """Rank of each segment's street, a position in `RANKS`; its length for the finest.

    Parameters
    ----------
    streets : Streets
        The network.

    Returns
    -------
    ndarray of int8, (M,)
        Rank of each segment.
    """
    from simulator.ground.walkable import HIGHWAYS

    of_value = np.array(
        [
            next(
                (r for r, (names, _, _) in enumerate(RANKS) if v.removesuffix("_link") in names),
                len(RANKS),
            )
            for v in HIGHWAYS
        ],
        dtype=np.int8,
    )
    of_segment: NDArray[np.int8] = of_value[np.asarray(streets.ways.highway)[streets.way]]
    return of_segment


def draw_streets(
    ax: Axes,
    streets: Any,  # noqa: ANN401 - an earlier room's record
    plane: Plane,
    way_m: Floats,
) -> None:
    """Draw the streets in the frame, the small ones only near the way."""
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    points = plane.project(streets.lon, streets.lat)
    inside = (points[:, 0] > x0) & (points[:, 0] < x1) & (points[:, 1] > y0) & (points[:, 1] < y1)
    tail, head = np.asarray(streets.tail), np.asarray(streets.head)
    shown = inside[tail] | inside[head]
    rank = ranked(streets)
    reach = CORRIDOR_SHARE * max(x1 - x0, y1 - y0)
    off = _distance_from(points, way_m, inside, reach)
    near = np.minimum(off[tail], off[head])
    left = POINTS_DRAWN
    for position in range(len(RANKS) + 1):
        mine = shown & (rank == position)
        if position >= 2:  # noqa: PLR2004 - the two main ranks are drawn across the frame
            mine &= near <= reach * (1.0 if position == 2 else 0.5)  # noqa: PLR2004 - as above
        chosen = np.flatnonzero(mine)
        if chosen.size > left:
            chosen = np.sort(chosen[np.argsort(near[chosen], kind="stable")[:left]])
        left -= chosen.size
        weight, grey = RANKS[position][1:] if position < len(RANKS) else FINEST
        line = chained(tail[chosen], head[chosen], np.asarray(streets.way)[chosen], points)
        ax.plot(
            line[:, 0],
            line[:, 1],
            lw=weight,
            color=grey,
            zorder=1.4 - 0.1 * position,
            gid=f"streets-{position}",
        )


def _distance_from(
    points: Floats, way_m: Floats, inside: NDArray[np.bool_], reach: float
) -> Floats:
    """Distance of the points inside the frame from the way; inf outside or beyond reach."""
    from scipy.spatial import cKDTree

    step = np.hypot(*np.diff(way_m, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    dense = np.arange(0.0, along[-1] + 1.0, max(reach / 4.0, 1.0))
    spine = np.column_stack([np.interp(dense, along, way_m[:, axis]) for axis in (0, 1)])
    off = np.full(points.shape[0], np.inf)
    if inside.any():
        off[inside] = cKDTree(spine).query(points[inside], distance_upper_bound=2.0 * reach)[0]
    return off


def _areas_and_lines(lines: Iterable[Line]) -> Iterator[tuple[str, bool, Line]]:
    for line in lines:
        kind = _ground_kind(line.tags)
        if kind and line.lon.size > 1:
            closed = bool(line.lon[0] == line.lon[-1] and line.lat[0] == line.lat[-1])
            yield kind, closed and line.tags.get("waterway") not in FLOWING, line


def _ground_kind(tags: Mapping[str, str]) -> str:
    if tags.get("natural") == "water" or tags.get("waterway") in {*FLOWING, "riverbank"}:
        return "water"
    if tags.get("leisure") == "park" or tags.get("landuse") == "forest":
        return "green"
    return "green" if tags.get("natural") == "wood" else ""


def draw_ground(ax: Axes, lines: Iterable[Line], plane: Plane) -> None:
    """Draw water with level hatching and green with stipple, if the walk offers any."""
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    least_m2 = LEAST_AREA_SHARE * (x1 - x0) * (y1 - y0)
    rivers: list[Floats] = []
    areas: dict[str, list[Floats]] = {"water": [], "green": []}
    for kind, area, line in _areas_and_lines(lines):
        shape = plane.project(line.lon, line.lat)
        low, high = shape.min(axis=0), shape.max(axis=0)
        if high[0] < x0 or low[0] > x1 or high[1] < y0 or low[1] > y1:
            continue
        if area:
            if np.prod(high - low) > least_m2:
                areas[kind].append(shape)
        elif kind == "water":
            rivers.extend([shape, np.full((1, 2), np.nan)])
    for kind, hatch in (("green", "...."), ("water", "-----")):
        if areas[kind]:
            ax.add_patch(
                PathPatch(
                    Path.make_compound_path(*(Path(a, closed=True) for a in areas[kind])),
                    facecolor="none",
                    edgecolor=PALE,
                    linewidth=0.4,
                    hatch=hatch,
                    zorder=0.5,
                    gid=kind,
                )
            )
    if rivers:
        course = np.vstack(rivers)
        ax.plot(course[:, 0], course[:, 1], color=GREY, lw=3.4, zorder=0.7)
        ax.plot(course[:, 0], course[:, 1], color=FAINT, lw=2.6, zorder=0.71, gid="rivers")


CARE, CLOSED = "take care", "closed"
"""What the key calls these marks."""

MARK_PT, LETTER_PT = 14.0, 9.0
TEETH_EVERY_PT, TEETH_PT = 4.0, 6.0
CROSSES_EVERY_PT = 9.0


def care_words(walk: DrawnWalk) -> tuple[str, ...]:
    """Name the marks of this module that a map of a walk needs in its key."""
    shut = walk.closed is not None and bool(np.any(walk.closed))
    return (*([CARE] if chosen(walk) else ()), *([CLOSED] if shut else ()))


def care_mark(ax: Axes, x: float, y: float, letters: str, *, zorder: float = 7.6) -> None:
    """Draw a six-sided disc with small letters."""
    ax.plot(x, y, "h", ms=MARK_PT, mfc=PAPER, mec=INK, mew=0.9, zorder=zorder)
    ax.annotate(
        letters,
        (x, y),
        ha="center",
        va="center_baseline",
        fontsize=LETTER_PT,
        zorder=zorder + 0.1,
    )


def cross_marks(ax: Axes, x: Floats, y: Floats, *, zorder: float = 2.7) -> None:
    """Draw small upright crosses over what is closed."""
    ax.plot(x, y, "x", ms=4.2, mec=PAPER, mew=2.2, zorder=zorder - 0.05)
    ax.plot(x, y, "x", ms=4.2, mec=INK, mew=0.9, zorder=zorder)


def draw_care(ax: Axes, walk: DrawnWalk, track: Track, plane: Plane, labels: Labels) -> None:
    """Draw teeth on the right of the stretches to take care on, and a lettered mark at each."""
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    for one in chosen(walk):
        begins, ends = one.from_km * 1000.0, one.to_km * 1000.0
        every = np.arange(begins, ends + 1e-6, TEETH_EVERY_PT * metres_per_pt)
        if every.size > 1:
            teeth = across(track, plane, every, TEETH_PT * metres_per_pt)
            gaps = np.full((every.size, 1, 2), np.nan)
            middle = teeth.mean(axis=1, keepdims=True)
            line = np.concatenate([middle, teeth[:, :1], gaps], axis=1).reshape(-1, 2)
            ax.plot(line[:, 0], line[:, 1], color=INK, lw=0.6, zorder=2.9)
        x, y = plane.project(*track.lonlat_at(np.array([begins])).T)[0]
        spot = labels.spot(
            float(x), float(y), wide=MARK_PT, high=MARK_PT, away=(6.0, 11.0, 17.0, 25.0)
        )
        aside, up, _ = spot or (0.0, 0.0, 0.0)
        at = (float(x) + aside * metres_per_pt, float(y) + up * metres_per_pt)
        ax.plot([x, at[0]], [y, at[1]], color=INK, lw=0.5, zorder=6.0)
        care_mark(ax, *at, one.mark)


def draw_closed(ax: Axes, walk: DrawnWalk, plane: Plane, width_pt: float) -> None:
    """Draw crosses over the streets that the plan closes."""
    if walk.closed is None or not np.any(walk.closed):
        return
    streets, shut = walk.streets, np.flatnonzero(walk.closed)
    points = plane.project(streets.lon, streets.lat)
    tail, head = np.asarray(streets.tail)[shut], np.asarray(streets.head)[shut]
    line = chained(tail, head, np.asarray(streets.way)[shut], points)
    ax.plot(line[:, 0], line[:, 1], color=INK, lw=0.5, zorder=2.6, linestyle=(0, (2, 2)))
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    spots = closed_spots(walk, plane, every_m=(x1 - x0) / width_pt * CROSSES_EVERY_PT)
    shown = (spots > (x0, y0)).all(axis=1) & (spots < (x1, y1)).all(axis=1)
    cross_marks(ax, spots[shown, 0], spots[shown, 1])


def closed_spots(walk: DrawnWalk, plane: Plane, *, every_m: float) -> Floats:
    """Find spots on the streets that the plan closes, one in each small square of ground."""
    if walk.closed is None or not np.any(walk.closed):
        return np.empty((0, 2))
    streets, shut = walk.streets, np.flatnonzero(walk.closed)
    points = plane.project(streets.lon, streets.lat)
    middle = (points[np.asarray(streets.tail)[shut]] + points[np.asarray(streets.head)[shut]]) / 2.0
    squares = np.floor(middle / every_m).astype(np.int64)
    first = np.unique(squares, axis=0, return_index=True)[1]
    spots: Floats = middle[np.sort(first)]
    return spots


CORNER_PT = 60.0
ROW_PT = 16.0
SOURCE_ROW_PT = 12.0
CHARACTER_PT = 5.3
KEY_MARK_PT = 17.0
GAP_PT = 5.0
WAY_PT, INSIDE_PT = 3.9, 1.8
"""Weight of the way's line and of its hollow: outlines of a good point survive a copier [pt]."""
WAY_DASHES: dict[str, Any] = {"day": "solid", "twilight": (0, (1.2, 1.2)), "night": None}
"""Inside of the double line by daylight; none leaves it solid."""
DISC_PT = 13.0
"""Disc of an hour [pt]."""


def key_depth_pt(width: float, words: Sequence[str]) -> float:
    """Room the key takes under a map."""
    return len(_rows(width, words)) * ROW_PT + SOURCE_ROW_PT


def draw_key(ax: Axes, width: float, attribution: str, words: Sequence[str]) -> None:
    """Explain every mark under the map and say whose data it is."""
    rows = _rows(width, words)
    height = axes_size_pt(ax)[1]
    deep = key_depth_pt(width, words)
    key = ax.inset_axes((0.0, -deep / height, 1.0, deep / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, deep)
    for position, row in enumerate(rows):
        y = deep - (position + 0.55) * ROW_PT
        x = 2.0
        for word in row:
            _mark(key, word, x, y)
            key.annotate(word, (x + KEY_MARK_PT, y), va="center_baseline")
            x += _item_pt(word)
    key.annotate(attribution, (width, SOURCE_ROW_PT / 2.0), ha="right", va="center_baseline")


def _rows(width: float, words: Sequence[str]) -> list[list[str]]:
    """Words of the key, broken into rows that fit."""
    rows: list[list[str]] = [[]]
    left = width
    for word in words:
        if _item_pt(word) - GAP_PT > left and rows[-1]:
            rows.append([])
            left = width
        rows[-1].append(word)
        left -= _item_pt(word)
    return rows


def _item_pt(word: str) -> float:
    return KEY_MARK_PT + len(word) * CHARACTER_PT + GAP_PT


def _mark(key: Axes, word: str, x: float, y: float) -> None:
    if word in WAY_DASHES:
        _way_mark(key, word, x, y)
    elif word in SELDOM:
        SELDOM[word](key, x, y)
    else:
        _common_mark(key, word, np.array([x + KEY_MARK_PT / 2.0 - 2.0]), np.array([y]))


def _way_mark(key: Axes, word: str, x: float, y: float) -> None:
    across = [x, x + KEY_MARK_PT - 4.0]
    key.plot(across, [y, y], color=INK, lw=WAY_PT, solid_capstyle="round")
    if WAY_DASHES[word] is not None:
        key.plot(across, [y, y], color=PAPER, lw=INSIDE_PT, linestyle=WAY_DASHES[word])


def _common_mark(key: Axes, word: str, middle: Floats, level: Floats) -> None:
    if word == "hour":
        key.plot(middle, level, "o", ms=DISC_PT, mfc=PAPER, mec=INK, mew=0.9)
        at = (float(middle[0]), float(level[0]))
        key.annotate("B", at, ha="center", va="center_baseline", fontweight="bold")
    elif word == "bridge":
        for side in (-1.0, 1.0):
            rail = np.array([[-6, 5.0], [-4, 3.4], [4, 3.4], [6, 5.0]]) * [1.0, side]
            key.plot(rail[:, 0] + middle, rail[:, 1] + level, color=INK, lw=1.0)
    elif word == "planned stop":
        draw_glyphs(key, middle, level, "water", used=True)
    else:
        draw_glyphs(key, middle, level, word)


def _unknown_mark(key: Axes, x: float, y: float) -> None:
    steps = np.arange(-6.0, 7.0, 4.0) + x + KEY_MARK_PT / 2.0 - 2.0
    for side in (-4.6, 4.6):
        dot(key, np.column_stack([steps, np.full(steps.size, y + side)]))
    key.plot([x, x + KEY_MARK_PT - 4.0], [y, y], color=INK, lw=WAY_PT, solid_capstyle="round")


def _care_mark(key: Axes, x: float, y: float) -> None:
    care_mark(key, x + 3.5, y, "a")
    for tooth in (10.0, 12.0, 14.0):
        key.plot([x + tooth] * 2, [y - 3.0, y + 3.0], color=INK, lw=0.6)


def _closed_mark(key: Axes, x: float, y: float) -> None:
    cross_marks(key, np.array([x + KEY_MARK_PT / 2.0 - 2.0]), np.array([y]))


SELDOM = {UNKNOWN_HEIGHT: _unknown_mark, CARE: _care_mark, CLOSED: _closed_mark}
"""Marks that only some maps have, and what draws them."""


def _nice_length(metres: float) -> float:
    """Find the largest 1, 2 or 5 times a power of ten that is not longer."""
    power = 10.0 ** np.floor(np.log10(metres))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= metres))


def draw_scale(ax: Axes, labels: Labels, way_m: Floats, units: Units) -> None:
    """Draw scale bar and north in the lower corner that the way leaves free."""
    width = labels.size_pt[0]
    (x0, x1), y0 = ax.get_xlim(), ax.get_ylim()[0]
    metres_per_pt = (x1 - x0) / width
    paper = labels.paper(way_m[:, 0], way_m[:, 1])
    low = paper[paper[:, 1] < CORNER_PT, 0]
    bar_left = bool((low < width / 2.0).sum() <= (low > width / 2.0).sum())
    long_m = _nice_length(110.0 * metres_per_pt / units.long_m) * units.long_m
    bar_pt = long_m / metres_per_pt
    start = 10.0 if bar_left else width - bar_pt - 46.0
    for half in (0, 1):
        ax.add_line(
            Line2D(
                [
                    x0 + (start + half * bar_pt / 2) * metres_per_pt,
                    x0 + (start + (half + 1) * bar_pt / 2) * metres_per_pt,
                ],
                [y0 + 10.0 * metres_per_pt] * 2,
                color=INK,
                lw=3.2 if half == 0 else 1.0,
                zorder=8,
            )
        )
    ax.annotate(
        f"{long_m / units.long_m:g} {units.long_name}",
        (start + bar_pt + 4.0, 10.0),
        xycoords="axes points",
        va="center_baseline",
        zorder=8,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.7},
    )
    labels.reserve(start - 4.0, 2.0, start + bar_pt + 30.0, 20.0)
    north = start + 4.0
    ax.annotate(
        "N",
        (north, 42.0),
        xytext=(north, 20.0),
        xycoords="axes points",
        textcoords="axes points",
        ha="center",
        fontsize=9.0,
        fontweight="bold",
        zorder=8,
        arrowprops={"arrowstyle": "-", "lw": 1.2, "color": INK, "shrinkA": 0, "shrinkB": 0},
        annotation_clip=False,
    )
    labels.reserve(north - 7.0, 16.0, north + 7.0, 46.0)


WIDTH_IN = 7.09
FLATTEST = 0.42
"""Least height of a map over its width."""
EDGE_IN = 0.02
MARGIN_SHARE = 0.07
SMALLEST_FRAME_M = 600.0
SHORT_BRIDGE_M = 12.0
CROWDED_PT = 16.0
SAME_SPOT_PT = 7.0
BRIDGES_NAMED = 6


class HourMark(NamedTuple):
    """Where an hour begins, or several that are spent on the same spot.

    Attributes
    ----------
    x, y : float
        Position [m in the map's plane].
    letter : str
        The (first) hour's letter.
    begins, until : str
        Clock time the (first) hour begins, and the last one; empty if there is one only.
    """

    x: float
    y: float
    letter: str
    begins: str
    until: str = ""


@in_ink
def route_map(
    walk: DrawnWalk,
    ax: Axes | None = None,
    *,
    width_in: float = WIDTH_IN,
    height_in: float = 4.6,
) -> Axes:
    """Draw the way home on its streets."""
    if ax is None:
        ax = new_axes(
            (width_in, height_in),
            (
                EDGE_IN,
                EDGE_IN + _key_depth_in(walk, width_in),
                EDGE_IN,
                EDGE_IN,
            ),
        )
    track = Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    size = axes_size_pt(ax)
    frame_for(ax, way_m)
    draw_ground(ax, walk.lines, plane)
    draw_streets(ax, walk.streets, plane, way_m)
    draw_closed(ax, walk, plane, size[0])
    labels = Labels(ax, size, walk.plan.choices.font)
    labels.keep_clear(*evenly(way_m, size, ax).T)
    draw_scale(ax, labels, way_m, units_of(walk))
    _way(ax, walk, track, plane)
    draw_bridges(ax, walk, track, plane)
    _unknown_heights(ax, walk, track, plane)
    ends = plane.project(track.lon[[0, -1]], track.lat[[0, -1]])
    hours = _hour_groups(track, plane, labels)
    _end_marks(ax, ends, labels)
    _hour_marks(ax, hours, labels)
    _passed(ax, walk, plane)
    _stops(ax, walk, plane, labels)
    draw_care(ax, walk, track, plane, labels)
    _end_times(ends, track, labels)
    _hour_times(hours, ends[1], labels)
    draw_distances(ax, track, plane, labels, units_of(walk))
    _bridge_names(walk, track, plane, labels)
    _street_names(walk, track, plane, labels)
    draw_key(ax, size[0], drawable(attribution_of(walk), longest=120), _drawn(walk))
    return ax


def fitting_height_in(walk: DrawnWalk, width_in: float, most_in: float) -> float:
    """Choose a map height that suits the way's shape."""
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    span = np.maximum(np.ptp(way, axis=0), 1e-9)
    aspect = float(span[1] / (span[0] * np.cos(np.radians(way[:, 1].mean()))))
    wanted = width_in * min(max(aspect * 1.15, FLATTEST), 1.6) + _key_depth_in(walk, width_in)
    return min(wanted, most_in)


def _drawn(walk: DrawnWalk) -> tuple[str, ...]:
    """Name the marks that a map of this walk has: its key explains no others."""
    states = set(daylight_state(walk.segments["sun_elevation_deg"].to_numpy(np.float64)).tolist())
    light = [name for code, name in enumerate(DAYLIGHT_STATES) if code in states]
    places = places_of(walk)
    used = places["used"].to_numpy(bool)
    passed = set(places["glyph"][~used])
    spans = bridge_spans(walk)
    common = (
        ("hour", Track(walk).whole_hours_s().size > 0),
        ("bridge", any(end - start >= SHORT_BRIDGE_M for start, end, _ in spans)),
        *((word, word in passed) for word in GIVES),
        ("planned stop", bool(used.any())),
    )
    return (
        *(word for word in WAY_DASHES if word in light),
        *(word for word, drawn in common if drawn),
        *_seldom(walk),
    )


def _seldom(walk: DrawnWalk) -> tuple[str, ...]:
    """Name the marks that few maps have."""
    unknown = (WORD,) if unknown_spans(walk, Track(walk)) else ()
    return (*unknown, *care_words(walk))


def _key_depth_in(walk: DrawnWalk, width_in: float) -> float:
    width = (width_in - 2.0 * EDGE_IN) * POINTS_PER_INCH
    return key_depth_pt(width, _drawn(walk)) / POINTS_PER_INCH


def frame_for(ax: Axes, way_m: Floats) -> None:
    """Fix limits: the way with a margin, the scale equal both ways."""
    size = axes_size_pt(ax)
    low, high = way_m.min(axis=0), way_m.max(axis=0)
    middle = (low + high) / 2.0
    span = np.maximum(high - low, SMALLEST_FRAME_M) * (1.0 + 2.0 * MARGIN_SHARE)
    metres_per_pt = max(span[0] / size[0], span[1] / size[1])
    half = np.array(size) * metres_per_pt / 2.0
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
    ax.set_aspect("equal", adjustable="box")
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(True)


def evenly(way_m: Floats, size: tuple[float, float], ax: Axes) -> Floats:
    """Find points on the way every three points of paper, for labels to keep clear of."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way_m, axis=0).T))])
    step = (ax.get_xlim()[1] - ax.get_xlim()[0]) / size[0] * 3.0
    at = np.arange(0.0, along[-1], step)
    return np.column_stack([np.interp(at, along, way_m[:, axis]) for axis in (0, 1)])


def _way(ax: Axes, walk: DrawnWalk, track: Track, plane: Plane) -> None:
    points = plane.project(track.lon, track.lat)
    ax.plot(points[:, 0], points[:, 1], color=PAPER, lw=6.5, zorder=3, solid_capstyle="round")
    ax.plot(
        points[:, 0],
        points[:, 1],
        color=INK,
        lw=WAY_PT,
        zorder=3.1,
        solid_capstyle="round",
        gid="way",
    )
    states = daylight_state(walk.segments["sun_elevation_deg"].to_numpy(np.float64))
    for first, after, state in runs(states):
        stretch = points[first : after + 1]
        dashes = WAY_DASHES[DAYLIGHT_STATES[state]]
        if dashes is not None:
            ax.plot(
                stretch[:, 0],
                stretch[:, 1],
                color=PAPER,
                lw=INSIDE_PT,
                zorder=3.2,
                linestyle=dashes,
            )


def draw_distances(ax: Axes, track: Track, plane: Plane, labels: Labels, units: Units) -> None:
    """Draw a tick across the way each km or mile, a number each fifth."""
    marks = np.arange(1, int(track.length_m // units.long_m) + 1)
    if marks.size == 0:
        return
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    ticks = across(track, plane, marks.astype(np.float64) * units.long_m, 4.6 * metres_per_pt)
    fifth = marks % 5 == 0
    for some, weight in ((ticks[~fifth], 0.6), (ticks[fifth], 1.1)):
        gaps = np.full((some.shape[0], 1, 2), np.nan)
        line = np.concatenate([some, gaps], axis=1).reshape(-1, 2)
        ax.plot(line[:, 0], line[:, 1], color=INK, lw=weight, zorder=3.3)
    for mark, (x, y) in zip(marks[fifth], ticks[fifth].mean(axis=1), strict=True):
        labels.place(
            float(x),
            float(y),
            f"{mark} {units.long_name}",
            away=(5.0, 9.0, 14.0),
            must=False,
            leader=False,
        )


def draw_bridges(ax: Axes, walk: DrawnWalk, track: Track, plane: Plane) -> None:
    """Draw two rails beside the way, flared at both ends, at every bridge crossed."""
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / axes_size_pt(ax)[0]
    for start, end, _ in bridge_spans(walk):
        if end - start < SHORT_BRIDGE_M:
            continue
        middle, half = (start + end) / 2.0, max((end - start) / 2.0, 3.0 * metres_per_pt)
        spots = np.array([middle - half, middle + half])
        inner = across(track, plane, spots, 4.0 * metres_per_pt)
        ends = across(
            track, plane, spots + np.array([-2.0, 2.0]) * metres_per_pt, 6.0 * metres_per_pt
        )
        for side in (0, 1):
            rail = np.array([ends[0, side], inner[0, side], inner[1, side], ends[1, side]])
            ax.plot(rail[:, 0], rail[:, 1], color=INK, lw=1.0, zorder=3.6)


def _unknown_heights(ax: Axes, walk: DrawnWalk, track: Track, plane: Plane) -> None:
    """Dot both sides of the way where its height is unknown."""
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / axes_size_pt(ax)[0]
    along = dots_beside(unknown_spans(walk, track), APART_PT * metres_per_pt)
    if along.size:
        dot(ax, across(track, plane, along, BESIDE_PT * metres_per_pt).reshape(-1, 2))


def _bridge_names(walk: DrawnWalk, track: Track, plane: Plane, labels: Labels) -> None:
    spans = sorted(bridge_spans(walk), key=lambda s: s[0] - s[1])[:BRIDGES_NAMED]
    named: set[str] = set()
    for start, end, name in sorted(spans):
        text = drawable(name, font=labels.font)
        # Several bridges of one street are named once.
        if text and text not in named and end - start >= SHORT_BRIDGE_M:
            named.add(text)
            x, y = plane.project(*track.lonlat_at(np.array([(start + end) / 2.0])).T)[0]
            labels.place(float(x), float(y), text, away=(9.0, 16.0, 26.0, 40.0), must=False)


def _street_names(walk: DrawnWalk, track: Track, plane: Plane, labels: Labels) -> None:
    """Name the streets that the way follows longest, where there is room."""
    least_m = STREET_SHARE * track.length_m
    named: set[str] = set()
    for one in sorted(walk.directions, key=lambda one: -one.length_m):
        text = drawable(one.street, font=labels.font)
        if not text or text in named or one.length_m < least_m:
            continue
        named.add(text)
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            along = np.array([one.along_m + share * one.length_m])
            x, y = plane.project(*track.lonlat_at(along).T)[0]
            away = (7.0, 12.0, 18.0)
            if labels.place(float(x), float(y), text, away=away, must=False, leader=False):
                break


def _passed(ax: Axes, walk: DrawnWalk, plane: Plane) -> None:
    """Draw the places that are passed by, small and grey."""
    places = places_of(walk)
    passed = places[~places["used"]]
    points = plane.project(passed["lon"].to_numpy(np.float64), passed["lat"].to_numpy(np.float64))
    for given in GIVES:
        mine = (passed["glyph"] == given).to_numpy(bool)
        draw_glyphs(ax, points[mine, 0], points[mine, 1], given, faint=True, halo=True, zorder=2.5)


def _stops(ax: Axes, walk: DrawnWalk, plane: Plane, labels: Labels) -> None:
    """Draw the planned stops, ringed and numbered, moved aside where a mark is in their way."""
    places = places_of(walk)
    stops = places[places["used"]]
    points = plane.project(stops["lon"].to_numpy(np.float64), stops["lat"].to_numpy(np.float64))
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    for (x, y), given, mark in zip(points, stops["glyph"], stops["mark"], strict=True):
        spot = labels.spot(float(x), float(y), wide=13.0, high=13.0, away=(0.0, 4.0, 9.0, 15.0))
        across, up, moved = spot or (0.0, 0.0, 0.0)
        at = np.array([[x + across * metres_per_pt, y + up * metres_per_pt]])
        if moved:
            ax.plot([x, at[0, 0]], [y, at[0, 1]], color=INK, lw=0.6, zorder=6.0)
        draw_glyphs(ax, at[:, 0], at[:, 1], given, used=True, zorder=6.5)
        labels.place(
            float(at[0, 0]),
            float(at[0, 1]),
            str(mark),
            size=9.0,
            weight="bold",
            away=(7.0, 10.0),
            leader=False,
        )


def _end_marks(ax: Axes, ends: Floats, labels: Labels) -> None:
    """Draw the start as an open square and home as a full one."""
    ax.plot(*ends[0], marker="s", ms=8.0, mfc=PAPER, mec=INK, mew=1.8, zorder=7)
    ax.plot(*ends[1], marker="s", ms=8.0, mfc=INK, mec=PAPER, mew=0.8, zorder=7)
    labels.reserve_marks(ends, 5.0)


def _end_times(ends: Floats, track: Track, labels: Labels) -> None:
    for (x, y), word, when in zip(ends, ("start", "home"), (0.0, track.duration_s), strict=True):
        labels.place(
            float(x),
            float(y),
            f"{word} {track.clock(when):%H:%M}",
            size=9.0,
            weight="bold",
            away=(8.0, 14.0, 22.0),
        )


def _hour_groups(track: Track, plane: Plane, labels: Labels) -> list[HourMark]:
    """Find where hours begin; those spent on the same spot share one mark."""
    times = track.whole_hours_s()
    points = plane.project(*track.lonlat_at(track.along_at(times)).T)
    paper = labels.paper(points[:, 0], points[:, 1])
    marks: list[HourMark] = []
    first = 0
    for index, when in enumerate(times):
        if index and np.hypot(*(paper[index] - paper[first])) < SAME_SPOT_PT:
            marks[-1] = marks[-1]._replace(until=f"{track.clock(float(when)):%H:%M}")
            continue
        first = index
        marks.append(
            HourMark(
                float(points[index, 0]),
                float(points[index, 1]),
                hour_letter(index + 1),
                f"{track.clock(float(when)):%H:%M}",
            )
        )
    return marks


def _hour_marks(ax: Axes, hours: list[HourMark], labels: Labels) -> None:
    """Draw a lettered disc where each hour of the ledger begins."""
    for mark in hours:
        ax.plot(mark.x, mark.y, "o", ms=DISC_PT, mfc=PAPER, mec=INK, mew=0.9, zorder=7.5)
        ax.annotate(
            mark.letter,
            (mark.x, mark.y),
            ha="center",
            va="center_baseline",
            fontsize=9.0,
            fontweight="bold",
            zorder=8,
        )
        labels.reserve_marks(np.array([[mark.x, mark.y]]), DISC_PT / 2.0 + 0.5)


def _hour_times(hours: list[HourMark], home: Floats, labels: Labels) -> None:
    """Write the clock time beside each disc; next to home, home's own label says it."""
    metres_per_pt = (labels.ax.get_xlim()[1] - labels.ax.get_xlim()[0]) / labels.size_pt[0]
    for mark in hours:
        from_home = np.hypot(mark.x - home[0], mark.y - home[1]) / metres_per_pt
        if from_home >= CROWDED_PT or mark.until:
            text = f"{mark.begins} to {mark.until}" if mark.until else mark.begins
            labels.place(mark.x, mark.y, text, away=(9.0, 14.0, 21.0, 30.0))


CARD_WIDTH_IN = 2.38
"""A panel's width less its margins, on the narrower paper [in]."""

LEAST_IN, MOST_IN = 1.15, 1.7
CARD_EDGE_IN = 0.01
ROADS_DRAWN = 2
"""Ranks of streets drawn: main roads, to find one's place; more would be a blot."""

WATER_PT, CARD_APART_PT = 9.0, 14.0
COPIED = {INK: "#000000", GREY: "#000000", PALE: "#000000", FAINT: PAPER}
"""A copier knows black and white only."""


@in_ink
def card_map(walk: DrawnWalk) -> Axes:
    """Draw the way small enough for a panel of the pocket card."""
    track = Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    span = np.maximum(np.ptp(way_m, axis=0), 1.0)
    height_in = min(max(CARD_WIDTH_IN * float(span[1] / span[0]) * 1.15, LEAST_IN), MOST_IN)
    ax = new_axes(
        (CARD_WIDTH_IN, height_in), (CARD_EDGE_IN, CARD_EDGE_IN, CARD_EDGE_IN, CARD_EDGE_IN)
    )
    frame_for(ax, way_m)
    draw_ground(ax, [line for line in walk.lines if _is_water(line.tags)], plane)
    _roads(ax, walk, plane)
    labels = Labels(ax, axes_size_pt(ax))
    labels.keep_clear(*evenly(way_m, labels.size_pt, ax).T)
    line = plane.project(track.lon, track.lat)
    ax.plot(line[:, 0], line[:, 1], color=PAPER, lw=4.2, zorder=3, solid_capstyle="round")
    ax.plot(line[:, 0], line[:, 1], color=INK, lw=2.2, zorder=3.1, solid_capstyle="round")
    draw_bridges(ax, walk, track, plane)
    ends = line[[0, -1]]
    ax.plot(*ends[0], "s", ms=6.0, mfc=PAPER, mec=INK, mew=1.5, zorder=7)
    ax.plot(*ends[1], "s", ms=6.0, mfc=INK, mec=PAPER, mew=0.6, zorder=7)
    labels.reserve_marks(ends, 4.0)
    _water(ax, walk, plane, labels)
    draw_distances(ax, track, plane, labels, units_of(walk))
    return ax


def copied(svg: str) -> str:
    """Turn the house's inks into black and white."""
    for ink, black in COPIED.items():
        svg = svg.replace(ink, black)
    return svg


def _is_water(tags: dict[str, str]) -> bool:
    return tags.get("natural") == "water" or "waterway" in tags


def _roads(ax: Axes, walk: DrawnWalk, plane: Plane) -> None:
    """Draw main roads as hair lines."""
    streets = walk.streets
    points = plane.project(streets.lon, streets.lat)
    rank = ranked(streets)
    for position in range(min(ROADS_DRAWN, len(RANKS))):
        mine = np.flatnonzero(rank == position)
        tail, head = np.asarray(streets.tail)[mine], np.asarray(streets.head)[mine]
        road = chained(tail, head, np.asarray(streets.way)[mine], points)
        ax.plot(road[:, 0], road[:, 1], lw=0.45 - 0.2 * position, color=GREY, zorder=1.0)


def _water(ax: Axes, walk: DrawnWalk, plane: Plane, labels: Labels) -> None:
    """Draw planned stops ringed and numbered, and other ready water where there is room."""
    places = places_of(walk)
    at = plane.project(places["lon"].to_numpy(np.float64), places["lat"].to_numpy(np.float64))
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    ready = np.array(["water" in given for given in places["given"]], dtype=bool)
    ready &= (places["open"] != "no").to_numpy(bool)
    ready &= ~(places["needs_treatment"].astype(bool) | places["needs_key"].astype(bool))
    used = places["used"].to_numpy(bool)
    others: list[int] = []
    for row in np.flatnonzero(ready & ~used).tolist():
        # Water beside water is one mark here.
        if not others or np.hypot(*(at[row] - at[others[-1]])) > CARD_APART_PT * metres_per_pt:
            others.append(row)
    for row in [*np.flatnonzero(used).tolist(), *others]:
        stop = bool(used[row])
        x, y = float(at[row, 0]), float(at[row, 1])
        size = 12.0 if stop else WATER_PT
        spot = labels.spot(x, y, wide=size, high=size, away=(3.0, 8.0), must=stop)
        if spot is None:
            continue
        here = np.array([[x + spot[0] * metres_per_pt, y + spot[1] * metres_per_pt]])
        draw_glyphs(ax, here[:, 0], here[:, 1], "water", used=stop, zorder=6.5)
        if stop:
            mark = str(places["mark"].iloc[row])
            labels.place(
                float(here[0, 0]),
                float(here[0, 1]),
                mark,
                size=9.0,
                weight="bold",
                away=(6.5, 9.0),
                leader=False,
            )


KEY_IN = 0.30
ROW_IN = 0.16


DASHES = ((0, (5, 2)), (0, (1, 1.4)), (0, (7, 2, 1, 2)), (0, (3, 3)), (0, (9, 2)))
"""Dashes of the other ways, in their order; after the last they begin again."""


@in_ink
def ways_map(
    walk: DrawnWalk,
    others: Mapping[str, Floats],
    *,
    name: str = "the way",
    width_in: float = WIDTH_IN,
    height_in: float = 4.0,
) -> Axes:
    """Draw a way and others beside it on the streets."""
    deep_in = KEY_IN + ROW_IN * len(others)
    ax = new_axes((width_in, height_in), (0.02, 0.02 + deep_in, 0.02, 0.02))
    lines = {drawable(name): np.asarray(walk.path_lonlat, np.float64)}
    lines |= {drawable(word): np.asarray(line, np.float64) for word, line in others.items()}
    every = np.concatenate(list(lines.values()))
    middle = (every.min(axis=0) + every.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    drawn = {word: plane.project(line[:, 0], line[:, 1]) for word, line in lines.items()}
    everywhere = np.concatenate(list(drawn.values()))
    _frame(ax, everywhere)
    first = next(iter(drawn.values()))
    draw_ground(ax, walk.lines, plane)
    draw_streets(ax, walk.streets, plane, _there_and_back(list(drawn.values())))
    labels = Labels(ax, axes_size_pt(ax))
    for line in drawn.values():
        labels.keep_clear(line[:, 0], line[:, 1])
    draw_scale(ax, labels, everywhere, units_of(walk))
    for row, line in enumerate(drawn.values()):
        _line(ax, line, row)
    for end, face, word in ((0, PAPER, "start"), (-1, INK, "home")):
        x, y = (float(value) for value in first[end])
        ax.plot(x, y, marker="s", ms=8.0, mfc=face, mec=INK, mew=1.5, zorder=7)
        labels.reserve_marks(first[[end]], 5.0)
        labels.place(x, y, word, size=9.0, weight="bold", away=(8.0, 14.0, 22.0))
    _key(ax, list(drawn), deep_in, drawable(attribution_of(walk), longest=120))
    return ax


def _there_and_back(lines: list[Floats]) -> Floats:
    """Join ways into one line, every second one turned, so that streets are drawn near them all."""
    return np.concatenate([line[:: -1 if row % 2 else 1] for row, line in enumerate(lines)])


def _frame(ax: Axes, points: Floats) -> None:
    """Fix limits round some points, the scale equal both ways."""
    size = np.array(axes_size_pt(ax))
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum(high - low, SMALLEST_FRAME_M) * (1.0 + 2.0 * MARGIN_SHARE)
    half = size * float(np.max(span / size)) / 2.0
    middle = (low + high) / 2.0
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
    ax.set_aspect("equal", adjustable="box")
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(True)


def _line(ax: Axes, line: Floats, row: int) -> None:
    """Draw one way: the first heavy, others dashed over it."""
    if row == 0:
        ax.plot(*line.T, color=PAPER, lw=6.0, zorder=3)
        ax.plot(*line.T, color=INK, lw=3.4, zorder=3.1, gid="way")
        return
    dashes = DASHES[(row - 1) % len(DASHES)]
    ax.plot(*line.T, color=PAPER, lw=2.6, zorder=3.2)
    ax.plot(*line.T, color=ACCENT, lw=1.6, ls=dashes, zorder=3.3, gid=f"other-{row}")


def _key(ax: Axes, names: list[str], deep_in: float, attribution: str) -> None:
    """Name the ways under the map."""
    width, height = axes_size_pt(ax)
    deep = deep_in * 72.0
    key = ax.inset_axes((0.0, -deep / height, 1.0, deep / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, deep)
    for row, name in enumerate(names):
        y = deep - 10.0 - row * ROW_IN * 72.0
        if row == 0:
            key.plot([2.0, 36.0], [y, y], color=INK, lw=3.4)
        else:
            dashes = DASHES[(row - 1) % len(DASHES)]
            key.plot([2.0, 36.0], [y, y], color=ACCENT, lw=1.6, ls=dashes)
        key.annotate(name, (42.0, y), va="center_baseline")
    key.annotate(attribution, (width, 4.0), ha="right", va="bottom")


INSET_IN = (3.45, 2.35)
"""Width and height of a map of a stretch that is hard to follow [in]."""

INSET_AROUND_M = 90.0
"""Ground shown around such a stretch [m]."""

INSET_WEIGHTS = (2.4, 1.7, 1.1, 0.8)
"""Line weight by rank of street: close up, every path shows [pt]."""

ARROW_EVERY_PT, NAMES_AROUND = 46.0, 10
"""Arrow heads lie this far apart; most streets named."""


@in_ink
def inset_map(
    walk: DrawnWalk,
    from_m: float,
    to_m: float,
    turns: Sequence[tuple[float, str]],
    *,
    size_in: tuple[float, float] = INSET_IN,
) -> Axes:
    """Draw a stretch of the way close up, with arrows, its turns by their distance, and names."""
    ax = new_axes(size_in, (EDGE_IN, EDGE_IN, EDGE_IN, EDGE_IN))
    track = Track(walk)
    along = np.linspace(from_m, to_m, 240)
    lonlat = track.lonlat_at(along)
    middle = (lonlat.min(axis=0) + lonlat.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    near = plane.project(*lonlat.T)
    padded = np.concatenate([near - INSET_AROUND_M, near + INSET_AROUND_M])
    frame_for(ax, padded)
    size = axes_size_pt(ax)
    draw_ground(ax, walk.lines, plane)
    points = plane.project(walk.streets.lon, walk.streets.lat)
    shown = _close_up(ax, walk.streets, points)
    draw_closed(ax, walk, plane, size[0])
    labels = Labels(ax, size, walk.plan.choices.font)
    labels.keep_clear(*evenly(near, size, ax).T)
    whole = plane.project(track.lon, track.lat)
    ax.plot(*whole.T, color=PAPER, lw=6.5, zorder=3, solid_capstyle="round")
    ax.plot(*whole.T, color=INK, lw=3.6, zorder=3.1, solid_capstyle="round")
    draw_bridges(ax, walk, track, plane)
    _arrows(ax, near, size)
    draw_scale(ax, labels, near, units_of(walk))
    for at_m, word in turns:
        x, y = plane.project(*track.lonlat_at(np.array([at_m])).T)[0]
        ax.plot(x, y, "o", ms=6.5, mfc=PAPER, mec=INK, mew=1.4, zorder=7)
        labels.reserve_marks(np.array([[x, y]]), 4.0)
        labels.place(float(x), float(y), word, weight="bold", away=(6.0, 10.0, 16.0, 24.0))
    _names_close_up(walk, points, shown, labels)
    return ax


def _close_up(ax: Axes, streets: Any, points: Floats) -> NDArray[np.intp]:  # noqa: ANN401 - an earlier room's record
    """Draw every street of the frame by its rank; give those drawn."""
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    tail, head = np.asarray(streets.tail), np.asarray(streets.head)
    x, y = points[:, 0], points[:, 1]
    inside = (x > x0) & (x < x1) & (y > y0) & (y < y1)
    shown = np.flatnonzero(inside[tail] | inside[head])
    rank = ranked(streets)[shown]
    for position, weight in enumerate(INSET_WEIGHTS):
        mine = shown[rank == position]
        line = chained(tail[mine], head[mine], np.asarray(streets.way)[mine], points)
        ax.plot(line[:, 0], line[:, 1], color=PALE, lw=weight, zorder=1.4 - 0.1 * position)
    return shown


def _arrows(ax: Axes, near: Floats, size: tuple[float, float]) -> None:
    """Draw arrow heads along the way, pointing home."""
    step = np.hypot(*np.diff(near, axis=0).T)
    gone = np.concatenate([[0.0], np.cumsum(step)])
    every = ARROW_EVERY_PT * (ax.get_xlim()[1] - ax.get_xlim()[0]) / size[0]
    for at in np.arange(every / 2.0, gone[-1], every):
        row = min(int(np.searchsorted(gone, at)), len(near) - 2)
        ahead = near[row + 1] - near[row]
        turn = float(np.degrees(np.arctan2(ahead[1], ahead[0]))) - 90.0
        ax.plot(*near[row], marker=(3, 0, turn), ms=7.5, mfc=PAPER, mec=INK, mew=0.9, zorder=3.4)


def _names_close_up(
    walk: DrawnWalk, points: Floats, shown: NDArray[np.intp], labels: Labels
) -> None:
    """Name the longest streets of the frame, each once, where there is room."""
    streets = walk.streets
    tail, head = np.asarray(streets.tail)[shown], np.asarray(streets.head)[shown]
    ways = np.asarray(streets.way)[shown]
    run = np.hypot(*(points[head] - points[tail]).T)
    longest: dict[str, tuple[float, int]] = {}
    for row, way in enumerate(ways.tolist()):
        name = drawable(streets.ways.name[way], longest=26, font=labels.font)
        if name and run[row] > longest.get(name, (0.0, 0))[0]:
            longest[name] = (float(run[row]), row)
    own = {drawable(one.street, longest=26, font=labels.font) for one in walk.directions}
    ranked_names = sorted(longest.items(), key=lambda item: (item[0] not in own, -item[1][0]))
    for name, (_run, row) in ranked_names[:NAMES_AROUND]:
        x, y = (points[tail[row]] + points[head[row]]) / 2.0
        labels.place(float(x), float(y), name, away=(3.0, 8.0, 14.0), must=False, leader=False)
