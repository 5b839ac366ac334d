"""Walking by the printed lines alone reaches home.

The walker of these tests has the printed lines and eyes, and nothing else. The rule it walks by is
written here, in `Walker`, apart from the code that writes the lines:

* At a junction it sees the ways that lead on, but for the one it came by: their names, whether one
  without a name is narrow (a path, a track, a service road), wide, or stairs, and in which
  direction each leaves over the next 20 m, or to the next junction if that is nearer.
* Unprompted it follows the name of its street round up to 60 degrees, unless a way as wide lies
  straighter. Where the name ends it takes the straightest way if that is plainly the one: within 40
  degrees, every other way at least 25 degrees farther off or much narrower, and its own kind of way
  not bending off within 60 degrees while the straightest is of another kind. Else it stops.
* It knows how far it has come since the last line to within a tenth, and 30 m at least. There it
  looks for what the next line says, and takes the first way that fits and is not what it would do
  anyway, less those that the line tells it to leave. Beyond that, it is lost.
* "Left" means 90 degrees, "bear" 45, "keep" 15, "sharp" 155; the way nearest to that fits if it is
  within 45 degrees.

Source of the rule: common practice of written walking instructions; the numbers are assumptions.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.errors import NoWayHomeError
from simulator.ground.streets import Streets
from simulator.ground.walkable import HIGHWAYS
from simulator.home.directions import directions
from simulator.report.tables import turn_words
from simulator.report.words import clean
from simulator.route.search import Network
from simulator.units import Units
from simulator.walk.course import course_along
from simulator.walk.party import Manner, street_times_s

if TYPE_CHECKING:
    from simulator.route.search import Path as Found

WALKS = 200
FARTHEST_M = 1700.0  # a checkpoint about every kilometre: 1300 m, and what is left over
SHORTEST_M = 300.0
METRES = Units("metric")

MEANT = {"": 90.0, "bear ": 45.0, "keep ": 15.0, "sharp ": 155.0}
WIDE = {
    **dict.fromkeys(["motorway", "trunk", "primary"], 6),
    "secondary": 5,
    **dict.fromkeys(["tertiary", "motorway_link", "trunk_link", "primary_link"], 4),
    **dict.fromkeys(["unclassified", "residential", "living_street", "road", "pedestrian"], 3),
    **dict.fromkeys(["secondary_link", "tertiary_link", "busway"], 3),
    **dict.fromkeys(["service", "track"], 2),
}
NARROW_WORDS = {
    *("a footpath", "a path", "a cycle track", "a track", "a bridle path", "a service road"),
    *("a platform", "a passage", "a pier", "a crossing", "a way without a name"),
}
WIDE_WORDS = {
    *("a street without a name", "a main road without a name", "a slip road"),
    "a pedestrian street",
}

LINE = re.compile(
    r"(?:After .*?, )?(?P<turn>straight on along|turn back along"
    r"|(?P<how>keep |bear |sharp |)(?P<side>left|right) into) (?P<street>.*?)"
    r"(?:; way (?P<nth>\d+) of (?P<ways>\d+) from the left)?"
    r"(?:; not the (?:one|(?P<many>\d+) in the) (?P<back>[\d,.]+ k?m) before)?"
    r"(?:; leaving .* on the (?:left|right))?",
    re.IGNORECASE,
)
START = re.compile(r"Set out (?P<heading>[a-z-]+) along (?P<street>.*)")
CHECK = re.compile(
    r"Go on(?: (?:over (?P<deck>.*?)|past (?P<mark>.*?)(?: on the (?P<side>left|right))?))?"
    r", -?[\d,]+ m high"
)
POINTS = ["north", "north-east", "east", "south-east"]
POINTS += ["south", "south-west", "west", "north-west"]


Arm = tuple[int, bool, float]
"""A way that leads on: segment, whether as drawn, and angle from straight on [deg]."""


class LostError(Exception):
    """The walker does not know what to do."""


def metres(text: str) -> float:
    """Read a printed distance."""
    amount, unit = text.split()[:2]
    return float(amount.replace(",", "")) * (1000.0 if unit.startswith("km") else 1.0)


def reckoned(due: float) -> float:
    """How far off the walker may be, what is printed being rounded to 10 m."""
    return max(30.0, 0.1 * due) + 10.0


def apart(first: float, second: float) -> float:
    """Angle between two directions, -180 to 180 [deg]."""
    return (first - second + 180.0) % 360.0 - 180.0


class Town:
    """A map as one sees it on foot."""

    def __init__(self, streets: Streets) -> None:
        self.streets = streets
        self.at: dict[int, list[tuple[int, bool, int]]] = {}
        ends = zip(streets.tail.tolist(), streets.head.tolist(), strict=True)
        for row, (tail, head) in enumerate(ends):
            self.at.setdefault(tail, []).append((row, True, head))
            self.at.setdefault(head, []).append((row, False, tail))

    def name(self, segment: int) -> str:
        """Name of a street."""
        return str(self.streets.ways.name[self.streets.way[segment]])

    def kind(self, segment: int) -> str:
        """Class of a street."""
        return HIGHWAYS[self.streets.ways.highway[self.streets.way[segment]]]

    def width(self, segment: int) -> int:
        """How wide a street looks."""
        return WIDE.get(self.kind(segment), 1)

    def looks(self, segment: int) -> str:
        """As what the walker sees a street: by the name on its sign, else by its size."""
        if self.name(segment):
            return clean(self.name(segment), longest=60)
        if self.kind(segment) == "steps":
            return "stairs"
        return "narrow" if self.width(segment) <= 2 else "wide"

    def bearing(self, node: int, segment: int, *, forward: bool) -> float:
        """Direction to the point 20 m along a way, or to the next junction."""
        streets, left, here = self.streets, 20.0, node
        for _ in range(8):
            end = int(streets.head[segment] if forward else streets.tail[segment])
            length = float(streets.length_m[segment])
            if length >= left:
                share = left / length
                lon = (1 - share) * streets.lon[here] + share * streets.lon[end]
                lat = (1 - share) * streets.lat[here] + share * streets.lat[end]
                break
            left, here = left - length, end
            lon, lat = streets.lon[end], streets.lat[end]
            onward = [arm for arm in self.at[end] if arm[0] != segment]
            if len(onward) != 1 or end == node:
                break
            segment, forward = onward[0][:2]
        east = (lon - streets.lon[node]) * math.cos(math.radians(lat))
        return math.degrees(math.atan2(east, lat - streets.lat[node]))


@dataclass
class Walker:
    """Someone with the printed lines in hand."""

    town: Town
    lines: list[tuple[str, str]]
    told: int = 0
    gone: float = 0.0
    skipped: int = 0

    def arms(self, node: int, came: int, ahead: bool) -> list[Arm]:
        """List what leads on, from left to right."""
        straight = self.town.bearing(node, came, forward=not ahead) + 180.0
        found = [
            (row, drawn, round(apart(self.town.bearing(node, row, forward=drawn), straight), 1))
            for row, drawn, _ in self.town.at[node]
            if row != came
        ]
        return sorted(found, key=lambda arm: (arm[2], arm[0], arm[1]))

    def unprompted(self, arms: list[Arm], came: int) -> int | None:
        """Say what it does without being told."""
        own = self.town.name(came)
        same = [row for row, arm in enumerate(arms) if own and self.town.name(arm[0]) == own]
        if len(arms) == 1:
            return 0
        if same:
            return same[0] if len(same) == 1 and self.bends_on(arms, same[0]) else None
        order = sorted(range(len(arms)), key=lambda row: abs(arms[row][2]))
        return order[0] if arms and self.is_plain([arms[row] for row in order], came) else None

    def bends_on(self, arms: list[Arm], first: int) -> bool:
        """Whether a street that keeps its name is followed round."""
        segment, _, angle = arms[first]
        return abs(angle) <= 60.0 and not any(
            abs(arm[2]) < abs(angle) and self.town.width(arm[0]) >= self.town.width(segment)
            for row, arm in enumerate(arms)
            if row != first
        )

    def is_plain(self, arms: list[Arm], came: int) -> bool:
        """Whether the first of some ways, the straightest, is plainly the one to take."""
        town, (segment, _, angle) = self.town, arms[0]
        for other, _, off in arms[1:]:
            near = abs(off) - abs(angle) < 25.0
            if near and town.width(segment) - town.width(other) < 2:
                return False
            own_kind = town.kind(other) == town.kind(came) != town.kind(segment)
            if own_kind and abs(off) <= 60.0:
                return False
        return abs(angle) <= 40.0

    def fits(self, arms: list[Arm], line: re.Match[str]) -> int | None:
        """Say which way a line means here, if any."""
        street = line["street"]
        if street in NARROW_WORDS:
            wanted = "narrow"
        elif street in WIDE_WORDS:
            wanted = "wide"
        else:
            wanted = street
        if line["nth"]:
            row = int(line["nth"]) - 1
            there = len(arms) == int(line["ways"]) and self.town.looks(arms[row][0]) == wanted
            return row if there else None
        meant = 0.0
        if line["side"]:
            meant = MEANT[line["how"].lower()] * (1 if line["side"].lower() == "right" else -1)
        off = [
            (abs(arm[2] - meant), row)
            for row, arm in enumerate(arms)
            if self.town.looks(arm[0]) == wanted
        ]
        return min(off)[1] if off and min(off)[0] <= 45.0 else None

    def walk(self, start: tuple[int, float], home: tuple[int, float]) -> None:
        """Go home, or raise."""
        segment, ahead = start[0], self.sets_out(start[0])
        length = float(self.town.streets.length_m[segment])
        left = length * ((1.0 - start[1]) if ahead else start[1])
        done = set()
        while not self.is_home(segment, ahead, left, home):
            if (segment, ahead, self.told) in done:
                msg = f"in a circle after {self.lines[self.told]}"
                raise LostError(msg)
            done.add((segment, ahead, self.told))
            self.gone += left
            segment, ahead = self.decide(segment, ahead)
            left = float(self.town.streets.length_m[segment])

    def sets_out(self, segment: int) -> bool:
        """Choose the direction of the first line: whether it is the one the street is drawn in."""
        first = START.fullmatch(self.lines[0][0])
        assert first is not None, self.lines[0][0]
        streets = self.town.streets
        for ahead in (True, False):
            tail, head = streets.tail[segment], streets.head[segment]
            begin, end = (tail, head) if ahead else (head, tail)
            east = (streets.lon[end] - streets.lon[begin]) * math.cos(
                math.radians(streets.lat[end])
            )
            bearing = math.degrees(math.atan2(east, streets.lat[end] - streets.lat[begin]))
            if POINTS[round(bearing / 45.0) % 8] == first["heading"]:
                return ahead
        msg = f"no such heading: {self.lines[0][0]}"
        raise LostError(msg)

    def ahead_of(self) -> tuple[int, float]:
        """Find the next line that something on the ground belongs to, and how far it is to it."""
        due, following = metres(self.lines[self.told][1]), self.told + 1
        while following < len(self.lines) and self.lines[following][0].startswith("Go on, "):
            due += metres(self.lines[following][1])
            following += 1
        return following, due

    def is_home(self, segment: int, ahead: bool, left: float, home: tuple[int, float]) -> bool:
        """Whether home lies on this street, where the last line says."""
        following, due = self.ahead_of()
        if following < len(self.lines) or segment != home[0]:
            return False
        length = float(self.town.streets.length_m[segment])
        beyond = length * ((1.0 - home[1]) if ahead else home[1])
        return abs(self.gone + left - beyond - due) <= reckoned(due)

    def decide(self, came: int, ahead: bool) -> tuple[int, bool]:
        """Choose a way at the next point: as told, or unprompted."""
        streets, (following, due) = self.town.streets, self.ahead_of()
        node = int(streets.head[came] if ahead else streets.tail[came])
        arms = self.arms(node, came, ahead)
        take = self.unprompted(arms, came)
        if following < len(self.lines):
            text = self.lines[following][0]
            if self.gone > due + reckoned(due):
                msg = f"past {text}: {self.gone:.0f} of {due:.0f} m"
                raise LostError(msg)
            check = CHECK.fullmatch(text)
            if check is None:
                take = self.turns(arms, take, text, due)
            elif take is not None and abs(self.gone - due) <= reckoned(due):
                off_bridge = (
                    streets.ways.bridge[streets.way[came]]
                    and not streets.ways.bridge[streets.way[arms[take][0]]]
                )
                if self.sees(arms, take, check) if check["side"] else off_bridge:
                    self.told, self.gone, self.skipped = following, 0.0, 0
        if take is None:
            msg = f"stands at {node} after {self.gone:.0f} m of {due:.0f} m"
            raise LostError(msg)
        return arms[take][:2]

    def turns(self, arms: list[Arm], take: int | None, text: str, due: float) -> int | None:
        """Look for the next line's turn where it may be; else do what one would do anyway."""
        line = LINE.fullmatch(text)
        assert line is not None, text
        back = metres(line["back"]) + 10.0 if line["back"] else reckoned(due)
        if not due - back <= self.gone <= due + reckoned(due) or len(arms) == 1:
            return take
        fit = self.fits(arms, line)
        if fit is None or fit == take:
            return take
        if self.skipped < (int(line["many"] or 1) if line["back"] else 0):
            self.skipped += 1
            return take
        self.told, self.gone, self.skipped = self.ahead_of()[0], 0.0, 0
        return fit

    def sees(self, arms: list[Arm], take: int, check: re.Match[str]) -> bool:
        """Whether what a checkpoint names is passed here."""
        if not check["side"]:
            return False
        mark = check["mark"]
        looks = "narrow" if mark in NARROW_WORDS else "wide" if mark in WIDE_WORDS else mark
        return any(
            self.town.looks(arm[0]).casefold()[:49] == looks.casefold()[:49]
            and ("right" if arm[2] > arms[take][2] else "left") == check["side"]
            for row, arm in enumerate(arms)
            if row != take
        )


def random_ways(streets: Streets, seed: int) -> list[Found]:
    """Ways between places drawn at random on the greatest piece of a map."""
    rng = np.random.default_rng(seed)
    network = Network.of_streets(streets)
    times = street_times_s(streets, Manner())
    inside = streets.components().label[streets.tail] == 0
    rows = np.flatnonzero(inside & streets.open_forward & streets.open_backward)
    found: list[Found] = []
    while len(found) < WALKS:
        begin, end = rng.choice(rows, 2, replace=False).tolist()
        try:
            path = network.least(*times, (begin, rng.random()), (end, rng.random()))
        except NoWayHomeError:
            continue
        if path.cost > SHORTEST_M:
            found.append(path)
    return found


def printed(streets: Streets, path: Found) -> list[tuple[str, str]]:
    """Print the lines of a way: what to do, and what follows."""
    course = course_along(streets, path)
    told = directions(streets, course)
    assert sum(line.length_m for line in told) == pytest.approx(course.length_m)
    assert max(line.length_m for line in told) <= FARTHEST_M
    return [turn_words(line, METRES)[:2] for line in told]


def is_lost(town: Town, path: Found, lines: list[tuple[str, str]]) -> str:
    """Say where someone with these lines is lost; "" when home is reached."""
    ends = zip(path.segment[[0, -1]].tolist(), (path.from_fraction, path.to_fraction), strict=True)
    try:
        Walker(town, lines).walk(*ends)
    except LostError as lost:
        return str(lost)
    return ""


def lost_on(streets: Streets, seed: int) -> list[str]:
    """Walk many ways by their lines; tell those that fail."""
    town, ways = Town(streets), random_ways(streets, seed)
    return list(filter(None, (is_lost(town, path, printed(streets, path)) for path in ways)))


@pytest.mark.slow
def test_by_the_lines_alone_in_a_mountain_country(liechtenstein: Path) -> None:
    assert lost_on(Streets.read(liechtenstein), 1) == []


def test_by_the_lines_alone_in_a_cliff_city(monaco: Path) -> None:
    assert lost_on(Streets.read(monaco), 2) == []


def test_by_the_lines_alone_in_the_middle_of_a_capital(helsinki: Streets) -> None:
    assert lost_on(helsinki, 3) == []


def test_by_the_lines_alone_in_the_invented_valley(demo_path: Path) -> None:
    assert lost_on(Streets.read(demo_path), 4) == []


def test_whoever_misses_a_line_is_lost(helsinki: Streets) -> None:
    town, rng = Town(helsinki), np.random.default_rng(5)
    missed = found = 0
    for path in random_ways(helsinki, 6)[:50]:
        lines = printed(helsinki, path)
        turns = [row for row, line in enumerate(lines) if LINE.fullmatch(line[0])]
        if turns:
            without = int(rng.choice(turns))
            found += is_lost(town, path, lines[:without] + lines[without + 1 :]) != ""
            missed += 1
    # By luck one may come out right, where two ways of the same looks run side by side.
    assert missed > 0
    assert found >= 0.95 * missed
