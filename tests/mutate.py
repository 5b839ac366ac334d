"""Make wrong edits by the sample, and see whether a test notices.

    python tests/mutate.py --rooms body walk --sample 40 --seed 1 --kept seen.json

First every fast test of the rooms is run once on the code as it is, and written down is which
lines each runs and how long it takes (some minutes; kept in a file if asked). Then places in the
code are picked by a seed, and one small wrong edit is made at each in a copy of the checkout. The
tests that run the edited statement, or a function that reads the edited constant, are run, those
about the edited file first and then the quickest, until one fails. What no test notices is listed
with file, line and edit, and so is a statement that no test runs. An edit takes some seconds.
`nice -n 19` leaves the machine to others.

No behaviour, so never edited: docstrings, annotations, imports, decorators, assertions, messages
(f-strings, `raise`, log), `__repr__`, whether `zip` is strict, and whole-numbered constants whose
name says how much is done or kept at once (`SPEED_CHOICES`). An edit that no input can tell from
the code is in `mutate_alike.toml` with the reason; it is drawn, counted apart and not run.

Every edit is tried in a child of one process that has the heavy libraries loaded, with a limit on
processor time: an edit that makes the tests hang counts as noticed.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import contextlib
import json
import math
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from importlib.util import cache_from_source
from pathlib import Path

import coverage
import pytest
from hypothesis import Phase, settings

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("body", "walk", "route", "bag", "ground", "supply", "sky", "home", "questions")
TESTS = (
    *(f"tests/{room}" for room in (*ROOMS, "published")),
    "tests/test_named_functions.py", "tests/test_plan.py",
    "tests/fetch/test_corridor.py", "tests/notebooks/test_curves.py",
)  # fmt: skip
"""Where what is edited is noticed: not tests of form and speed, nor of whatever comes."""

LIBRARIES = (
    "numpy", "numpy.testing", "scipy.sparse.csgraph", "scipy.optimize", "scipy.interpolate",
    "scipy.spatial", "scipy.stats", "pandas", "pvlib", "pydantic", "osmium", "rasterio", "pyproj",
    "shapely", "networkx", "igraph", "hypothesis.strategies", "hypothesis.extra.numpy",
    "pythermalcomfort.models", "matplotlib.figure", "httpx", "opening_hours", "tzfpy", "typst",
)  # fmt: skip
ALIKE = Path(__file__).with_name("mutate_alike.toml")
SPEED_CHOICES = re.compile(r"AT_ONCE|CHUNK|CACHE|BATCH")
TIMED_OUT = (-signal.SIGXCPU, -signal.SIGKILL)

SWAPS = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==",
    ast.Is: "is not", ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in",
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.And: "or", ast.Or: "and",
    ast.BitAnd: "|", ast.BitOr: "&", ast.FloorDiv: "/",
}  # fmt: skip
SIGNS = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
    ast.Is: "is", ast.IsNot: "is not", ast.In: "in", ast.NotIn: "not in",
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.And: "and", ast.Or: "or",
    ast.BitAnd: "&", ast.BitOr: "|", ast.FloorDiv: "//",
}  # fmt: skip
NAMES = {
    "min": "max", "minimum": "maximum", "argmin": "argmax", "any": "all", "floor": "ceil",
    "left": "right", "sum": "max", "nanmin": "nanmax",
}  # fmt: skip
NAMES |= {new: old for old, new in NAMES.items() if new not in NAMES}


@dataclass(frozen=True)
class Edit:
    """One wrong edit: characters of a file and what takes their place."""

    path: Path
    line: int
    start: int
    stop: int
    new: str
    told: str

    @property
    def where(self) -> str:
        """File below the checkout, and line."""
        return f"{self.path.relative_to(ROOT)}:{self.line}"


class _Sites(ast.NodeVisitor):
    """Gather the edits of one file; messages, annotations and docstrings are left alone."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = path.read_text(encoding="utf-8")
        self.starts = [0]
        for line in self.text.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line.encode()))
        self.raw = self.text.encode()
        self.found: list[Edit] = []
        self.visit(ast.parse(self.text))

    def at(self, line: int, column: int) -> int:
        return self.starts[line - 1] + column

    def span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def add(self, node: ast.AST, start: int, stop: int, new: str) -> None:
        old = self.raw[start:stop].decode()
        line = getattr(node, "lineno", 0)
        told = f"{' '.join(old.split())[:60]}  ->  {' '.join(new.split())[:60]}"
        self.found.append(Edit(self.path, line, start, stop, new, told))

    def between(self, left: ast.expr, right: ast.expr, sign: ast.AST) -> None:
        """Swap the sign that stands between two operands."""
        if type(sign) not in SWAPS:
            return
        start, stop = self.span(left)[1], self.span(right)[0]
        word = SIGNS[type(sign)]
        edge = r"\b" if word[0].isalpha() else ""
        gap = self.raw[start:stop].decode()
        at = re.search(rf"{edge}{re.escape(word)}{edge}".replace(r"\ ", r"\s+"), gap)
        if at is not None:
            first = start + len(gap[: at.start()].encode())
            self.add(left, first, first + len(at.group().encode()), SWAPS[type(sign)])

    def visit_Compare(self, node: ast.Compare) -> None:
        operands = [node.left, *node.comparators]
        for left, right, sign in zip(operands, operands[1:], node.ops, strict=False):
            self.between(left, right, sign)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        self.between(node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        self.between(node.values[0], node.values[1], node.op)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.USub | ast.Not | ast.Invert):
            start, stop = self.span(node.operand)
            self.add(node, self.span(node)[0], stop, self.raw[start:stop].decode())
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self.add(node, *self.span(node), str(not value))
        elif isinstance(value, int):
            self.add(node, *self.span(node), str(value + 1))
        elif isinstance(value, float):
            self.add(node, *self.span(node), repr(value * 1.1 if value else 0.1))

    def visit_Call(self, node: ast.Call) -> None:
        func = node.func
        name = func.id if isinstance(func, ast.Name) else getattr(func, "attr", "")
        if name in NAMES:
            stop = self.span(func)[1]
            self.add(node, stop - len(name), stop, NAMES[name])
        if name == "zip":  # what it zips is of one length: strict or not changes no answer
            for part in node.args:
                self.visit(part)
        elif not (isinstance(func, ast.Attribute) and _is_log(func.value)):
            self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        if isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            return
        start, stop = self.span(node.test)
        self.add(node, start, stop, f"not ({self.raw[start:stop].decode()})")
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        if isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            self.add(node, *self.span(node.value), '""')
        self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        if node.name == "__repr__":
            return
        for part in [*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body]:
            self.visit(part)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for part in node.body:  # whether a record is frozen or has slots changes no answer
            self.visit(part)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None and not _is_speed_choice(node.target, node.value):
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        if not _is_speed_choice(node.targets[0], node.value):
            self.generic_visit(node)

    def generic_visit(self, node: ast.AST) -> None:
        """Go on into what is code; messages and imports are not."""
        if not isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert | ast.ImportFrom):
            super().generic_visit(node)


def _is_log(node: ast.expr) -> bool:
    return isinstance(node, ast.Name) and node.id in {"logger", "log", "warnings"}


def _is_speed_choice(target: ast.expr, value: ast.expr) -> bool:
    """Whether a constant only says how much is done or kept at once: a count, not a quantity."""
    return (
        isinstance(target, ast.Name)
        and target.id.isupper()
        and SPEED_CHOICES.search(target.id) is not None
        and not any(isinstance(one, ast.Constant) and isinstance(one.value, float)
                    for one in ast.walk(value))
    )  # fmt: skip


def edits_of(rooms: Sequence[str]) -> list[Edit]:
    """List every edit in some rooms, in the order of the files."""
    files = [
        path
        for room in rooms
        for path in (
            sorted((ROOT / "simulator" / room).rglob("*.py")) or [ROOT / "simulator" / f"{room}.py"]
        )
    ]
    return [edit for path in files for edit in _Sites(path).found]


# --- which tests run which lines ------------------------------------------------------------------

Lines = dict[str, int]
"""Of a file below the checkout its lines, as the bits of a number."""


def lines_of(first: int, last: int) -> int:
    """Give the bits of some lines in a row."""
    return (1 << last + 1) - (1 << first)


@dataclass(frozen=True)
class Seen:
    """One test: how long it takes, and the lines that it runs."""

    name: str
    took_s: float
    ran: Lines


class Recorder:
    """Writes down what each passing test runs and takes."""

    def __init__(self, copy: Path) -> None:
        self.cut = len(str(copy)) + 1
        self.watch = coverage.Coverage(
            data_file=None, config_file=False, source=[str(copy / "simulator")],
            data_suffix=None, check_preimported=True, messages=False,
        )  # fmt: skip
        self.now = ""
        self.tests: dict[str, tuple[float, set[str]]] = {}
        self.failed: set[str] = set()

    @contextlib.contextmanager
    def noting(self, name: str) -> Iterator[None]:
        """Note what runs meanwhile under a name."""
        before, self.now = self.now, name
        self.watch.switch_context(name)
        try:
            yield
        finally:
            self.now = before
            self.watch.switch_context(before)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Generator[None]:
        """Follow what a fixture runs: it counts for every test that asks for it."""
        with self.noting(str(id(fixturedef))):
            return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Function) -> Generator[None]:
        """Follow what a test runs, and time it."""
        begun = time.process_time()
        try:
            with self.noting(item.nodeid):
                return (yield)
        finally:
            fixtures = item._fixtureinfo.name2fixturedefs.values()
            asked = {str(id(fixture)) for several in fixtures for fixture in several}
            self.tests[item.nodeid] = time.process_time() - begun, {item.nodeid} | asked

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Leave out what fails before anything is edited."""
        if report.failed:
            self.failed.add(report.nodeid)

    def seen(self) -> list[list[object]]:
        """Give what passed, to be kept as JSON."""
        data = self.watch.get_data()
        ran: dict[str, Lines] = {}
        for path in data.measured_files():
            below = path[self.cut :]
            for line, names in data.contexts_by_lineno(path).items():
                for name in names:
                    of_name = ran.setdefault(name, {})
                    of_name[below] = of_name.get(below, 0) | 1 << line
        found: list[list[object]] = []
        for test, (took_s, contexts) in self.tests.items():
            of_test: Lines = {}
            for name in contexts:
                for below, lines in ran.get(name, {}).items():
                    of_test[below] = of_test.get(below, 0) | lines
            if test not in self.failed:
                told = {below: f"{lines:x}" for below, lines in of_test.items()}
                found.append([test, took_s, told])
        return found


class FewExamples:
    """Looks for any failing example, not for the smallest, and for the same ones each time."""

    def pytest_configure(self) -> None:
        """Take the place of the profile that conftest has loaded."""
        settings.register_profile(
            "edits",
            parent=settings.get_profile("untimed"),
            derandomize=True,
            database=None,
            phases=(Phase.explicit, Phase.generate),
        )
        settings.load_profile("edits")


QUIET = ["-q", "--no-header", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:xdist"]


def in_a_child(copy: Path, work: Callable[[], int], limit_s: float) -> int:
    """Do something in a child that imports the copy; give its code, negative for a signal."""
    child = os.fork()
    if child == 0:  # pragma: no cover - another process
        code = 99
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(limit_s), math.ceil(limit_s) + 5))
            os.chdir(copy)
            sys.path.insert(0, str(copy))
            os.environ["PYTHONPATH"] = str(copy)
            nowhere = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nowhere, stream)
            code = work()
        finally:
            os._exit(code)
    begun = time.monotonic()
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() - begun > 20.0 * limit_s:  # waits for something that never comes
            os.kill(child, signal.SIGKILL)
        time.sleep(0.02)


def record(copy: Path, tests: Sequence[str], kept: Path) -> None:
    """Run every fast test once on the code as it is, and keep what each of them ran."""

    def work() -> int:
        recorder = Recorder(copy)
        with recorder.watch.collect():
            code = pytest.main([*QUIET, *tests], plugins=[recorder, FewExamples()])
        if code not in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED}:
            return int(code)
        kept.write_text(json.dumps(recorder.seen()), encoding="utf-8")
        return 0

    if in_a_child(copy, work, limit_s=7200.0) != 0 or not kept.exists():
        message = "the tests could not be run on the code as it is"
        raise SystemExit(message)


def read_seen(kept: Path) -> list[Seen]:
    """Read what was kept, quickest test first."""
    raw = json.loads(kept.read_text(encoding="utf-8"))
    found = [
        Seen(name, took, {path: int(lines, 16) for path, lines in ran.items()})
        for name, took, ran in raw
    ]
    return sorted(found, key=lambda test: test.took_s)


Function = ast.FunctionDef | ast.AsyncFunctionDef


class Owners:
    """Says on which lines an edit can be seen."""

    def __init__(self) -> None:
        self.trees = {
            str(path.relative_to(ROOT)): ast.parse(path.read_text(encoding="utf-8"))
            for path in sorted((ROOT / "simulator").rglob("*.py"))
        }
        self.users: dict[str, list[tuple[str, Function]]] = {}
        self.made_of: dict[str, set[str]] = {}
        for path, tree in self.trees.items():
            for node in ast.walk(tree):
                if isinstance(node, Function):
                    for name in _names(node):
                        self.users.setdefault(name, []).append((path, node))
            for node in tree.body:
                for target in _targets(node):
                    for name in _names(node) - {target}:
                        self.made_of.setdefault(name, set()).add(target)

    def of(self, edit: Edit) -> Lines:
        """Give the statement that holds the edit, or the functions that read what it makes."""
        path = str(edit.path.relative_to(ROOT))
        holding = [
            node
            for node in ast.walk(self.trees[path])
            if isinstance(node, Function) and _holds(node, edit.line)
        ]
        if holding:
            function = max(holding, key=lambda node: node.lineno)
            if edit.line < function.body[0].lineno:  # a default: seen by whoever calls
                return {path: _inside(function)}
            kept = any({"cache", "lru_cache"} & _names(one) for one in function.decorator_list)
            # What is kept is made once in a process, and seen by all who ask for it.
            found = self.readers({function.name}) if kept else {}
            statements = [one for one in ast.walk(function)
                          if isinstance(one, ast.stmt) and _holds(one, edit.line)]  # fmt: skip
            lines = _own_lines(max(statements, key=lambda one: one.lineno))
            return found | {path: found.get(path, 0) | lines}
        names = {
            name
            for node in self.trees[path].body
            if _holds(node, edit.line)
            for name in _targets(node)
        }
        for _ in range(3):  # a constant made of a constant
            names |= set().union(*(self.made_of.get(name, set()) for name in names))
        return self.readers(names)

    def readers(self, names: set[str]) -> Lines:
        """Give the lines of the functions that read one of some names."""
        found: Lines = {}
        for name in names:
            for path, function in self.users.get(name, []):
                found[path] = found.get(path, 0) | _inside(function)
        return found


def _holds(node: ast.stmt, line: int) -> bool:
    return node.lineno <= line <= (node.end_lineno or 0)


def _inside(function: Function) -> int:
    """Give the lines of a function that run when it is called."""
    return lines_of(function.body[0].lineno, function.end_lineno or 0)


def _own_lines(node: ast.stmt) -> int:
    """Give the lines of a statement without those of the statements in it."""
    lines = lines_of(node.lineno, node.end_lineno or 0)
    for one in ast.walk(node):
        if isinstance(one, ast.stmt) and one is not node:
            lines &= ~lines_of(one.lineno, one.end_lineno or 0)
    return lines or lines_of(node.lineno, node.lineno)


def _names(node: ast.AST) -> set[str]:
    """Give every name that a piece of code reads."""
    found = {one.id for one in ast.walk(node) if isinstance(one, ast.Name)}
    return found | {one.attr for one in ast.walk(node) if isinstance(one, ast.Attribute)}


def _targets(node: ast.stmt) -> set[str]:
    """Give the names that a statement of a module makes."""
    if isinstance(node, Function | ast.ClassDef):
        return {node.name}
    targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
    return {one.id for target in targets if target for one in ast.walk(target)
            if isinstance(one, ast.Name)}  # fmt: skip


def chosen_tests(seen: Sequence[Seen], edited: Path, where: Lines, budget_s: float) -> list[Seen]:
    """Give the tests that run one of the lines, for so long in all.

    First those that are about the edited file by their own file's name, then the quickest.
    """
    found: list[Seen] = []
    spent = 0.0
    about = f"test_{edited.stem}"
    for test in sorted(seen, key=lambda test: about not in test.name.partition("::")[0]):
        if any(test.ran.get(path, 0) & lines for path, lines in where.items()):
            spent += test.took_s
            if found and spent > budget_s:
                break
            found.append(test)
    return found


def alike() -> dict[tuple[str, str, str], str]:
    """Read which edits no input can tell from the code, by file, line of code and edit."""
    listed = tomllib.loads(ALIKE.read_text(encoding="utf-8"))
    return {
        (f"simulator/{one['file']}", one["code"], one["edit"]): one["why"]
        for one in listed.get("edit", [])
    }


def copied() -> Iterator[Path]:
    """Lend a copy of the checkout to spoil."""
    with tempfile.TemporaryDirectory(prefix="walkhome-mutate-") as folder:
        copy = Path(folder).resolve() / "tree"
        copy.mkdir()
        for name in ("simulator", "tests", "data", "notebooks",
                     "pyproject.toml", "README.md", "DEVELOPERS.md"):  # fmt: skip
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
            elif source.exists():
                shutil.copyfile(source, copy / name)
        if (ROOT.parent / "shared").exists():
            (copy.parent / "shared").symlink_to(ROOT.parent / "shared")
        compileall.compile_dir(copy / "simulator", quiet=2)
        yield copy


def preload() -> None:
    """Import the heavy libraries once, for all children."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            import_module(name)


def run_tests(copy: Path, edit: Edit, tests: Sequence[Seen]) -> str:
    """Run tests in the copy with an edit; say how it was noticed, or nothing."""
    target = copy / edit.path.relative_to(ROOT)
    raw = target.read_bytes()  # of the copy: someone may work on the checkout meanwhile
    with contextlib.suppress(FileNotFoundError):
        Path(cache_from_source(str(target))).unlink()
    target.write_bytes(raw[: edit.start] + edit.new.encode() + raw[edit.stop :])
    names = [test.name for test in tests]
    limit_s = 20.0 + 4.0 * sum(test.took_s for test in tests)
    try:
        code = in_a_child(
            copy, lambda: int(pytest.main([*QUIET, "-x", *names], plugins=[FewExamples()])), limit_s
        )
    finally:
        target.write_bytes(raw)
    if code < 0:
        return "noticed: time limit" if code in TIMED_OUT else f"noticed: signal {-code}"
    return f"noticed: code {code}" if code else ""


def main() -> int:
    """Draw a sample, spoil, test, and list what nobody noticed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--rooms", nargs="+", default=list(ROOMS))
    parser.add_argument("--tests", nargs="+", default=list(TESTS), help="files and folders")
    parser.add_argument("--sample", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget-s", type=float, default=40.0, help="most tests for an edit")
    parser.add_argument("--kept", type=Path, help="where to keep which test runs what")
    parser.add_argument("--again", type=Path, help="only what survived in this earlier output")
    chosen = parser.parse_args()
    edits = edits_of(chosen.rooms)
    chance = random.Random(chosen.seed)  # noqa: S311 - a sample, not a secret
    sample = chance.sample(edits, min(chosen.sample, len(edits)))
    if chosen.again is not None:
        text = chosen.again.read_text(encoding="utf-8")
        sample = [edit for edit in edits if f" {edit.where}: {edit.told}: SURVIVED" in text]
    say = sys.stdout.write
    say(f"{len(edits)} edits possible in {', '.join(chosen.rooms)}; {len(sample)} drawn\n")
    owners, began = Owners(), time.monotonic()
    same = alike()
    noticed, equal, survivors = 0, 0, []
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    sys.dont_write_bytecode = True
    preload()
    for copy in copied():
        kept = chosen.kept or copy.parent / "seen.json"
        if not kept.exists():
            record(copy, chosen.tests, kept)
        seen = read_seen(kept)
        say(f"{len(seen)} tests\n")
        for number, edit in enumerate(sample, start=1):
            code = edit.path.read_text(encoding="utf-8").splitlines()[edit.line - 1].strip()
            if (edit.where.partition(":")[0], code, edit.told) in same:
                equal += 1
                say(f"{number:4} {edit.where}: {edit.told}: no input can tell\n")
                continue
            tests = chosen_tests(seen, edit.path, owners.of(edit), chosen.budget_s)
            how = run_tests(copy, edit, tests) if tests else ""
            noticed += bool(how)
            if not how:
                survivors.append(f"{edit.where}: {edit.told} ({len(tests)} tests)")
            say(f"{number:4} {edit.where}: {edit.told}: {how or 'SURVIVED'}\n")
            sys.stdout.flush()
    spent = (time.monotonic() - began) / 60.0
    real = len(sample) - equal
    share = noticed / max(real, 1)
    say(f"\nnoticed {noticed} of {real} ({share:.0%}), {equal} alike, {spent:.0f} min")
    say("".join(f"\n  {line}" for line in survivors) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
