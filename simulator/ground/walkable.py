"""Which row of a table of tags fits a feature."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray


def words(text: str) -> frozenset[str]:
    """Split a line of words into a set, so that tables stay readable."""
    return frozenset(text.split())


SURFACES = ("paved", "compacted", "gravel", "grass", "ground", "sand", "mud", "rock", "unknown")
"""What is underfoot; the int8 code of a surface is its position here."""

HIGHWAYS = (
    *("other", "motorway", "motorway_link", "trunk", "trunk_link", "primary", "primary_link"),
    *("secondary", "secondary_link", "tertiary", "tertiary_link", "unclassified", "residential"),
    *("living_street", "service", "road", "track", "pedestrian", "footway", "path", "steps"),
    *("cycleway", "bridleway", "corridor", "crossing", "platform", "pier", "busway"),
)
"""Kinds of way; the int8 code of a kind is its position here, and "other" is any kind not named."""

SMOOTHNESS = (
    *("unknown", "excellent", "good", "intermediate", "bad", "very_bad", "horrible"),
    *("very_horrible", "impassable"),
)
"""Usability for wheels (key ``smoothness``), best to worst after "unknown"; codes are positions."""

WALKED_CLASSES = frozenset(HIGHWAYS) - {"other", "motorway", "motorway_link", "busway", "pier"}
"""Values of ``highway`` that are walked when nothing forbids it."""

GRANTS = words(
    "yes designated official permissive public allowed destination customers discouraged"
)
"""Values of ``foot`` and ``access`` that let a walker pass."""

DENIALS = words(
    "no private permit residents resident employees staff members military emergency "
    "delivery agricultural forestry agricultural;forestry restricted use_sidepath "
    "none"
)
"""Values of ``foot`` and ``access`` that keep a walker out."""

ANY: frozenset[str] = frozenset()
"""Stands for every value of a key."""


class WalkRule(NamedTuple):
    """One row of the law.

    Attributes
    ----------
    effect : {"refuse", "allow", "note"}
        What happens when the key has one of the values.
    key : str
        OSM key.
    values : frozenset of str
        Values the rule looks for; empty means any value.
    reason : str
        Why, in words for the person who asks.
    unless : tuple of str
        Keys whose presence silences the rule.
    """

    effect: Literal["refuse", "allow", "note"]
    key: str
    values: frozenset[str]
    reason: str
    unless: tuple[str, ...] = ()

    @property
    def wiki(self) -> str:
        """The OpenStreetMap wiki page that defines the key."""
        return f"https://wiki.openstreetmap.org/wiki/Key:{self.key}"

    def applies(self, tags: Mapping[str, str]) -> bool:
        """Whether the tags meet this rule."""
        value = tags.get(self.key)
        if value is None or (self.values and value not in self.values):
            return False
        return not any(key in tags for key in self.unless)


RULES: tuple[WalkRule, ...] = (
    # What a walker should know, whatever is decided below.
    WalkRule("note", "foot:conditional", ANY, "walking is allowed or barred at certain times"),
    WalkRule("note", "access:conditional", ANY, "open or barred at certain times", ("foot",)),
    WalkRule("note", "opening_hours", ANY, "may be shut outside these hours"),
    WalkRule(
        "note", "foot", words("destination customers"), "meant for people with business there"
    ),
    WalkRule("note", "foot", words("discouraged"), "signs advise against walking here"),
    WalkRule("note", "access", words("destination customers"), "meant for visitors", ("foot",)),
    WalkRule("note", "highway", words("cycleway"), "some countries bar walkers here", ("foot",)),
    WalkRule("note", "ford", words("yes stepping_stones boat"), "crosses water without a bridge"),
    WalkRule("note", "flood_prone", words("yes"), "floods"),
    WalkRule("note", "tidal", words("yes"), "under water at high tide"),
    WalkRule("note", "hazard", ANY, "marked hazard"),
    WalkRule("note", "disused", words("yes"), "out of use"),
    WalkRule(
        "note", "sac_scale", words("demanding_mountain_hiking"), "steep, exposed mountain path"
    ),
    WalkRule("note", "trail_visibility", words("bad horrible no"), "hardly visible on the ground"),
    # Ways that are not there, or that are no walk at all: no permission changes that.
    WalkRule(
        "refuse",
        "highway",
        words("construction proposed planned abandoned disused razed demolished removed no"),
        "not built, closed for works, or gone",
    ),
    *(
        WalkRule("refuse", key, words("yes"), "not built, closed for works, or gone")
        for key in ("construction", "proposed", "abandoned", "razed", "demolished")
    ),
    WalkRule("refuse", "route", words("ferry"), "a ferry is a boat, not a walk, and may not sail"),
    WalkRule("refuse", "highway", words("elevator"), "a lift may stand still without power"),
    WalkRule("refuse", "highway", words("via_ferrata ladder"), "needs climbing"),
    WalkRule(
        "refuse",
        "sac_scale",
        words("alpine_hiking demanding_alpine_hiking difficult_alpine_hiking"),
        "needs hands, and skill in the mountains",
    ),
    # What is said about walkers comes before what is said about everybody or follows from the kind.
    WalkRule("refuse", "foot", DENIALS, "closed to walkers"),
    WalkRule("allow", "foot", GRANTS, "open to walkers"),
    WalkRule("refuse", "motorroad", words("yes"), "a road for fast motor traffic only"),
    WalkRule("refuse", "access", DENIALS, "closed to the public"),
    WalkRule("refuse", "highway", words("motorway motorway_link"), "a motorway"),
    WalkRule("refuse", "highway", words("busway bus_guideway"), "a road for buses only"),
    WalkRule("refuse", "highway", words("raceway escape emergency_bay"), "not a public way"),
    WalkRule("refuse", "service", words("driveway"), "a private driveway", ("access",)),
    WalkRule("allow", "highway", WALKED_CLASSES, "a kind of way that is walked"),
    WalkRule("allow", "man_made", words("pier"), "a pier"),
    WalkRule("allow", "railway", words("platform"), "a platform"),
    WalkRule("allow", "public_transport", words("platform"), "a platform"),
)
"""The walking rules in order: notes gather, the first "refuse" or "allow" decides."""

UNDERFOOT: dict[str, str] = {
    **dict.fromkeys(
        words(
            "paved asphalt concrete concrete:plates concrete:lanes paving_stones "
            "paving_stones:lanes sett cobblestone cobblestone:flattened unhewn_cobblestone "
            "chipseal metal metal_grid wood brick bricks tiles rubber tartan acrylic plastic"
        ),
        "paved",
    ),
    **dict.fromkeys(words("compacted fine_gravel grass_paver"), "compacted"),
    **dict.fromkeys(words("gravel pebblestone shells ballast unpaved"), "gravel"),
    **dict.fromkeys(words("grass artificial_turf"), "grass"),
    **dict.fromkeys(words("ground dirt earth soil clay woodchips"), "ground"),
    **dict.fromkeys(words("rock rocks stone bare_rock stepping_stones scree"), "rock"),
    "sand": "sand",
    "mud": "mud",
}
"""Value of ``surface`` -> name in :data:`SURFACES`; "unpaved" says little, gravel is assumed."""

TRACK_UNDERFOOT = {
    "grade1": "paved",
    "grade2": "gravel",
    "grade3": "gravel",
    "grade4": "ground",
    "grade5": "ground",
}
"""Value of ``tracktype`` -> surface, where ``surface`` itself is missing (wiki Key:tracktype)."""

LIT = {
    **dict.fromkeys(words("yes 24/7 automatic limited interval dusk-dawn sunset-sunrise"), 1),
    **dict.fromkeys(words("no disused"), 0),
}
"""Value of ``lit`` -> 1 lit, 0 unlit; anything else is -1, unknown."""

BUSY = words(
    "motorway motorway_link trunk trunk_link primary primary_link secondary secondary_link"
)
"""Kinds with fast traffic; without a mapped sidewalk the walker is beside it."""

SHARED = words("tertiary tertiary_link unclassified residential living_street service road other")
"""Kinds shared with slower or lighter motor traffic."""

FAST_KM_H = 70.0
"""At this speed limit [km/h] a shared road without a sidewalk counts as busy; common practice."""

KM_H_PER_MPH = 1.609344
"""Kilometres in an international mile, exact by definition."""

NEVER_SHUT = BUSY | words("tertiary tertiary_link unclassified residential")
"""Through roads keep no hours: where one has some, those of a shop have slipped onto it."""

SIDEWALK_KEYS = ("sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right")
"""Keys that say whether a sidewalk runs along the road (wiki Key:sidewalk)."""

SHOULDER_KEYS = ("shoulder", "shoulder:both", "shoulder:left", "shoulder:right")
"""Keys that say whether a shoulder runs along the road (wiki Key:shoulder)."""

KEYS = frozenset(
    {rule.key for rule in RULES}
    | {key for rule in RULES for key in rule.unless}
    | set(SIDEWALK_KEYS)
    | words("oneway oneway:foot foot:backward foot:forward conveying surface tracktype")
    | words("smoothness lit bridge tunnel layer maxspeed lanes area motorroad")
    | set(SHOULDER_KEYS)
)
"""Every key that can change a verdict; tags outside it may be ignored when verdicts are reused."""


@dataclass(frozen=True, slots=True)
class Walkability:
    """What the tags of one way mean to a walker.

    Attributes
    ----------
    walkable : bool
        May be walked in at least one direction.
    reason : str
        Why not, when it may not be walked; else "".
    notes : tuple of str
        What a walker should know about a way that is kept, e.g. closing times.
    forward, backward : bool
        May be walked in, against the direction of drawing.
    highway : str
        Kind of way, one of :data:`HIGHWAYS`.
    surface : str
        One of :data:`SURFACES`.
    smoothness : str
        One of :data:`SMOOTHNESS`.
    lit : int
        -1 unknown, 0 no, 1 yes.
    steps, bridge, tunnel : bool
        A stairway, on a bridge, in a tunnel.
    layer : int
        Vertical order at crossings, 0 at ground level.
    traffic : int
        Motor traffic beside the walker: 0 none, 1 low or behind a sidewalk, 2 high.
    sidewalk, shoulder, motorroad : bool
        A sidewalk, a shoulder, signs for motor traffic only are mapped.
    maxspeed_km_h : float
        Speed limit [km/h], 0 where none is mapped.
    lanes : int
        Lanes of both directions together, 0 where not mapped.
    """

    walkable: bool
    reason: str
    notes: tuple[str, ...]
    forward: bool
    backward: bool
    highway: str
    surface: str
    smoothness: str
    lit: int
    steps: bool
    bridge: bool
    tunnel: bool
    layer: int
    traffic: int
    sidewalk: bool
    shoulder: bool
    motorroad: bool
    maxspeed_km_h: float
    lanes: int


def judge(tags: Mapping[str, str]) -> Walkability:
    """Decide what a way means to a walker.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one way.

    Returns
    -------
    Walkability
        Whether it may be walked and why not, in which directions, and what it is like.

    Examples
    --------
    >>> judge({"highway": "cycleway", "foot": "designated"}).walkable
    True
    >>> judge({"highway": "footway", "access": "private"}).reason
    'access=private: closed to the public'
    """
    reason, notes = _decide(tags)
    forward, backward = _directions(tags)
    if not reason and not (forward or backward):
        reason = "closed to walkers in both directions"
    kind = _kind(tags)
    sidewalk = any(tags.get(key) in _PRESENT_SIDEWALK for key in SIDEWALK_KEYS)
    smoothness = tags.get("smoothness", "unknown")
    maxspeed_km_h = _maxspeed_km_h(tags)
    return Walkability(
        walkable=not reason,
        reason=reason,
        notes=notes,
        forward=forward,
        backward=backward,
        highway=kind,
        surface=_surface(tags),
        smoothness=smoothness if smoothness in SMOOTHNESS else "unknown",
        lit=LIT.get(tags.get("lit", ""), -1),
        steps=tags.get("highway") == "steps",
        bridge=tags.get("bridge", "no") != "no",
        tunnel=tags.get("tunnel", "no") not in {"no", "culvert"},
        layer=_layer(tags),
        traffic=_traffic(kind, sidewalk=sidewalk, fast=maxspeed_km_h >= FAST_KM_H),
        sidewalk=sidewalk,
        shoulder=any(tags.get(key) in _PRESENT_SIDEWALK for key in SHOULDER_KEYS),
        motorroad=tags.get("motorroad") == "yes",
        maxspeed_km_h=maxspeed_km_h,
        lanes=_lanes(tags),
    )


_PRESENT_SIDEWALK = words("both left right yes separate")
_TRUE = words("yes true 1")
_MOST_LANES = 20  # more is a slip of the hand
_FASTEST_KM_H = 300.0  # the same
_DEEPEST = 100  # layers run from -5 to 5 by custom; beyond this a value is a slip


def _decide(tags: Mapping[str, str]) -> tuple[str, tuple[str, ...]]:
    notes = []
    for rule in RULES:
        if not rule.applies(tags):
            continue
        if rule.key == "opening_hours" and tags.get("highway") in NEVER_SHUT:
            continue
        if rule.effect == "note":
            notes.append(f"{rule.key}={tags[rule.key]}: {rule.reason}")
        elif rule.effect == "allow":
            return "", tuple(notes)
        else:
            return f"{rule.key}={tags[rule.key]}: {rule.reason}", tuple(notes)
    return f"highway={tags.get('highway', '')}: not a kind of way that is walked", tuple(notes)


def _directions(tags: Mapping[str, str]) -> tuple[bool, bool]:
    """Foot one-ways; a plain ``oneway`` binds vehicles, and walkers only on moving stairs."""
    forward = tags.get("foot:forward", "yes") not in DENIALS
    backward = tags.get("foot:backward", "yes") not in DENIALS
    oneway = tags.get("oneway:foot", "no")
    conveying = tags.get("conveying", "no")
    if conveying in {"forward", "backward"}:
        oneway = "yes" if conveying == "forward" else "-1"
    elif conveying not in {"no", "reversible"} and oneway == "no":
        oneway = tags.get("oneway", "no")
    if oneway in _TRUE:
        backward = False
    elif oneway == "-1":
        forward = False
    return forward, backward


def _kind(tags: Mapping[str, str]) -> str:
    highway = tags.get("highway")
    if highway is not None:
        return highway if highway in HIGHWAYS else "other"
    if tags.get("man_made") == "pier":
        return "pier"
    if "platform" in {tags.get("railway"), tags.get("public_transport")}:
        return "platform"
    return "other"


def _surface(tags: Mapping[str, str]) -> str:
    """Worst of the listed surfaces, else what the track grade says, else unknown."""
    named = [UNDERFOOT.get(value.strip()) for value in tags.get("surface", "").split(";")]
    known = [name for name in named if name is not None]
    if known:
        return max(known, key=SURFACES.index)
    return TRACK_UNDERFOOT.get(tags.get("tracktype", ""), "unknown")


def _layer(tags: Mapping[str, str]) -> int:
    try:
        layer = int(float(tags.get("layer", "0")))
    except (ValueError, OverflowError):
        return 0
    return layer if abs(layer) <= _DEEPEST else 0


def _maxspeed_km_h(tags: Mapping[str, str]) -> float:
    """Speed limit in km/h, 0 when the tag is missing or not a number."""
    text = tags.get("maxspeed", "")
    number, _, unit = text.partition(" ")
    try:
        speed = float(number)
    except ValueError:
        return FAST_KM_H if text.endswith(("rural", "trunk")) else 0.0
    speed = speed * KM_H_PER_MPH if unit == "mph" else speed
    return speed if 0.0 < speed <= _FASTEST_KM_H else 0.0


def _lanes(tags: Mapping[str, str]) -> int:
    text = tags.get("lanes", "")
    lanes = int(text) if text.isascii() and text.isdigit() else 0
    return lanes if lanes <= _MOST_LANES else 0


def _traffic(kind: str, *, sidewalk: bool, fast: bool) -> int:
    if kind in BUSY or (kind in SHARED and fast):
        return 1 if sidewalk else 2
    return 1 if kind in SHARED else 0


SOLID = words("wall fence hedge city_wall retaining_wall ditch handrail_fence")
"""Values of ``barrier`` that stop a walker unless the tags say otherwise."""

GATES = words(
    "gate sliding_gate swing_gate lift_gate hampshire_gate wicket_gate kissing_gate "
    "turnstile full-height_turnstile sally_port door toll_booth border_control "
    "checkpoint entrance"
)
"""Values of ``barrier`` that let a walker through unless locked or closed to the public.

At every other barrier (bollard, block, chain, stile, kerb …) ``access`` speaks of vehicles, and
only ``foot`` speaks of walkers.
"""

SIGNAL_CYCLE_S = 90.0
"""Assumed length of a signal cycle [s]; common practice."""

SIGNAL_GREEN_S = 20.0
"""Assumed part of the cycle in which a walker may start [s]; common practice."""

SIGNAL_DELAY_S = (SIGNAL_CYCLE_S - SIGNAL_GREEN_S) ** 2 / (2.0 * SIGNAL_CYCLE_S)
"""Mean wait of a walker who arrives at random [s]: (C - g)^2 / 2C.

Highway Capacity Manual, pedestrian delay at signalised crossings (from memory).
"""

CROSSING_DELAY_S = {"marked": 3.0, "unmarked": 8.0, "railway": 10.0}
"""Mean wait where no signal helps [s]: assumed, no source; more traffic means more."""

_MARKED = words("marked zebra uncontrolled")


def barrier_blocks(tags: Mapping[str, str]) -> str | None:
    """Say why a walker cannot pass a point of a way.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one node.

    Returns
    -------
    str or None
        The reason, or None when a walker can pass.

    Examples
    --------
    >>> barrier_blocks({"barrier": "gate", "access": "private"})
    'barrier=gate, access=private'
    >>> barrier_blocks({"barrier": "bollard", "access": "no"}) is None
    True
    """
    barrier, foot, access = (tags.get(key) for key in ("barrier", "foot", "access"))
    if barrier is None or foot in GRANTS:
        return None
    if foot in DENIALS:
        return f"barrier={barrier}, foot={foot}"
    if barrier in GATES and access in DENIALS:
        return f"barrier={barrier}, access={access}"
    if barrier in GATES and tags.get("locked") == "yes":
        return f"barrier={barrier}, locked=yes"
    return f"barrier={barrier}" if barrier in SOLID and access not in GRANTS else None


def crossing_delay_s(tags: Mapping[str, str]) -> float:
    """Mean wait at a point where the way crosses traffic.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one node.

    Returns
    -------
    float
        Wait [s]; 0 where nothing is crossed. An assumption, not a measurement: without power
        the signals are dark and traffic decides.

    Examples
    --------
    >>> round(crossing_delay_s({"highway": "crossing", "crossing": "traffic_signals"}), 1)
    27.2
    """
    highway = tags.get("highway")
    crossing = tags.get("crossing")
    if highway == "traffic_signals" or crossing == "traffic_signals":
        return SIGNAL_DELAY_S
    if highway == "crossing":
        return CROSSING_DELAY_S["marked" if crossing in _MARKED else "unmarked"]
    if tags.get("railway") in {"level_crossing", "crossing"}:
        return CROSSING_DELAY_S["railway"]
    return 0.0


@dataclass(frozen=True, slots=True)
class Ways:
    """The W kept ways, one scalar a column.

    Attributes
    ----------
    osm_id : (W,) int64
        Number of the OSM way.
    highway : (W,) int8
        Kind of way, position in :data:`simulator.ground.walkable.HIGHWAYS`.
    name : tuple of W str
        Name, else reference number, else "".
    bridge_name : tuple of W str
        Name of the bridge or tunnel itself, "" unknown.
    surface : (W,) int8
        Position in :data:`simulator.ground.walkable.SURFACES`.
    smoothness : (W,) int8
        Position in :data:`simulator.ground.walkable.SMOOTHNESS`.
    lit : (W,) int8
        -1 unknown, 0 no, 1 yes.
    steps, bridge, tunnel, sidewalk, shoulder, motorroad : (W,) bool
        A stairway, on a bridge, in a tunnel, with a sidewalk, with a shoulder mapped, signed for
        motor traffic only.
    maxspeed_km_h : (W,) float32
        Speed limit [km/h], 0 where none is mapped.
    lanes : (W,) int8
        Lanes of both directions together, 0 where not mapped.
    layer : (W,) int8
        Vertical order, 0 at ground level.
    traffic : (W,) int8
        Motor traffic beside the walker: 0 none, 1 low, 2 high.
    forward, backward : (W,) bool
        May be walked in, against the direction of drawing.
    note : tuple of W str
        What a walker should know (closing times, fords …), "" nothing.
    aliases : tuple of W str
        Other names and numbers people use, separated by ";", "" none.
    """

    osm_id: NDArray[np.int64]
    highway: NDArray[np.int8]
    name: tuple[str, ...]
    bridge_name: tuple[str, ...]
    surface: NDArray[np.int8]
    smoothness: NDArray[np.int8]
    lit: NDArray[np.int8]
    steps: NDArray[np.bool_]
    bridge: NDArray[np.bool_]
    tunnel: NDArray[np.bool_]
    sidewalk: NDArray[np.bool_]
    shoulder: NDArray[np.bool_]
    motorroad: NDArray[np.bool_]
    maxspeed_km_h: NDArray[np.float32]
    lanes: NDArray[np.int8]
    layer: NDArray[np.int8]
    traffic: NDArray[np.int8]
    forward: NDArray[np.bool_]
    backward: NDArray[np.bool_]
    note: tuple[str, ...]
    aliases: tuple[str, ...]

    def __len__(self) -> int:
        return self.osm_id.size

    def take(self, rows: NDArray[np.int64]) -> Ways:
        """Keep some ways."""
        columns: dict[str, Any] = {}
        for column in self.__slots__:
            values = getattr(self, column)
            if isinstance(values, tuple):
                columns[column] = tuple(values[row] for row in rows.tolist())
            else:
                columns[column] = values[rows]
        return Ways(**columns)


@dataclass(frozen=True, slots=True)
class Rejected:
    """The ways that may not be walked, and why.

    Attributes
    ----------
    osm_id : (R,) int64
        Number of the OSM way.
    highway : tuple of R str
        Value of ``highway``, "" none.
    name : tuple of R str
        Name, "" unknown.
    reason : tuple of R str
        Tag that decided, and why.
    """

    osm_id: NDArray[np.int64]
    highway: tuple[str, ...]
    name: tuple[str, ...]
    reason: tuple[str, ...]

    def __len__(self) -> int:
        return self.osm_id.size


def name_of(tags: Mapping[str, str]) -> str:
    """Name a way as a person would look for it."""
    return tags.get("name") or tags.get("ref") or ""


ALIAS_KEYS = (
    *("loc_name", "alt_name", "short_name", "official_name", "old_name", "ref"),
    *("bridge:ref", "int_ref", "name:en"),
)
"""Keys of the other names that people use for a way (wiki Key:name, "Variations")."""
_ALIASED = frozenset(ALIAS_KEYS)


def aliases_of(tags: Mapping[str, str]) -> str:
    """Give the other names of a way, separated by ";"."""
    if _ALIASED.isdisjoint(tags):
        return ""
    found = (name.strip() for key in ALIAS_KEYS for name in tags.get(key, "").split(";"))
    return ";".join(name for name in dict.fromkeys(found) if name and name != name_of(tags))


def bridge_name_of(tags: Mapping[str, str]) -> str:
    """Name the bridge or tunnel that carries a way."""
    return tags.get("bridge:name") or tags.get("tunnel:name") or ""


def collect_ways(
    osm_id: Sequence[int],
    verdicts: Sequence[Walkability],
    names: Sequence[str],
    bridge_names: Sequence[str],
    aliases: Sequence[str],
) -> Ways:
    """Turn verdicts into columns."""
    highway = {name: code for code, name in enumerate(HIGHWAYS)}
    surface = {name: code for code, name in enumerate(SURFACES)}
    smoothness = {name: code for code, name in enumerate(SMOOTHNESS)}
    return Ways(
        osm_id=np.array(osm_id, np.int64),
        highway=np.array([highway[v.highway] for v in verdicts], np.int8),
        name=tuple(names),
        bridge_name=tuple(bridge_names),
        surface=np.array([surface[v.surface] for v in verdicts], np.int8),
        smoothness=np.array([smoothness[v.smoothness] for v in verdicts], np.int8),
        lit=np.array([v.lit for v in verdicts], np.int8),
        steps=np.array([v.steps for v in verdicts], bool),
        bridge=np.array([v.bridge for v in verdicts], bool),
        tunnel=np.array([v.tunnel for v in verdicts], bool),
        sidewalk=np.array([v.sidewalk for v in verdicts], bool),
        shoulder=np.array([v.shoulder for v in verdicts], bool),
        motorroad=np.array([v.motorroad for v in verdicts], bool),
        maxspeed_km_h=np.array([v.maxspeed_km_h for v in verdicts], np.float32),
        lanes=np.array([v.lanes for v in verdicts], np.int8),
        layer=np.array([v.layer for v in verdicts], np.int8),
        traffic=np.array([v.traffic for v in verdicts], np.int8),
        forward=np.array([v.forward for v in verdicts], bool),
        backward=np.array([v.backward for v in verdicts], bool),
        note=tuple("; ".join(v.notes) for v in verdicts),
        aliases=tuple(aliases),
    )


def collect_rejected(rows: Sequence[tuple[int, str, str, str]]) -> Rejected:
    """Turn refused ways into columns."""
    return Rejected(
        osm_id=np.array([row[0] for row in rows], np.int64),
        highway=tuple(row[1] for row in rows),
        name=tuple(row[2] for row in rows),
        reason=tuple(row[3] for row in rows),
    )


ATTRIBUTION = "Map data © OpenStreetMap contributors, ODbL 1.0"
"""Credit that goes with every OpenStreetMap extract (openstreetmap.org/copyright)."""

INVENTED_ATTRIBUTION = "Invented place: no real map data"
"""Credit of an extract whose header says that its generator invented it."""

PLACE_KEYS = words(
    "amenity shop emergency man_made natural tourism drinking_water leisure healthcare office "
    "social_facility public_transport"
)
"""Keys of features that may be places to refill, shelter or get help."""

PLACE_GROUNDS = words("cemetery")
"""Values of ``landuse`` that are places; all other ground is not."""

NO_PLACES = {"natural": words("tree tree_row wood water coastline scrub grassland bare_rock")}
"""Values of these keys that alone make no place: too many, or drawn as lines."""

PUBLIC_BUILDINGS = words(
    "church chapel mosque synagogue temple cathedral school university hospital civic public "
    "government train_station transportation hotel fire_station community_centre sports_hall"
)
"""Values of ``building`` that may shelter a walker even without a name."""

DRAWN = {
    "waterway": words("river stream canal riverbank drain ditch"),
    # Not walked, but bridges pass over them.
    "highway": words("motorway motorway_link trunk trunk_link"),
    "natural": words("water coastline"),
    "leisure": words("park"),
    "landuse": words("forest"),
    "railway": words("rail light_rail tram narrow_gauge"),
}
"""Ways kept as lines, to draw the map and to find open water."""

STREET_TAGS = {
    "route": words("ferry"),
    "man_made": words("pier"),
    "railway": words("platform"),
    "public_transport": words("platform"),
}
"""Ways without ``highway`` that a walker may ask about."""

Wanted = Callable[[Mapping[str, str]], bool]
"""Given the tags of a point or way, whether to keep it as a place."""


def may_be_place(tags: Mapping[str, str]) -> bool:
    """Decide whether a feature may be a place to refill, shelter or get help."""
    building = tags.get("building")
    if building is not None and (building in PUBLIC_BUILDINGS or "name" in tags):
        return True
    if tags.get("landuse") in PLACE_GROUNDS:
        return True
    return any(tags[key] not in NO_PLACES.get(key, ()) for key in PLACE_KEYS.intersection(tags))


def has_any(tags: Mapping[str, str], table: Mapping[str, frozenset[str]]) -> bool:
    """Tell whether a feature has one of the tags of a table."""
    return any(tags[key] in table[key] for key in table.keys() & tags.keys())


Condition = tuple[str, frozenset[str]]


def conditions(text: str) -> tuple[Condition, ...]:
    """Read one pattern of a table.

    Parameters
    ----------
    text : str
        ``key=value|value``, several joined by `` + ``; ``*`` is any value but "no".

    Returns
    -------
    tuple of (str, frozenset of str)
        Keys and the values that fit; all must hold.

    Examples
    --------
    >>> conditions("amenity=shelter + covered=*")
    (('amenity', frozenset({'shelter'})), ('covered', frozenset({'*'})))
    """
    pairs = (part.split("=") for part in text.split(" + "))
    return tuple((key, frozenset(values.split("|"))) for key, values in pairs)


def holds(tags: Mapping[str, str], condition: Condition) -> bool:
    """Decide whether one condition holds; a list such as ``food;drinks`` fits by any part."""
    key, values = condition
    found = tags.get(key)
    if found is None:
        return False
    if found in values:
        return True
    if "*" in values and found != "no":
        return True
    return ";" in found and not values.isdisjoint(found.replace(" ", "").split(";"))


class FirstFit:
    """The first row of a table that fits a feature.

    Parameters
    ----------
    table : mapping of str to tuple of str
        Patterns by name, in order of preference.
    """

    def __init__(self, table: Mapping[str, tuple[str, ...]]) -> None:
        self._by_key: dict[str, list[tuple[int, str, tuple[Condition, ...]]]] = {}
        for rank, (name, patterns) in enumerate(table.items()):
            for pattern in patterns:
                needed = conditions(pattern)
                self._by_key.setdefault(needed[0][0], []).append((rank, name, needed))

    def __call__(self, tags: Mapping[str, str]) -> str | None:
        """Name the first row that fits."""
        fitting = [
            (rank, name)
            for key in tags
            for rank, name, needed in self._by_key.get(key, ())
            if all(holds(tags, condition) for condition in needed)
        ]
        return min(fitting)[1] if fitting else None
