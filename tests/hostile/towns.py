"""Towns, people, weather and days by the dice: any seed is a plan that can be read."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine

STREETS = ("residential", "footway", "path", "steps", "primary", "track", "pedestrian", "cycleway")
SURFACES = ("asphalt", "gravel", "mud", "sand", "paving_stones", "ice", "")
STEP_DEG = 0.0015
"""Between two crossings: some 170 m."""


def _tags(tags: dict[str, str]) -> str:
    return "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items() if value)


def town_xml(dice: random.Random, *, south: float, west: float, size: int) -> str:
    """Lay streets on a grid, some missing, some of odd kinds, with taps, shelters and a river."""
    across = STEP_DEG / max(np.cos(np.radians(south)), 0.05)
    parts: list[str] = []
    ways: list[str] = []
    river = dice.randrange(1, size - 1)
    for row in range(size):
        for column in range(size):
            number = row * size + column + 1
            lat = south + row * STEP_DEG + dice.uniform(-0.2, 0.2) * STEP_DEG
            lon = west + column * across + dice.uniform(-0.2, 0.2) * across
            tags = dice.choice(({}, {}, {}, {"highway": "crossing"}, {"barrier": "gate"}))
            parts.append(
                f'<node id="{number}" version="1" lat="{lat:.7f}" lon="{lon:.7f}">{_tags(tags)}'
                "</node>"
            )
            if dice.random() < 0.1:
                kind = dice.choice(
                    ({"amenity": "drinking_water"}, {"amenity": "shelter"}, {"shop": "supermarket"},
                     {"man_made": "water_tap", "drinking_water": "yes"}, {"natural": "spring"})
                )  # fmt: skip
                parts.append(
                    f'<node id="{10_000 + number}" version="1" lat="{lat + 0.0002:.7f}" '
                    f'lon="{lon:.7f}">{_tags(kind)}</node>'
                )
            for other, over in ((number + 1, column + 1 < size), (number + size, row + 1 < size)):
                if not over or dice.random() < 0.12:
                    continue
                bridge = other == number + size and row == river
                if bridge and dice.random() < 0.6:
                    continue
                tags = {
                    "highway": dice.choice(STREETS),
                    "surface": dice.choice(SURFACES),
                    "lit": dice.choice(("yes", "no", "")),
                    "bridge": "yes" if bridge else "",
                    "name": f"Bridge {column}" if bridge else f"Street {row} {column}",
                }
                ways.append(
                    f'<way id="{20_000 + len(ways)}" version="1"><nd ref="{number}"/>'
                    f'<nd ref="{other}"/>{_tags(tags)}</way>'
                )
    return f'<osm version="0.6" generator="invented">{"".join(parts)}{"".join(ways)}</osm>'


def write_heights(dice: random.Random, path: Path, *, south: float, west: float, size: int) -> None:
    """Lay smooth hills over the town, with a hole now and then."""
    across = STEP_DEG / max(np.cos(np.radians(south)), 0.05)
    cells = 20 * (size + 4)
    rows, columns = np.meshgrid(np.linspace(0, 9, cells), np.linspace(0, 9, cells), indexing="ij")
    height = dice.uniform(0, 2000) + dice.choice((0.0, 20.0, 150.0)) * (
        np.sin(rows * dice.uniform(0.3, 3)) + np.cos(columns * dice.uniform(0.3, 3))
    )
    if dice.random() < 0.3:
        at = dice.randrange(cells - 30)
        height[at : at + 30, at : at + 30] = -9999.0
    with rasterio.open(
        path, "w", driver="GTiff", width=cells, height=cells, count=1, dtype="float32",
        crs="EPSG:4326", nodata=-9999.0,
        transform=Affine(across / 20, 0, west - 2 * across, 0, -STEP_DEG / 20,
                         south + (size + 2) * STEP_DEG),
    ) as raster:  # fmt: skip
        raster.write(height.astype(np.float32), 1)


def write_plan(folder: Path, seed: int) -> Path:
    """Write a plan with everything it names."""
    dice = random.Random(seed)  # noqa: S311 - towns, not secrets
    size = dice.randrange(4, 9)
    south = dice.choice((-54.0, -33.0, -0.004, 0.0, 21.0, 46.0, 60.0, 69.5, 78.2))
    west = dice.choice((-179.99, -64.8, 0.0, 13.4, 142.0))
    (folder / "town.osm").write_text(town_xml(dice, south=south, west=west, size=size), "utf-8")
    heights = dice.random() < 0.8
    if heights:
        write_heights(dice, folder / "heights.tif", south=south, west=west, size=size)
    (folder / "bag.csv").write_text(
        "item,purpose,tier,quantity,mass_g,volume_ml,price,water_ml,treats_ml,energy_kcal,light_h,"
        "warmth_clo\n"
        f"bottle,water,basic,{dice.randrange(0, 4)},540,560,4,500,,,,\n"
        f"tablets,water,basic,{dice.randrange(0, 2)},10,10,4,,5000,,,\n"
        f"bar,food,basic,{dice.randrange(0, 5)},50,60,1,,,200,,\n"
        f"lamp,light,basic,{dice.randrange(0, 2)},60,50,8,,,,{dice.choice((0.1, 10))},\n"
        f"coat,warmth,basic,{dice.randrange(0, 2)},800,3000,8,,,,,0.7\n",
        encoding="utf-8",
    )
    across = STEP_DEG / max(np.cos(np.radians(south)), 0.05)
    far = (size - 1) * STEP_DEG, (size - 1) * across
    event = dice.choice(("none", "road failure", "power failure", "flood", "storm"))
    walkers = "".join(
        f"""
[[walker]]
mass_kg = {dice.choice((20, 35, 80, 160, 300))}
height_m = {dice.choice((0.9, 1.3, 1.75, 2.4))}
age_y = {dice.choice((4, 12, 40, 75, 110))}
sex = "{dice.choice(("male", "female"))}"
pace_factor = {dice.choice((0.3, 0.8, 1.0, 2.0))}
"""
        for _ in range(dice.choice((1, 1, 2, 3)))
    )
    plan = folder / "plan.toml"
    plan.write_text(
        f"""
[trip]
start = [{south:.6f}, {west:.6f}]
home = [{south + far[0]:.6f}, {west + far[1]:.6f}]
depart = {dice.choice((1950, 1999, 2026, 2097))}-{dice.randrange(1, 13):02}-\
{dice.randrange(1, 29):02}T{dice.randrange(24):02}:{dice.randrange(60):02}:00
timezone = "{dice.choice(("UTC", "Asia/Kathmandu", "Pacific/Kiritimati", "America/St_Johns"))}"
[map]
extract = "town.osm"
{'elevation = ["heights.tif"]' if heights else ""}
{walkers}
[bag]
items = "bag.csv"
capacity_l = 20
[weather]
air_c = {dice.choice((-40, -10, 5, 20, 33, 48))}
humidity_pct = {dice.choice((5, 50, 100))}
wind_m_s = {dice.choice((0, 3, 25))}
cloud_pct = {dice.choice((0, 100))}
rain_mm_h = {dice.choice((0, 0, 20))}
[event]
kind = "{event}"
[choices]
what_if = false
longest_day_h = {dice.choice((4, 14, 20))}
snap_limit_m = 2000
""",
        encoding="utf-8",
    )
    return plan
