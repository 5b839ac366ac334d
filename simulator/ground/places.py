"""Rivers, streams and lakes: where a street comes near enough to fill a bottle.

Surface water always needs treatment, and treatment does not remove fuel or chemicals; the rules of
`simulator.ground.kinds` leave out water that is salt, tidal, covered or may be dry.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.arrays import Floats
from simulator.errors import InputError, closest, gathered, shown
from simulator.files import parse_toml, read_text
from simulator.ground.hours import readable
from simulator.ground.kinds import (
    EVENTS,
    OPEN_WATER,
    PLACE_RULES,
    gives,
    kind_of,
    match,
    needs_treatment,
    reason_left_out,
)
from simulator.ground.snap import Shape, metres_per_degree, nearest_points
from simulator.units import percent

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

REACH_M = 300.0
"""Places farther than this from any street, as the crow flies, are not attached [m]."""

SAME_PLACE_M = 60.0
"""A place drawn both as a point and as a building, or as several buildings, is one when they lie
this close [m] and no name speaks against it. Assumed: half of a large building."""

SAME_THING_M = 15.0
"""As `SAME_PLACE_M`, for things that are small and often stand in twos; assumed."""

SMALL = frozenset(
    {"bench", "bus shelter", "shelter", "drinking water", "tap", "fountain", "well", "spring"}
    | {"cattle trough", "drinks machine", "emergency phone"}
)
"""Kinds that are things rather than buildings."""

SEVERAL_BUILDINGS = frozenset({"school", "hospital", "office", "public building", "hotel"})
"""Kinds that often stand in several buildings without a name of their own."""

LEAST_PIECE_M = 2000.0
"""Streets that hang together over less than this lead nowhere: a courtyard, a platform [m]."""


class Tagged(Protocol):
    """A feature of the map: number, position and tags."""

    @property
    def osm(self) -> str:
        """Kind and number, "n123", "w45" or "r6"."""

    @property
    def lon(self) -> float:
        """Longitude [deg]."""

    @property
    def lat(self) -> float:
        """Latitude [deg]."""

    @property
    def tags(self) -> Mapping[str, str]:
        """OSM tags."""


@dataclass(frozen=True, slots=True)
class Places:
    """K places, and where each meets the streets.

    Attributes
    ----------
    osm : tuple of K str
        "n123", "w45" or "r6".
    kind : tuple of K str
        Key of `PLACE_RULES`.
    name : tuple of K str
        Name on the map, "" unknown.
    lon, lat : ndarray of float, shape (K,)
        Position [deg].
    hours : tuple of K str
        ``opening_hours`` as tagged, "" unknown.
    gives : tuple of K frozenset of str
        Of "water", "food", "shelter", "help", "rest".
    needs_treatment, needs_key : ndarray of bool, shape (K,)
        The water must be treated; the tap needs a spigot key and leave.
    always_open : ndarray of bool, shape (K,)
        Outdoors or never locked: with no hours on the map it can be used at any hour.
    works : ndarray of float, shape (K, len(EVENTS))
        Share of such places that give what they give under each of `EVENTS`, 0 to 1. Assumed.
    service_s : ndarray of float, shape (K,)
        Time at the place: asking, queueing, filling [s]. Assumed.
    edited : tuple of K str
        What a person has said of it instead of map and table, "" nothing.
    segment : ndarray of int32, shape (K,)
        Nearest walkable segment; -1 if none is within reach or not attached yet.
    fraction : ndarray of float, shape (K,)
        Where on the segment, from its tail; NaN without a segment.
    access_m : ndarray of float, shape (K,)
        From the street to the place in a straight line [m]; infinite without a segment.
    left_out : tuple of (str, str, str)
        Features that would be a place but may not be used: osm, kind, reason.
    """

    osm: tuple[str, ...]
    kind: tuple[str, ...]
    name: tuple[str, ...]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    hours: tuple[str, ...]
    gives: tuple[frozenset[str], ...]
    needs_treatment: NDArray[np.bool_]
    needs_key: NDArray[np.bool_]
    always_open: NDArray[np.bool_]
    works: NDArray[np.float64]
    service_s: NDArray[np.float64]
    edited: tuple[str, ...]
    segment: NDArray[np.int32]
    fraction: NDArray[np.float64]
    access_m: NDArray[np.float64]
    left_out: tuple[tuple[str, str, str], ...] = ()

    def __len__(self) -> int:
        return len(self.osm)

    def works_in(self, event: str) -> NDArray[np.float64]:
        """Give the share of such places that work in an event.

        Parameters
        ----------
        event : str
            One of `EVENTS`.

        Returns
        -------
        ndarray of float, shape (K,)
            0 to 1; assumed.
        """
        return self.works[:, EVENTS.index(event)]


def places_from(features: Iterable[Tagged]) -> Places:
    """Pick the places out of the features of a map.

    Parameters
    ----------
    features : iterable of Tagged
        Anything with ``osm``, ``lon``, ``lat`` and ``tags``.

    Returns
    -------
    Places
        In the order given, not attached to streets yet. A place that is drawn both as a point and
        as a building appears once, with the tags of both; the named one's own come first.
    """
    kept: list[tuple[Tagged, str]] = []
    left_out: list[tuple[str, str, str]] = []
    for feature in features:
        kind = kind_of(feature.tags)
        if kind is None:
            continue
        reason = reason_left_out(feature.tags, kind)
        if reason:
            left_out.append((feature.osm, kind, reason))
        else:
            kept.append((feature, kind))
    kept = _merged(kept)
    rules = [PLACE_RULES[kind] for _, kind in kept]
    return Places(
        osm=tuple(feature.osm for feature, _ in kept),
        kind=tuple(kind for _, kind in kept),
        name=tuple(feature.tags.get("name", "") for feature, _ in kept),
        lon=np.array([feature.lon for feature, _ in kept], dtype=np.float64),
        lat=np.array([feature.lat for feature, _ in kept], dtype=np.float64),
        hours=tuple(feature.tags.get("opening_hours", "") for feature, _ in kept),
        gives=tuple(gives(feature.tags, PLACE_RULES[kind]) for feature, kind in kept),
        needs_treatment=np.array(
            [needs_treatment(feature.tags, PLACE_RULES[kind]) for feature, kind in kept],
            dtype=np.bool_,
        ),
        needs_key=np.array([rule.needs_key for rule in rules], dtype=np.bool_),
        always_open=np.array([rule.always_open for rule in rules], dtype=np.bool_),
        works=np.array(
            [[rule.works[event] for event in EVENTS] for rule in rules], dtype=np.float64
        ).reshape(len(kept), len(EVENTS)),
        service_s=np.array([rule.service_s for rule in rules], dtype=np.float64),
        edited=("",) * len(kept),
        segment=np.full(len(kept), -1, dtype=np.int32),
        fraction=np.full(len(kept), np.nan),
        access_m=np.full(len(kept), np.inf),
        left_out=tuple(left_out),
    )


class _Merged(NamedTuple):
    """Several features that are one place."""

    osm: str
    lon: float
    lat: float
    tags: Mapping[str, str]


def _merged(kept: list[tuple[Tagged, str]]) -> list[tuple[Tagged, str]]:
    """Make one place of a point and the building around it, and of unnamed wings of a building."""
    by_kind: dict[str, list[int]] = {}
    for row, (feature, kind) in enumerate(kept):
        if feature.osm:  # a point on a shore stands for a stretch of water of its own
            by_kind.setdefault(kind, []).append(row)
    gone: set[int] = set()
    whole = list(kept)
    for kind, rows in by_kind.items():
        if len(rows) == 1 or all(kept[row][0].osm[0] == "n" for row in rows):
            continue
        east, north = metres_per_degree(kept[rows[0]][0].lat)
        flat = [(kept[row][0].lon * float(east), kept[row][0].lat * float(north)) for row in rows]
        within_m = SAME_THING_M if kind in SMALL else SAME_PLACE_M
        pairs = cKDTree(flat).query_pairs(within_m, output_type="ndarray")
        for first, second in sorted(pairs.tolist()):
            one, other = rows[first], rows[second]
            if one in gone or other in gone or not _same(whole[one][0], whole[other][0], kind):
                continue
            kept_row, gone_row = (
                (one, other) if _fuller(whole[one][0], whole[other][0]) else (other, one)
            )
            keeps, goes = whole[kept_row][0], whole[gone_row][0]
            tags = {**goes.tags, **keeps.tags}
            whole[kept_row] = (_Merged(keeps.osm, keeps.lon, keeps.lat, tags), kind)
            gone.add(gone_row)
    return [pair for row, pair in enumerate(whole) if row not in gone]


def _same(one: Tagged, other: Tagged, kind: str) -> bool:
    """Whether two near features of a kind may be one place."""
    names = {one.tags.get("name", ""), other.tags.get("name", "")}
    if len(names - {""}) > 1 or (one.osm[0] == other.osm[0] == "n"):
        return False
    return one.osm[0] != other.osm[0] or (kind in SEVERAL_BUILDINGS and "" in names)


def _fuller(one: Tagged, other: Tagged) -> bool:
    """Whether the first says at least as much as the second; a point knows its door best."""

    def said(feature: Tagged) -> tuple[bool, bool, bool]:
        tags = feature.tags
        return "name" in tags, "opening_hours" in tags, feature.osm[0] == "n"

    return said(one) >= said(other)


def attach(places: Places, streets: Streets, *, reach_m: float = REACH_M) -> Places:
    """Find where each place meets the streets.

    Bridges and tunnels are passed over, as one does not step off them; so are streets that hang
    together with too little else to lead anywhere.

    Parameters
    ----------
    places : Places
        K places.
    streets : Streets
        The network.
    reach_m : float
        Farthest the street may lie in a straight line [m].

    Returns
    -------
    Places
        The same places with `segment`, `fraction` and `access_m`.
    """
    pieces = streets.components()
    allowed = (
        (streets.open_forward | streets.open_backward)
        & ~streets.ways.bridge[streets.way]
        & ~streets.ways.tunnel[streets.way]
        & (pieces.length_m >= min(LEAST_PIECE_M, pieces.length_m.max(initial=0.0)))[
            pieces.label[streets.tail]
        ]
    )
    shape = Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution)
    found = nearest_points(shape, places.lat, places.lon, limit_m=reach_m, allowed=allowed)
    return replace(
        places, segment=found.segment, fraction=found.fraction, access_m=found.distance_m
    )


LONGEST_STOP_MIN = 240.0
"""A stop for water longer than this is taken for a slip [min]."""

GIVES = frozenset({"water", "food", "shelter", "help", "rest"})
TABLES = ("kind", "place")

S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True)
class Edit:
    """What is said of one place, or of all places of a kind; None leaves things as they are.

    Attributes
    ----------
    works : dict of str to float
        Share working by event, 0 to 1.
    stop_s : float or None
        Time at the place [s].
    hours : str or None
        Opening hours in the OSM syntax.
    needs_treatment, needs_key : bool or None
        What its water or tap needs.
    gives : frozenset of str or None
        What it gives.
    """

    works: dict[str, float]
    stop_s: float | None = None
    hours: str | None = None
    needs_treatment: bool | None = None
    needs_key: bool | None = None
    gives: frozenset[str] | None = None

    @property
    def told(self) -> str:
        """What is said, in words."""
        parts = [f"works {percent(share)} under {event}" for event, share in self.works.items()]
        if len(self.works) == len(EVENTS) and len(set(self.works.values())) == 1:
            parts = [f"works {percent(next(iter(self.works.values())))}"]
        if self.stop_s is not None:
            parts.append(f"stop {self.stop_s / S_PER_MIN:g} min")
        if self.hours is not None:
            parts.append(f"hours {self.hours}")
        if self.needs_treatment is not None:
            parts.append("untreated" if self.needs_treatment else "fit to drink")
        if self.needs_key is not None:
            parts.append("needs a key" if self.needs_key else "needs no key")
        if self.gives is not None:
            parts.append("gives " + " and ".join(sorted(self.gives) or ["nothing"]))
        return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Edits:
    """A file of edits.

    Attributes
    ----------
    kind : dict of str to Edit
        By kind of place.
    place : dict of str to Edit
        By number on the map, or name.
    source : str
        The file, for messages.
    """

    kind: dict[str, Edit]
    place: dict[str, Edit]
    source: str


def read_edits(path: Path) -> Edits:
    """Read a file of edits; every fault in it is reported at once.

    Parameters
    ----------
    path : pathlib.Path
        TOML in UTF-8.

    Returns
    -------
    Edits
        Checked.

    Raises
    ------
    InputError
        One line for each fault: key, what was found, what is allowed.
    """
    text = read_text(path, what="a list of places in TOML")
    try:
        tables = parse_toml(text)
    except tomllib.TOMLDecodeError as fault:
        problem = f"not readable as TOML: {str(fault)[0].lower()}{str(fault)[1:]}"
        raise InputError(str(path), problem) from None
    faults: list[tuple[str, str]] = []
    found: dict[str, dict[str, Edit]] = {name: {} for name in TABLES}
    for table, rows in tables.items():
        if table not in TABLES or not isinstance(rows, dict):
            hint = closest(table, TABLES)
            problem = f'unknown table; {hint}write [kind."drinking water"] or [place."n123"]'
            faults.append((f"{path}: {table}", problem))
            continue
        for name, keys in rows.items():
            where = f"{path}: {table}.{shown(name)}"
            if table == "kind" and name not in PLACE_RULES:
                problem = (
                    f"unknown kind; {closest(name, PLACE_RULES)}kinds: {', '.join(PLACE_RULES)}"
                )
                faults.append((where, problem))
            elif not isinstance(keys, dict):
                faults.append((where, f"found {shown(keys)}; a table of keys is needed"))
            else:
                wrong = list(_faults(keys))
                faults += [(f"{where}.{key}", problem) for key, problem in wrong]
                if not wrong:
                    found[table][name] = _edit(keys)
    if faults:
        raise gathered(faults)
    return Edits(found["kind"], found["place"], str(path))


def _number(low: float, high: float) -> Callable[[object], str]:
    """Give a check that a value is a number within bounds."""

    def problem(value: object) -> str:
        right = isinstance(value, int | float) and not isinstance(value, bool)
        if right and low <= float(value) <= high:  # type: ignore[arg-type]  # asked above
            return ""
        return f"found {shown(value)}; a number from {low:g} to {high:g} is needed"

    return problem


def _switch(value: object) -> str:
    return "" if isinstance(value, bool) else f"found {shown(value)}; true or false is needed"


def _hours(value: object) -> str:
    if isinstance(value, str) and value and readable(value):
        return ""
    return f'found {shown(value)}; opening hours in the OSM syntax, e.g. "Mo-Fr 08:00-18:00"'


def _things(value: object) -> str:
    if isinstance(value, list) and all(isinstance(word, str) and word in GIVES for word in value):
        return ""
    return f"found {shown(value)}; a list of words out of {', '.join(sorted(GIVES))}"


def _works(value: object) -> str:
    if not isinstance(value, dict):
        return _number(0.0, 1.0)(value)
    unknown = [event for event in value if event not in EVENTS]
    if unknown:
        hint = closest(unknown[0], EVENTS)
        return f"unknown event {shown(unknown[0])}; {hint}events: {', '.join(EVENTS)}"
    return next(filter(None, map(_number(0.0, 1.0), value.values())), "")


CHECKS: Mapping[str, Callable[[object], str]] = {
    "works": _works,
    "stop_min": _number(0.0, LONGEST_STOP_MIN),
    "hours": _hours,
    "needs_treatment": _switch,
    "needs_key": _switch,
    "gives": _things,
}
"""Keys that may be written, and what is wrong with a value of each; "" is nothing."""


def _faults(keys: Mapping[str, object]) -> Iterator[tuple[str, str]]:
    for key, value in keys.items():
        if key not in CHECKS:
            yield key, f"unknown key; {closest(key, CHECKS)}keys: {', '.join(CHECKS)}"
        elif problem := CHECKS[key](value):
            yield key, problem


def _edit(keys: Mapping[str, object]) -> Edit:
    """Make an edit of checked keys."""
    works = keys.get("works", {})
    shares: dict[str, Any] = works if isinstance(works, dict) else dict.fromkeys(EVENTS, works)
    stop_min, gives = keys.get("stop_min"), keys.get("gives")
    hours, treatment, key = (keys.get(n) for n in ("hours", "needs_treatment", "needs_key"))
    return Edit(
        works={event: float(share) for event, share in shares.items()},
        stop_s=S_PER_MIN * float(stop_min) if isinstance(stop_min, int | float) else None,
        hours=hours if isinstance(hours, str) else None,
        needs_treatment=treatment if isinstance(treatment, bool) else None,
        needs_key=key if isinstance(key, bool) else None,
        gives=frozenset(map(str, gives)) if isinstance(gives, list) else None,
    )


def edited(places: Places, edits: Edits) -> Places:
    """Let what a person knows stand before map and table.

    Parameters
    ----------
    places : Places
        From the map.
    edits : Edits
        Kinds first, then single places.

    Returns
    -------
    Places
        With `edited` saying what was changed.

    Raises
    ------
    InputError
        When a place is named that the map does not have.
    """
    rows_of: dict[str, list[int]] = {}
    for row, (osm, name) in enumerate(zip(places.osm, places.name, strict=True)):
        for key in {osm, name} - {""}:
            rows_of.setdefault(key, []).append(row)
    missing = [
        (
            f"{edits.source}: place.{shown(name)}",
            (
                f"no place of this number or name on the map; {closest(name, rows_of)}"
                'numbers look like "n123", "w45" or "r6"'
            ),
        )
        for name in edits.place
        if name not in rows_of
    ]
    if missing:
        raise gathered(missing)
    by_row: dict[int, list[Edit]] = {}
    for row, kind in enumerate(places.kind):
        if kind in edits.kind:
            edit = edits.kind[kind]
            # Hours said of a kind are for those that have none on the map.
            by_row[row] = [replace(edit, hours=None) if places.hours[row] else edit]
    for name, edit in edits.place.items():
        for row in rows_of[name]:
            by_row.setdefault(row, []).append(edit)
    return _applied(places, by_row)


def _applied(places: Places, by_row: Mapping[int, list[Edit]]) -> Places:
    """Write edits into the columns."""
    hours, gives, told = list(places.hours), list(places.gives), list(places.edited)
    treatment, key = places.needs_treatment.copy(), places.needs_key.copy()
    works, service_s = places.works.copy(), places.service_s.copy()
    always_open = places.always_open.copy()
    for row, edit in ((row, edit) for row, many in by_row.items() for edit in many):
        for event, share in edit.works.items():
            works[row, EVENTS.index(event)] = share
        if edit.stop_s is not None:
            service_s[row] = edit.stop_s
        if edit.hours is not None:
            hours[row], always_open[row] = edit.hours, False
        if edit.needs_treatment is not None:
            treatment[row] = edit.needs_treatment
        if edit.needs_key is not None:
            key[row] = edit.needs_key
        if edit.gives is not None:
            gives[row] = edit.gives
        told[row] = "; ".join(filter(None, [told[row], edit.told]))
    return replace(
        places,
        hours=tuple(hours),
        gives=tuple(gives),
        needs_treatment=np.asarray(treatment),
        needs_key=np.asarray(key),
        always_open=always_open,
        works=works,
        service_s=service_s,
        edited=tuple(told),
    )


BANK_M = 60.0
"""Water farther than this from a street is not looked for [m]: the ground between is unknown."""

STRETCH_M = 500.0
"""Along one stretch of water of this length the point nearest to a street is enough [m]."""

SAMPLE_M = 20.0
"""Distance between the points of a shore that are tried [m]."""


class DrawnLine(Protocol):
    """A line of the map: tags and points."""

    @property
    def tags(self) -> Mapping[str, str]:
        """OSM tags."""

    @property
    def lon(self) -> Floats:
        """Longitudes [deg]."""

    @property
    def lat(self) -> Floats:
        """Latitudes [deg]."""


class WaterPoint(NamedTuple):
    """A point on a shore, as a feature for `simulator.ground.places.places_from`.

    Attributes
    ----------
    osm : str
        "", as the line's number is not kept.
    lon, lat : float
        Position [deg].
    tags : mapping of str to str
        OSM tags of the line.
    """

    osm: str
    lon: float
    lat: float
    tags: Mapping[str, str]


def open_water(
    lines: Iterable[DrawnLine],
    streets: Streets,
    *,
    bank_m: float = BANK_M,
    stretch_m: float = STRETCH_M,
) -> tuple[WaterPoint, ...]:
    """Find where streets come near rivers, streams and lakes.

    Parameters
    ----------
    lines : iterable of DrawnLine
        Lines of the map; those that are no usable water are passed over.
    streets : Streets
        The network. Bridges and tunnels do not count: one cannot reach the water from them.
    bank_m : float
        Farthest the street may lie from the water [m].
    stretch_m : float
        One point is given for each stretch of this length [m].

    Returns
    -------
    tuple of WaterPoint
        In the order of the lines.
    """
    waters = [line for line in lines if match(line.tags) in OPEN_WATER and len(line.lon)]
    if not waters:
        return ()
    sampled = [_sampled(line.lon, line.lat) for line in waters]
    size = [along.size for _, _, along in sampled]
    lon, lat, along = (np.concatenate(column) for column in zip(*sampled, strict=True))
    owner = np.repeat(np.arange(len(waters)), size)

    way = streets.way
    ground = ~(streets.ways.bridge[way] | streets.ways.tunnel[way])
    ground &= streets.open_forward | streets.open_backward
    shape = Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution)
    away_m = nearest_points(shape, lat, lon, limit_m=bank_m, allowed=ground).distance_m

    near = np.flatnonzero(np.isfinite(away_m))
    stretch = np.floor(along[near] / stretch_m)
    order = np.lexsort((away_m[near], stretch, owner[near]))
    near, stretch = near[order], stretch[order]
    first = np.ones(near.size, dtype=np.bool_)
    first[1:] = (owner[near[1:]] != owner[near[:-1]]) | (stretch[1:] != stretch[:-1])
    return tuple(
        WaterPoint("", float(lon[row]), float(lat[row]), waters[int(owner[row])].tags)
        for row in near[first]
    )


def _sampled(lon: Floats, lat: Floats) -> tuple[Floats, Floats, Floats]:
    """Points along a line, and how far along they lie [m]."""
    east, north = metres_per_degree(lat[:1])
    length = np.hypot(np.diff(lon) * east, np.diff(lat) * north)
    along = np.concatenate(([0.0], np.cumsum(length)))
    count = max(int(np.ceil(along[-1] / SAMPLE_M)), 1)
    at = np.linspace(0.0, along[-1], count + 1)
    return np.interp(at, along, lon), np.interp(at, along, lat), at
