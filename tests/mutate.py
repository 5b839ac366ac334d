"""Make wrong edits by the sample, and see whether a test notices.

    python tests/mutate.py --rooms body walk --sample 40 --seed 1

Picks places in the rooms' code by a seed, makes one small wrong edit at each in a copy of the
checkout, and runs the tests that stand near the edited file, nearest first, until one fails. What
no test notices is listed with file, line and edit. A sample of a hundred takes an hour or two on
one core; `nice -n 19` leaves the machine to others.

Tests are near when they import the edited module, or a module that imports it. Only fast tests run,
in one process, with a time limit: an edit that makes them hang counts as noticed.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("body", "walk", "route", "bag", "ground", "supply", "sky", "home", "questions")
LEFT_OUT = ("tests/house", "tests/benchmarks", "tests/notebooks", "tests/fuzz", "tests/hostile")
"""Tests of form and speed, which notice any edit or none, and those that take whatever comes."""

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
        for part in [*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body]:
            self.visit(part)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def generic_visit(self, node: ast.AST) -> None:
        """Go on into what is code; messages and imports are not."""
        if not isinstance(node, ast.Raise | ast.JoinedStr | ast.Assert | ast.ImportFrom):
            super().generic_visit(node)


def edits_of(rooms: Sequence[str]) -> list[Edit]:
    """List every edit in some rooms, in the order of the files."""
    files = sorted(
        path for room in rooms for path in (ROOT / "simulator" / room).rglob("*.py")
    ) or [ROOT / "simulator" / f"{room}.py" for room in rooms]
    return [edit for path in files for edit in _Sites(path).found]


def imports_of(path: Path) -> set[str]:
    """Give the modules of ours that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("simulator"):
            found.add(node.module or "")
            found |= {f"{node.module}.{name.name}" for name in node.names}
        elif isinstance(node, ast.Import):
            found |= {name.name for name in node.names if name.name.startswith("simulator")}
    return found


def near_tests() -> dict[str, list[Path]]:
    """Give the test files of each module: those that import it first, then one step further."""
    modules = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in (ROOT / "simulator").rglob("*.py")
    }
    users: dict[str, set[str]] = {name: set() for name in modules}
    for name, path in modules.items():
        for used in imports_of(path) & modules.keys():
            users[used].add(name)
    tests = {
        path: imports_of(path)
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if not str(path.relative_to(ROOT)).startswith(LEFT_OUT)
    }
    near = {}
    for name in modules:
        rings = [{name}, users[name], set().union(*(users[user] for user in users[name]), set())]
        order: dict[Path, None] = {}
        for ring in rings:
            touching = [path for path, used in tests.items() if used & ring]
            own = name.split(".")[1:2]
            touching.sort(key=lambda path: (path.parent.name not in own, str(path)))
            order |= dict.fromkeys(touching)
        near[name] = list(order)
    return near


def copied() -> Iterator[Path]:
    """Lend a copy of the checkout to spoil."""
    with tempfile.TemporaryDirectory(prefix="walkhome-mutate-") as folder:
        copy = Path(folder) / "tree"
        copy.mkdir()
        for name in ("simulator", "tests", "data", "pyproject.toml", "README.md", "DEVELOPERS.md"):
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
            elif source.exists():
                shutil.copyfile(source, copy / name)
        if (ROOT.parent / "shared").exists():
            (copy.parent / "shared").symlink_to(ROOT.parent / "shared")
        yield copy


def run_tests(copy: Path, tests: Sequence[Path], limit_s: float) -> str:
    """Run tests in the copy; say how it ended."""
    words = [str(path.relative_to(ROOT)) for path in tests]
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "--no-header", "-p", "no:cacheprovider",
             "-p", "no:xdist", *words],
            cwd=copy, env=environment, capture_output=True, timeout=limit_s, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return "noticed: time limit"
    return "" if done.returncode == 0 else f"noticed: code {done.returncode}"


def main() -> int:
    """Draw a sample, spoil, test, and list what nobody noticed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--rooms", nargs="+", default=list(ROOMS))
    parser.add_argument("--sample", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--files", type=int, default=12, help="most test files for an edit")
    parser.add_argument("--limit-s", type=float, default=300.0, help="most time for an edit")
    chosen = parser.parse_args()
    edits, near = edits_of(chosen.rooms), near_tests()
    chance = random.Random(chosen.seed)  # noqa: S311 - a sample, not a secret
    sample = chance.sample(edits, min(chosen.sample, len(edits)))
    say = sys.stdout.write
    say(f"{len(edits)} edits possible in {', '.join(chosen.rooms)}; {len(sample)} drawn\n")
    noticed, began = 0, time.monotonic()
    survivors = []
    for copy in copied():
        for number, edit in enumerate(sample, start=1):
            name = ".".join(edit.path.relative_to(ROOT).with_suffix("").parts)
            tests = near[name.removesuffix(".__init__")][: chosen.files]
            target = copy / edit.path.relative_to(ROOT)
            raw = edit.path.read_bytes()
            target.write_bytes(raw[: edit.start] + edit.new.encode() + raw[edit.stop :])
            how = run_tests(copy, tests, chosen.limit_s) if tests else ""
            target.write_bytes(raw)
            noticed += bool(how)
            where = f"{edit.path.relative_to(ROOT)}:{edit.line}"
            if not how:
                survivors.append(f"{where}: {edit.told}")
            say(f"{number:4} {where}: {edit.told}: {how or 'SURVIVED'}\n")
            sys.stdout.flush()
    spent = (time.monotonic() - began) / 60.0
    share = noticed / max(len(sample), 1)
    say(f"\nnoticed {noticed} of {len(sample)} ({share:.0%}), {spent:.0f} min")
    say("".join(f"\n  {line}" for line in survivors) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
