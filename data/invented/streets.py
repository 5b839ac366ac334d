"""All streets of the town: by hand first, then districts, woods and country woven between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from data.invented import layout, roads, styles
from data.invented.frame import Bools, Floats
from data.invented.lattice import Fabric, Run, Where, weave
from data.invented.names import Names
from data.invented.noding import Line
from data.invented.shapes import Segments, inside, refine, resample, spline
from data.invented.terrain import (
    ISLAND_PHASE,
    LAKE_PHASE,
    Hills,
    lake_share,
    shore_line,
    water_gap_m,
)

MOTORWAY_CLEAR_M = 48.0
RAIL_CLEAR_M = 30.0
BANK_CLEAR_M = 10.0
STEPS_FROM_SLOPE = 0.06  # footways steeper than this become steps
STEP_RISE_M = 0.17
WHOLE = np.array([[-13.75, -8.75], [13.75, 8.75]]) * 1000.0


def km(*points: tuple[float, float]) -> Floats:
    """Give points in metres."""
    return np.array(points) * 1000.0


def forest(points: Floats) -> Bools:
    """Tell which points lie in the wood on the ridge."""
    x, y = points[:, 0] / 1000.0, points[:, 1] / 1000.0
    crest = np.interp(y, layout.CREST_Y, layout.CREST_X)
    north = (y > 0.5) & (y < 8.6) & (x > crest - 0.62) & (x < crest + 1.25)
    south = (y < -0.9) & (y > -4.1) & (x > crest - 0.6) & (x < crest + 1.15)
    return np.asarray(north | south)


def _region(within: list[Floats], without: list[Floats]) -> Where:
    """Give a test: inside any of the first outlines, and outside all of the second."""

    def test(points: Floats) -> Bools:
        good = np.zeros(len(points), np.bool_)
        for edge in within:
            good |= inside(points, edge)
        for edge in without:
            good &= ~inside(points, edge)
        return good

    return test


class Streets:
    """The town while it grows.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    hills : Hills
        Heights, so that streets keep off steep ground.
    names : Names
        Invented names.
    """

    def __init__(self, rng: np.random.Generator, hills: Hills, names: Names) -> None:
        self.rng, self.hills, self.names = rng, hills, names
        self.lines: list[Line] = []
        self._keep_off: list[tuple[Segments, float]] = []
        self.level_crossings: Floats = np.zeros((0, 2))

    def by_hand(self) -> None:
        """Draw the main roads, the railway, bridges, stairs and riverside paths."""
        plans, drawn = roads.hand_drawn()
        rails, drawn, self.level_crossings = roads.railway(plans, drawn)
        rail_points = [line.points for line in rails]
        carriage_lines, carriageways = roads.motorway(
            [*drawn, *rail_points, roads.expressway_line()]
        )
        trunk = roads.expressway([*drawn, *rail_points], carriageways)
        self.lines += [*rails, *carriage_lines, *trunk]
        on_ground = [line.points for line in trunk if line.tags.get("tunnel") != "yes"]
        self._keep_off = [
            (Segments.of([*carriageways, *on_ground]), MOTORWAY_CLEAR_M),
            (Segments.of(rail_points), RAIL_CLEAR_M),
        ]
        for plan, points in zip(plans, drawn, strict=True):
            self.lines += roads.draw(plan, points)
        self.lines += roads.dual_carriageway()
        self.lines += roads.rail_walkway()
        self.lines += roads.riverside()
        self.lines += self._ridge_stairs()

    def _ridge_stairs(self) -> list[Line]:
        """Draw the way over the crest: flights of steps with landings, then a path down."""
        up = spline(
            km((-1.75, 1.5), (-1.2, 1.52), (-0.75, 1.45), (-0.35, 1.56), (0.0, 1.5), (0.4, 1.58)),
            18.0,
        )
        down = spline(
            km((0.4, 1.58), (0.9, 1.8), (1.6, 1.55), (2.3, 1.65), (3.0, 1.2), (3.78, 1.4)), 22.0
        )
        name = {"name": "Bracken Stairs"}
        lines = []
        steep = (up[:-1, 0] > -560.0) & (up[:-1, 0] < 190.0)
        flight = steep & (np.arange(len(steep)) % 5 != 0)
        height = self.hills.height_m(up, np.full(len(up), 3000.0))
        for part, label in roads.stretch(up, flight.astype(np.int64)):
            rise = float(np.ptp(np.interp(part[[0, -1], 0], up[:, 0], height)))
            tags = {"highway": "path", "surface": "compacted", "lit": "no", **name}
            if label:
                tags = {
                    "highway": "steps", "step_count": str(max(3, round(rise / STEP_RISE_M))),
                    "incline": "up", "handrail": "yes", "lit": "no", "surface": "wood", **name,
                }  # fmt: skip
            lines.append(Line(part, tags))
        lines.append(
            Line(down, {"highway": "path", "surface": "ground", "lit": "no", "name": "Crest Path"})
        )
        return lines

    def older(self) -> Segments:
        """Give what new streets may tie to."""
        return Segments.of(
            [line.points for line in self.lines if line.level == 0 and "highway" in line.tags]
        )

    def _open_ground(self, steepest: float) -> Where:
        harbour, estate = km(*layout.HARBOUR), km(*layout.ESTATE)

        def clear(points: Floats) -> Bools:
            good: Bools = (np.abs(points[:, 0]) < WHOLE[1, 0]) & (
                np.abs(points[:, 1]) < WHOLE[1, 1]
            )
            good &= water_gap_m(points, 400.0) > BANK_CLEAR_M
            good &= lake_share(points, layout.LAKE_RADIUS_KM, LAKE_PHASE) > 1.04
            for segments, distance_m in self._keep_off:
                good &= ~np.isfinite(segments.nearest(points, distance_m)[0])
            good &= ~inside(points, harbour) & ~inside(points, estate)
            if steepest < 1.0:
                gap = np.full(len(points), 3000.0)
                east, north = points + np.array([15.0, 0.0]), points + np.array([0.0, 15.0])
                here = self.hills.height_m(points, gap)
                slope = np.hypot(
                    self.hills.height_m(east, gap) - here, self.hills.height_m(north, gap) - here
                )
                good &= slope / 15.0 < steepest
            return good

        return clear

    def _add(self, kind: str, zone: str, runs: list[Run]) -> None:
        for run in runs:
            choices = styles.STUBS if run.family == 2 else styles.THROUGH[kind]
            tags = styles.pick(self.rng, self.names, choices)
            line = Line(refine(run.points), tags, zone=zone)
            self.lines += self._with_steps(line) if tags["highway"] == "footway" else [line]

    def _with_steps(self, line: Line) -> list[Line]:
        """Turn the steep stretches of a footway into flights of steps."""
        height = self.hills.height_m(line.points, np.full(len(line.points), 3000.0))
        rise = np.diff(height)
        run = np.hypot(*np.diff(line.points, axis=0).T)
        parts = []
        for part, label in roads.stretch(
            line.points, (np.abs(rise) / run > STEPS_FROM_SLOPE).astype(np.int64)
        ):
            tags = dict(line.tags)
            if label:
                ends = self.hills.height_m(part[[0, -1]], np.full(2, 3000.0))
                climb = float(ends[1] - ends[0])
                tags |= {
                    "highway": "steps", "step_count": str(max(3, round(abs(climb) / STEP_RISE_M))),
                    "incline": "up" if climb > 0 else "down",
                }  # fmt: skip
            parts.append(Line(part, tags, zone=line.zone))
        return parts

    def fill(self, kind: str, zone: str, box: Floats, region: Where, angle: float) -> None:
        """Weave one district's streets."""
        fabric: Fabric = replace(styles.FABRICS[kind], angle_deg=angle)
        runs = weave(
            self.rng,
            fabric,
            box=box,
            region=region,
            open_ground=self._open_ground(styles.STEEPEST.get(kind, 1.0)),
            older=self.older(),
        )
        self._add(kind, zone, runs)

    def districts(self) -> None:
        """Weave parks, then built districts, then the wood, then the country between."""
        parks = {name: km(*corners) for name, corners in layout.PARKS.items()}
        for name, corners in parks.items():
            self.lines.append(
                Line(
                    resample(np.vstack([corners, corners[:1]]), 20.0),
                    {"highway": "footway", "surface": "asphalt", "lit": "yes", "name": name},
                    zone=name,
                )
            )

        green = list(parks.values())
        for name, corners in parks.items():
            self.fill("park", name, corners, _region([corners], []), 30.0)
        taken: list[Floats] = []
        for district in layout.DISTRICTS:
            edge = roads.outline(district)
            region = _region([edge], [*green, *taken])
            self.fill(district.kind, district.name, edge, region, district.angle_deg)
            taken.append(edge)
        self.fill("forest", "Bracken Wood", WHOLE, forest, 12.0)

        def country(points: Floats) -> Bools:
            return ~roads.built(points) & ~forest(points) & ~_region(green, [])(points)

        self.fill("country", "", WHOLE, country, -9.0)

    def exceptions(self) -> None:
        """Give some ways tags of their own: works, one-ways, private ones, closing times."""
        for zone, kind, changes, count in layout.EXCEPTIONS:
            fit = [
                number
                for number, line in enumerate(self.lines)
                if line.zone == zone and line.tags.get("highway") == kind and len(line.points) > 5
            ]
            for number in self.rng.permutation(len(fit))[:count].tolist():
                line = self.lines[fit[number]]
                self.lines[fit[number]] = replace(line, tags={**line.tags, **changes})

    def apart(self) -> None:
        """Draw what joins nothing: the island, the fenced harbour; and ferries, the estate."""
        shore = shore_line(layout.ISLAND_RADIUS_KM * 0.8, ISLAND_PHASE, 90)
        zone = "Mere Island"
        path = {"highway": "path", "surface": "ground", "lit": "no"}
        self.lines.append(
            Line(np.vstack([shore, shore[:1]]), {**path, "name": "Holm Path"}, zone=zone)
        )
        for a, b in ((0, 47), (20, 66)):
            middle = np.array(layout.LAKE_KM) * 1000.0 + [20.0 * (a - 10), 15.0]
            self.lines.append(
                Line(spline(np.array([shore[a], middle, shore[b]]), 18.0), path, zone=zone)
            )
        self._harbour()
        self._estate()
        self._ferries(shore)

    def _harbour(self) -> None:
        fence = km(*layout.HARBOUR)
        middle = fence.mean(axis=0)
        loop = middle + (np.vstack([fence, fence[:1]]) - middle) * 0.72
        quay = {"highway": "service", "surface": "concrete", "lit": "yes"}
        zone = "Saltworks Harbour"
        self.lines.append(Line(resample(loop, 22.0), {**quay, "name": "Basin Quay"}, zone=zone))
        for a, b in ((0, 3), (1, 4)):
            self.lines.append(Line(resample(loop[[a, b]], 22.0), quay, zone=zone))
        inner = loop[2]
        _, outer, _ = self.older().nearest(fence[2][None] + [[0.0, -60.0]], 600.0)
        lane = resample(np.vstack([inner, fence[2], outer[0]]), 22.0)
        self.lines.append(Line(lane, {**quay, "access": "private"}))

    def _estate(self) -> None:
        edge = km(*layout.ESTATE)
        drive = {"highway": "service", "access": "private", "surface": "gravel", "lit": "no",
                 "name": "Estate Drive"}  # fmt: skip
        middle = edge.mean(axis=0)
        older = self.older()
        for corner, bend in ((0, 70.0), (2, -60.0), (4, 40.0)):
            _, outer, _ = older.nearest(edge[corner][None], 900.0)
            points = np.vstack([middle, (middle + edge[corner]) / 2 + bend, edge[corner], outer[0]])
            self.lines.append(Line(spline(points, 20.0), drive, zone="Fennick Estate"))

    def _ferries(self, island_shore: Floats) -> None:
        ferry = {"route": "ferry", "foot": "yes", "bicycle": "yes", "motor_vehicle": "no"}
        older = self.older()
        lake = shore_line(layout.LAKE_RADIUS_KM, LAKE_PHASE, 90)
        ends = (
            ("Mere Ferry", lake[70], island_shore[66], False),
            ("Saltings Ferry", km((-13.55, 3.75))[0], km((-13.5, 4.05))[0], True),
        )
        jetty = {"highway": "footway", "surface": "wood", "lit": "no", "man_made": "pier"}
        for name, here, there, both in ends:
            for end, wanted in ((here, True), (there, both)):
                if wanted:
                    _, onto, _ = older.nearest(end[None], 1500.0)
                    self.lines.append(Line(resample(np.vstack([end, onto[0]]), 20.0), jetty))
            course = resample(np.vstack([here, there]), 30.0)
            tags = {**ferry, "name": name, "opening_hours": "Apr-Oct 07:00-19:00"}
            self.lines.append(Line(course, tags, roads.NEVER_MET))
