"""The way told so that it can be walked: a line wherever a walker would not go on unprompted.

What a walker does without being told is stated as a rule (`goes_on`); a line is given at every
junction where the way leaves what the rule gives, and where the rule gives nothing. Each line says
what stands there, what looks like it and comes before, and is never far behind the line before:
checkpoints stand in between. Angles are read from the drawn line. Signs and local names may differ
from the map.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.walkable import HIGHWAYS
from simulator.route.junctions import Arm, Junction, heading_deg, junctions_along

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.ground.walkable import Ways
    from simulator.route.crossings import Crossings
    from simulator.walk.course import Course

STRAIGHT_DEG, BEAR_DEG, SHARP_DEG = 30.0, 60.0, 135.0
"""Below the first it is straight on, below the second one bears, above the third it is sharp
[deg]; common practice."""

FOLLOWED_DEG = 60.0
"""A street that keeps its name is followed round bends up to this at a junction [deg]; an
assumption, 45 to 75."""

PLAIN_DEG = 40.0
"""Without a name to follow, a walker goes on unprompted by an arm up to this far from straight
[deg]; an assumption, 30 to 45."""

APART_DEG = 25.0
"""Another arm as wide must be this much farther from straight for the choice to be plain [deg]; an
assumption, 20 to 40."""

WIDTHS = {
    **dict.fromkeys(("motorway", "trunk", "primary"), 6),
    "secondary": 5,
    "tertiary": 4,
    **dict.fromkeys(("unclassified", "residential", "living_street", "road", "pedestrian"), 3),
    **dict.fromkeys(("motorway_link", "trunk_link", "primary_link"), 4),
    **dict.fromkeys(("secondary_link", "tertiary_link", "busway"), 3),
    **dict.fromkeys(("service", "track"), 2),
}
"""How wide a kind of way looks, 1 for a path; an assumption."""

NARROW = 2
"""Ways of up to this width without a name are hard to tell apart on the ground."""

MUCH_NARROWER = 2
"""A way narrower by this much is not taken for the street that goes on."""

RECKONED_SHARE, RECKONED_M = 0.1, 30.0
"""A walker knows how far it is since the last line to within the greater of a share and a distance
[m]; assumptions, 0.05 to 0.2 and 20 to 50."""

EDGE_M = 20.0
"""What misleads is told to this much farther back than a walker may be off: distances are printed
rounded [m]."""

MATCH_DEG = 45.0
"""An arm fits a turn's word when it lies this near to what the word means [deg]."""

CHECK_EVERY_M, CHECK_LEAST_M, CHECK_MOST_M = 1000.0, 700.0, 1300.0
"""A checkpoint stands about every so many metres without a line; it may lie in between the other
two [m]."""

LANDMARK_M = 60.0
"""A bridge or a place is named beside a turn that follows within this distance [m] (assumed)."""

STEEP, SLOPED = 0.06, 0.02
"""Slopes from which ground is called steep, and up- or downhill (assumed)."""

ROLLING_M = 8.0
"""Climb and fall that make a stretch go up and down [m] (assumed)."""

SLIVER_M = 40.0
"""Decks of one name that are nearer than this are one bridge [m] (assumed)."""

MEANT_DEG = {
    "straight on": 0.0,
    "keep left": -15.0,
    "keep right": 15.0,
    "bear left": -45.0,
    "bear right": 45.0,
    "left": -90.0,
    "right": 90.0,
    "sharp left": -155.0,
    "sharp right": 155.0,
}
"""Angle that the word of a turn means, positive to the right [deg]."""

POINTS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)
"""Points of the compass, clockwise."""

KIND_WORDS = {
    "footway": "a footpath",
    "path": "a path",
    "steps": "stairs",
    "cycleway": "a cycle track",
    "track": "a track",
    "bridleway": "a bridle path",
    "pedestrian": "a pedestrian street",
    "service": "a service road",
    "platform": "a platform",
    "corridor": "a passage",
    "crossing": "a crossing",
    "other": "a way without a name",
    "pier": "a pier",
    **{f"{kind}_link": "a slip road" for kind in ("motorway", "trunk", "primary", "secondary")},
    "tertiary_link": "a slip road",
    "trunk": "a main road without a name",
    "primary": "a main road without a name",
}
"""What a street without a name is called, by its class."""

NAMELESS = "a street without a name"


@dataclass(frozen=True, slots=True)
class Direction:
    """One instruction and the stretch that follows it.

    Attributes
    ----------
    along_m : float
        Where it is given, from the start [m].
    turn : str
        ``start``, ``go on`` (a checkpoint), ``turn back``, ``straight on``, and ``keep``, ``bear``,
        none or ``sharp`` before ``left`` and ``right``.
    street : str
        Name of the street taken; empty when it has none.
    kind : str
        Its class, as the map tags it.
    heading : str
        Point of the compass in which one leaves.
    after : str
        Bridge or place that the turn follows; empty when none stands there.
    nth, ways : int
        Which of how many ways on, counted from the left; 0 where the words are enough.
    past : int
        Ways that fit the words and come before, within what a walker may misjudge.
    past_m : float
        How far before the first of these lies [m]; 0 for none.
    leaving : tuple of (str, str)
        What not to take there: street and side, the straightest first.
    passing : tuple of (str, str)
        At a checkpoint, what is passed there: street and side, or a bridge and ``over``; empty for
        none.
    height_m : float
        Height of the ground there [m].
    length_m : float
        How far it is followed [m].
    ascent_m, descent_m : float
        Climb and fall on it [m].
    ground : str
        ``level``, ``uphill``, ``downhill``, ``steeply uphill``, ``steeply downhill`` or ``up and
        down``.
    over : tuple of str
        Bridges crossed on it, in order.
    through : tuple of str
        ``tunnel`` and ``stairs`` where there are any.
    """

    along_m: float
    turn: str
    street: str
    kind: str
    heading: str = ""
    after: str = ""
    nth: int = 0
    ways: int = 0
    past: int = 0
    past_m: float = 0.0
    leaving: tuple[tuple[str, str], ...] = ()
    passing: tuple[str, str] = ("", "")
    height_m: float = 0.0
    length_m: float = 0.0
    ascent_m: float = 0.0
    descent_m: float = 0.0
    ground: str = "level"
    over: tuple[str, ...] = ()
    through: tuple[str, ...] = ()

    @property
    def is_seen(self) -> bool:
        """Whether something on the ground says that one is there."""
        return self.turn != "go on" or bool(self.after) or bool(self.passing[0])


def directions(
    streets: Streets,
    course: Course,
    *,
    crossings: Crossings | None = None,
    landmarks: Sequence[tuple[float, str]] = (),
) -> tuple[Direction, ...]:
    """Tell the way line by line."""
    rows = _rows(course)
    segment, forward = course.segment[rows], course.forward[rows]
    junctions = junctions_along(streets, segment, forward, course.distance_m[rows])
    bridges = _bridges(streets.ways, course, crossings)
    decks = {name for _begin, _end, name in bridges}
    marks = sorted([*landmarks, *((end_m, name) for _begin, end_m, name in bridges)])
    lines = [_start(streets, course), *_turns(streets, junctions), *_back(streets, course, rows)]
    lines.sort(key=lambda line: line.along_m)
    lines = _with_past(streets.ways, lines, junctions)
    lines = [
        replace(line, after="", passing=(line.after, "over")) if line.after in decks else line
        for line in _with_checks(streets.ways, lines, junctions, marks, course)
    ]
    lines = _with_past(streets.ways, lines, junctions)
    begins = [line.along_m for line in lines]
    told = [
        _filled(line, end_m, course, bridges, marks)
        for line, end_m in zip(lines, [*begins[1:], course.length_m], strict=True)
    ]
    # A place that the line before began with is not told again,
    befores = [told[0], *told[:-1]]
    told = [
        replace(line, after="") if line.after and line.after == before.after else line
        for line, before in zip(told, befores, strict=True)
    ]
    # nor is a bridge that the next line begins with.
    return tuple(
        replace(
            line, over=tuple(name for name in line.over if name not in {then.after, *then.passing})
        )
        for line, then in zip(told, [*told[1:], told[0]], strict=True)
    )


def goes_on(junction: Junction, ways: Ways) -> int | None:
    """Say which arm a walker takes without being told."""
    arms = junction.arms
    name = ways.name[junction.came]
    same = [place for place, arm in enumerate(arms) if name and ways.name[arm.way] == name]
    if len(same) == 1 and abs(arms[same[0]].angle_deg) <= FOLLOWED_DEG:
        own = arms[same[0]]
        rivals = [
            arm
            for arm in arms
            if arm is not own
            and width(ways, arm.way) >= width(ways, own.way)
            and abs(arm.angle_deg) < abs(own.angle_deg)
        ]
        return None if rivals else same[0]
    if same:
        return None
    best = min(range(len(arms)), key=lambda place: abs(arms[place].angle_deg))
    first = arms[best]
    if abs(first.angle_deg) > PLAIN_DEG:
        return None
    for place, arm in enumerate(arms):
        if place == best:
            continue
        narrower = width(ways, first.way) - width(ways, arm.way) >= MUCH_NARROWER
        if abs(arm.angle_deg) - abs(first.angle_deg) < APART_DEG and not narrower:
            return None
        follows = ways.highway[arm.way] == ways.highway[junction.came]
        strays = ways.highway[first.way] != ways.highway[junction.came]
        if follows and strays and abs(arm.angle_deg) <= FOLLOWED_DEG:
            return None
    return best


def chosen(arms: Sequence[Arm], ways: Ways, line: Direction) -> int | None:
    """Say which arm a line's words make a walker take."""
    wanted = looks(line.street, line.kind)
    if line.nth:
        fits = len(arms) == line.ways and _looks(ways, arms[line.nth - 1]) == wanted
        return line.nth - 1 if fits else None
    meant = MEANT_DEG[line.turn]
    off = [
        (abs(arm.angle_deg - meant), place)
        for place, arm in enumerate(arms)
        if _looks(ways, arm) == wanted
    ]
    return min(off)[1] if off and min(off)[0] <= MATCH_DEG else None


def looks(name: str, kind: str) -> str:
    """Say as what a walker knows a street again: by its name, else by what can be seen of it."""
    if name:
        return name
    if kind == "steps":
        return "\0steps"
    return "\0narrow" if WIDTHS.get(kind, 1) <= NARROW else "\0wide"


def street_words(name: str, kind: str) -> str:
    """Call a street by its name, else by its kind.

    Parameters
    ----------
    name, kind : str
        Name, "" for none, and class.

    Returns
    -------
    str
        E.g. ``Mill Lane``, ``a track``.
    """
    return name or KIND_WORDS.get(kind, NAMELESS)


def width(ways: Ways, way: int) -> int:
    """Say how wide a way looks."""
    return WIDTHS.get(HIGHWAYS[ways.highway[way]], 1)


def turn_words(turn_deg: float) -> str:
    """Say a turn in words.

    Parameters
    ----------
    turn_deg : float
        Change of bearing, positive to the right, -180 to 180 [deg].

    Returns
    -------
    str
        As in ``Direction.turn``.

    Examples
    --------
    >>> turn_words(90.0), turn_words(-45.0), turn_words(10.0), turn_words(-170.0)
    ('right', 'bear left', 'straight on', 'sharp left')
    """
    size = abs(turn_deg)
    if size < STRAIGHT_DEG:
        return "straight on"
    side = "right" if turn_deg > 0.0 else "left"
    if size < BEAR_DEG:
        return f"bear {side}"
    return f"sharp {side}" if size > SHARP_DEG else side


def ground_words(length_m: float, ascent_m: float, descent_m: float) -> str:
    """Say how the ground runs.

    Parameters
    ----------
    length_m : float
        Length of the stretch [m].
    ascent_m, descent_m : float
        Climb and fall on it [m].

    Returns
    -------
    str
        As in ``Direction.ground``.

    Examples
    --------
    >>> ground_words(400.0, 30.0, 0.0), ground_words(1000.0, 20.0, 20.0)
    ('steeply uphill', 'up and down')
    """
    if length_m <= 0.0:
        return "level"
    slope = (ascent_m - descent_m) / length_m
    if abs(slope) >= SLOPED:
        way = "uphill" if slope > 0.0 else "downhill"
        return f"steeply {way}" if abs(slope) >= STEEP else way
    if min(ascent_m, descent_m) >= ROLLING_M:
        return "up and down"
    return "level"


def _rows(course: Course) -> NDArray[np.int64]:
    """First step of each segment walked."""
    changed = (np.diff(course.segment) != 0) | (np.diff(course.forward.astype(np.int8)) != 0)
    return np.concatenate([[0], np.flatnonzero(changed) + 1])


def _start(streets: Streets, course: Course) -> Direction:
    first, way = int(course.segment[0]), int(course.way[0])
    return Direction(
        along_m=0.0,
        turn="start",
        street=streets.ways.name[way],
        kind=HIGHWAYS[streets.ways.highway[way]],
        heading=_point(heading_deg(streets, first, forward=bool(course.forward[0]))),
    )


def _point(bearing_deg: float) -> str:
    """Name the nearest point of the compass."""
    return POINTS[round(bearing_deg / (360.0 / len(POINTS))) % len(POINTS)]


def _turns(streets: Streets, junctions: Iterable[Junction]) -> list[Direction]:
    """Give a line at every junction that needs one."""
    ways, lines = streets.ways, []
    for junction in junctions:
        if goes_on(junction, ways) == junction.taken:
            continue
        arms, arm = junction.arms, junction.arms[junction.taken]
        line = Direction(
            along_m=junction.along_m,
            turn=_turn(arms, junction.taken),
            street=ways.name[arm.way],
            kind=HIGHWAYS[ways.highway[arm.way]],
            heading=_point(heading_deg(streets, arm.segment, forward=arm.forward)),
            leaving=_leaving(ways, junction),
        )
        if chosen(arms, ways, line) != junction.taken:
            line = replace(line, nth=junction.taken + 1, ways=len(arms))
        lines.append(line)
    return lines


def _turn(arms: Sequence[Arm], taken: int) -> str:
    """Word of a turn; of several arms nearly straight only the straightest is straight on."""
    angle = arms[taken].angle_deg
    word = turn_words(angle)
    straightest = min(arms, key=lambda arm: abs(arm.angle_deg))
    if word != "straight on" or straightest is arms[taken]:
        return word
    return "keep right" if angle > straightest.angle_deg else "keep left"


def _leaving(ways: Ways, junction: Junction) -> tuple[tuple[str, str], ...]:
    """Name what lies about as straight as the arm that is taken, or goes on by the name."""
    own = junction.arms[junction.taken]
    found = []
    for arm in junction.arms:
        # A plain turn to the side leaves everything else without a word.
        if arm is own or max(abs(arm.angle_deg), abs(own.angle_deg)) > BEAR_DEG:
            continue
        side = "right" if arm.angle_deg > own.angle_deg else "left"
        words = street_words(ways.name[arm.way], HIGHWAYS[ways.highway[arm.way]])
        found.append((abs(arm.angle_deg), words, side))
    return tuple((words, side) for _angle, words, side in sorted(found))


def _back(streets: Streets, course: Course, rows: NDArray[np.int64]) -> list[Direction]:
    """Give a line where the way turns back within a street: a via in the middle of it."""
    lines = []
    for before, row in zip(rows[:-1].tolist(), rows[1:].tolist(), strict=True):
        if course.segment[before] == course.segment[row]:
            way = int(course.way[row])
            lines.append(
                Direction(
                    along_m=float(course.distance_m[row]),
                    turn="turn back",
                    street=streets.ways.name[way],
                    kind=HIGHWAYS[streets.ways.highway[way]],
                    heading=_point(
                        heading_deg(
                            streets, int(course.segment[row]), forward=bool(course.forward[row])
                        )
                    ),
                )
            )
    return lines


def reckoned_m(length_m: float) -> float:
    """Say how far off a walker may be who has gone so far since the last line [m]."""
    return max(RECKONED_M, RECKONED_SHARE * length_m)


def _with_past(
    ways: Ways, lines: Sequence[Direction], junctions: Sequence[Junction]
) -> list[Direction]:
    """Count what fits a line's words and comes before it, since the line before."""
    along = np.array([junction.along_m for junction in junctions])
    told = []
    last_m = 0.0
    for line in lines:
        if line.turn not in MEANT_DEG:
            told.append(line)
            # A checkpoint where nothing stands is no place to count from.
            last_m = line.along_m if line.is_seen else last_m
            continue
        from_m = line.along_m - reckoned_m(line.along_m - last_m) - EDGE_M
        before = np.flatnonzero((along > last_m) & (along < line.along_m))
        alike: list[float] = []
        for place in reversed(before.tolist()):
            # What stands close before something that is told is told with it.
            if along[place] < from_m and not (alike and along[place] >= alike[-1] - EDGE_M):
                break
            if _misleads(ways, junctions[place], line):
                alike.append(float(along[place]))
        first_m = line.along_m - alike[-1] if alike else 0.0
        told.append(replace(line, past=len(alike), past_m=first_m))
        last_m = line.along_m
    return told


def _misleads(ways: Ways, junction: Junction, line: Direction) -> bool:
    """Whether a line's words fit a junction, and would lead off what is done there unprompted."""
    fits = chosen(junction.arms, ways, line)
    return fits is not None and fits != junction.taken


def _with_checks(
    ways: Ways,
    lines: Sequence[Direction],
    junctions: Sequence[Junction],
    marks: Sequence[tuple[float, str]],
    course: Course,
) -> list[Direction]:
    """Put checkpoints into long stretches."""
    told: list[Direction] = []
    ends_m = [*(line.along_m for line in lines[1:]), course.length_m]
    for line, end_m in zip(lines, ends_m, strict=True):
        told.append(line)
        last_m = line.along_m
        while end_m - last_m > CHECK_MOST_M:
            check = _check(ways, last_m, end_m, junctions, marks, course)
            told.append(check)
            last_m = check.along_m
    return told


def _check(
    ways: Ways,
    last_m: float,
    end_m: float,
    junctions: Sequence[Junction],
    marks: Sequence[tuple[float, str]],
    course: Course,
) -> Direction:
    """Choose what to check the distance by: a bridge or a place, a street passed, or nothing."""
    low_m = last_m + CHECK_LEAST_M
    high_m = min(last_m + CHECK_MOST_M, end_m - CHECK_LEAST_M / 2.0)
    middle_m = min(last_m + CHECK_EVERY_M, high_m)
    window_m = reckoned_m(CHECK_MOST_M)
    found: list[tuple[int, float, float, str, tuple[str, str]]] = [
        (0, abs(at_m - middle_m), at_m, name, ("", ""))
        for at_m, name in marks
        if low_m <= at_m <= high_m and _alone(at_m, name, marks, 2.0 * window_m)
    ]
    inside = [
        one
        for one in junctions
        if last_m < one.along_m <= high_m and one.along_m >= low_m - window_m
    ]
    seen: dict[tuple[str, str], float] = {}
    for junction in inside:
        own = junction.arms[junction.taken]
        for arm in junction.arms:
            if arm is own:
                continue
            name, kind = ways.name[arm.way], HIGHWAYS[ways.highway[arm.way]]
            side = "right" if arm.angle_deg > own.angle_deg else "left"
            alike = (looks(name, kind), side)
            alone = junction.along_m - seen.get(alike, -np.inf) > 2.0 * window_m
            seen[alike] = junction.along_m
            if alone and junction.along_m >= low_m and name != ways.name[own.way]:
                rank = 1 if name else 2
                passed = (street_words(name, kind), side)
                found.append((rank, abs(junction.along_m - middle_m), junction.along_m, "", passed))
    _rank, _off, at_m, mark, passed = min(found, default=(3, 0.0, middle_m, "", ("", "")))
    step = min(int(np.searchsorted(course.distance_m, at_m, side="right")) - 1, course.way.size - 1)
    way = int(course.way[step])
    return Direction(
        along_m=at_m,
        turn="go on",
        street=ways.name[way],
        kind=HIGHWAYS[ways.highway[way]],
        after=mark,
        passing=passed,
    )


def _alone(at_m: float, name: str, marks: Sequence[tuple[float, str]], within_m: float) -> bool:
    """Whether no other mark of the same name is near."""
    return sum(abs(at_m - far_m) <= within_m for far_m, same in marks if same == name) == 1


def _looks(ways: Ways, arm: Arm) -> str:
    return looks(ways.name[arm.way], HIGHWAYS[ways.highway[arm.way]])


def _filled(
    line: Direction,
    end_m: float,
    course: Course,
    bridges: Sequence[tuple[float, float, str]],
    marks: Sequence[tuple[float, str]],
) -> Direction:
    """Add what lies on the stretch that follows a line."""
    at_m = line.along_m
    heights = np.interp([at_m, end_m], course.distance_m, course.height_m)
    inner = (course.distance_m > at_m) & (course.distance_m < end_m)
    rise = np.diff(np.concatenate([heights[:1], course.height_m[inner], heights[1:]]))
    ascent_m, descent_m = float(rise[rise > 0.0].sum()), float(-rise[rise < 0.0].sum())
    begins = course.distance_m[:-1]
    steps = (begins >= at_m - 1e-6) & (begins < end_m - 1e-6)
    after = line.after
    if line.turn in MEANT_DEG:
        passed = [name for where, name in marks if at_m - LANDMARK_M <= where <= at_m + 1.0]
        after = passed[-1] if passed else ""
    return replace(
        line,
        after=after,
        height_m=float(heights[0]),
        length_m=end_m - at_m,
        ascent_m=ascent_m,
        descent_m=descent_m,
        ground=ground_words(end_m - at_m, ascent_m, descent_m),
        over=tuple(name for begin, _end, name in bridges if at_m <= begin < end_m),
        through=tuple(
            word
            for word, there in (("tunnel", course.tunnel), ("stairs", course.stairs))
            if bool(there[steps].any())
        ),
    )


def _bridges(
    ways: Ways, course: Course, crossings: Crossings | None
) -> list[tuple[float, float, str]]:
    """Find the bridges crossed: where each begins and ends, and its name."""
    on = course.bridge
    starts = np.flatnonzero(on & ~np.append(False, on[:-1]))
    ends = np.flatnonzero(on & ~np.append(on[1:], False)) + 1
    found: list[tuple[float, float, str]] = []
    for first, after in zip(starts.tolist(), ends.tolist(), strict=True):
        if crossings is None:
            named = [ways.bridge_name[row] for row in course.way[first:after].tolist()]
        else:
            named = [crossings.name[crossings.of_segment[course.segment[first]]]]
        name = next(filter(None, named), "the bridge")
        begin = float(course.distance_m[first])
        if found and begin - found[-1][1] < SLIVER_M and found[-1][2] == name:
            begin = found.pop()[0]
        found.append((begin, float(course.distance_m[after]), name))
    return found
