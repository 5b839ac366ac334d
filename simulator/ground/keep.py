"""What of a map is kept: tables of tags for places, for lines to draw, and for odd streets."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from simulator.ground.walkable import words

ATTRIBUTION = "Map data © OpenStreetMap contributors, ODbL 1.0"
"""Credit that goes with every OpenStreetMap extract (openstreetmap.org/copyright)."""

INVENTED_ATTRIBUTION = "Invented place: no real map data"
"""Credit of an extract whose header says that its generator invented it."""

PLACE_KEYS = words(
    "amenity shop emergency man_made natural tourism drinking_water leisure healthcare office "
    "social_facility public_transport"
)
"""Keys of features that may be places to refill, shelter or get help."""

NO_PLACES = {"natural": words("tree tree_row wood water coastline scrub grassland bare_rock")}
"""Values of these keys that alone make no place: too many, or drawn as lines."""

PUBLIC_BUILDINGS = words(
    "church chapel mosque synagogue temple cathedral school university hospital civic public "
    "government train_station transportation hotel fire_station community_centre sports_hall"
)
"""Values of ``building`` that may shelter a walker even without a name."""

DRAWN = {
    "waterway": words("river stream canal riverbank"),
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
    """Decide whether a feature may be a place to refill, shelter or get help.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags.

    Returns
    -------
    bool
        True for the keys in :data:`PLACE_KEYS` and for named or public buildings.
    """
    building = tags.get("building")
    if building is not None and (building in PUBLIC_BUILDINGS or "name" in tags):
        return True
    return any(tags[key] not in NO_PLACES.get(key, ()) for key in PLACE_KEYS.intersection(tags))


def has_any(tags: Mapping[str, str], table: Mapping[str, frozenset[str]]) -> bool:
    """Tell whether a feature has one of the tags of a table.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags.
    table : mapping of str to frozenset of str
        Keys, and the values that count.

    Returns
    -------
    bool
        True if any tag of the table is there.
    """
    return any(tags.get(key) in values for key, values in table.items())
