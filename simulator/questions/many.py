"""How do all these people get home? A table of people on one map, by any number of workers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

from simulator.errors import InputError
from simulator.ground.components import find_components
from simulator.ground.snap import Shape, nearest_points
from simulator.questions.many_part import ground_of, walk_part
from simulator.questions.many_table import Job, Part
from simulator.questions.unknown_heights import map_notes
from simulator.sky.clock import to_epoch_s

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.ground.snap import Snaps
    from simulator.plan import Plan
    from simulator.questions.people import Person
    from simulator.questions.scene import Scene

PART = 250
"""People in a part: what is kept when a run is broken off; changes no number."""

AHEAD = 2
"""Parts handed out for each worker at a time; bounds the memory."""


class Store(Protocol):
    """Keeps finished parts, so that a run that was broken off goes on from there."""

    def has(self, number: int) -> bool:
        """Say whether a part is finished.

        Parameters
        ----------
        number : int
            Which.

        Returns
        -------
        bool
            True when it need not be done again.
        """

    def put(self, part: Part) -> None:
        """Keep a finished part.

        Parameters
        ----------
        part : Part
            Rows and counts.
        """


class Basis(NamedTuple):
    """What all the walks of a table rest on.

    Attributes
    ----------
    attribution : str
        Credit of map and heights, with its days.
    notes : tuple of str
        What the map does not say, in words.
    """

    attribution: str
    notes: tuple[str, ...]


def many(
    plan: Plan,
    people: Sequence[Person],
    store: Store,
    *,
    workers: int = 1,
    scheduler: str | None = None,
    size: int = PART,
    progress: Callable[[str], None] | None = None,
) -> Basis:
    """Walk a table of people home.

    Parameters
    ----------
    plan : Plan
        Map, weather, event and choices for all; its walker, bag and departure stand in for what
        rows leave out. Its walkers' limits hold for everyone.
    people : sequence of Person
        From `simulator.questions.people.read_people`.
    store : Store
        Gets every part as it is finished; parts it has are not done again.
    workers : int
        Processes on this machine; changes no number.
    scheduler : str, optional
        Address of a Dask scheduler to work on instead.
    size : int
        People in a part; changes no number.
    progress : callable, optional
        Told how many are done.

    Returns
    -------
    Basis
        What all these walks rest on.

    Raises
    ------
    InputError
        When the plan's files cannot be used, or the weather does not cover a departure.
    """
    tell = progress or (lambda _stage: None)
    tell("loading the map")
    scene = ground_of(plan).scene
    tell("placing people on the streets")
    jobs = [job for job in _jobs(plan, people, scene, size) if not store.has(job.number)]
    done = len(people) - sum(len(job.people) for job in jobs)
    with _executor(workers, scheduler) as (executor, hands):
        for part in _in_turn(jobs, executor, AHEAD * hands):
            store.put(part)
            done += len(part.rows)
            tell(f"walked {done:,} of {len(people):,} people home")
    return Basis(scene.streets.attribution, map_notes(scene.streets))


def _jobs(plan: Plan, people: Sequence[Person], scene: Scene, size: int) -> Iterator[Job]:
    """Cut the table into parts; who leaves the same place at the same time stays together."""
    starts = _snapped(scene, plan, np.array([person.start for person in people]))
    homes = _snapped(scene, plan, np.array([person.home for person in people]))
    depart = np.array([to_epoch_s(person.depart, scene.zone, where="depart") for person in people])
    first, last = float(depart.min()), float(depart.max())
    if first < scene.conditions.start_epoch_s and plan.weather.file is not None:
        _require_weather(plan, scene, first)
    order = np.lexsort((np.arange(len(people)), depart, starts.fraction, starts.segment))
    for number, begin in enumerate(range(0, order.size, size)):
        rows = order[begin : begin + size].tolist()
        yield Job(
            number=number,
            plan=plan,
            people=tuple(people[row] for row in rows),
            row=tuple(rows),
            start=tuple((int(starts.segment[row]), float(starts.fraction[row])) for row in rows),
            home=tuple((int(homes.segment[row]), float(homes.fraction[row])) for row in rows),
            first_epoch_s=first,
            last_epoch_s=last,
        )


def _require_weather(plan: Plan, scene: Scene, first_epoch_s: float) -> None:
    from simulator.questions.scene import weather_of  # noqa: PLC0415 - rarely needed

    if not bool(weather_of(plan, scene.zone).at(first_epoch_s).known):
        raise InputError(
            str(plan.weather.file),
            "the weather begins after the first departure of the table; give a file that covers it",
        )


def _snapped(scene: Scene, plan: Plan, at: NDArray[np.float64]) -> Snaps:
    """Put places on the nearest streets of the largest piece of the network."""
    streets = scene.streets
    usable = (streets.open_forward | streets.open_backward) & ~scene.closed
    label = find_components(
        streets.tail[usable], streets.head[usable], streets.length_m[usable], nodes=streets.lon.size
    ).label
    return nearest_points(
        Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution),
        at[:, 0],
        at[:, 1],
        limit_m=plan.choices.snap_limit_m,
        allowed=usable & (label[streets.tail] == 0),
    )


@contextmanager
def _executor(workers: int, scheduler: str | None) -> Iterator[tuple[Executor | None, int]]:
    """Give who does the work: this process, several, or a Dask cluster."""
    if scheduler is not None:
        try:
            from distributed import Client  # noqa: PLC0415 - only with an existing engine
        except ImportError:
            where = "--scheduler"
            problem = "needs the package distributed; install it, or use --workers"
            raise InputError(where, problem) from None
        try:
            with Client(scheduler, timeout="10s") as client:
                hands = max(len(client.ncores()), 1)
                yield client.get_executor(), hands
        except OSError as error:
            where = "--scheduler"
            raise InputError(where, f"found no scheduler at {scheduler!r}: {error}") from None
    elif workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            yield pool, workers
    else:
        yield None, 1


def _in_turn(jobs: Sequence[Job], executor: Executor | None, ahead: int) -> Iterator[Part]:
    """Give parts as they are finished, with few under way at a time."""
    if executor is None:
        yield from map(walk_part, jobs)
        return
    waiting: set[Future[Part]] = set()
    for job in jobs:
        waiting.add(executor.submit(walk_part, job))
        if len(waiting) >= ahead:
            finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in finished)
    while waiting:
        finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
        yield from (future.result() for future in finished)
