"""What a person asks for: the plan, read from TOML and checked at the door."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal, NamedTuple, Self, TypeVar

from pydantic import BeforeValidator, Field, ValidationError
from pydantic.fields import FieldInfo

from simulator.errors import InputError, gathered, shown
from simulator.files import TOO_DEEP, parse_toml, read_text, require_file, sha256_of
from simulator.plan.problems import bounds, choices, describe_faults, model_in, note
from simulator.plan.tables import (
    Bag,
    Choices,
    Event,
    Fetch,
    Map,
    Odds,
    Pace,
    PlanWeather,
    Trip,
    Walker,
    names_beside,
    read_names,
    with_names,
)
from simulator.plan.values import PlanTable, Text, as_tuple, described


class Plan(PlanTable):
    """All that one question needs; attributes are the tables of the plan file.

    `Plan.read` and `with_changes` raise `InputError`; a part made in Python with a wrong value
    raises pydantic's `ValidationError`. Both are ValueErrors.
    """

    title: Annotated[Text, described("heading of every output")] = "The walk home"
    units: Annotated[Literal["metric", "us"], described("units of the printed outputs")] = "metric"
    trip: Trip
    map: Map = Map()
    walker: Annotated[
        tuple[Walker, ...],
        BeforeValidator(as_tuple),
        Field(min_length=1, description="one [walker] table, or several [[walker]] tables"),
    ]
    bag: Bag = Bag()
    weather: PlanWeather
    event: Event = Event()
    choices: Choices = Choices()
    pace: Pace = Pace()
    odds: Odds = Odds()
    fetch: Fetch = Fetch()
    source: Annotated[
        Path | None,
        Field(exclude=True, description="file it was read from; None when made in Python"),
    ] = None

    def __repr__(self) -> str:
        """Say who goes where and when; the tables say the rest."""
        lat, lon = self.trip.start
        home_lat, home_lon = self.trip.home
        party = f"{len(self.walker)} walkers" if len(self.walker) > 1 else "1 walker"
        return (
            f"<Plan {self.title!r}: {lat:g}, {lon:g} to {home_lat:g}, {home_lon:g}, "
            f"{self.trip.depart:%Y-%m-%d %H:%M}, {party}>"
        )

    def __str__(self) -> str:
        """Say the same."""
        return repr(self)

    @classmethod
    def read(
        cls, path: str | Path, *, check_files: bool = True, folder: Path | None = None
    ) -> Self:
        """Read a plan file; every fault in it is reported at once.

        Parameters
        ----------
        path : str or pathlib.Path
            TOML file in UTF-8. Files it names are taken relative to its folder, and places it
            names in words from the list of looked-up places beside it.
        check_files : bool
            Whether the files it names must be there.
        folder : pathlib.Path, optional
            From where files are taken, when not from the plan's own folder.

        Returns
        -------
        Plan
            With the paths of its files resolved.

        Raises
        ------
        InputError
            One line for each fault: key, what was found, what is allowed, what to do.
        """
        source = Path(path)
        text = read_text(source, what="a plan in TOML")
        try:
            tables = parse_toml(text)
        except tomllib.TOMLDecodeError as fault:
            raise _syntax_error(source, text, str(fault)) from None
        if "source" in tables:
            where = f"{source}: source"
            raise InputError(where, "unknown key; remove it")
        tables = with_names(tables, read_names(source))
        try:
            plan = _resolved(
                cls.model_validate({**tables, "source": source}), folder or source.parent
            )
        except ValidationError as fault:
            raise gathered(describe_faults(cls, fault.errors(), str(source))) from None
        if check_files:
            plan.require_files()
        return plan

    def with_changes(self, **changes: object) -> Self:
        """Give the plan of a what-if question.

        Parameters
        ----------
        **changes : mapping or object
            By table: a mapping changes the named keys of that table (of every walker),
            anything else takes the place of the table.

        Returns
        -------
        Plan
            A new plan, checked like the first.

        Raises
        ------
        InputError
            One line for each fault.

        Examples
        --------
        ``plan.with_changes(walker={"pace_factor": 0.9}, bag={"items": None})`` asks how it
        goes a tenth slower and with nothing carried.
        """
        tables: dict[str, object] = {name: getattr(self, name) for name in type(self).model_fields}
        for name, change in changes.items():
            if name == "walker" and isinstance(change, Mapping):
                tables[name] = tuple({**dict(walker), **change} for walker in self.walker)
            elif isinstance(change, Mapping) and isinstance(tables.get(name), PlanTable):
                tables[name] = {**dict(getattr(self, name)), **change}
            else:
                tables[name] = change
        try:
            return type(self).model_validate(tables)
        except ValidationError as fault:
            raise gathered(describe_faults(type(self), fault.errors(), "plan")) from None

    def require_files(self) -> None:
        """Refuse the plan when a file it names is missing, empty or unreadable."""
        faults = []
        for key, path in self.files():
            where = f"{self.source or 'plan'}: {key}"
            try:
                require_file(path, where, what=_WHAT.get(re.sub(r"\[\d+\]", "", key), "the file"))
            except InputError as fault:
                faults.append((fault.where, fault.problem))
        if faults:
            raise gathered(faults)

    def files(self) -> Iterator[tuple[str, Path]]:
        """Go through the files that the plan names.

        Yields
        ------
        tuple of (str, pathlib.Path)
            Key, e.g. ``map.extract``, and path.
        """
        if self.map.extract is not None:
            yield "map.extract", self.map.extract
        for number, raster in enumerate(self.map.elevation, start=1):
            yield f"map.elevation[{number}]", raster
        for key, path in (
            ("map.places", self.map.places),
            ("bag.items", self.bag.items),
            ("weather.file", self.weather.file),
            ("event.closed_area", self.event.closed_area),
            ("choices.font", self.choices.font),
        ):
            if path is not None:
                yield key, path
        for row, walker in enumerate(self.walker):
            if isinstance(walker.timed_walk, Path):
                yield self.walker_key(row, "timed_walk"), walker.timed_walk

    def walker_key(self, row: int, name: str) -> str:
        """Name a key of one walker for messages.

        Parameters
        ----------
        row : int
            Which walker.
        name : str
            Key in the table.

        Returns
        -------
        str
            For example ``walker[2].timed_walk``; without a number for one alone.
        """
        number = f"[{row + 1}]" if len(self.walker) > 1 else ""
        return f"walker{number}.{name}"


_WHAT = {
    "map.extract": "an OpenStreetMap extract",
    "map.elevation": "an elevation raster",
    "map.places": "a list of places (.toml)",
    "bag.items": "a list of items (.csv)",
    "walker.timed_walk": "a recorded walk (.gpx)",
    "weather.file": "a weather file",
    "event.closed_area": "a GeoJSON file",
    "choices.font": "a font file (.ttf, .otf, .ttc)",
}


def inputs(plan: Plan) -> dict[str, str]:
    """Give the fingerprint of every file that a result depends on.

    Parameters
    ----------
    plan : Plan
        The plan; its own file counts when it came from one.

    Returns
    -------
    dict of str to str
        SHA-256 by file name, the folder left out; two files of one name are told apart by key.

    Raises
    ------
    InputError
        When a file cannot be read.
    """
    named = list(plan.files())
    if plan.source is not None:
        named.insert(0, ("plan", plan.source))
        if names_beside(plan.source).exists():
            named.insert(1, ("places by name", names_beside(plan.source)))
    sums: dict[str, str] = {}
    for key, path in named:
        # A name on disk may be no text; in the output it must be.
        name = path.name.encode("utf-8", "replace").decode()
        sums[name if name not in sums else f"{key} {name}"] = sha256_of(path)
    return sums


class PlanKey(NamedTuple):
    """One line of the printed reference of plan.toml.

    Attributes
    ----------
    key : str
        Table and key, e.g. ``trip.start``.
    kind : str
        What may be written.
    default : str
        As one would write it; ``required`` where there is none.
    unit : str
        Unit of a number.
    meaning : str
        One sentence.
    example : str
        A value for a key without default; empty where there is one.
    """

    key: str
    kind: str
    default: str
    unit: str
    meaning: str
    example: str


def plan_reference() -> list[PlanKey]:
    """List every key of plan.toml, from the same descriptions that check it.

    Returns
    -------
    list of PlanKey
        In the order of the file.
    """
    rows = []
    for name, field in Plan.model_fields.items():
        table = model_in(field.annotation)
        if table is not None:
            rows += [_reference(f"{name}.{k}", f) for k, f in table.model_fields.items()]
        elif not field.exclude:
            rows.append(_reference(name, field))
    return rows


_KINDS = {
    "Path": "file name",
    "datetime": "date and time",
    "bool": "true or false",
    "int": "whole number",
    "float": "number",
    "str": "text",
}


def _reference(name: str, field: FieldInfo) -> PlanKey:
    """Describe one key in words."""
    annotation = str(field.annotation)
    words = choices(field.annotation)
    kind = next((word for mark, word in _KINDS.items() if mark in annotation), "text")
    if "tuple[float, float]" in annotation:
        kind = "[latitude, longitude]"
    if "tuple[float, float, float, float]" in annotation:
        kind = "list of four numbers, or file name"
    low, high = bounds(field)
    if words:
        kind = " | ".join(f'"{word}"' for word in words)
    elif low is not None and high is not None:
        kind += f", {low:.12g} to {high:.12g}"
    if name == "trip.home_by":
        kind = "time, or date and time"
    if name == "event.closed":
        kind = "text or whole number"
    if name == "odds.closures":
        kind = "[text or whole number, chance]"
    if annotation.startswith("tuple") and not annotation.endswith("tuple[float, float]"):
        kind = f"list of {kind}"
    return PlanKey(
        key=name,
        kind=kind,
        default=_as_toml(field),
        unit=note(field, "unit"),
        meaning=field.description or "",
        example=note(field, "example"),
    )


def _as_toml(field: FieldInfo) -> str:
    """Write a default as in the file."""
    if field.is_required():
        return "required"
    value = field.default
    if value is None:
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return "[]"
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def _syntax_error(source: Path, text: str, message: str) -> InputError:
    """Point at the line where TOML cannot be read."""
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.splitlines()
    # What is too long or too deep has no place in the message; it is the longest line.
    longest = max(range(len(lines)), key=lambda row: len(lines[row]), default=0) + 1
    at_end = text.count("\n") + 1
    number = int(found.group(1)) if found else longest if TOO_DEEP in message else at_end
    column = f", column {found.group(2)}" if found else ""
    reason = message.split(" (at ", maxsplit=1)[0]
    line = shown(lines[number - 1].strip()) if number <= len(lines) else "the end of the file"
    problem = f"found {line}; this is not TOML ({reason}{column}): correct the line"
    return InputError(f"{source}: line {number}", problem)


AnyPlan = TypeVar("AnyPlan", bound=Plan)


def _resolved(plan: AnyPlan, folder: Path) -> AnyPlan:
    """Take every relative path of a plan from the folder of its file."""

    def at(path: Path | None) -> Path | None:
        return None if path is None else folder / path

    return plan.model_copy(
        update={
            "map": plan.map.model_copy(
                update={
                    "extract": at(plan.map.extract),
                    "elevation": tuple(folder / raster for raster in plan.map.elevation),
                    "places": at(plan.map.places),
                }
            ),
            "bag": plan.bag.model_copy(update={"items": at(plan.bag.items)}),
            "walker": tuple(
                walker.model_copy(update={"timed_walk": folder / walker.timed_walk})
                if isinstance(walker.timed_walk, Path)
                else walker
                for walker in plan.walker
            ),
            "weather": plan.weather.model_copy(update={"file": at(plan.weather.file)}),
            "event": plan.event.model_copy(update={"closed_area": at(plan.event.closed_area)}),
            "choices": plan.choices.model_copy(update={"font": at(plan.choices.font)}),
        }
    )
