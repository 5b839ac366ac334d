"""Write the demo place: ``python -m data.make_demo`` from the top folder of the checkout.

Everything in it is invented. It lies at coordinates in the open Atlantic so that nobody takes it
for a real town. The same program writes the same bytes each time; see data/README.md.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from data.invented import layout
from data.invented.frame import lat_lon, to_lon_lat
from data.invented.mapfile import NOTE, Drawing, write
from data.invented.papers import BAG, plan_text
from data.invented.places import put
from data.invented.terrain import CELL_M, heights_grid, write_raster
from data.invented.town import SEED, Town, build
from data.invented.weather import write_year

DEMO = Path(__file__).parent / "demo"


def drawing_of(town: Town) -> Drawing:
    """Gather the town's network, areas and places into one drawing."""
    drawing = Drawing()
    drawing.add_nodes(to_lon_lat(town.web.xy))
    drawing.node_tags = {number: dict(tags) for number, tags in town.node_tags.items()}
    drawing.ways = list(zip(town.web.chains, town.web.tags, strict=True))
    for outline, tags in town.areas:
        drawing.add_area(to_lon_lat(outline), tags)
    for place in put(town):
        outline = to_lon_lat(place.outline)
        if len(outline) == 1:
            drawing.add_node(outline, place.tags)
        else:
            drawing.add_area(outline, place.tags)
    drawing.add_node(to_lon_lat(np.zeros((1, 2))), {"note": NOTE, "attribution": NOTE})
    for district in layout.DISTRICTS:
        middle = np.array(district.outline).mean(axis=0, keepdims=True) * 1000.0
        size = "village" if district.kind == "village" else "suburb"
        drawing.add_node(to_lon_lat(middle), {"place": size, "name": district.name})
    return drawing


def make(folder: Path) -> None:
    """Write the five files of the demo place into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    town = build()
    write(drawing_of(town), folder / "town.osm.pbf")
    grid = heights_grid(town.hills, np.random.default_rng(SEED + 1))
    west, north = -layout.HALF_WIDTH_KM * 1000.0, layout.HALF_HEIGHT_KM * 1000.0
    write_raster(folder / "heights.tif", grid, CELL_M, west, north)
    start, home = lat_lon(*layout.START_KM), lat_lon(*layout.HOME_KM)
    plan = plan_text(
        "Ossenford to Fennick on foot",
        "town.osm.pbf",
        start,
        home,
        start_is="an office in The Exchange",
        home_is="a house in Fennick, beyond the ridge",
    )
    (folder / "plan.toml").write_text(plan, encoding="utf-8", newline="\n")
    (folder / "bag.csv").write_text(BAG, encoding="utf-8", newline="\n")
    write_year(folder / "year.epw")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write the invented demo place.")
    parser.add_argument("--out", type=Path, default=DEMO, help="folder (data/demo)")
    chosen = parser.parse_args().out
    make(chosen)
    for file in sorted(chosen.iterdir()):
        print(f"{file.stat().st_size:>9} {file}")
