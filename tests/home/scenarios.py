"""Sixty walks of all kinds: person, weather, way and bag, on one straight invented road.

Each has the word that a careful person would give, and why; the table in ``scenarios.md`` is made
from them. The road runs due north; its length, tags and hills are the scenario's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

SOUTH, WEST = 46.0, 8.0
METRES_PER_DEGREE = 111_195.0
PIECE_M = 250.0

TOWN = {"highway": "residential", "surface": "asphalt", "lit": "yes", "sidewalk": "both"}
UNLIT = {"highway": "residential", "surface": "asphalt", "lit": "no", "sidewalk": "both"}
FAST = {"highway": "primary", "surface": "asphalt", "lit": "no", "maxspeed": "100",
        "sidewalk": "no"}  # fmt: skip
COUNTRY = {"highway": "secondary", "surface": "asphalt", "lit": "no", "maxspeed": "80",
           "sidewalk": "no"}  # fmt: skip
MAIN = {"highway": "primary", "surface": "asphalt", "lit": "yes", "maxspeed": "50"}
SHOULDER = FAST | {"shoulder": "yes"}
PATH = {"highway": "path", "surface": "ground", "lit": "no"}
FORD = {"highway": "track", "surface": "gravel", "lit": "no", "ford": "yes"}
FLOODS = {"highway": "residential", "surface": "asphalt", "lit": "yes", "sidewalk": "both",
          "flood_prone": "yes"}  # fmt: skip

HEADER = (
    "item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,holds_ml,treats_ml,"
    "energy_kcal,light_h,warmth_clo,power_wh,caution"
)
BOTTLE = "bottle {n},water,basic,{n},1060,1060,4,,1000,1000,,,,,,"
BARS = "oat bars,food,basic,6,80,80,1,2033-06-30,,,,350,,,,"
TORCH = "head torch,light,basic,1,60,50,8,,,,,,12,,,"
GLOW = "glow stick,light,basic,3,20,30,1,2033-06-30,,,,,8,,,"
PONCHO = "poncho,shelter,basic,{n},300,400,10,,,,,,,,,"
BRICKS = "books,other,comfort,1,25000,15000,,,,,,,,,,"


def bag(*rows: str, water: int = 3) -> str:
    """Write a list of items."""
    return "\n".join((HEADER, BOTTLE.format(n=water), *rows)) + "\n"


FULL = bag(BARS, TORCH, PONCHO.format(n=1))
NO_LAMP = bag(BARS, PONCHO.format(n=1))
GLOWING = bag(BARS, GLOW, PONCHO.format(n=1))
BARE = bag(BARS, TORCH)
DRY = bag(BARS, TORCH, PONCHO.format(n=1), water=1)
HEAVY = bag(BARS, TORCH, BRICKS)


def person(mass_kg: float, age_y: float, sex: str = "male", **more: object) -> dict[str, object]:
    """Give one walker of ordinary height."""
    height = more.pop("height_m", 1.75 if sex == "male" else 1.63)
    return {"mass_kg": mass_kg, "height_m": height, "age_y": age_y, "sex": sex, **more}


ADULT = person(75, 40)
WOMAN = person(60, 30, "female")
OLD_MAN = person(75, 78)
OLD_WOMAN = person(62, 77, "female")
CHILD = person(27, 8, height_m=1.28)
HUGE = person(170, 45)


def sky(air_c: float, **more: float) -> dict[str, float]:
    """Give constant weather: fair where nothing else is said."""
    fair = {"humidity_pct": 60.0, "wind_m_s": 3.0, "cloud_pct": 50.0, "rain_mm_h": 0.0}
    return {"air_c": air_c, **fair, **more}


DAY, NIGHT, EVENING = "2026-07-14T08:00:00", "2026-12-09T20:00:00", "2026-11-18T16:30:00"
WINTER_DAY, SPRING = "2026-02-10T08:30:00", "2026-04-20T07:00:00"

WALK, CARE, STAY = "walk", "walk with care", "stay and wait"


@dataclass(frozen=True)
class Scenario:
    """One walk, and the word that it should get."""

    name: str
    word: str
    because: str
    who: tuple[dict[str, object], ...] = (ADULT,)
    weather: dict[str, float] = field(default_factory=lambda: sky(15.0))
    tags: dict[str, str] = field(default_factory=lambda: dict(TOWN))
    bag: str = FULL
    depart: str = SPRING
    length_km: float = 25.0
    climb: tuple[float, float] = (0.0, 0.0)
    """Metres of ascent, and the slope at which they begin at the start."""
    event: str = "none"


def scenarios() -> tuple[Scenario, ...]:
    """List them; the reason is a part of the first reasons' words, empty for none."""
    two = (ADULT, WOMAN)
    return (
        Scenario("fair spring day, adult", WALK, ""),
        Scenario("fair spring day, woman of 30", WALK, "", (WOMAN,)),
        Scenario("fair spring day, two adults", WALK, "", two),
        Scenario(
            "storm wind and cloudburst", STAY, "wind", weather=sky(15, wind_m_s=40, rain_mm_h=60)
        ),
        Scenario("storm wind alone", STAY, "wind", weather=sky(15, wind_m_s=40)),
        Scenario("cloudburst alone", STAY, "rain", weather=sky(15, rain_mm_h=60)),
        Scenario("fresh wind", WALK, "", weather=sky(15, wind_m_s=9)),
        Scenario("near gale", CARE, "wind", weather=sky(15, wind_m_s=15)),
        Scenario("strong gale", STAY, "wind", weather=sky(15, wind_m_s=22)),
        Scenario("gale, 77 years", STAY, "wind", (OLD_WOMAN,), sky(15, wind_m_s=18), length_km=8),
        Scenario(
            "strong breeze, 77 years", CARE, "wind", (OLD_WOMAN,), sky(15, wind_m_s=12), length_km=8
        ),
        Scenario("light rain, poncho", WALK, "", weather=sky(15, rain_mm_h=1)),
        Scenario("heavy rain, poncho", CARE, "heavy rain", weather=sky(15, rain_mm_h=10)),
        Scenario(
            "heavy rain, no poncho, cool",
            CARE,
            "",
            weather=sky(12, rain_mm_h=10, wind_m_s=5),
            bag=BARE,
        ),
        Scenario("freezing rain", STAY, "ice", weather=sky(0, rain_mm_h=2), depart=WINTER_DAY),
        Scenario(
            "a little sleet at 0 °C", CARE, "ice", weather=sky(0, rain_mm_h=0.1), depart=WINTER_DAY
        ),
        Scenario(
            "a little sleet at 0 °C, 78 years",
            STAY,
            "ice",
            (OLD_MAN,),
            sky(0, rain_mm_h=0.1),
            depart=WINTER_DAY,
            length_km=8,
        ),
        Scenario(
            "snowfall",
            CARE,
            "snow",
            (person(75, 40, clothing_clo=1.5),),
            sky(-4, rain_mm_h=1),
            depart=WINTER_DAY,
        ),
        Scenario(
            "deep snowfall",
            STAY,
            "snow",
            (person(75, 40, clothing_clo=1.5),),
            sky(-4, rain_mm_h=5),
            depart=WINTER_DAY,
        ),
        Scenario(
            "wet and windy at 10.0 °C, 0.5 clo",
            STAY,
            "too thin",
            (person(75, 40, clothing_clo=0.5),),
            sky(10.0, wind_m_s=12, rain_mm_h=3),
            bag=BARE,
        ),
        Scenario(
            "wet and windy at 10.1 °C, 0.5 clo",
            STAY,
            "too thin",
            (person(75, 40, clothing_clo=0.5),),
            sky(10.1, wind_m_s=12, rain_mm_h=3),
            bag=BARE,
        ),
        Scenario(
            "wet and windy at 15 °C, 0.5 clo",
            CARE,
            "too thin",
            (person(75, 40, clothing_clo=0.5),),
            sky(15, wind_m_s=10, rain_mm_h=3),
            bag=BARE,
        ),
        Scenario("cool and dry, street clothes", WALK, "", weather=sky(8)),
        Scenario(
            "frost, coat",
            CARE,
            "feels like",
            (person(75, 40, clothing_clo=2.0),),
            sky(-5),
            depart=WINTER_DAY,
        ),
        Scenario(
            "frost and wind, coat of 2 clo",
            CARE,
            "feels like",
            (person(75, 40, clothing_clo=2.0),),
            sky(-5, wind_m_s=9),
            depart=WINTER_DAY,
        ),
        Scenario(
            "frost and wind, shirt",
            STAY,
            "too thin",
            (person(75, 40, clothing_clo=0.5),),
            sky(-5, wind_m_s=9),
            depart=WINTER_DAY,
        ),
        Scenario(
            "bitter cold",
            STAY,
            "freeze",
            (person(75, 40, clothing_clo=2.5),),
            sky(-25, wind_m_s=8),
            depart=WINTER_DAY,
        ),
        Scenario("warm and cloudy", WALK, "", weather=sky(24, cloud_pct=90), depart=DAY),
        Scenario("warm and sunny", CARE, "heat", weather=sky(27, cloud_pct=0), depart=DAY),
        Scenario(
            "35 °C under cloud",
            CARE,
            "feels like",
            weather=sky(35, humidity_pct=30, cloud_pct=100),
            depart=DAY,
        ),
        Scenario(
            "35 °C in full sun",
            STAY,
            "heat",
            weather=sky(35, humidity_pct=40, cloud_pct=0, wind_m_s=2),
            depart=DAY,
        ),
        Scenario(
            "35 °C in full sun, woman of 30",
            STAY,
            "heat",
            (WOMAN,),
            sky(35, humidity_pct=40, cloud_pct=0, wind_m_s=2),
            depart=DAY,
        ),
        Scenario(
            "35 °C under cloud, 77 years",
            STAY,
            "",
            (OLD_WOMAN,),
            sky(35, humidity_pct=40, cloud_pct=100, wind_m_s=2),
            depart=DAY,
            length_km=10,
        ),
        Scenario(
            "42 °C in full sun, 77 years",
            STAY,
            "heat",
            (OLD_WOMAN,),
            sky(42, humidity_pct=10, cloud_pct=0),
            depart=DAY,
            length_km=10,
        ),
        Scenario(
            "42 °C in full sun, adult",
            STAY,
            "heat",
            weather=sky(42, humidity_pct=10, cloud_pct=0),
            depart=DAY,
        ),
        Scenario(
            "30 °C night", WALK, "", weather=sky(30, humidity_pct=50), depart="2026-07-14T22:00:00"
        ),
        Scenario(
            "32 °C at 90 %",
            STAY,
            "heat",
            weather=sky(32, humidity_pct=90, cloud_pct=50),
            depart=DAY,
        ),
        Scenario(
            "hill of 1,500 m at 20 %, 78 years",
            STAY,
            "effort",
            (OLD_MAN,),
            climb=(1500, 0.20),
            length_km=12,
        ),
        Scenario(
            "hill of 1,500 m at 20 %, adult",
            CARE,
            "pace is slowed",
            climb=(1500, 0.20),
            length_km=12,
        ),
        Scenario("hill of 200 m at 5 %, adult", WALK, "", climb=(200, 0.05), length_km=15),
        Scenario("25 km flat, 78 years", CARE, "", (OLD_MAN,)),
        Scenario("25 km flat, 65 years, woman", CARE, "", (person(60, 65, "female"),)),
        Scenario("5 km flat, 78 years", WALK, "", (OLD_MAN,), length_km=5),
        Scenario("25 km, 170 kg", STAY, "", (HUGE,)),
        Scenario("5 km, 170 kg", CARE, "pace is slowed", (HUGE,), length_km=5),
        Scenario("25 km with a child of 8", CARE, "8 years old", (ADULT, CHILD)),
        Scenario("3 km with a child of 8", CARE, "8 years old", (ADULT, CHILD), length_km=3),
        Scenario("bag of 25 kg", CARE, "bag weighs", bag=HEAVY, length_km=15),
        Scenario("25 km of fast road by day", CARE, "busy roads", tags=FAST),
        Scenario("2 km of country road by day", WALK, "", tags=COUNTRY, length_km=2.3),
        Scenario("8 km of country road by day", CARE, "busy roads", tags=COUNTRY, length_km=8),
        Scenario(
            "10 km of main street by day, no pavement mapped", WALK, "", tags=MAIN, length_km=10
        ),
        Scenario("3 km of fast road with a shoulder by day", WALK, "", tags=SHOULDER, length_km=3),
        Scenario(
            "2 km of main street by night, no pavement mapped",
            WALK,
            "",
            tags=MAIN,
            depart=NIGHT,
            length_km=2,
            weather=sky(8),
        ),
        Scenario(
            "10 km of fast road by night, lamp",
            CARE,
            "busy roads",
            tags=FAST,
            depart=NIGHT,
            length_km=10,
            weather=sky(8),
        ),
        Scenario(
            "10 km of fast road by night, no lamp",
            STAY,
            "",
            tags=FAST,
            bag=NO_LAMP,
            depart=NIGHT,
            length_km=10,
            weather=sky(8),
        ),
        Scenario("lit town by night", WALK, "", depart=NIGHT, length_km=10, weather=sky(8)),
        Scenario(
            "unlit road by night, lamp",
            CARE,
            "unlit",
            tags=UNLIT,
            depart=NIGHT,
            length_km=10,
            weather=sky(8),
        ),
        Scenario(
            "unlit road by night, glow sticks",
            STAY,
            "",
            tags=UNLIT,
            bag=GLOWING,
            depart=NIGHT,
            length_km=10,
            weather=sky(8),
        ),
        Scenario(
            "unlit road by night, nothing",
            STAY,
            "",
            tags=UNLIT,
            bag=NO_LAMP,
            depart=NIGHT,
            length_km=10,
            weather=sky(8),
        ),
        Scenario("a little water short", WALK, "", bag=DRY),
        Scenario(
            "hot, a litre for the way",
            CARE,
            "",
            weather=sky(30, cloud_pct=100, humidity_pct=40),
            bag=DRY,
            depart=DAY,
        ),
        Scenario("ford on a fair day", CARE, "crosses water", tags=FORD, length_km=6),
        Scenario(
            "ford after heavy rain",
            STAY,
            "crosses water",
            tags=FORD,
            length_km=6,
            weather=sky(15, rain_mm_h=9),
        ),
        Scenario("ford in a flood", STAY, "crosses water", tags=FORD, length_km=6, event="flood"),
        Scenario("flood-prone street, fair", WALK, "", tags=FLOODS, length_km=6),
        Scenario(
            "flood-prone street in a flood", STAY, "floods", tags=FLOODS, length_km=6, event="flood"
        ),
        Scenario("storm warning, calm now", CARE, "storm", event="storm"),
        Scenario("steep path, dry", WALK, "", tags=PATH, climb=(150, 0.18), length_km=4),
        Scenario(
            "steep path, rain",
            CARE,
            "slippery",
            tags=PATH,
            climb=(150, 0.18),
            length_km=4,
            weather=sky(15, rain_mm_h=3),
        ),
        Scenario("45 km, adult", CARE, "long day", length_km=45, depart="2026-06-20T05:00:00"),
        Scenario(
            "power failure, autumn evening",
            CARE,
            "unlit",
            depart=EVENING,
            event="power failure",
            weather=sky(8),
        ),
    )


def write(scenario: Scenario, folder: Path) -> Path:
    """Write map, heights, bag and plan of a scenario; give the plan's path."""
    length_deg = 1000.0 * scenario.length_km / METRES_PER_DEGREE
    count = round(1000.0 * scenario.length_km / PIECE_M) + 1
    nodes = "".join(
        f'<node id="{row + 1}" version="1" lat="{SOUTH + length_deg * row / (count - 1):.7f}" '
        f'lon="{WEST}"/>'
        for row in range(count)
    )
    tags = "".join(f'<tag k="{key}" v="{value}"/>' for key, value in scenario.tags.items())
    refs = "".join(f'<nd ref="{row + 1}"/>' for row in range(count))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "road.osm").write_text(
        f'<osm version="0.6">{nodes}<way id="1" version="1">{refs}{tags}</way></osm>'
    )
    (folder / "bag.csv").write_text(scenario.bag)
    if scenario.climb[0]:
        _heights(scenario, folder / "heights.tif", length_deg)
    (folder / "plan.toml").write_text(_plan(scenario, length_deg))
    return folder / "plan.toml"


def _heights(scenario: Scenario, path: Path, length_deg: float) -> None:
    import numpy as np
    import rasterio
    from rasterio import Affine

    ascent_m, slope = scenario.climb
    cell = 0.0003
    rows = int((length_deg + 0.02) / cell)
    north = SOUTH - 0.01 + rows * cell
    lat = north - cell * (np.arange(rows) + 0.5)
    along_m = (lat - SOUTH) * METRES_PER_DEGREE
    height = 300.0 + np.clip(along_m * slope, 0.0, ascent_m)
    values = np.repeat(height[:, None], 60, axis=1).astype("float32")
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=60, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(cell, 0.0, WEST - 0.009, 0.0, -cell, north),
    ) as out:  # fmt: skip
        out.write(values, 1)


def _plan(scenario: Scenario, length_deg: float) -> str:
    home = SOUTH + length_deg - 1e-5
    lines = [
        f'title = "{scenario.name}"',
        "[trip]",
        f"start = [{SOUTH + 1e-5:.5f}, {WEST}]",
        f"home = [{home:.5f}, {WEST}]",
        f"depart = {scenario.depart}",
        "[map]",
        'extract = "road.osm"',
    ]
    if scenario.climb[0]:
        lines.append('elevation = ["heights.tif"]')
    head = "[walker]" if len(scenario.who) == 1 else "[[walker]]"
    for one in scenario.who:
        lines.append(head)
        lines += [
            f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"
            for key, value in one.items()
        ]
    lines += ["[bag]", 'items = "bag.csv"', "capacity_l = 60", "[weather]"]
    lines += [f"{key} = {value}" for key, value in scenario.weather.items()]
    lines += ["[event]", f'kind = "{scenario.event}"', "[choices]", "what_if = false"]
    return "\n".join(lines) + "\n"
