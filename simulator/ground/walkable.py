"""OSM tags to walking: may one walk here, why not, and what is underfoot.

Pure functions of tags. :data:`RULES` is the whole law, read from top to bottom: notes gather, and
the first rule that refuses or allows decides. Each rule names the OSM key it follows; the meaning
of a key is on the OpenStreetMap wiki page of that key (``Rule.wiki``). Local law differs from
place to place and the map may be wrong: signs on the ground and local authorities come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple


def words(text: str) -> frozenset[str]:
    """Split a line of words into a set, so that tables stay readable.

    Parameters
    ----------
    text : str
        Words separated by blanks.

    Returns
    -------
    frozenset of str
        The words.
    """
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


class Rule(NamedTuple):
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
        """Whether the tags meet this rule.

        Parameters
        ----------
        tags : mapping of str to str
            Tags of one way.

        Returns
        -------
        bool
            True when the key has one of the values and no silencing key is present.
        """
        value = tags.get(self.key)
        if value is None or (self.values and value not in self.values):
            return False
        return not any(key in tags for key in self.unless)


RULES: tuple[Rule, ...] = (
    # What a walker should know, whatever is decided below.
    Rule("note", "foot:conditional", ANY, "walking is allowed or barred at certain times"),
    Rule("note", "access:conditional", ANY, "open or barred at certain times", ("foot",)),
    Rule("note", "opening_hours", ANY, "may be shut outside these hours"),
    Rule("note", "foot", words("destination customers"), "meant for people with business there"),
    Rule("note", "foot", words("discouraged"), "signs advise against walking here"),
    Rule("note", "access", words("destination customers"), "meant for visitors", ("foot",)),
    Rule("note", "highway", words("cycleway"), "some countries bar walkers here", ("foot",)),
    Rule("note", "ford", words("yes stepping_stones boat"), "crosses water without a bridge"),
    Rule("note", "flood_prone", words("yes"), "floods"),
    Rule("note", "tidal", words("yes"), "under water at high tide"),
    Rule("note", "hazard", ANY, "marked hazard"),
    Rule("note", "disused", words("yes"), "out of use"),
    Rule("note", "sac_scale", words("demanding_mountain_hiking"), "steep, exposed mountain path"),
    Rule("note", "trail_visibility", words("bad horrible no"), "hardly visible on the ground"),
    # Ways that are not there, or that are no walk at all: no permission changes that.
    Rule(
        "refuse",
        "highway",
        words("construction proposed planned abandoned disused razed demolished removed no"),
        "not built, closed for works, or gone",
    ),
    *(
        Rule("refuse", key, words("yes"), "not built, closed for works, or gone")
        for key in ("construction", "proposed", "abandoned", "razed", "demolished")
    ),
    Rule("refuse", "route", words("ferry"), "a ferry is a boat, not a walk, and may not sail"),
    Rule("refuse", "highway", words("elevator"), "a lift may stand still without power"),
    Rule("refuse", "highway", words("via_ferrata ladder"), "needs climbing"),
    Rule(
        "refuse",
        "sac_scale",
        words("alpine_hiking demanding_alpine_hiking difficult_alpine_hiking"),
        "needs hands, and skill in the mountains",
    ),
    # What is said about walkers comes before what is said about everybody or follows from the kind.
    Rule("refuse", "foot", DENIALS, "closed to walkers"),
    Rule("allow", "foot", GRANTS, "open to walkers"),
    Rule("refuse", "motorroad", words("yes"), "a road for fast motor traffic only"),
    Rule("refuse", "access", DENIALS, "closed to the public"),
    Rule("refuse", "highway", words("motorway motorway_link"), "a motorway"),
    Rule("refuse", "highway", words("busway bus_guideway"), "a road for buses only"),
    Rule("refuse", "highway", words("raceway escape emergency_bay"), "not a public way"),
    Rule("refuse", "service", words("driveway"), "a private driveway", ("access",)),
    Rule("allow", "highway", WALKED_CLASSES, "a kind of way that is walked"),
    Rule("allow", "man_made", words("pier"), "a pier"),
    Rule("allow", "railway", words("platform"), "a platform"),
    Rule("allow", "public_transport", words("platform"), "a platform"),
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

SIDEWALK_KEYS = ("sidewalk", "sidewalk:both", "sidewalk:left", "sidewalk:right")
"""Keys that say whether a sidewalk runs along the road (wiki Key:sidewalk)."""

KEYS = frozenset(
    {rule.key for rule in RULES}
    | {key for rule in RULES for key in rule.unless}
    | set(SIDEWALK_KEYS)
    | words("oneway oneway:foot foot:backward foot:forward conveying surface tracktype")
    | words("smoothness lit bridge tunnel layer maxspeed area")
)
"""Every key that can change a verdict; tags outside it may be ignored when verdicts are reused."""


@dataclass(frozen=True, slots=True)
class Verdict:
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
    sidewalk : bool
        A sidewalk is mapped.
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


def judge(tags: Mapping[str, str]) -> Verdict:
    """Decide what a way means to a walker.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one way.

    Returns
    -------
    Verdict
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
    return Verdict(
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
        traffic=_traffic(kind, sidewalk=sidewalk, fast=_maxspeed_km_h(tags) >= FAST_KM_H),
        sidewalk=sidewalk,
    )


_PRESENT_SIDEWALK = words("both left right yes separate")
_TRUE = words("yes true 1")
_DEEPEST = 100  # layers run from -5 to 5 by custom; beyond this a value is a slip


def _decide(tags: Mapping[str, str]) -> tuple[str, tuple[str, ...]]:
    notes = []
    for rule in RULES:
        if not rule.applies(tags):
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
    return speed * KM_H_PER_MPH if unit == "mph" else speed


def _traffic(kind: str, *, sidewalk: bool, fast: bool) -> int:
    if kind in BUSY or (kind in SHARED and fast):
        return 1 if sidewalk else 2
    return 1 if kind in SHARED else 0
