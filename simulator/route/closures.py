"""What is closed: names, way ids, areas, flood levels and hours, turned into masks over streets.

Closures combine: a street is closed when any of them says so. Whatever is asked for must match
something, and each match is told in one line, so that a misspelt bridge cannot pass for an open
one.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry import shape
from shapely.validation import explain_validity

from simulator.errors import InputError, shown
from simulator.files import parse_json, read_text
from simulator.ground.walkable import HIGHWAYS
from simulator.route.crossings import Crossings, group_crossings
from simulator.units import Units

if TYPE_CHECKING:
    from simulator.ground.osm import Line
    from simulator.ground.streets import Streets


def read_area(path: Path) -> Polygon | MultiPolygon:
    """Read a closed area from a GeoJSON file (RFC 7946): longitude first.

    Parameters
    ----------
    path : Path
        A Polygon or MultiPolygon, a Feature with one, or a FeatureCollection of them.

    Returns
    -------
    Polygon or MultiPolygon
        All of them together; lon, lat [degrees].

    Raises
    ------
    InputError
        The file cannot be read, holds no area, crosses itself, or has impossible coordinates.
    """
    where = path.name
    text = read_text(path, what="a closed area in GeoJSON")
    try:
        content = parse_json(text)
    except ValueError as error:
        raise InputError(where, f"this is not GeoJSON ({error})") from error
    areas = []
    for geometry in _geometries(content, where):
        kind = geometry.get("type")
        if kind not in ("Polygon", "MultiPolygon"):
            problem = f"a closed area must be a Polygon or MultiPolygon, not {shown(kind)}"
            raise InputError(where, problem)
        try:
            area = shape(geometry)
        except (ValueError, TypeError, LookupError, AttributeError, RecursionError) as error:
            raise InputError(where, "a ring has coordinates that cannot be read") from error
        if not isinstance(area, (Polygon, MultiPolygon)) or area.is_empty:
            raise InputError(where, "the closed area is empty; draw at least one polygon")
        _refuse_impossible(area, where)
        if not area.is_valid:
            reason = explain_validity(area)
            raise InputError(where, f"the closed area is not a clean polygon: {reason}")
        areas.append(area)
    if not areas:
        raise InputError(where, "the closed area is empty; draw at least one polygon")
    joined = shapely.union_all(areas)
    if not isinstance(joined, (Polygon, MultiPolygon)) or joined.area == 0.0:
        raise InputError(where, "the closed area has no surface; draw at least one polygon")
    return joined


def _geometries(content: Any, where: str) -> list[dict[str, Any]]:  # noqa: ANN401
    """Unwrap features down to their geometries; a collection holds features, not collections."""
    if not isinstance(content, dict) or "type" not in content:
        raise InputError(where, 'this is not GeoJSON: an object with a "type" is needed')
    features = [content]
    if content["type"] == "FeatureCollection":
        features = content.get("features") or []
        if not isinstance(features, list) or not all(isinstance(one, dict) for one in features):
            raise InputError(where, "this is not GeoJSON: `features` must be a list of features")
    found = [one.get("geometry") if one.get("type") == "Feature" else one for one in features]
    geometries = [one for one in found if one is not None]
    if not all(isinstance(one, dict) for one in geometries):
        raise InputError(where, "this is not GeoJSON: a geometry must be an object")
    return geometries


def _refuse_impossible(area: Polygon | MultiPolygon, where: str) -> None:
    """Refuse coordinates that lie on no map, with a hint if they are the wrong way round."""
    west, south, east, north = area.bounds
    if not np.isfinite([west, south, east, north]).all():
        raise InputError(where, "the closed area has coordinates that are not numbers")
    if max(abs(south), abs(north)) <= 90 and max(abs(west), abs(east)) <= 180:  # noqa: PLR2004
        return
    swapped = max(abs(west), abs(east)) <= 90 and max(abs(south), abs(north)) <= 180  # noqa: PLR2004
    hint = (
        "latitude and longitude seem swapped; GeoJSON writes longitude first"
        if swapped
        else "GeoJSON takes degrees, longitude first"
    )
    raise InputError(where, f"latitude {south:g} to {north:g} is outside -90 to 90 degrees: {hint}")


def plain(name: str) -> str:
    """Reduce a name to what matters in comparing.

    Parameters
    ----------
    name : str
        As written, or as on the map.

    Returns
    -------
    str
        Small letters and digits, without accents; words parted by one space.
    """
    spread = unicodedata.normalize("NFKD", name.casefold())
    kept = "".join(c if c.isalnum() else " " for c in spread if not unicodedata.combining(c))
    return " ".join(kept.split())


def by_name(streets: Streets, text: str, crossings: Crossings | None) -> NDArray[np.bool_]:
    """Mark the segments of ways, and of physical bridges, that bear a name."""
    wanted = plain(text)
    ways = streets.ways
    named = np.array(
        [
            wanted in {plain(called) for called in (name, deck, *also.split(";")) if called}
            for name, deck, also in zip(ways.name, ways.bridge_name, ways.aliases, strict=True)
        ],
        bool,
    )
    mask = named[streets.way] if named.size else np.zeros(streets.tail.size, bool)
    if crossings is not None:
        for number, name in enumerate(crossings.name):
            if plain(name) == wanted:
                mask[crossings.segments(number)] = True
    return mask


def missed(streets: Streets, text: str, crossings: Crossings | None) -> str:
    """Say that a name is not on the map, and offer those most like it."""
    bridges = crossings.name if crossings is not None else ()
    known: dict[str, str] = {}
    also = (name for names in set(streets.ways.aliases) for name in names.split(";"))
    for name in (*bridges, *streets.ways.bridge_name, *streets.ways.name, *sorted(also)):
        known.setdefault(plain(name), name)
    known.pop("", None)
    wanted = plain(text)
    close = difflib.get_close_matches(wanted, known, n=3, cutoff=0.6)
    words = set(wanted.split())
    close += [name for name in known if words <= set(name.split())]
    offered = list(dict.fromkeys(known[name] for name in close))[:3]
    if offered:
        return f"no street or bridge is called {shown(text)}; did you mean {_either(offered)}?"
    return (
        f"no street or bridge is called {shown(text)} on this map; use a name from the map, "
        "or the number of an OSM way"
    )


def _either(names: Sequence[str]) -> str:
    """Join names with "or"."""
    quoted = [repr(name) for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def by_way(streets: Streets, number: int, where: str) -> NDArray[np.bool_]:
    """Mark the segments of one OSM way."""
    mask: NDArray[np.bool_] = streets.ways.osm_id[streets.way] == number
    if not mask.any():
        refused = np.flatnonzero(streets.rejected.osm_id == number)
        if refused.size:
            reason = streets.rejected.reason[int(refused[0])]
            raise InputError(where, f"way {number} is closed to walkers anyway ({reason})")
        raise InputError(where, f"way {number} is not among the walkable streets of this map")
    return mask


def by_class(streets: Streets, name: str, where: str) -> NDArray[np.bool_]:
    """Mark the segments of one class of street."""
    if name not in HIGHWAYS:
        close = difflib.get_close_matches(name, HIGHWAYS, n=3) or list(HIGHWAYS[:3])
        raise InputError(
            where, f"{shown(name)} is no class of street; did you mean {_either(close)}?"
        )
    mask: NDArray[np.bool_] = streets.ways.highway[streets.way] == HIGHWAYS.index(name)
    if not mask.any():
        raise InputError(where, f"no walkable street of this map has the class {shown(name)}")
    return mask


def by_area(streets: Streets, area: Polygon | MultiPolygon, where: str) -> NDArray[np.bool_]:
    """Mark the segments that touch an area."""
    mask = _touching(streets, area)
    if mask.any():
        return mask
    swapped = shapely.transform(area, lambda lonlat: lonlat[:, ::-1])
    west, south, east, north = area.bounds
    found = f"longitude {west:.4f} to {east:.4f}, latitude {south:.4f} to {north:.4f}"
    if _touching(streets, swapped).any():
        raise InputError(
            where,
            f"the area ({found}) has latitude and longitude swapped: it meets this map the other "
            "way round; GeoJSON writes longitude first",
        )
    raise InputError(where, f"the area ({found}) meets no street of this map")


def _touching(streets: Streets, area: Polygon | MultiPolygon) -> NDArray[np.bool_]:
    """Whether each segment shares a point with an area."""
    ends_lon = np.stack([streets.lon[streets.tail], streets.lon[streets.head]])
    ends_lat = np.stack([streets.lat[streets.tail], streets.lat[streets.head]])
    west, south, east, north = area.bounds
    near = (
        (ends_lon.max(0) >= west)
        & (ends_lon.min(0) <= east)
        & (ends_lat.max(0) >= south)
        & (ends_lat.min(0) <= north)
    )
    rows = np.flatnonzero(near)
    lines = shapely.linestrings(
        np.stack([ends_lon[:, rows], ends_lat[:, rows]], axis=-1).swapaxes(0, 1)
    )
    shapely.prepare(area)
    touching: NDArray[np.bool_] = near
    touching[rows] = shapely.intersects(area, lines)
    return touching


def by_flood(
    streets: Streets, level_m: float, where: str
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Mark the segments with any point below a level, and others of unknown height."""
    terrain = streets.terrain
    if terrain is None:
        raise InputError(where, "a flood level needs heights; name a raster in map.elevation")
    if not np.isfinite(level_m):
        raise InputError(where, f"{level_m} is not a height in metres")
    tail_m = terrain.node_height_m[streets.tail]
    head_m = terrain.node_height_m[streets.head]
    gained = np.concatenate([[0.0], np.cumsum(np.nan_to_num(terrain.piece_rise_m))])
    start = terrain.piece_start[:-1]
    counts = np.diff(terrain.piece_start)
    # Heights at the end of every piece, measured up from the segment's tail.
    along = gained[1:] - np.repeat(gained[start], counts)
    lowest_m = tail_m + np.minimum(np.minimum.reduceat(along, start), 0.0)
    lowest_m = np.minimum(lowest_m, head_m)
    below: NDArray[np.bool_] = lowest_m < level_m
    unknown: NDArray[np.bool_] = ~below & (~terrain.covered | ~np.isfinite(lowest_m))
    if not below.any():
        known = lowest_m[~unknown]
        lowest = f"the lowest street lies at {known.min():.1f} m" if known.size else "none is known"
        raise InputError(where, f"no street lies below {level_m:g} m ({lowest})")
    return below, unknown


MINUTES_A_DAY = 1440

METRIC = Units()
"""Minutes in a civil day without a clock change."""

_WINDOW = re.compile(r"\s*@?\s*(\d{1,2}):(\d{2})\s*[-\u2013]\s*(\d{1,2}):(\d{2})\s*$")
_WAY_ID = re.compile(r"\s*(?:way|w)?\s*(\d+)\s*$", re.IGNORECASE)
_TAG = re.compile(r"\s*highway\s*=\s*(\S+)\s*$")


class Window(NamedTuple):
    """Hours of the clock in which something is closed; past midnight when end < start.

    Attributes
    ----------
    start_min : int
        First closed minute of the local day [min].
    end_min : int
        First minute of the local day that is open again [min].
    """

    start_min: int
    end_min: int

    def covers(self, minute_of_day: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell whether moments lie inside."""
        minute = np.mod(minute_of_day, MINUTES_A_DAY)
        if self.start_min <= self.end_min:
            return (minute >= self.start_min) & (minute < self.end_min)
        return (minute >= self.start_min) | (minute < self.end_min)

    def __str__(self) -> str:
        return (
            f"{self.start_min // 60:02d}:{self.start_min % 60:02d}-"
            f"{self.end_min // 60:02d}:{self.end_min % 60:02d}"
        )


@dataclass(frozen=True, slots=True)
class ClosedPart:
    """One thing that is closed.

    Attributes
    ----------
    label : str
        What was asked for, as written.
    mask : ndarray of bool, shape (M,)
        The segments it closes.
    window : Window or None
        Local hours in which it is closed; None is at all hours.
    after_dark : bool
        Closed only between dusk and dawn.
    """

    label: str
    mask: NDArray[np.bool_]
    window: Window | None = None
    after_dark: bool = False

    @property
    def always(self) -> bool:
        """Whether neither the clock nor daylight matters."""
        return self.window is None and not self.after_dark


@dataclass(frozen=True, slots=True)
class Closure:
    """Everything that is closed, together.

    Attributes
    ----------
    mask : ndarray of bool, shape (M,)
        Segments closed at all hours.
    matched : tuple of str
        One line for each thing asked for: what it matched, and how many metres.
    parts : tuple of ClosedPart
        Each thing asked for by itself, those that depend on the hour included.
    """

    mask: NDArray[np.bool_]
    matched: tuple[str, ...]
    parts: tuple[ClosedPart, ...]

    @property
    def timed(self) -> tuple[ClosedPart, ...]:
        """The parts that depend on the hour or on daylight."""
        return tuple(part for part in self.parts if not part.always)

    def closed_at(self, minute_of_day: float, *, dark: bool = False) -> NDArray[np.bool_]:
        """Segments that may not be entered at one moment."""
        mask = self.mask.copy()
        for part in self.timed:
            in_hours = part.window is None or bool(part.window.covers(np.array(minute_of_day)))
            if in_hours and (dark or not part.after_dark):
                mask |= part.mask
        return mask

    def closed_on_arrival(
        self,
        segment: NDArray[np.int32],
        minute_of_day: NDArray[np.float64],
        dark: NDArray[np.bool_],
    ) -> NDArray[np.bool_]:
        """Whether each step of a walk meets a closed segment at the time it gets there.

        Parameters
        ----------
        segment : ndarray of int, shape (K,)
            Segments in the order walked.
        minute_of_day : ndarray of float, shape (K,)
            Local clock time on arrival at each [min past midnight].
        dark : ndarray of bool, shape (K,)
            Whether it is dark on arrival.

        Returns
        -------
        ndarray of bool, shape (K,)
            True where the step cannot be taken at that time.
        """
        closed = self.mask[segment]
        for part in self.timed:
            now = np.ones(segment.shape, bool)
            if part.window is not None:
                now &= part.window.covers(minute_of_day)
            if part.after_dark:
                now &= dark
            closed |= part.mask[segment] & now
        return closed

    def why(self, segment: int) -> str:
        """Name what closes a segment.

        Parameters
        ----------
        segment : int
            Its row.

        Returns
        -------
        str
            Labels of the parts that do; "" if none does.
        """
        return ", ".join(part.label for part in self.parts if part.mask[segment])


def resolve(
    streets: Streets,
    *,
    closed: Sequence[str | int] = (),
    area: Polygon | MultiPolygon | None = None,
    flood_level_m: float | None = None,
    unlit_after_dark: bool = False,
    classes: Sequence[str] = (),
    windows: Mapping[str, str] | None = None,
    crossings: Crossings | None = None,
    lines: Sequence[Line] = (),
    where: str = "event",
    units: Units = METRIC,
) -> Closure:
    """Turn what a person says is closed into masks over the segments.

    Parameters
    ----------
    streets : Streets
        The street network.
    closed : sequence of str or int
        Names of streets or bridges, also those in local use and road numbers (case and accents do
        not matter), OSM way ids,
        ``highway=steps`` for a class of street, or ``unlit after dark``. Any of them may end in
        hours of the clock, ``Mill Bridge 18:00-06:00``.
    area : Polygon or MultiPolygon, optional
        Everything that touches it is closed; lon, lat [degrees].
    flood_level_m : float, optional
        Everything with ground below this height is closed, bridges by the height of their deck
        [m above the raster's datum].
    unlit_after_dark : bool
        Close every way tagged as unlit while it is dark.
    classes : sequence of str
        Values of ``highway`` to close whole.
    windows : mapping of str to str, optional
        Hours for what cannot carry its own: keys ``area``, ``flood level`` or an entry of
        ``closed`` or ``classes``; values such as ``18:00-06:00``.
    crossings : Crossings, optional
        Physical bridges, whose names can be closed too and bring all their ways; put together
        here when left out and a name is asked for.
    lines : sequence of Line
        Water and rail of the map, which bridges may be named after.
    where : str
        Where the request was written, for messages.
    units : Units
        Of the lines that tell what matched.

    Returns
    -------
    Closure
        Masks, and the lines that tell what matched.

    Raises
    ------
    InputError
        Something matches nothing, cannot be read, or needs heights that are not there.
    """
    hours = {key: read_window(text, where=where) for key, text in (windows or {}).items()}
    if crossings is None and any(isinstance(entry, str) for entry in closed):
        crossings = group_crossings(streets, lines=lines)
    notes: list[str] = []
    parts = [_entry(streets, entry, hours, crossings, f"{where}.closed") for entry in closed]
    for name in classes:
        mask = by_class(streets, name, f"{where}.closed")
        parts.append(ClosedPart(f"highway={name}", mask, hours.get(name)))
    if area is not None:
        mask = by_area(streets, area, f"{where}.closed_area")
        parts.append(ClosedPart("closed area", mask, hours.get("area")))
    if flood_level_m is not None:
        mask, unknown = by_flood(streets, flood_level_m, f"{where}.flood_level_m")
        level = units.level(flood_level_m)
        parts.append(ClosedPart(f"below {level}", mask, hours.get("flood level")))
        if unknown.any():
            size = _size(streets, unknown, units)
            notes.append(f"{size} without a known height: not known to stay dry")
    if unlit_after_dark:
        parts.append(_unlit(streets, None, f"{where}.closed"))
    unheard = set(hours) - {str(entry) for entry in closed} - set(classes) - {"area", "flood level"}
    if unheard:
        raise InputError(where, f"hours are given for {shown(min(unheard))}, which is not closed")
    matched = (*(_line(streets, part, units) for part in parts), *notes)
    mask = np.zeros(streets.tail.size, bool)
    for part in parts:
        if part.always:
            mask |= part.mask
    return Closure(mask, matched, tuple(parts))


def refuse_closed_ends(
    closure: Closure, ends: Mapping[str, int], *, minute_of_day: float | None = None
) -> None:
    """Refuse a start, home or halfway place that lies on a closed street.

    Parameters
    ----------
    closure : Closure
        What is closed.
    ends : mapping of str to int
        Place in the plan (``trip.start``) and the segment it stands on.
    minute_of_day : float, optional
        Local time of departure; closures by the clock count only when it is given, and then
        only for ``trip.start`` [min past midnight].

    Raises
    ------
    InputError
        One of them lies inside the closure; the message names which and what closes it.
    """
    for place, segment in ends.items():
        mask = closure.mask
        if minute_of_day is not None and place == "trip.start":
            mask = closure.closed_at(minute_of_day)
        if mask[segment]:
            raise InputError(
                place,
                f"lies inside what is closed ({closure.why(segment)}); move it to an open street "
                "or take the closure out",
            )


def read_window(text: str, *, where: str) -> Window:
    """Read hours of the clock such as ``18:00-06:00``."""
    found = _WINDOW.fullmatch(text)
    if found is None:
        raise InputError(where, f"hours {shown(text)} cannot be read; write them as 18:00-06:00")
    start_h, start, end_h, end = (int(part) for part in found.groups())
    first, last = 60 * start_h + start, 60 * end_h + end
    if start > 59 or end > 59 or max(first, last) > MINUTES_A_DAY or first == last:  # noqa: PLR2004
        raise InputError(
            where, f"hours {shown(text)} are not two different times of the day, 00:00 to 24:00"
        )
    return Window(first % MINUTES_A_DAY, last)


def _entry(
    streets: Streets,
    entry: str | int,
    hours: Mapping[str, Window],
    crossings: Crossings | None,
    where: str,
) -> ClosedPart:
    """Resolve one entry of the closed list."""
    if isinstance(entry, int):
        return ClosedPart(
            f"way {entry}", by_way(streets, entry, where), window=hours.get(str(entry))
        )
    window = hours.get(entry)
    text = entry.strip()
    if (tail := _WINDOW.search(text)) is not None:
        window = read_window(tail.group(), where=where)
        text = text[: tail.start()].strip()
    if not plain(text):
        raise InputError(
            where, f"{shown(entry)} names nothing; write a bridge, a street or a way id"
        )
    if plain(text) == "unlit after dark":
        return _unlit(streets, window, where)
    if (tag := _TAG.fullmatch(text)) is not None:
        return ClosedPart(text, by_class(streets, tag.group(1), where), window)
    named = by_name(streets, text, crossings)
    if named.any():
        return ClosedPart(text, named, window)
    if (number := _WAY_ID.fullmatch(text)) is not None:
        return ClosedPart(text, by_way(streets, int(number.group(1)), where), window)
    raise InputError(where, missed(streets, text, crossings))


def _unlit(streets: Streets, window: Window | None, where: str) -> ClosedPart:
    """Close what is tagged as unlit while it is dark."""
    mask = streets.ways.lit[streets.way] == 0
    if not mask.any():
        raise InputError(where, "no way of this map is tagged as unlit, so none can be closed")
    return ClosedPart("unlit after dark", mask, window, after_dark=True)


def _size(streets: Streets, mask: NDArray[np.bool_], units: Units) -> str:
    """Tell how many ways a mask holds, and their length."""
    ways = np.unique(streets.way[mask]).size
    length_m = float(streets.length_m[mask].sum())
    return f"{ways} way{'' if ways == 1 else 's'}, {units.near(length_m)}"


def _line(streets: Streets, part: ClosedPart, units: Units) -> str:
    """Tell what one part matched."""
    when = "" if part.window is None else f", {part.window}"
    names = _names(streets.ways.name[row] for row in np.unique(streets.way[part.mask]))
    beside = f" ({names})" if names and plain(names) != plain(part.label) else ""
    return f"{part.label}{when}: {_size(streets, part.mask, units)}{beside}"


def _names(names: Iterable[str]) -> str:
    """Give the first few different names of many."""
    known = sorted({name for name in names if name})
    return ", ".join(known[:3]) + (f" and {len(known) - 3} more" if len(known) > 3 else "")  # noqa: PLR2004
