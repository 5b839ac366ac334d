"""What places there are: OSM tags, how many, in which parts of town, with which opening hours.

Opening hours are drawn from the texts listed (the OSM `opening_hours` grammar); "" is untagged.
"""

from __future__ import annotations

from dataclasses import dataclass

CENTRE = ("The Exchange", "Old Ossenford", "Kettlegate")
CITY = ("Northbank", "Weirside", "Kettlegate", "Westing", "Overwater", "Southmead", "Brackenfoot")
SUBURB = ("Fennick", "Marrowfield", "Brackenfoot", "Overwater", "Southmead", "Westing")
VILLAGE = (
    "Gap End", "Ossenbeck", "Nether Sallow", "Upper Sallow", "Quernby", "Hollowby", "Thistleham",
    "Ambersett", "Merehead", "Stonehope",
)  # fmt: skip
PARK = ("Lantern Park", "Weir Meadow")
WOOD = ("Bracken Wood",)
WORKS = ("Saltworks",)
MAIN = ("main roads",)  # along primary, secondary and tertiary roads
OPEN = ("main roads in the country",)
EVERYWHERE = (*CENTRE, *CITY, *SUBURB, *VILLAGE)
TOWNS = (*CENTRE, *CITY, *SUBURB)

SHOP = (
    "Mo-Sa 08:00-20:00; Su,PH off", "Mo-Fr 07:30-18:00; Sa 08:00-13:00; PH off",
    "Mo-Sa 07:00-21:00; Su 10:00-16:00", "Mo-Su,PH 06:00-23:00", "24/7",
    "Mo-Th 09:00-18:30; Fr 09:00-20:00; Sa 09:00-16:00", "",
)  # fmt: skip
LATE = (
    "Mo-Th 16:00-00:00; Fr,Sa 16:00-02:00; Su 12:00-22:00", "Tu-Su 11:30-14:30,17:30-01:00",
    "Fr-Sa 18:00-03:00", "Mo-Su 10:00-23:30", "",
)  # fmt: skip
DAY = (
    "Mo-Fr 07:00-17:00; Sa,Su 09:00-17:00", "Tu-Sa 08:30-18:00; PH off", "Mo-Su 08:00-18:00",
    "Apr-Oct: Mo-Su 09:00-19:00; Nov-Mar: Sa,Su 10:00-16:00", "",
)  # fmt: skip
WATER = ("", "", "24/7", "Apr-Oct", "Mar-Nov 06:00-22:00", "sunrise-sunset")
PUBLIC = (
    "Mo-Su 06:00-22:00", "24/7", "sunrise-sunset", "Mo-Sa 07:00-19:00; Su 09:00-17:00",
    "Apr-Oct 07:00-21:00; Nov-Mar 08:00-17:00", "",
)  # fmt: skip
ALWAYS = ("24/7",)
UNKNOWN = ("",)


@dataclass(frozen=True)
class Sort:
    """One sort of place.

    Attributes
    ----------
    tags : dict
        OSM tags.
    count : int
        How many.
    zones : tuple of str
        Where they may be.
    hours : tuple of str
        Opening hours to draw from.
    suffix : tuple of str
        What their invented names end with; empty: no name.
    size_m : tuple of float
        Sides of the building; (0, 0) is a node.
    """

    tags: dict[str, str]
    count: int
    zones: tuple[str, ...]
    hours: tuple[str, ...] = UNKNOWN
    suffix: tuple[str, ...] = ()
    size_m: tuple[float, float] = (0.0, 0.0)


DRINK = {"amenity": "drinking_water"}
SORTS = (
    Sort(DRINK, 4, PARK, ("", "Apr-Oct")),
    Sort({**DRINK, "fountain": "bottle_refill"}, 4, CENTRE, WATER),
    Sort(DRINK, 5, (*SUBURB, *VILLAGE), WATER),
    Sort({"man_made": "water_tap", "drinking_water": "yes"}, 5, (*VILLAGE, *SUBURB), WATER),
    Sort({"man_made": "water_tap", "drinking_water": "no"}, 2, (*VILLAGE, *WORKS)),
    Sort({"amenity": "water_point", "drinking_water": "yes"}, 1, WORKS, ALWAYS),
    Sort({"amenity": "fountain", "drinking_water": "yes"}, 3, CENTRE, ("", "Apr-Oct")),
    Sort({"amenity": "fountain", "drinking_water": "no"}, 2, CENTRE),
    Sort({"amenity": "fountain"}, 2, (*PARK, "Northbank")),
    Sort({"man_made": "water_well", "pump": "manual"}, 2, VILLAGE),
    Sort({"natural": "spring", "drinking_water": "yes", "name": "Bracken Spring"}, 1, WOOD),
    Sort({"natural": "spring", "drinking_water": "no"}, 1, WOOD),
    Sort({"natural": "spring"}, 3, (*WOOD, *OPEN)),
    Sort({"amenity": "toilets", "access": "yes", "drinking_water": "yes"}, 4,
         (*CENTRE, *PARK), PUBLIC),
    Sort({"amenity": "toilets", "access": "yes"}, 5, (*CITY, *VILLAGE), PUBLIC),
    Sort({"shop": "supermarket"}, 8, TOWNS, SHOP, ("Market Hall", "Foods")),
    Sort({"shop": "convenience"}, 9, EVERYWHERE, SHOP, ("Corner Shop", "Stores")),
    Sort({"shop": "convenience"}, 3, VILLAGE, SHOP, ("Village Shop",)),
    Sort({"shop": "bakery"}, 6, EVERYWHERE, DAY, ("Bakery",)),
    Sort({"shop": "kiosk"}, 5, (*CENTRE, *CITY), SHOP, ("Kiosk",)),
    Sort({"amenity": "fuel", "shop": "convenience"}, 5, MAIN,
         ("24/7", "Mo-Su 06:00-22:00", "Mo-Sa 06:30-21:00; Su 08:00-20:00"), ("Filling Station",)),
    Sort({"amenity": "vending_machine", "vending": "drinks"}, 4, (*CENTRE, *WORKS), ("24/7", "")),
    Sort({"amenity": "vending_machine", "vending": "drinks;sweets"}, 2, SUBURB, ALWAYS),
    Sort({"amenity": "cafe"}, 8, TOWNS, DAY, ("Coffee House", "Tea Room")),
    Sort({"amenity": "pub"}, 8, EVERYWHERE, LATE, ("Arms", "Inn", "Tap House")),
    Sort({"amenity": "restaurant"}, 3, TOWNS, LATE, ("Kitchen",)),
    Sort({"amenity": "fast_food"}, 3, CITY, LATE, ("Grill",)),
    Sort({"tourism": "hotel"}, 2, (*CENTRE, "Fennick"), ALWAYS, ("Hotel",)),
    Sort({"tourism": "guest_house"}, 2, VILLAGE, UNKNOWN, ("Guest House",)),
    Sort({"amenity": "school", "building": "school"}, 7, (*CITY, *SUBURB),
         ("Mo-Fr 07:45-16:30; PH,SH off", ""), ("School",), (46.0, 24.0)),
    Sort({"amenity": "place_of_worship", "religion": "multifaith", "building": "chapel"}, 7,
         EVERYWHERE, ("Mo-Su 09:00-17:00", "Su 09:00-12:00", ""), ("Chapel", "Minster"),
         (26.0, 13.0)),
    Sort({"amenity": "community_centre", "building": "civic"}, 5, (*CITY, *SUBURB, *VILLAGE),
         ("Mo-Fr 09:00-21:00; Sa 10:00-14:00", "We,Fr 18:00-22:00", ""), ("Hall",), (24.0, 16.0)),
    Sort({"building": "office", "office": "company"}, 5, ("The Exchange",),
         ("Mo-Fr 07:00-19:00; PH off",), ("House", "Court"), (30.0, 20.0)),
    Sort({"amenity": "library"}, 2, CITY, ("Tu-Fr 10:00-18:00; Sa 10:00-13:00; PH off",),
         ("Library",)),
    Sort({"highway": "bus_stop", "shelter": "yes", "bench": "yes"}, 12, (*MAIN, *OPEN, *OPEN)),
    Sort({"amenity": "shelter", "shelter_type": "public_transport"}, 3, MAIN),
    Sort({"amenity": "shelter", "shelter_type": "weather_shelter"}, 4, (*WOOD, *OPEN)),
    Sort({"amenity": "shelter", "shelter_type": "picnic_shelter"}, 2, (*PARK, *WOOD)),
    Sort({"amenity": "police"}, 3, ("The Exchange", "Northbank", "Fennick"),
         ("24/7", "Mo-Fr 08:00-18:00")),
    Sort({"amenity": "fire_station"}, 3, ("Kettlegate", "Brackenfoot", "Fennick"), ALWAYS),
    Sort({"amenity": "hospital", "emergency": "yes", "building": "hospital"}, 1, ("Northbank",),
         ALWAYS, ("Hospital",), (60.0, 34.0)),
    Sort({"amenity": "clinic"}, 1, ("Fennick",), ("Mo-Fr 08:00-17:30",), ("Clinic",)),
    Sort({"amenity": "pharmacy"}, 5, TOWNS,
         ("Mo-Fr 08:30-18:30; Sa 09:00-13:00; PH off", "Mo-Sa 08:00-20:00", "24/7"),
         ("Pharmacy",)),
    Sort({"amenity": "bench"}, 8, (*PARK, *WOOD, *VILLAGE)),
)  # fmt: skip
