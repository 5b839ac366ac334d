"""Which segments a name, a way id, a class of street, an area or a flood level means.

Each function gives one mask over the segments, and refuses what matches nothing.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from simulator.errors import InputError
from simulator.ground.walkable import HIGHWAYS

if TYPE_CHECKING:
    from simulator.ground.streets import Streets
    from simulator.route.crossings import Crossings


def plain(name: str) -> str:
    """Reduce a name to what matters in comparing.

    Parameters
    ----------
    name : str
        As written.

    Returns
    -------
    str
        Without case, accents, punctuation or doubled spaces.
    """
    spread = unicodedata.normalize("NFKD", name.casefold())
    kept = "".join(c if c.isalnum() else " " for c in spread if not unicodedata.combining(c))
    return " ".join(kept.split())


def by_name(streets: Streets, text: str, crossings: Crossings | None) -> NDArray[np.bool_]:
    """Mark the segments of ways, and of physical bridges, that bear a name.

    Parameters
    ----------
    streets : Streets
        The street network.
    text : str
        The name.
    crossings : Crossings or None
        Physical bridges, whose names count too.

    Returns
    -------
    ndarray of bool, shape (M,)
        All False when nothing bears it.
    """
    wanted = plain(text)
    ways = streets.ways
    named = np.array(
        [
            wanted in {plain(name), plain(deck)}
            for name, deck in zip(ways.name, ways.bridge_name, strict=True)
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
    """Say that a name is not on the map, and offer those most like it.

    Parameters
    ----------
    streets : Streets
        The street network.
    text : str
        The name.
    crossings : Crossings or None
        Physical bridges, whose names count too.

    Returns
    -------
    str
        One sentence.
    """
    bridges = crossings.name if crossings is not None else ()
    known: dict[str, str] = {}
    for name in (*bridges, *streets.ways.bridge_name, *streets.ways.name):
        known.setdefault(plain(name), name)
    known.pop("", None)
    wanted = plain(text)
    close = difflib.get_close_matches(wanted, known, n=3, cutoff=0.6)
    words = set(wanted.split())
    close += [name for name in known if words <= set(name.split())]
    offered = list(dict.fromkeys(known[name] for name in close))[:3]
    if offered:
        return f"no street or bridge is called {text!r}; did you mean {_either(offered)}?"
    return (
        f"no street or bridge is called {text!r} on this map; use a name from the map, "
        "or the number of an OSM way"
    )


def _either(names: Sequence[str]) -> str:
    """Join names with "or"."""
    quoted = [repr(name) for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def by_way(streets: Streets, number: int, where: str) -> NDArray[np.bool_]:
    """Mark the segments of one OSM way.

    Parameters
    ----------
    streets : Streets
        The street network.
    number : int
        Its OSM number.
    where : str
        Where it was written, for the message.

    Returns
    -------
    ndarray of bool, shape (M,)
        True on its segments.

    Raises
    ------
    InputError
        The map has no such walkable way.
    """
    mask: NDArray[np.bool_] = streets.ways.osm_id[streets.way] == number
    if not mask.any():
        refused = np.flatnonzero(streets.rejected.osm_id == number)
        if refused.size:
            reason = streets.rejected.reason[int(refused[0])]
            raise InputError(where, f"way {number} is closed to walkers anyway ({reason})")
        raise InputError(where, f"way {number} is not among the walkable streets of this map")
    return mask


def by_class(streets: Streets, name: str, where: str) -> NDArray[np.bool_]:
    """Mark the segments of one class of street.

    Parameters
    ----------
    streets : Streets
        The street network.
    name : str
        A value of ``highway``.
    where : str
        Where it was written, for the message.

    Returns
    -------
    ndarray of bool, shape (M,)
        True on its segments.

    Raises
    ------
    InputError
        There is no such class, or no such street on the map.
    """
    if name not in HIGHWAYS:
        close = difflib.get_close_matches(name, HIGHWAYS, n=3) or list(HIGHWAYS[:3])
        raise InputError(where, f"{name!r} is no class of street; did you mean {_either(close)}?")
    mask: NDArray[np.bool_] = streets.ways.highway[streets.way] == HIGHWAYS.index(name)
    if not mask.any():
        raise InputError(where, f"no walkable street of this map has the class {name!r}")
    return mask


def by_area(streets: Streets, area: Polygon | MultiPolygon, where: str) -> NDArray[np.bool_]:
    """Mark the segments that touch an area.

    Parameters
    ----------
    streets : Streets
        The street network.
    area : Polygon or MultiPolygon
        Longitude, latitude [degrees].
    where : str
        Where it was written, for the message.

    Returns
    -------
    ndarray of bool, shape (M,)
        True on its segments.

    Raises
    ------
    InputError
        No segment does; the message says so when the swapped area would.
    """
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
    """Mark the segments with any point below a level, and others of unknown height.

    Parameters
    ----------
    streets : Streets
        The street network.
    level_m : float
        Height above the raster's datum [m].
    where : str
        Where it was written, for the message.

    Returns
    -------
    tuple of ndarray of bool, shape (M,) each
        Below the level; without a known height.

    Raises
    ------
    InputError
        There are no heights, or nothing lies below.
    """
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
