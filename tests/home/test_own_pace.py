"""A recorded walk as the plan takes it: read, measured, fitted, walked by; else refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Geod
from scipy.signal import lfilter

from simulator import InputError, Plan, demo_folder
from simulator.body.own_pace import OwnPace, slope_bend
from simulator.body.pace import SPEEDS
from simulator.ground.grid import smoothed
from simulator.ground.raster import read_raster
from simulator.ground.track import read_track
from simulator.home.own_pace import TRACK_SPREAD, own_paces
from simulator.home.scene import prepare
from simulator.home.walk import answer
from tests.conftest import PLAN

FACTOR, RESPONSE = 0.9, 1.3
BEGUN = datetime(2026, 4, 4, 9, 0, tzinfo=UTC)
POINT_S = 4.0

# The structure is that of the published schema of GPX 1.1: metadata, tracks of segments of points,
# elevation before time, and extensions of other makers.
GPX = """<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"
 xmlns:more="http://example.org/more">
 <metadata><name>Morning</name><time>2026-04-04T09:00:00Z</time></metadata>
 <wpt lat="46.0" lon="-64.8"><time>2001-01-01T00:00:00Z</time></wpt>
 <trk><name>Walk &amp; back</name>{segments}</trk>
</gpx>
"""


@pytest.fixture(scope="module")
def demo_plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})


def gpx(lat: NDArray[np.float64], lon: NDArray[np.float64], time_s: NDArray[np.float64]) -> str:
    """Write a track of one segment."""
    points = "".join(
        f'<trkpt lat="{y:.7f}" lon="{x:.7f}"><ele>12.5</ele>'
        f"<time>{(BEGUN + timedelta(seconds=t)).isoformat().replace('+00:00', 'Z')}</time>"
        "<extensions><more:time>none</more:time></extensions></trkpt>"
        for y, x, t in zip(lat.tolist(), lon.tolist(), time_s.tolist(), strict=True)
    )
    return GPX.format(segments=f"<trkseg>{points}</trkseg>")


def recorded(plan: Plan, seed: int, *, model: str = "middle", error_m: float = 3.0) -> str:
    """Walk a zigzag over the demo's heights at a known pace, as a receiver would record it."""
    rng = np.random.default_rng(seed)
    raster = read_raster(plan.map.elevation[0])
    smooth_m = plan.map.smoothing_m
    lat0, lon0 = plan.trip.start
    lat1, lon1 = plan.trip.home
    corners = rng.uniform(0.15, 0.85, (6, 2))
    path_lat = lat0 + (lat1 - lat0) * corners[:, 0]
    path_lon = lon0 + (lon1 - lon0) * corners[:, 1]
    geod = Geod(ellps="WGS84")
    legs = geod.inv(path_lon[:-1], path_lat[:-1], path_lon[1:], path_lat[1:])[2]
    corner_m = np.append(0.0, np.cumsum(legs))
    fine_m = np.arange(0.0, min(float(corner_m[-1]), 9000.0), 10.0)
    lat, lon = (np.interp(fine_m, corner_m, at) for at in (path_lat, path_lon))
    height = smoothed(raster, smooth_m).heights(lon, lat)
    slope = np.gradient(height, 10.0)
    bend = slope_bend(slope, model=model)
    mood = lfilter([1.0], [1.0, -0.95], rng.normal(0.0, 0.08 * np.sqrt(1 - 0.95**2), fine_m.size))
    speed = float(SPEEDS[model](0.0)) * FACTOR * np.exp(RESPONSE * bend + mood)
    clock = np.append(0.0, np.cumsum(10.0 / speed[:-1]))
    clock = clock + 420.0 * (fine_m > 2000.0) + 180.0 * (fine_m > 4500.0)  # two stops
    told_s = np.arange(0.0, clock[-1], POINT_S)
    at_m = np.interp(told_s, clock, fine_m)
    # Errors of a receiver are alike from one point to the next: here over a minute.
    keep = np.exp(-POINT_S / 60.0)
    off_m = lfilter(
        [np.sqrt(1.0 - keep**2)], [1.0, -keep], rng.normal(0.0, error_m, (2, told_s.size)), axis=1
    )
    degree_m = 111_195.0
    lat, lon = (np.interp(at_m, fine_m, at) for at in (lat, lon))
    return gpx(
        lat + off_m[0] / degree_m,
        lon + off_m[1] / (degree_m * np.cos(np.radians(lat0))),
        told_s,
    )


@pytest.fixture
def fitted(demo_plan: Plan, tmp_path: Path) -> Callable[[str], OwnPace]:
    def fit(text: str) -> OwnPace:
        path = tmp_path / "walk.gpx"
        path.write_text(text, encoding="utf-8")
        plan = demo_plan.with_changes(walker={"timed_walk": path})
        (found,) = own_paces(plan, plan.map.elevation)
        assert found is not None
        return found

    return fit


def test_tracks_made_at_a_known_pace_give_it_back_within_what_is_stated(
    demo_plan: Plan, fitted: Callable[[str], OwnPace]
) -> None:
    found = [fitted(recorded(demo_plan, seed)) for seed in range(12)]
    off = np.array([np.log(one.factor / FACTOR) for one in found])
    # Errors of the fit, and of the length along positions that are metres off.
    reach = [np.hypot(1.96 * one.standard_error(), TRACK_SPREAD) for one in found]
    assert np.mean(np.abs(off) <= reach) >= 0.9
    assert abs(off.mean()) < 0.03
    response = np.array([one.slope_response for one in found])
    sure = 1.96 * np.sqrt([one.covariance[1, 1] for one in found])
    assert np.mean(np.abs(response - RESPONSE) <= sure) >= 0.75
    assert all(1 <= one.stopped <= 8 for one in found)


def test_the_plan_walks_and_spreads_by_the_recorded_walk(demo_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "walk.gpx"
    path.write_text(recorded(demo_plan, 1), encoding="utf-8")
    scene = prepare(demo_plan.with_changes(walker={"timed_walk": path}))
    one = scene.own[0]
    assert one is not None
    assert scene.walkers.pace_factor[0] == pytest.approx(one.factor)
    assert scene.manner.slope_response == one.slope_response
    assert "walk.gpx" in scene.fingerprints
    walk = answer(scene)
    assert any("OWN PACE: by walk.gpx" in line for line in walk.summary["assumptions"])
    low, high = walk.summary["time"]["elapsed_h_band"]
    other = answer(prepare(demo_plan)).summary["time"]["elapsed_h_band"]
    assert high / low < other[1] / other[0]


def line(
    *, km: float = 4.0, speed_m_s: float = 1.2, step_s: float = 5.0
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Give a straight track to the north at one speed."""
    time_s = np.arange(0.0, 1000.0 * km / speed_m_s, step_s)
    return 46.0 + speed_m_s * time_s / 111_195.0, np.full(time_s.size, -64.8), time_s


def spoilt(name: str) -> str:
    """Give that track with one thing wrong."""
    lat, lon, time_s = line()
    if name == "clock":
        time_s[200:] -= 600.0
    elif name == "leap":
        lat[300:] += 0.02
    elif name == "bus":
        speed = np.where((time_s > 1000.0) & (time_s < 1120.0), 9.0, 1.2)
        lat = 46.0 + np.cumsum(speed * 5.0) / 111_195.0
    elif name == "days":
        time_s[200:] += 60 * 3600.0
    return gpx(lat, lon, time_s)


POINTLESS = GPX.format(segments="<trkseg></trkseg>")
TIMELESS = GPX.format(segments='<trkseg><trkpt lat="46" lon="-64.8"/></trkseg>')
BOMB = '<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx><trk>&b;</trk></gpx>'
OUTSIDE = '<!DOCTYPE gpx SYSTEM "file:///etc/hostname"><gpx/>'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (POINTLESS, "found 0 points, none with a time"),
        (TIMELESS, "found 1 points, none with a time"),
        (BOMB, "document type or entity"),
        (OUTSIDE, "document type or entity"),
        ("<kml><Document/></kml>", "found the element 'kml'"),
        ("<gpx><trk>", "no whole XML"),
        ("not a track", "no whole XML"),
        ('<?xml version="1.0" encoding="klingon"?><gpx/>', "XML|letters"),
        (TIMELESS.replace('lat="46"', 'lat="146"'), "point 1 without a place on earth"),
        (TIMELESS.replace('lat="46"', 'lat="nan"'), "point 1 without a place on earth"),
        (TIMELESS.replace('lat="46"', ""), "point 1 without a place on earth"),
        (gpx(*line()).replace("2026-04-04T09:10:00Z", "half past nine"), "found the time"),
        (gpx(*line(km=1.5)), "found 1.4 km with times"),
        (gpx(*line(step_s=400.0)), "points more than 250 m apart"),
        (spoilt("clock"), "a clock that goes back by 595 s"),
        (spoilt("days"), "found 61 h from first to last"),
        (spoilt("leap"), "the first at km 1.7: a ride, or a leap of clock or position"),
        (spoilt("bus"), "a ride, or a leap"),
        (gpx(*line(km=12.0, speed_m_s=4.2)), "15.1 km/h for the middle of the way"),
        (gpx(*line(km=12.0, speed_m_s=8.0)), "faster than 18 km/h"),
    ],
)
def test_what_is_no_recorded_walk_is_refused_in_one_line(
    tmp_path: Path, text: str, words: str
) -> None:
    path = tmp_path / "walk.gpx"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words) as refused:
        read_track(path, where="plan.toml: walker.timed_walk")
    assert "\n" not in str(refused.value)
    assert str(refused.value).startswith("plan.toml: walker.timed_walk: walk.gpx: ")


def test_a_walk_off_the_rasters_or_without_any_is_refused(demo_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "walk.gpx"
    lat, lon, time_s = line()
    path.write_text(gpx(lat - 30.0, lon, time_s), encoding="utf-8")
    plan = demo_plan.with_changes(walker={"timed_walk": path})
    with pytest.raises(InputError, match="found 0% of the recorded walk on the rasters"):
        own_paces(plan, plan.map.elevation)
    with pytest.raises(InputError, match=r"needs map\.elevation"):
        own_paces(plan, ())


def test_a_pause_of_the_receiver_joins_nothing(tmp_path: Path) -> None:
    lat, lon, time_s = line(km=6.0)
    whole = gpx(lat, lon, time_s)
    middle = whole.index("<trkpt", len(whole) // 2)
    path = tmp_path / "walk.gpx"
    path.write_text(whole[:middle] + "</trkseg><trkseg>" + whole[middle:], encoding="utf-8")
    pieces = read_track(path, where="x")
    # 6 km less at most the two pieces at the cut and the ends.
    assert 5850.0 < pieces.length_m.sum() <= 6000.0
    np.testing.assert_allclose(pieces.length_m / pieces.time_s, 1.2, rtol=1e-3)
    one = Geod(ellps="WGS84").inv(
        *pieces.lon[0, :1], *pieces.lat[0, :1], *pieces.lon[0, 1:], *pieces.lat[0, 1:]
    )
    assert pieces.length_m[0] == pytest.approx(one[2], rel=2e-3)


def test_a_plan_file_names_the_walk_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN.replace('sex = "male"', 'sex = "male"\ntimed_walk = "gone.gpx"'))
    with pytest.raises(
        InputError, match=r"walker\.timed_walk: found no file .*gone\.gpx.*recorded walk"
    ):
        Plan.read(path)
    (tmp_path / "gone.gpx").write_text(gpx(*line()), encoding="utf-8")
    plan = Plan.read(path, check_files=False)
    assert plan.walker[0].timed_walk == tmp_path / "gone.gpx"
