"""Kinds of places to refill, shelter, rest or get help: tags, what they give, what they need.

Shares working and stop times are assumptions: no source gives them. They are written where they
can be read and changed, and every output that uses them says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from simulator.ground.walkable import FirstFit, conditions, holds

EVENTS = ("none", "road failure", "power failure", "flood", "storm")


@dataclass(frozen=True, slots=True)
class PlaceRule:
    """What one kind of place is, gives and needs.

    Attributes
    ----------
    tags : tuple of str
        Alternatives; each is one or more ``key=value|value`` joined by `` + ``, all of which must
        hold. ``*`` is any value but "no". Keys: wiki.openstreetmap.org/wiki/Key:<key>.
    gives : frozenset of str
        Of "water", "food", "shelter", "help", "rest".
    needs_treatment : bool
        The water must be treated before drinking.
    needs_key : bool
        The tap is likely outside and without a handle: it needs a spigot key, and leave of the
        owner.
    needs_money : bool
        One has to buy something.
    always_open : bool
        Outdoors or never locked: with no hours on the map it can be used at any hour.
    works : dict of str to float
        Share of such places that give what they give under each of `EVENTS`, 0 to 1. Assumed.
    service_s : float
        Time at the place: asking, queueing, filling [s]. Assumed.
    """

    tags: tuple[str, ...]
    gives: frozenset[str]
    needs_treatment: bool
    needs_key: bool
    needs_money: bool
    always_open: bool
    works: dict[str, float]
    service_s: float


def _rule(
    *tags: str,
    gives: str,
    works: tuple[int, int, int, int, int],
    stop_s: float = 0,
    needs: str = "",
    outdoors: bool = False,
) -> PlaceRule:
    return PlaceRule(
        tags=tags,
        gives=frozenset(gives.split()),
        needs_treatment="treatment" in needs,
        needs_key="key" in needs,
        needs_money="money" in needs,
        always_open=outdoors,
        works=dict(zip(EVENTS, (share / 100 for share in works), strict=True)),
        service_s=float(stop_s),
    )


# fmt: off
# Shares working, per cent, under EVENTS: none, road failure, power failure, flood, storm. All are
# ASSUMED. The thinking: mains pressure outlasts a power cut by hours where a tower feeds it;
# tills, pumps and doors stop with the power; a flood reaches wells, springs and mains and makes
# surface water unfit even when treated (sewage, fuel); many banks are walled or fenced.
# A feature takes the first kind that fits, so exact kinds stand before broad ones.
PLACE_RULES: dict[str, PlaceRule] = {
    # Water, free and outdoors.
    "drinking water": _rule(
        "amenity=drinking_water|water_point", "man_made=drinking_fountain",
        "man_made=water_tap + drinking_water=yes", "amenity=fountain + drinking_water=yes",
        gives="water", works=(90, 90, 75, 30, 80), stop_s=90, outdoors=True),
    "tap": _rule(
        "man_made=water_tap",
        gives="water", works=(80, 80, 70, 20, 70), stop_s=90, needs="treatment", outdoors=True),
    "fountain": _rule(
        "amenity=fountain",
        gives="water", works=(40, 40, 20, 0, 30), stop_s=90, needs="treatment", outdoors=True),
    "well": _rule(
        "man_made=water_well",
        gives="water", works=(40, 40, 30, 5, 40), stop_s=180, needs="treatment", outdoors=True),
    "spring": _rule(
        "natural=spring",
        gives="water", works=(70, 70, 70, 20, 60), stop_s=120, needs="treatment", outdoors=True),
    "cattle trough": _rule(
        "amenity=watering_place",
        gives="water", works=(50, 50, 50, 10, 50), stop_s=120, needs="treatment", outdoors=True),
    "cemetery tap": _rule(
        "amenity=grave_yard", "landuse=cemetery",
        gives="water rest", works=(50, 50, 40, 10, 40), stop_s=240, needs="treatment"),
    "river": _rule(
        "waterway=river|riverbank",
        gives="water", works=(60, 60, 60, 0, 40), stop_s=180, needs="treatment", outdoors=True),
    "stream": _rule(
        "waterway=stream",
        gives="water", works=(60, 60, 60, 0, 40), stop_s=180, needs="treatment", outdoors=True),
    "lake": _rule(
        "natural=water",
        gives="water", works=(70, 70, 70, 0, 50), stop_s=180, needs="treatment", outdoors=True),
    # Help.
    "hospital": _rule(
        "amenity=hospital", "healthcare=hospital", "building=hospital",
        gives="help water shelter", works=(98, 98, 95, 80, 95), stop_s=600, outdoors=True),
    "police": _rule(
        "amenity=police",
        gives="help water shelter", works=(90, 90, 85, 70, 85), stop_s=300),
    "fire station": _rule(
        "amenity=fire_station", "building=fire_station", "emergency=ambulance_station",
        gives="help water shelter", works=(60, 50, 60, 40, 40), stop_s=300),
    "clinic": _rule(
        "amenity=clinic|doctors", "healthcare=clinic|doctor|centre",
        gives="help water", works=(90, 85, 50, 40, 60), stop_s=300),
    "pharmacy": _rule(
        "amenity=pharmacy", "healthcare=pharmacy",
        gives="help water", works=(95, 90, 40, 40, 60), stop_s=300, needs="money"),
    "emergency phone": _rule(
        "emergency=phone",
        gives="help", works=(80, 80, 50, 50, 60), outdoors=True),
    # Bought water and food.
    "supermarket": _rule(
        "shop=supermarket|department_store|wholesale",
        gives="water food", works=(98, 90, 30, 40, 60), stop_s=600, needs="money"),
    "convenience shop": _rule(
        "shop=convenience|general|grocery|greengrocer|farm|deli|beverages|food|dairy|butcher",
        gives="water food", works=(95, 90, 40, 40, 60), stop_s=300, needs="money"),
    "bakery": _rule(
        "shop=bakery|pastry|confectionery",
        gives="water food", works=(95, 85, 30, 40, 60), stop_s=240, needs="money"),
    "kiosk": _rule(
        "shop=kiosk|newsagent", "amenity=kiosk",
        gives="water food", works=(90, 85, 40, 30, 30), stop_s=180, needs="money"),
    "fuel station": _rule(
        "amenity=fuel",
        gives="water food help", works=(95, 90, 25, 40, 60), stop_s=300, needs="money"),
    "drinks machine": _rule(
        "amenity=vending_machine + vending=drinks|water|food|milk|sweets|coffee",
        gives="water food", works=(80, 80, 0, 20, 60), stop_s=90, needs="money", outdoors=True),
    "restaurant": _rule(
        "amenity=restaurant|food_court|biergarten", "tourism=alpine_hut",
        gives="water food shelter rest", works=(90, 80, 25, 30, 50), stop_s=600, needs="money"),
    "cafe": _rule(
        "amenity=cafe|ice_cream",
        gives="water food shelter rest", works=(90, 80, 25, 30, 50), stop_s=420, needs="money"),
    "fast food": _rule(
        "amenity=fast_food",
        gives="water food shelter rest", works=(90, 80, 20, 30, 50), stop_s=420, needs="money"),
    "pub": _rule(
        "amenity=pub|bar",
        gives="water food shelter rest", works=(90, 80, 30, 30, 50), stop_s=420, needs="money"),
    "hotel": _rule(
        "tourism=hotel|hostel|guest_house|motel", "building=hotel",
        gives="water food shelter help", works=(90, 90, 60, 50, 80), stop_s=420, needs="money"),
    # Rooms and roofs.
    "toilets": _rule(
        "amenity=toilets",
        gives="water rest", works=(85, 85, 60, 20, 60), stop_s=240, needs="treatment"),
    "place of worship": _rule(
        "amenity=place_of_worship",
        "building=church|chapel|mosque|synagogue|temple|cathedral",
        gives="shelter rest", works=(40, 40, 40, 30, 40), stop_s=300),
    "community centre": _rule(
        "amenity=community_centre|social_centre|social_facility",
        "building=community_centre|sports_hall",
        gives="shelter help water", works=(60, 60, 50, 50, 60), stop_s=300),
    "station": _rule(
        "public_transport=station", "building=train_station|transportation",
        gives="shelter rest help", works=(90, 90, 70, 40, 70)),
    "bus shelter": _rule(
        "amenity=shelter + shelter_type=public_transport", "public_transport=shelter",
        "highway=bus_stop + shelter=yes", "public_transport=platform + shelter=yes",
        gives="shelter rest", works=(95, 95, 95, 60, 60), outdoors=True),
    "shelter": _rule(
        "amenity=shelter", "tourism=wilderness_hut", "leisure=picnic_table + covered=yes",
        gives="shelter rest", works=(90, 90, 90, 50, 60), outdoors=True),
    # A counter, often a parcel shop in a corner of something else: a roof, no water.
    "post office": _rule(
        "amenity=post_office", "shop=outpost", "office=courier",
        gives="shelter", works=(90, 85, 30, 30, 50), stop_s=300),
    # Buildings likely to have a tap on an outside wall (common practice).
    "school": _rule(
        "amenity=school|kindergarten|college|university", "building=school|university|college",
        gives="water", works=(70, 70, 60, 20, 60), stop_s=300, needs="key", outdoors=True),
    "public building": _rule(
        "amenity=townhall|library|courthouse|public_building|theatre|arts_centre",
        "building=civic|public|government", "office=government",
        gives="water shelter", works=(60, 60, 50, 20, 50), stop_s=300, needs="key", outdoors=True),
    "office": _rule(
        "office=*", "building=office",
        gives="water", works=(60, 60, 50, 20, 50), stop_s=300, needs="key", outdoors=True),
    "sports ground": _rule(
        "leisure=sports_centre|stadium",
        gives="water", works=(60, 60, 50, 20, 50), stop_s=300, needs="key", outdoors=True),
    # A seat.
    "bench": _rule(
        "amenity=bench", "leisure=picnic_table", "tourism=picnic_site",
        gives="rest", works=(95, 95, 95, 50, 90), outdoors=True),
}
# fmt: on

CLOSED_ACCESS = frozenset(
    (
        "private",
        "no",
        "permit",
        "military",
        "members",
        "residents",
        "employees",
        "students",
        "delivery",
    )
)
"""Values of ``access`` that shut a passer-by out (wiki Key:access)."""

OUT_OF_USE = (
    "disused=*",
    "abandoned=*",
    "demolished=*",
    "operational_status=closed|broken|out_of_order|needs_maintenance|defunct",
    "condition=broken",
)
"""Tags of places that give nothing today. Keys with a life-cycle prefix, such as
``disused:amenity``, are other keys and match no kind at all."""

ONLY_WATER = frozenset({"drinking water", "tap", "fountain", "well", "spring", "cattle trough"})
"""Kinds that are nothing else than water: marked undrinkable they are left out."""

OPEN_WATER = frozenset({"river", "stream", "lake"})
"""Kinds drawn as lines; `simulator.ground.places` finds where streets come near them."""

NOT_TO_DRINK = (
    "drinking_water=no",
    "water=wastewater|basin|reflecting_pool|lagoon|pool|harbour",
    "salt=yes",
    "tidal=yes",
    "intermittent=yes",
    "seasonal=yes",
    "tunnel=*",
    "covered=yes",
)
"""Tags of open water that cannot be reached, may be dry, or that treatment does not make fit."""

NO_BASIN = "toilets:disposal=pitlatrine|bucket|chemical|dry_toilet"
"""Toilets without running water (wiki Key:toilets:disposal)."""


kind_of = FirstFit({kind: rule.tags for kind, rule in PLACE_RULES.items()})
"""The kind a feature is tagged as, whether it can be used or not."""

_out_of_use = tuple(conditions(text)[0] for text in OUT_OF_USE)
_not_to_drink = tuple(conditions(text)[0] for text in NOT_TO_DRINK)
_no_basin = conditions(NO_BASIN)[0]


def match(tags: Mapping[str, str]) -> str | None:
    """Name the kind of place that a feature is.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags.

    Returns
    -------
    str or None
        Key of `PLACE_RULES`, the first that fits; None if it is no place, or one that cannot
        be used (see `reason_left_out`).

    Examples
    --------
    >>> match({"amenity": "fountain", "drinking_water": "yes"})
    'drinking water'
    >>> match({"disused:amenity": "pub"}) is None
    True
    """
    kind = kind_of(tags)
    return None if kind is None or reason_left_out(tags, kind) else kind


def reason_left_out(tags: Mapping[str, str], kind: str) -> str:
    """Say why a feature of some kind cannot be used, by the tag that decides."""
    if tags.get("access") in CLOSED_ACCESS:
        return f"access={tags['access']}"
    if kind in ONLY_WATER and tags.get("drinking_water") == "no":
        return "drinking_water=no"
    if kind in OPEN_WATER:
        for condition in _not_to_drink:
            if holds(tags, condition):
                return f"{condition[0]}={tags[condition[0]]}"
    for condition in _out_of_use:
        if holds(tags, condition):
            return f"{condition[0]}={tags[condition[0]]}"
    return ""


def gives(tags: Mapping[str, str], rule: PlaceRule) -> frozenset[str]:
    """Say what one place gives: what its kind does, without water where the tags deny it."""
    dry = tags.get("drinking_water") == "no" or holds(tags, _no_basin)
    return rule.gives - {"water"} if dry else rule.gives


def needs_treatment(tags: Mapping[str, str], rule: PlaceRule) -> bool:
    """Decide whether the water of one place must be treated."""
    if tags.get("drinking_water:legal") == "no":
        return True
    return rule.needs_treatment and tags.get("drinking_water") != "yes"
