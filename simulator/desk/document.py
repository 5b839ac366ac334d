"""The plan, its list and its closed areas as the page edits them; files in, files out."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import shutil
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Table
from tomlkit.toml_document import TOMLDocument

from simulator import spreadsheet
from simulator.bag.items import COLUMNS, NUMBERS, list_table, read_written
from simulator.desk.fields import (
    PERSON,
    Entry,
    entries_of,
    page_fields,
    persons,
    same,
    value_of,
)
from simulator.errors import InputError
from simulator.files import csv_safe, read_text, sha256_of, staged, write_text
from simulator.plan import Plan
from simulator.plan.tables import names_beside, read_tables
from simulator.route.closures import read_area

MOST_PERSONS, MOST_ROWS, MOST_AREAS, MOST_CORNERS = 12, 400, 50, 500
"""Largest document that the page may send; assumed, far above any walk home."""

AREA_NAME, BAG_NAME = "closed.geojson", "bag.csv"
"""Files that the page makes where the plan names none."""

SWAPPED = {"bag": "bag.items", "area": "event.closed_area"}
"""Keys of the files that the page shows the content of, and puts others in their place."""

FILE_ENDINGS = {
    "bag.items": (".csv",),
    "event.closed_area": (".geojson", ".json"),
    "map.extract": (".osm.pbf", ".osm", ".osm.bz2", ".osm.gz", ".graphml"),
    "map.elevation": (".tif", ".tiff", ".vrt", ".asc", ".hgt"),
    "map.places": (".toml",),
    "walker.timed_walk": (".gpx",),
    "weather.file": (".csv", ".epw"),
    "choices.font": (".ttf", ".otf", ".ttc"),
}
"""Endings of the files beside the plan that an entry may name."""

FIELDS = page_fields()
"""Entries of the page."""

Ring = tuple[tuple[float, float], ...]
"""Corners of a closed area, latitude and longitude [deg], the first not repeated."""


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One line of the list as it is typed.

    Attributes
    ----------
    cells : tuple of str
        In the order of `COLUMNS`.
    origin : int
        Which line of the opened list it was, from 0; -1 for a new one.
    """

    cells: tuple[str, ...]
    origin: int = -1


@dataclass(frozen=True, slots=True)
class PageState:
    """All that the page can change.

    Attributes
    ----------
    entries : dict of str to str or list of str
        Text of every entry by its name.
    persons : int
        How many walk.
    rows : tuple of TypedRow
        The list.
    areas : tuple of Ring
        Closed areas.
    bag, area : str
        Files beside the plan that list and areas came from; empty for none.
    """

    entries: Mapping[str, Entry]
    persons: int
    rows: tuple[TypedRow, ...]
    areas: tuple[Ring, ...]
    bag: str = ""
    area: str = ""

    def as_json(self) -> dict[str, Any]:
        """Give it as the page sends it."""
        return {
            "entries": dict(self.entries),
            "persons": self.persons,
            "rows": [{"cells": list(row.cells), "origin": row.origin} for row in self.rows],
            "areas": [[list(corner) for corner in ring] for ring in self.areas],
            "bag": self.bag,
            "area": self.area,
        }


@dataclass(frozen=True, slots=True)
class OpenedList:
    """A list as it was opened: its text, the same taken apart, and what the page shows of it."""

    text: str
    table: spreadsheet.Table
    rows: tuple[TypedRow, ...]


@dataclass(frozen=True, slots=True)
class Opened:
    """A plan with the files that the page edits, as they were opened.

    Attributes
    ----------
    path : pathlib.Path
        The plan.
    save_as : pathlib.Path
        Where it is saved.
    plan_text : str
        Content of the plan.
    state : PageState
        What the page shows first; names list and areas as the plan does.
    lists : dict of str to OpenedList
        Lists by name: the plan's, and those put in its place.
    outlines : dict of str to tuple of Ring
        Closed areas by name, likewise.
    digests : dict of str to str
        SHA-256 of the opened files, so that a later change by another hand is noticed.
    """

    path: Path
    save_as: Path
    plan_text: str
    state: PageState
    lists: dict[str, OpenedList]
    outlines: dict[str, tuple[Ring, ...]]
    digests: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Texts:
    """What a state of the page is as files.

    Attributes
    ----------
    plan, bag, area : str
        Contents; empty where there is no such file.
    bag_name, area_name : str
        Names beside the plan; empty where there is no such file.
    row_lines : tuple of int
        Line of the list that each row of the page stands on.
    faults : tuple of (str, str)
        Name of an entry and what is wrong with it.
    """

    plan: str
    bag: str = ""
    area: str = ""
    bag_name: str = ""
    area_name: str = ""
    row_lines: tuple[int, ...] = ()
    faults: tuple[tuple[str, str], ...] = field(default=())


def open_document(path: Path, *, save_as: Path | None = None) -> Opened:
    """Open a plan for the page.

    Parameters
    ----------
    path : pathlib.Path
        TOML file; what is wrong in it beyond its syntax is shown on the page.
    save_as : pathlib.Path, optional
        Where it is saved, when not in its own place.

    Returns
    -------
    Opened
        Its text, and the state that the page begins with.

    Raises
    ------
    InputError
        When it is not TOML, or a file that it names for editing cannot be read.
    """
    tables = read_tables(path)
    plan_text = read_text(path, what="a plan in TOML")
    digests = {path.name: sha256_of(path)}
    bag, area = named_in(tables, "bag", "items"), named_in(tables, "event", "closed_area")
    lists, outlines = {bag: open_list(path, bag)}, {area: open_outlines(path, area)}
    if bag:
        digests[bag] = sha256_of(path.parent / bag)
    entries, count = entries_of(tables, FIELDS), len(persons(tables))
    state = PageState(entries, count, lists[bag].rows, outlines[area], bag, area)
    return Opened(
        path=path,
        save_as=save_as or path,
        plan_text=plan_text,
        state=state,
        lists=lists,
        outlines=outlines,
        digests=digests,
    )


def open_list(plan: Path, name: str) -> OpenedList:
    """Open a list that a plan names, or may name; without a name it is empty."""
    text = ""
    if name:
        text, _notes = read_written(plan.parent / name, what="a list of items in CSV")
    table = list_table(text, name)
    if text.strip() and not table.headings:
        raise spreadsheet.told_together(table.faults, name)
    return OpenedList(text, table, _rows_of(table))


def open_outlines(plan: Path, name: str) -> tuple[Ring, ...]:
    """Read the closed areas that a plan names, or may name; without a name there are none."""
    return _rings(plan.parent / name) if name else ()


def put_in_place(opened: Opened, what: str, name: str) -> dict[str, Any]:
    """Open another list, or other areas, in the place of the plan's; give what the page shows."""
    key = SWAPPED[what]
    if name and name not in files_beside(opened, key):
        raise InputError(key, f"found {name!r}; choose one of the files beside the plan")
    shown = PageState({}, 1, (), ())
    if what == "bag":
        opened.lists[name] = open_list(opened.path, name)
        return {"rows": replace(shown, rows=opened.lists[name].rows).as_json()["rows"]}
    opened.outlines[name] = open_outlines(opened.path, name)
    return {"areas": replace(shown, areas=opened.outlines[name]).as_json()["areas"]}


def named_in(tables: Mapping[str, Any], table: str, key: str) -> str:
    """Read a text of the plan; empty when there is none."""
    part = tables.get(table)
    name = part.get(key) if isinstance(part, Mapping) else None
    return name if isinstance(name, str) else ""


def _rows_of(table: spreadsheet.Table) -> tuple[TypedRow, ...]:
    """Give the rows of a list with the page's columns, each cell as it reads there."""
    shown = []
    for number, row in enumerate(table.rows):
        named = {
            heading.column: heading.told(cell)
            for heading, cell in zip(table.headings, row.written, strict=False)
        }
        shown.append(TypedRow(tuple(named.get(name, "") for name in COLUMNS), origin=number))
    return tuple(shown)


def _rings(path: Path) -> tuple[Ring, ...]:
    """Read the outlines of closed areas."""
    area = read_area(path)
    parts = getattr(area, "geoms", [area])
    return tuple(
        tuple((float(lat), float(lon)) for lon, lat, *_ in list(part.exterior.coords)[:-1])
        for part in parts
    )


def state_from(sent: object) -> PageState:
    """Read what the page sent; its shape is checked, not what was typed."""
    if not isinstance(sent, dict):
        raise ValueError(_SHAPE)  # noqa: TRY004 - one refusal for whatever is not our page's
    entries, people = sent.get("entries"), sent.get("persons")
    rows, areas = sent.get("rows"), sent.get("areas")
    bag, area = sent.get("bag"), sent.get("area")
    if not (
        isinstance(entries, dict)
        and all(isinstance(key, str) and _is_entry(entry) for key, entry in entries.items())
        and isinstance(people, int)
        and 1 <= people <= MOST_PERSONS
        and isinstance(rows, list)
        and len(rows) <= MOST_ROWS
        and isinstance(areas, list)
        and len(areas) <= MOST_AREAS
        and isinstance(bag, str)
        and isinstance(area, str)
    ):
        raise ValueError(_SHAPE)
    return PageState(entries, people, tuple(map(_row, rows)), tuple(map(_ring, areas)), bag, area)


_SHAPE = "this is not what the page sends"


def _is_entry(entry: object) -> bool:
    return isinstance(entry, str) or (
        isinstance(entry, list) and all(isinstance(part, str) for part in entry)
    )


def _row(sent: object) -> TypedRow:
    cells = sent.get("cells") if isinstance(sent, dict) else None
    origin = sent.get("origin", -1) if isinstance(sent, dict) else None
    if not (
        isinstance(cells, list)
        and len(cells) == len(COLUMNS)
        and all(isinstance(cell, str) for cell in cells)
        and isinstance(origin, int)
    ):
        raise ValueError(_SHAPE)
    return TypedRow(tuple(" ".join(cell.split()) for cell in cells), origin)


def _ring(sent: object) -> Ring:
    if not isinstance(sent, list) or not 3 <= len(sent) <= MOST_CORNERS:  # noqa: PLR2004
        raise ValueError(_SHAPE)
    corners = []
    for corner in sent:
        if not (isinstance(corner, list) and len(corner) == 2):  # noqa: PLR2004 - a pair
            raise ValueError(_SHAPE)
        lat, lon = corner
        if not all(isinstance(n, int | float) and math.isfinite(n) for n in corner):
            raise ValueError(_SHAPE)
        corners.append((round(float(lat), 6), round(float(lon), 6)))
    return tuple(corners)


def texts_of(opened: Opened, state: PageState) -> Texts:
    """Write a state of the page as files."""
    document = tomlkit.parse(opened.plan_text)
    faults = _set_entries(document, opened, state)
    bag_name, bag = "", ""
    if state.bag != opened.state.bag:
        _put(_table(document, "bag"), "items", state.bag or None)
    faults += _not_opened(opened, state)
    listed = opened.lists.get(state.bag)
    lines = tuple(row.line for row in listed.table.rows) if listed else ()
    if listed and state.rows != listed.rows:
        # A list from another folder is not written over: it becomes one beside the plan.
        bag_name = Path(state.bag).name or BAG_NAME
        if bag_name != state.bag:
            _table(document, "bag")["items"] = bag_name
        bag, lines = _bag_text(listed, state.rows)
    area_name, area = state.area, ""
    if state.areas != opened.outlines.get(state.area, state.areas):
        area_name = Path(state.area or AREA_NAME).name if state.areas else ""
        area = _area_text(state.areas) if state.areas else ""
    if area_name != opened.state.area:
        _put(_table(document, "event"), "closed_area", area_name or None)
    return Texts(
        plan=tomlkit.dumps(document),
        bag=bag,
        area=area,
        bag_name=bag_name,
        area_name=area_name if area else "",
        row_lines=lines,
        faults=tuple(faults),
    )


def _not_opened(opened: Opened, state: PageState) -> list[tuple[str, str]]:
    """Open what a state names and was not opened yet, or say beside which entry it cannot be."""
    faults = []
    for what, name, known in (
        ("bag", state.bag, opened.lists),
        ("area", state.area, opened.outlines),
    ):
        if name not in known:
            try:
                put_in_place(opened, what, name)
            except InputError as fault:
                faults.append(("bag" if what == "bag" else SWAPPED[what], fault.problem))
    return faults


def _set_entries(document: TOMLDocument, opened: Opened, state: PageState) -> list[tuple[str, str]]:
    """Put the entries that were changed into the plan."""
    faults: list[tuple[str, str]] = []
    people = _people(document, state.persons)
    for one in FIELDS:
        if one.table == PERSON:
            targets = [
                (f"{PERSON}.{number}.{one.name}", person)
                for number, person in enumerate(people, start=1)
            ]
        else:
            targets = [(one.key, _table(document, one.table) if one.table else document)]
        for name, table in targets:
            entry = state.entries.get(name, [] if one.many else "")
            if entry == opened.state.entries.get(name, [] if one.many else ""):
                continue
            try:
                value = value_of(one, entry, files=files_beside(opened, one.key))
            except ValueError as fault:
                faults.append((name, str(fault)))
                continue
            _put(table, one.name, value)
    for name in [name for name, part in document.items() if isinstance(part, Table) and not part]:
        if name not in tomllib.loads(opened.plan_text):
            del document[name]
    return faults


def _put(table: Any, name: str, value: object) -> None:  # noqa: ANN401 - a table of either kind
    """Set a key, or take it out; a value that means the same keeps its writing."""
    if value is None:
        if name in table:
            del table[name]
    elif name not in table or not same(table[name], value):
        table[name] = value


def _table(document: TOMLDocument, name: str) -> Any:  # noqa: ANN401 - as tomlkit gives it
    """Give a table of the plan; made when it is not there."""
    if name not in document:
        document[name] = tomlkit.table()
    return document[name]


def _people(document: TOMLDocument, count: int) -> list[Any]:
    """Give the tables of those who walk; one stays one table, several are repeated ones."""
    found: Any = document.get(PERSON)
    if not isinstance(found, AoT):
        if count == 1:
            return [_table(document, PERSON)]
        several = tomlkit.aot()
        if found is not None:
            several.append(found)
        document[PERSON] = found = several
    while len(found) > count:
        del found[-1]
    while len(found) < count:
        found.append(tomlkit.table())
    return list(found)


def _bag_text(listed: OpenedList, rows: Sequence[TypedRow]) -> tuple[str, tuple[int, ...]]:
    """Write the list: what was not touched stays as it stands, columns of one's own too."""
    table = listed.table
    there = {heading.column for heading in table.headings}
    used = [
        spreadsheet.Heading(name, name)
        for place, name in enumerate(COLUMNS)
        if name not in there and (not table.headings or any(row.cells[place] for row in rows))
    ]
    headings = (*table.headings, *used)
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=table.separator, lineterminator="\n")
    lines: list[int] = []
    stream.writelines(f"{line}\n" for line in table.above)
    writer.writerow([heading.written for heading in headings])
    for row in rows:
        was = table.rows[row.origin] if 0 <= row.origin < len(table.rows) else None
        before = listed.rows[row.origin].cells if was else ("",) * len(COLUMNS)
        stream.writelines(f"{note}\n" for note in (was.above if was else ()))
        lines.append(stream.getvalue().count("\n") + 1)
        old = was.written if was else ()
        cells = []
        for place, heading in enumerate(headings):
            written = old[place] if place < len(old) else ""
            if heading.column:
                column = COLUMNS.index(heading.column)
                cell = row.cells[column]
                if cell != before[column] or not written:
                    written = _cell(heading, cell, table.separator)
            cells.append(written)
        writer.writerow(cells)
    stream.writelines(f"{note}\n" for note in table.below)
    return stream.getvalue(), tuple(lines)


def _cell(heading: spreadsheet.Heading, text: str, separator: str) -> str:
    """Write one cell; a decimal comma becomes a point where commas separate."""
    if heading.column in NUMBERS:
        plain = text.replace(",", ".") if separator == "," and text.count(",") == 1 else text
        return heading.asked(plain)
    return csv_safe(text)


def _area_text(areas: Sequence[Ring]) -> str:
    """Write closed areas as GeoJSON (RFC 7946): longitude first, outlines closed."""
    polygons = [[[[lon, lat] for lat, lon in (*ring, ring[0])]] for ring in areas]
    feature = {
        "type": "Feature",
        "properties": {},
        "geometry": {"type": "MultiPolygon", "coordinates": polygons},
    }
    return json.dumps({"type": "FeatureCollection", "features": [feature]}, indent=1) + "\n"


def files_beside(opened: Opened, key: str) -> tuple[str, ...]:
    """List the files that a key may name: those beside the plan, and what it names now."""
    endings = FILE_ENDINGS.get(key, ())
    folder = opened.path.parent
    found = [
        path.name
        for path in sorted(folder.iterdir())
        if path.is_file() and path.name.lower().endswith(endings) and path != opened.path
    ]
    own = {SWAPPED["bag"]: opened.state.bag, SWAPPED["area"]: opened.state.area}
    now = own.get(key) or opened.state.entries.get(key, "")
    kept = now if isinstance(now, list) else [now]
    return tuple(dict.fromkeys([*(name for name in kept if name), *found])) if endings else ()


class Draft:
    """The folder in which unsaved work is kept.

    Parameters
    ----------
    folder : pathlib.Path
        Made when it is not there; only its owner may look into it.
    """

    STATE = "state.json"

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write(self, opened: Opened, state: PageState, texts: Texts) -> None:
        """Keep a state of the page, with the files that it is.

        Parameters
        ----------
        opened : Opened
            The plan as it was opened.
        state : PageState
            From the page, with all that was typed.
        texts : Texts
            The same as files.
        """
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = {"digests": dict(opened.digests), "state": state.as_json()}
        write_text(self.folder / self.STATE, json.dumps(kept, ensure_ascii=False))
        write_text(self.folder / opened.path.name, texts.plan)
        for name, text in ((texts.bag_name, texts.bag), (texts.area_name, texts.area)):
            if name:
                write_text(self.folder / Path(name).name, text)
        names = names_beside(opened.path)
        if names.exists():
            shutil.copyfile(names, self.folder / names.name)

    def read(self, opened: Opened) -> tuple[PageState | None, bool]:
        """Give what was kept.

        Parameters
        ----------
        opened : Opened
            The plan as it was opened now.

        Returns
        -------
        PageState or None
            None when nothing was kept.
        bool
            Whether the files are still those that the draft was begun from.
        """
        try:
            kept = json.loads((self.folder / self.STATE).read_text(encoding="utf-8"))
            state = state_from(kept["state"])
        except (OSError, ValueError, KeyError, TypeError):
            return None, True
        return state, kept.get("digests") == dict(opened.digests)

    def plan(self, opened: Opened, texts: Texts) -> Plan:
        """Read the plan that was kept, with its other files where the opened plan has them.

        Parameters
        ----------
        opened : Opened
            The plan as it was opened.
        texts : Texts
            What was written last.

        Returns
        -------
        Plan
            As ``walkhome plan`` would read it after saving.

        Raises
        ------
        InputError
            One line for each fault.
        """
        plan = Plan.read(
            self.folder / opened.path.name, folder=opened.path.parent, check_files=False
        )
        if texts.bag_name:
            items = self.folder / Path(texts.bag_name).name
            plan = plan.model_copy(update={"bag": plan.bag.model_copy(update={"items": items})})
        if texts.area_name:
            area = self.folder / Path(texts.area_name).name
            event = plan.event.model_copy(update={"closed_area": area})
            plan = plan.model_copy(update={"event": event})
        plan.require_files()
        return plan

    def drop(self) -> None:
        """Throw the draft away, after it was saved or given up."""
        shutil.rmtree(self.folder, ignore_errors=True)


def save(opened: Opened, texts: Texts, plan: Plan, *, overwrite: bool) -> tuple[str, ...]:
    """Write the files of the page beside each other."""
    folder = opened.save_as.parent
    contents = {
        name: text
        for name, text in (
            (opened.save_as.name, texts.plan),
            (texts.bag_name, texts.bag),
            (texts.area_name, texts.area),
        )
        if name
    }
    changed = {
        name: text
        for name, text in contents.items()
        if not (folder / name).exists() or (folder / name).read_bytes() != text.encode()
    }
    taken = tuple(name for name in changed if (folder / name).exists())
    if taken and not overwrite:
        return taken
    copied = {}
    if folder.resolve() != opened.path.parent.resolve():
        copied = {path.name: path for _, path in plan.files() if path.name not in contents}
    with staged(folder) as stage:
        for name, text in changed.items():
            write_text(stage / Path(name).name, text)
        for name, source in copied.items():
            if not (folder / name).exists():
                shutil.copyfile(source, stage / name)
    return ()


_KEY = re.compile(
    r"(?:^|: )(?P<key>(?:trip|map|walker|bag|weather|event|choices|pace|odds|fetch|title|units)"
    r"(?:\[\d+\])?(?:\.\w+(?:\[\d+\])?)?): (?P<problem>.+)$"
)
_CELL = re.compile(r": line (?P<line>\d+)(?:, column (?P<column>\w+))?: (?P<problem>.+)$")


def faults_of(fault: InputError, texts: Texts) -> list[tuple[str, str]]:
    """Lay the lines of a refusal beside the entries that they are about."""
    found = []
    for line in str(fault).splitlines():
        if cell := _CELL.search(line):
            name = "bag"
            if int(cell["line"]) in texts.row_lines:
                row = texts.row_lines.index(int(cell["line"])) + 1
                name = f"bag.{row}.{cell['column'] or 'item'}"
            found.append((name, cell["problem"]))
        elif key := _KEY.search(line):
            found.append((_entry_name(key["key"]), key["problem"]))
        else:
            found.append(("", line))
    return found


def _entry_name(key: str) -> str:
    """Name the entry of a key: the person's number stands between dots, a list has one entry."""
    table, _, rest = key.partition(".")
    person = re.fullmatch(r"walker(?:\[(\d+)\])?", table)
    rest = re.sub(r"\[\d+\]$", "", rest)
    table = f"{PERSON}.{person[1] or 1}" if person else table
    return f"{table}.{rest}" if rest else table


def reopened(opened: Opened, *, path: Path) -> Opened:
    """Open what was just saved, so that it is what the page is compared with from now on."""
    return replace(open_document(path), save_as=opened.save_as)
