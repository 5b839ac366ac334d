"""Elevation rasters are local files of known kinds: nothing is fetched, nothing else is opened."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from simulator.errors import InputError
from simulator.ground.raster import read_raster
from tests.conftest import write_heights

BOUNDS = (-64.8, 46.0, -64.79, 46.01)


@pytest.fixture
def web() -> Iterator[tuple[str, list[str]]]:
    """Run a server that notes what it is asked for, and gives nothing."""
    asked: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_error(404)

        def do_HEAD(self) -> None:
            self.do_GET()

        def log_message(self, *_: object) -> None:
            """Stay silent."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", asked
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


VRT = """<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:4326</SRS>
<GeoTransform>-64.81, 0.01, 0, 46.1, 0, -0.01</GeoTransform>
<VRTRasterBand dataType="Float32" band="1"><SimpleSource>
<SourceFilename relativeToVRT="0">{source}</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="20" ySize="20"/>
<DstRect xOff="0" yOff="0" xSize="20" ySize="20"/></SimpleSource></VRTRasterBand></VRTDataset>"""
WMS = """<GDAL_WMS><Service name="TMS"><ServerUrl>{address}/${{z}}/${{x}}/${{y}}.tif</ServerUrl>
</Service><DataWindow><UpperLeftX>-64.81</UpperLeftX><UpperLeftY>46.1</UpperLeftY>
<LowerRightX>-64.7</LowerRightX><LowerRightY>46.0</LowerRightY><SizeX>256</SizeX><SizeY>256</SizeY><TileLevel>0</TileLevel></DataWindow>
<Projection>EPSG:4326</Projection><BlockSizeX>256</BlockSizeX><BlockSizeY>256</BlockSizeY>
<BandsCount>1</BandsCount></GDAL_WMS>"""
STACTA = '{{"type":"Feature","stac_version":"1.0.0","assets":{{"a":{{"href":"{address}/x.tif"}}}}}}'


@pytest.mark.parametrize("name", ["heights.tif", "heights.vrt", "heights.xml", "heights.hgt"])
@pytest.mark.parametrize("kind", ["vrt", "wms", "stac"])
def test_a_file_that_names_addresses_fetches_nothing(
    kind: str, name: str, web: tuple[str, list[str]], tmp_path: Path
) -> None:
    address, asked = web
    path = tmp_path / name
    text = {
        "vrt": VRT.format(source=f"/vsicurl/{address}/tile.tif"),
        "wms": WMS.format(address=address),
        "stac": STACTA.format(address=address),
    }[kind]
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError):
        read_raster(path, bounds=BOUNDS)
    assert asked == []


def test_a_file_that_names_another_file_does_not_open_it(tmp_path: Path) -> None:
    # Such a file could read anything that its reader may.
    write_heights(tmp_path / "real.tif")
    path = tmp_path / "heights.vrt"
    path.write_text(VRT.format(source=tmp_path / "real.tif"), encoding="utf-8")
    with pytest.raises(InputError):
        read_raster(path, bounds=BOUNDS)


@pytest.mark.parametrize(
    "form",
    ["/vsicurl/{address}/tile.tif", "{address}/tile.tif", "/vsizip/{folder}/h.zip/h.tif",
     "GTIFF_DIR:1:{folder}/real.tif", "vrt://{folder}/real.tif", "/vsimem/heights.tif",
     "zip://{folder}/h.zip!h.tif", "/vsigzip/{folder}/real.tif", "WMS:{address}"],
)  # fmt: skip
def test_only_a_local_file_is_a_raster(
    form: str, web: tuple[str, list[str]], tmp_path: Path
) -> None:
    address, asked = web
    write_heights(tmp_path / "real.tif")
    with pytest.raises(InputError):
        read_raster(form.format(address=address, folder=tmp_path), bounds=BOUNDS)
    assert asked == []


def test_a_file_beside_a_raster_does_not_change_it(
    web: tuple[str, list[str]], tmp_path: Path
) -> None:
    # GDAL looks for .aux.xml, .ovr and .msk beside a file; one from elsewhere could move it, mask
    # it, or send a request for its overviews.
    address, asked = web
    path = tmp_path / "heights.tif"
    write_heights(path)
    alone = read_raster(path, bounds=BOUNDS)
    overview = VRT.format(source=f"/vsicurl/{address}/tile.tif")
    path.with_name("heights.tif.ovr").write_text(overview, encoding="utf-8")
    path.with_name("heights.tif.msk").write_text(overview, encoding="utf-8")
    path.with_name("heights.tif.aux.xml").write_text(
        "<PAMDataset><SRS>EPSG:32633</SRS><GeoTransform>0, 1, 0, 0, 0, -1</GeoTransform>"
        '<PAMRasterBand band="1"><Scale>100</Scale><Offset>5000</Offset><UnitType>ft</UnitType>'
        "</PAMRasterBand></PAMDataset>",
        encoding="utf-8",
    )
    beside = read_raster(path, bounds=BOUNDS)
    np.testing.assert_array_equal(beside.height_m, alone.height_m)
    assert beside.transform == alone.transform
    assert asked == []


@pytest.mark.parametrize("driver", ["GTiff", "AAIGrid", "SRTMHGT", "HFA", "EHdr"])
def test_the_kinds_that_heights_come_in_are_read(driver: str, tmp_path: Path) -> None:
    size = 1201 if driver == "SRTMHGT" else 41
    step = 1 / 1200 if driver == "SRTMHGT" else 0.001
    name = {"SRTMHGT": "N46W065.hgt", "AAIGrid": "h.asc", "HFA": "h.img", "EHdr": "h.bil"}.get(
        driver, "h.tif"
    )
    heights = np.linspace(10, 90, size, dtype=np.float32)[:, None].repeat(size, axis=1)
    heights = np.rint(heights).astype("int16" if driver == "SRTMHGT" else "float32")
    source = tmp_path / "made.tif"
    transform = Affine(step, 0, -65.0 - step / 2, 0, -step, 47.0 + step / 2)
    with rasterio.open(
        source, "w", driver="GTiff", width=size, height=size, count=1, dtype=heights.dtype,
        crs="EPSG:4326", transform=transform,
    ) as raster:  # fmt: skip
        raster.write(heights, 1)
    path = source
    if driver != "GTiff":
        from rasterio.shutil import copy

        path = tmp_path / name
        copy(source, path, driver=driver)
    np.testing.assert_allclose(read_raster(path).height_m, heights, atol=1e-4)


def test_a_raster_that_unpacks_to_a_thousand_times_its_size_is_averaged_while_it_is_read(
    tmp_path: Path,
) -> None:
    # 20,000 by 20,000 cells of one height are some 2 MB packed, 1.6 GB unpacked.
    path = tmp_path / "flat.tif"
    size = 20_000
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=1, dtype="uint8",
        crs="EPSG:4326", transform=Affine(1e-5, 0, -64.85, 0, -1e-5, 46.1), tiled=True,
        compress="deflate", sparse_ok=True,
    ):  # fmt: skip
        pass
    assert path.stat().st_size < 1_000_000
    assert read_raster(path).height_m.size <= 10_000_000
