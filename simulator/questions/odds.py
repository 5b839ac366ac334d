"""How sure is it? Thousands of drawn walks through the same engine, and what decides them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from simulator.errors import InputError, NoWayHomeError
from simulator.home import verdict
from simulator.home.crowd import Hours, walk_crowd
from simulator.home.crowd_records import LEDGER, MAPPED, Arrivals, Crowd, When
from simulator.home.scene import LONGEST_WALK_H, Scene, prepare, weather_of
from simulator.home.strain import Strain
from simulator.home.summary import JUDGED, JUDGED_WITH_HALT, NO_LIST
from simulator.home.unknown_heights import map_notes
from simulator.home.verdict import LEVELS, account_of
from simulator.home.walk import walk_way
from simulator.home.way import find_way
from simulator.plan import inputs
from simulator.plan.tables import Odds
from simulator.questions.draws import (
    FARTHEST,
    THINGS,
    DrawnWalks,
    places_that_work,
    shape_walks,
    unit_draws,
)
from simulator.route.closures import resolve
from simulator.sky.clock import to_epoch_s
from simulator.units import HOUR_S, percent
from simulator.walk.account import What
from simulator.walk.conditions import conditions_over
from simulator.walk.ledger import local_time
from simulator.walk.records import PASSING, Total

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.home.walked import Walked
    from simulator.plan import Plan
    from simulator.sky.weather import Weather
    from simulator.walk.conditions import Conditions

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Quantiles that are told of every amount."""

SURE = 0.95
"""Share of intervals that hold the true chance."""

FEWEST = 20
"""Amounts of fewer walks than this are told without quantiles."""


def chance_of(happened: NDArray[np.bool_]) -> dict[str, float]:
    """Give the share of walks in which something happened."""
    n = happened.size
    share = float(happened.mean())
    z = float(ndtri(0.5 + SURE / 2.0))
    middle = (share + z**2 / (2.0 * n)) / (1.0 + z**2 / n)
    reach = z / (1.0 + z**2 / n) * np.sqrt(share * (1.0 - share) / n + z**2 / (4.0 * n**2))
    return {
        "chance": share,
        "standard_error": float(np.sqrt(share * (1.0 - share) / n)),
        "low": max(float(middle - reach), 0.0) if share > 0.0 else 0.0,
        "high": min(float(middle + reach), 1.0) if share < 1.0 else 1.0,
    }


def amount_of(values: NDArray[np.float64]) -> dict[str, Any]:
    """Give mean and quantiles of an amount."""
    known = np.sort(values[np.isfinite(values)])
    n = known.size
    if n < FEWEST:
        return {"walks": int(n), "mean": None, "standard_error": None, "quantiles": None}
    rows = {}
    for share in QUANTILES:
        reach = np.sqrt(share * (1.0 - share) / n)
        low, middle, high = np.quantile(known, np.clip([share - reach, share, share + reach], 0, 1))
        rows[f"{share:g}"] = {"value": float(middle), "standard_error": float(high - low) / 2.0}
    return {
        "walks": int(n),
        "mean": float(known.mean()),
        "standard_error": float(known.std(ddof=1) / np.sqrt(n)),
        "quantiles": rows,
    }


def bands_of(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the quantiles of each row, leaving out who is home."""
    bands = np.full((values.shape[0], len(QUANTILES)), np.nan)
    for row, column in enumerate(values):
        known = column[np.isfinite(column)]
        if known.size >= FEWEST:
            bands[row] = np.quantile(known, QUANTILES)
    return bands


DAY_H = 24.0

PROFILE_POINTS = 40
"""Points along the way at which the profile is told."""


@dataclass(frozen=True, slots=True)
class Closing:
    """Something that may be closed.

    Attributes
    ----------
    name : str
        As in the plan, or the bridge's name.
    chance : float
        How likely.
    mask : (M,) bool
        Its segments.
    """

    name: str
    chance: float
    mask: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class DrawnOutcome:
    """Drawn walks and how they went, in order; walks without a way home are NaN.

    Attributes
    ----------
    drawn : DrawnWalks
        The draws.
    arrivals : Arrivals
        How each went.
    no_way : (n,) bool
        Walks on which closures leave no way home.
    way : (n,) int64
        Which way each took, -1 without one.
    """

    drawn: DrawnWalks
    arrivals: Arrivals
    no_way: NDArray[np.bool_]
    way: NDArray[np.int64]


@dataclass(slots=True)
class Trial:
    """A plan ready for any number of drawn walks; ways are found once for each closure.

    Attributes
    ----------
    scene : Scene
        The loaded plan.
    settings : Odds
        How far everything spreads.
    conditions : Conditions
        Sun and weather over all that may be drawn.
    by_days : bool
        Whether days of a typical year are drawn.
    closings : tuple of Closing
        What may be closed.
    ways : list of Walked
        The plan's walk on each way found so far; the first with nothing closed.
    known : dict
        Way by closures, -1 for none.
    opening : Hours
        Opening hours looked up so far.
    block : int
        Walks at a time.
    """

    scene: Scene
    settings: Odds
    conditions: Conditions
    by_days: bool
    closings: tuple[Closing, ...]
    ways: list[Walked]
    known: dict[bytes, int]
    opening: Hours
    block: int

    @classmethod
    def prepare(cls, plan: Plan, *, block: int, progress: Callable[[str], None]) -> Trial:
        """Load a plan and walk it once."""
        scene = prepare(plan, progress=progress)
        progress("walking the plan itself")
        own = walk_way(scene, find_way(scene))
        weather = weather_of(plan, scene.zone)
        by_days = weather.repeat == "yearly"
        return cls(
            scene=scene,
            settings=plan.odds,
            conditions=_conditions(scene, plan.odds, weather, by_days=by_days),
            by_days=by_days,
            closings=_closings(scene, plan.odds, own),
            ways=[own],
            known={},
            opening=Hours(scene),
            block=block,
        )

    def run(
        self,
        unit: NDArray[np.float64],
        *,
        seed: int,
        luck_of: NDArray[np.int64],
        progress: Callable[[str], None],
    ) -> DrawnOutcome:
        """Walk every drawn walk."""
        drawn = shape_walks(
            self.scene,
            self.settings,
            unit,
            by_days=self.by_days,
            chances=np.array([closing.chance for closing in self.closings]),
            length_m=self.ways[0].way.course.length_m,
        )
        way = self._ways_of(drawn.closed)
        arrivals = _empty(unit.shape[0], PROFILE_POINTS)
        for number in np.unique(way[way >= 0]).tolist():
            rows = np.flatnonzero(way == number)
            part = self._walk(number, drawn, rows, seed=seed, luck_of=luck_of)
            arrivals.put(rows, part)
            progress(f"walked {int((way <= number).sum()):,} of {way.size:,}")
        return DrawnOutcome(drawn=drawn, arrivals=arrivals, no_way=way < 0, way=way)

    def _walk(
        self,
        number: int,
        drawn: DrawnWalks,
        rows: NDArray[np.intp],
        *,
        seed: int,
        luck_of: NDArray[np.int64],
    ) -> Arrivals:
        """Walk those who take one way."""
        walked = self.ways[number]
        works = places_that_work(
            self.scene,
            self.settings,
            walked.nearby.place,
            together=drawn.together[rows],
            seed=seed,
            luck_of=luck_of[rows],
        )
        crowd: Crowd = replace(drawn.crowd.some(rows), works=works)
        return walk_crowd(
            self.scene,
            walked,
            crowd,
            conditions=self.conditions,
            profile=profile_steps(walked),
            opening=self.opening,
            block=self.block,
        )

    def _ways_of(self, closed: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Find the way of each walk, once for each set of closures."""
        way = np.zeros(closed.shape[0], dtype=np.int64)
        if closed.shape[1] == 0:
            return way
        sets, which = np.unique(closed, axis=0, return_inverse=True)
        found = [self._way_around(each) for each in sets]
        return np.array(found, dtype=np.int64)[which.ravel()]

    def _way_around(self, closed: NDArray[np.bool_]) -> int:
        key = closed.tobytes()
        if not closed.any():
            return 0
        if key not in self.known:
            mask = np.logical_or.reduce(
                [c.mask for c, shut in zip(self.closings, closed.tolist(), strict=True) if shut]
            )
            self.known[key] = self._way_without(mask)
        return self.known[key]

    def _way_without(self, mask: NDArray[np.bool_]) -> int:
        scene = replace(self.scene, closed=self.scene.closed | mask)
        try:
            way = find_way(scene)
        except NoWayHomeError:
            return -1
        for number, walked in enumerate(self.ways):
            if np.array_equal(walked.way.course.segment, way.course.segment):
                return number
        self.ways.append(walk_way(scene, way))
        return len(self.ways) - 1


def profile_steps(walked: Walked) -> NDArray[np.int64]:
    """Choose the steps at which the profile is read."""
    course = walked.way.course
    at_m = np.linspace(0.0, course.length_m, PROFILE_POINTS, endpoint=False)
    return np.searchsorted(course.distance_m[:-1], at_m, side="right").astype(np.int64) - 1


def _empty(walks: int, points: int) -> Arrivals:
    """Make room for walks; without a way home all stays unknown."""
    shapes = {
        "hourly": (1, len(LEDGER), walks),
        "profile": (points, len(PASSING), walks),
        **dict.fromkeys(("missing", "short_from_s", "short_at_m"), (len(What), walks)),
        "strain": (len(Strain), walks),
        "mapped": (len(MAPPED), walks),
        "when_s": (len(When), walks),
    }
    columns: dict[str, Any] = {
        name: np.full(shapes.get(name, (walks,)), np.nan) for name in Arrivals.__slots__
    }
    columns["halt_in_the_open"] = np.zeros(walks, dtype=bool)
    columns["limits_left"] = np.ones(walks, dtype=bool)
    return Arrivals(**columns)


def _conditions(scene: Scene, settings: Odds, weather: Weather, *, by_days: bool) -> Conditions:
    """Lay sun and weather over every departure that may be drawn and the walk after it."""
    early_h = FARTHEST * settings.depart_sd_min / 60.0 + 1.0
    days_h = DAY_H * settings.weather_days if by_days else 0.0
    try:
        return conditions_over(
            weather,
            lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
            lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
            start_epoch_s=scene.depart_epoch_s - HOUR_S * (early_h + days_h),
            hours=2.0 * (early_h + days_h) + LONGEST_WALK_H,
        )
    except ValueError:
        problem = (
            f"the weather does not begin {early_h:.1f} h before the departure, as early as walks "
            "are drawn; give a file that does, or a smaller odds.depart_sd_min"
        )
        raise InputError(str(scene.plan.weather.file or "weather"), problem) from None


def _closings(scene: Scene, settings: Odds, own: Walked) -> tuple[Closing, ...]:
    """List what may be closed: as the plan names it, and every bridge of the way."""
    closings = []
    for name, chance in settings.closures:
        closure = resolve(scene.streets, closed=(name,), area=None, flood_level_m=None)
        closings.append(Closing(str(name), chance, closure.mask))
    if settings.bridge_chance > 0.0:
        crossings, taken = scene.ground.crossings, {closing.name for closing in closings}
        met = crossings.of_segment[own.way.course.segment]
        for number in dict.fromkeys(met[met >= 0].tolist()):
            name = crossings.name[number]
            if name not in taken:
                mask = crossings.mask(number)
                closings.append(Closing(name, settings.bridge_chance, mask))
    return tuple(closings)


def levels_of(scene: Scene, walks: Arrivals) -> NDArray[np.int8]:
    """Judge drawn walks as the main question does."""
    level = verdict.levels_of(judged(scene, walks))
    unknown = {text.split(" ", 1)[0] for text in scene.carried.unknown}
    if unknown & JUDGED_WITH_HALT:
        level = np.where((walks.halt_h > 0.0) & (level == 0), np.int8(1), level)
    level[walks.limits_left] = verdict.NO_VERDICT
    return level


def judged(scene: Scene, walks: Arrivals) -> verdict.Findings:
    """Gather what the verdicts of drawn walks are made from."""
    unknown = tuple(text for text in scene.carried.unknown if text.split(" ", 1)[0] in JUDGED)
    if scene.items is None:
        unknown = (NO_LIST,)
    return verdict.findings_of_arrivals(walks, event=scene.plan.event.kind, unpriced=unknown)


def shortages_of(walks: Arrivals) -> dict[str, Any]:
    """Give chance, size and beginning of every shortage, as the one list of them has it."""
    account = account_of(walks)

    def told(what: What, size: str, **more: NDArray[np.float64]) -> dict[str, Any]:
        happened = account.happens[what] & np.isfinite(walks.elapsed_s)
        amounts = {
            size: account.missing[what],
            **more,
            "from_h": account.from_s[what] / HOUR_S,
            "from_km": account.at_m[what] / 1000.0,
        }
        sizes = {name: amount_of(values[happened]) for name, values in amounts.items()}
        return {**chance_of(happened), **sizes}

    return {
        "water": told(What.WATER, "short_l", body_mass_loss_pct=walks.loss_pct),
        "energy": told(What.FOOD, "short_kcal"),
        "light": told(What.LIGHT, "short_h"),
        "warmth": told(What.WARMTH_ON_FOOT, "short_clo", felt_c=walks.coldest_c),
        "warmth_of_a_night_halt": told(What.WARMTH_AT_A_HALT, "short_clo", halt_h=walks.halt_h),
        "time": told(What.TIME, "short_h"),
    }


def ways_taken(trial: Trial, outcome: DrawnOutcome) -> list[dict[str, Any]]:
    """Tell each way, how often it is taken and how long it is."""
    told = []
    for number, walked in enumerate(trial.ways):
        taken = outcome.way == number
        if taken.any():
            told.append(
                {
                    "way": number,
                    "distance_km": walked.way.course.length_m / 1000.0,
                    "taken": chance_of(taken),
                    "time_home_h": amount_of(outcome.arrivals.elapsed_s[taken] / HOUR_S),
                }
            )
    return told


def ledger_bands(walks: Arrivals) -> pd.DataFrame:
    """Give the quantiles of the ledger at every full hour, of those still on the way."""
    hour = np.arange(1, walks.hourly.shape[0] + 1)
    on_the_way = HOUR_S * hour[:, None] < walks.elapsed_s
    hourly = {
        name: np.where(on_the_way, walks.hourly[:, column], np.nan)
        for column, name in enumerate(LEDGER)
    }
    amounts = {
        "distance_km": hourly["distance_m"] / 1000.0,
        "water_left_l": hourly["water_left_ml"] / 1000.0,
        "water_short_l": hourly["water_short_ml"] / 1000.0,
        "energy_short_kcal": hourly["energy_short_kcal"],
        "light_left_h": hourly["light_left_h"],
    }
    table = pd.DataFrame({"hour": hour})
    table["on_the_way"] = on_the_way.mean(axis=1)
    for name, values in amounts.items():
        bands = bands_of(values)
        for column, share in enumerate(QUANTILES):
            table[f"{name}_{share:g}"] = bands[:, column]
    return table[table["on_the_way"] > 0.0]


def profile_bands(trial: Trial, outcome: DrawnOutcome) -> pd.DataFrame:
    """Give the quantiles of time and water along the plan's own way."""
    own = trial.ways[0]
    taken = outcome.way == 0
    at = own.way.course.distance_m[profile_steps(own)] / 1000.0
    profile = outcome.arrivals.profile[:, :, taken]
    start_ml = float(trial.scene.walkers.water_ml.sum())
    row = {each: PASSING.index(each) for each in PASSING}
    left = start_ml + profile[:, row[Total.REFILLED_ML]] - profile[:, row[Total.DRUNK_ML]]
    table = pd.DataFrame({"distance_km": at})
    for name, values in (("elapsed_h", profile[:, 0] / HOUR_S), ("water_left_l", left / 1000.0)):
        bands = bands_of(values)
        for column, share in enumerate(QUANTILES):
            table[f"{name}_{share:g}"] = bands[:, column]
    return table


DAYS_ONLY = frozenset({"weather_days"})
FORECAST_ONLY = frozenset(
    {"air_sd_c", "humidity_sd_pct", "warm_and_dry", "wind_sd", "sun_sd", "rain_sd"}
)
NOT_DRAWN = frozenset({"walks", "seed"})


def distributions(settings: Odds, *, by_days: bool) -> list[dict[str, Any]]:
    """List every distribution with its size and where it comes from."""
    unused = NOT_DRAWN | (FORECAST_ONLY if by_days else DAYS_ONLY)
    return [
        {
            "key": f"odds.{name}",
            "value": _plain(getattr(settings, name)),
            "says": field.description or "",
            "changed": getattr(settings, name) != field.default,
        }
        for name, field in Odds.model_fields.items()
        if name not in unused
    ]


def _plain(value: object) -> object:
    """Give a value as JSON has it."""
    return [list(pair) for pair in value] if isinstance(value, tuple) else value


def walk_rows(
    scene: Scene,
    outcome: DrawnOutcome,
    arrive_epoch_s: NDArray[np.float64],
    level: NDArray[np.int8],
) -> pd.DataFrame:
    """Put the drawn walks into a table, one row each."""
    crowd, walks = outcome.drawn.crowd, outcome.arrivals
    one = slice(None, None, crowd.members)
    columns: dict[str, Any] = {
        "walk": np.arange(crowd.count),
        "depart": [_clock(scene, when) for when in crowd.depart_epoch_s.tolist()],
        "day": outcome.drawn.day,
        "way": outcome.way,
        "pace_factor": crowd.walkers.pace_factor[one],
        "mass_kg": crowd.walkers.mass_kg[one],
    }
    if crowd.traits is not None:
        columns |= {
            "rest_factor": crowd.traits.rest_factor[one],
            "drink_share": crowd.traits.drink_share[one],
            "sweat_factor": crowd.traits.sweat_factor[one],
            "tiring_factor": crowd.traits.tiring_factor[one],
            "hurt_from_km": _finite(crowd.traits.hurt_from_m[one] / 1000.0),
        }
    if crowd.error is not None:
        columns |= {
            "air_error_c": crowd.error.air_c[one],
            "humidity_error_pct": crowd.error.humidity_pct[one],
            "wind_factor": crowd.error.wind_factor[one],
        }
    columns |= {
        "arrive": [_clock(scene, when) for when in arrive_epoch_s.tolist()],
        "elapsed_h": walks.elapsed_s / HOUR_S,
        "dark_h": walks.dark_s / HOUR_S,
        "water_short_l": walks.short_ml / 1000.0,
        "water_short_from_h": _finite(walks.short_from_s[What.WATER] / HOUR_S),
        "body_mass_loss_pct": walks.loss_pct,
        "energy_short_kcal": walks.energy_short_kcal,
        "food_short_from_h": _finite(walks.short_from_s[What.FOOD] / HOUR_S),
        "light_short_h": walks.light_short_s / HOUR_S,
        "light_short_from_h": _finite(walks.short_from_s[What.LIGHT] / HOUR_S),
        "coldest_felt_c": walks.coldest_c,
        "hottest_felt_c": walks.hottest_c,
        "halt_h": walks.halt_h,
        "halt_short_clo": walks.halt_short_clo,
        "verdict": [
            "no way home" if lost else (LEVELS[row] if row >= 0 else "not known")
            for lost, row in zip(outcome.no_way.tolist(), level.tolist(), strict=True)
        ],
    }
    return pd.DataFrame(columns)


def _clock(scene: Scene, epoch_s: float) -> str:
    """Give a local clock time, empty when there is none."""
    return local_time(epoch_s, scene.zone).isoformat() if np.isfinite(epoch_s) else ""


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give NaN for what never happens."""
    return np.where(np.isfinite(values), values, np.nan)


LITTLE = 0.01
"""Variance below this share of the squared mean, or in absolute terms, is called none."""

WORTH_NAMING = 0.05
"""Total index from which a thing is named in words."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """What decides one outcome.

    Attributes
    ----------
    outcome : str
        In words.
    names : tuple of str
        Things, the one that decides most first.
    first, total : (D,) float64
        First-order and total index of each; NaN where the outcome does not vary.
    first_error, total_error : (D,) float64
        Half the 95 % interval of each, by resampling.
    walks : int
        How many walks it took.
    """

    outcome: str
    names: tuple[str, ...]
    first: NDArray[np.float64]
    total: NDArray[np.float64]
    first_error: NDArray[np.float64]
    total_error: NDArray[np.float64]
    walks: int

    def words(self) -> str:
        """Say in one sentence what decides."""
        if not np.isfinite(self.total).any():
            return f"{_capital(self.outcome)} hardly varies."
        ranked = list(zip(self.names, self.total.tolist(), strict=True))
        if max(share for _, share in ranked if np.isfinite(share)) > 1.0:
            # No part is larger than the whole: so few walks tell what matters, not how much.
            named = [name for name, share in ranked if share >= WORTH_NAMING]
            return (
                f"{_capital(self.outcome)} is decided by {', '.join(named)} together; these walks "
                "are too few to say by how much each."
            )
        named = [f"{name} ({percent(share)})" for name, share in ranked if share >= WORTH_NAMING]
        alone = float(np.clip(self.first, 0.0, 1.0).sum())
        told = f"{_capital(self.outcome)} is decided by {', '.join(named) or 'nothing much'}"
        single = percent(min(alone, 1.0))
        return f"{told}; single things explain {single}, the rest is their interplay."

    def told(self) -> dict[str, Any]:
        """Give the ranking as JSON has it."""
        return {
            "outcome": self.outcome,
            "walks": self.walks,
            "words": self.words(),
            "things": [
                {
                    "name": name,
                    "first_order": _number(self.first[row]),
                    "first_order_error": _number(self.first_error[row]),
                    "total": _number(self.total[row]),
                    "total_error": _number(self.total_error[row]),
                }
                for row, name in enumerate(self.names)
            ],
        }


def rank(
    outcomes: Callable[[NDArray[np.float64]], Mapping[str, NDArray[np.float64]]],
    names: Sequence[str],
    *,
    base: int,
    seed: int,
) -> tuple[Ranking, ...]:
    """Rank things by how much of each outcome they decide."""
    from SALib.analyze import sobol as analysis
    from SALib.sample import sobol as sampling

    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    sample = sampling.sample(problem, base, calc_second_order=False, seed=seed)
    rankings = []
    for outcome, values in outcomes(np.asarray(sample)).items():
        spread = float(np.std(values))
        if spread <= LITTLE * max(abs(float(np.mean(values))), LITTLE):
            nothing = np.full(len(names), np.nan)
            rankings.append(
                Ranking(outcome, tuple(names), nothing, nothing, nothing, nothing, values.size)
            )
            continue
        found = analysis.analyze(problem, values, calc_second_order=False, seed=seed)
        order = np.argsort(-np.asarray(found["ST"]), kind="stable")
        rankings.append(
            Ranking(
                outcome=outcome,
                names=tuple(names[row] for row in order.tolist()),
                first=np.asarray(found["S1"])[order],
                total=np.asarray(found["ST"])[order],
                first_error=np.asarray(found["S1_conf"])[order],
                total_error=np.asarray(found["ST_conf"])[order],
                walks=values.size,
            )
        )
    return tuple(rankings)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


SCHEMA = "walkhome odds 1"


WITHIN_H = (12.0, 18.0)
"""Times home that planners ask for [h]; common practice for about 25 km."""


@dataclass(frozen=True, slots=True)
class OddsAnswer:
    """How sure a walk home is.

    Attributes
    ----------
    plan : Plan
        What was asked.
    document : dict
        The content of odds.json.
    walks : pandas.DataFrame
        One row a drawn walk: the content of odds.csv.
    ledger : pandas.DataFrame
        Quantiles hour by hour, of those still on the way.
    profile : pandas.DataFrame
        Quantiles along the plan's own way, of those who take it.
    rankings : tuple of Ranking
        What decides; empty when not asked for.
    """

    plan: Plan
    document: dict[str, Any]
    walks: pd.DataFrame
    ledger: pd.DataFrame
    profile: pd.DataFrame
    rankings: tuple[Ranking, ...]


def odds(
    plan: Plan,
    *,
    walks: int | None = None,
    seed: int | None = None,
    by: Sequence[time] = (),
    decide: int = 256,
    block: int = 5_000,
    progress: Callable[[str], None] | None = None,
) -> OddsAnswer:
    """Draw many walks and tell how they go.

    Parameters
    ----------
    plan : Plan
        Its table ``odds`` says how far everything spreads.
    walks, seed : int, optional
        In place of the plan's own.
    by : sequence of datetime.time
        Local clock times to be home by, each the first one after the plan's departure.
    decide : int
        Base sample of the sensitivity analysis, a power of two; 0 leaves it out.
    block : int
        Walks at a time; changes no number.
    progress : callable, optional
        Told each stage as it begins, with its share done.

    Returns
    -------
    OddsAnswer
        The same for the same plan, number of walks and seed.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When there is no way home even with nothing closed by chance.
    """
    tell = progress or (lambda _stage: None)
    settings = plan.odds
    walks, seed = walks or settings.walks, settings.seed if seed is None else seed
    trial = Trial.prepare(plan, block=block, progress=tell)
    names = [*THINGS, *(f"closed: {closing.name}" for closing in trial.closings)]
    unit = unit_draws(seed, names, walks)
    tell("drawing the walks")
    outcome = trial.run(unit, seed=seed, luck_of=np.arange(walks), progress=tell)
    rankings: tuple[Ranking, ...] = ()
    if decide:

        def again(sample: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
            # The walks of one base sample share the luck that is not ranked.
            luck = np.arange(sample.shape[0]) // (len(names) + 2)
            return _deciding(trial.run(sample, seed=seed, luck_of=luck, progress=tell))

        tell("finding what decides")
        rankings = rank(again, names, base=decide, seed=seed)
    return _answer(trial, outcome, seed=seed, by=by, rankings=rankings)


def _deciding(outcome: DrawnOutcome) -> dict[str, NDArray[np.float64]]:
    """Amounts whose causes are ranked; no way home counts as the worst that was walked."""
    walks = outcome.arrivals
    amounts = {
        "time to get home": walks.elapsed_s / HOUR_S,
        "water lost and not drunk": walks.loss_pct,
        "time on unlit ways without a lamp": walks.light_short_s / HOUR_S,
    }
    return {
        name: np.where(outcome.no_way, np.nanmax(values), values)
        for name, values in amounts.items()
    }


def _by_epoch_s(scene: Scene, at: time, day: NDArray[np.int64]) -> NDArray[np.float64]:
    """First such clock time after the plan's departure, moved with the drawn day."""
    depart = scene.plan.trip.depart
    when = datetime.combine(depart.date(), at)
    if when <= depart:
        when += timedelta(days=1)
    offsets = np.unique(day)
    epochs = {
        int(offset): to_epoch_s(when + timedelta(days=int(offset)), scene.zone, where="--by")
        for offset in offsets
    }
    return np.array([epochs[each] for each in day.tolist()])


ASSUMPTIONS = (
    (
        "Every walk follows the plan's own stops for water; whoever finds a place shut or dry, or "
        "needs more, chooses further stops by the plan's own rule, treated water included."
    ),
    "The members of a group share form, habits and weather; a mishap slows them all.",
    "Opening hours are read at the quarter of an hour of passing by.",
    (
        "A night halt is made at the latest shelter that can be relied on before the day is over, "
        "or else where one stands, until first light."
    ),
    "A walk is home by dark when no minute of it falls after civil twilight.",
    "Standard errors are those of the drawing; they say nothing of what the models do not know.",
)
"""What holds for all drawn walks."""


def _answer(
    trial: Trial,
    outcome: DrawnOutcome,
    *,
    seed: int,
    by: Sequence[time],
    rankings: tuple[Ranking, ...],
) -> OddsAnswer:
    """Put the walks into chances, quantiles, bands and tables."""
    scene, walks, drawn = trial.scene, outcome.arrivals, outcome.drawn
    plan = scene.plan
    home = ~walks.limits_left
    arrive = drawn.crowd.depart_epoch_s + walks.elapsed_s
    sun = trial.conditions.at(np.where(home, arrive, scene.depart_epoch_s)).night
    level = levels_of(scene, walks)
    chances = {
        "home": chance_of(home),
        "home_by_dark": chance_of(home & (walks.dark_s == 0.0)),
        "arrives_in_the_dark": chance_of(home & sun),
        **{
            f"home_within_{hours:g}_h": chance_of(home & (walks.elapsed_s <= hours * HOUR_S))
            for hours in WITHIN_H
        },
        **{
            f"home_by_{at:%H:%M}": chance_of(home & (arrive <= _by_epoch_s(scene, at, drawn.day)))
            for at in by
        },
        "night_halt": chance_of(home & (walks.halt_h > 0.0)),
        **{f"verdict_{name}": chance_of(level == row) for row, name in enumerate(LEVELS)},
    }
    document = {
        "schema": SCHEMA,
        "title": plan.title,
        "seed": seed,
        "walks": int(home.size),
        "inputs": dict(sorted(inputs(plan).items())),
        "attribution": scene.streets.attribution,
        "no_way_home": int(outcome.no_way.sum()),
        "not_known": int((walks.limits_left & ~outcome.no_way).sum()),
        "chances": chances,
        "time_home_h": amount_of(walks.elapsed_s / HOUR_S),
        "shortages": shortages_of(walks),
        "coldest_felt_c": amount_of(walks.coldest_c),
        "hottest_felt_c": amount_of(walks.hottest_c),
        "ways": ways_taken(trial, outcome),
        "decides": [ranking.told() for ranking in rankings],
        "distributions": distributions(plan.odds, by_days=trial.by_days),
        "assumptions": [*map_notes(scene.streets), *ASSUMPTIONS],
    }
    return OddsAnswer(
        plan=plan,
        document=document,
        walks=walk_rows(scene, outcome, arrive, level),
        ledger=ledger_bands(walks),
        profile=profile_bands(trial, outcome),
        rankings=rankings,
    )
