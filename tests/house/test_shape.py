"""The shape of the checkout: what lies where, how long files are, which words they keep out."""

from __future__ import annotations

import ast
import fnmatch
import re
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import networkx as nx

MOST_FILES: Final = 25
"""Files of one folder of the package that a newcomer can still hold."""

TOP_LEVEL: Final = {
    ".ci",
    ".git",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "data",
    "notebooks",
    "pyproject.toml",
    "simulator",
    "tests",
}
"""Everything that may lie at the top; what git ignores does not count."""

# Each pattern is split so that this file does not match itself.
UNWANTED: Final = {
    "a path on someone's machine": r"(?<![\w.])/(?:ho" r"me|Us" r"ers|ro" r"ot|wo" r"rk)/\w",
    "a drive letter path": r"\b[A-Z]:\\" r"Us" r"ers",
    "a package registry": r"py" r"pi\.org|files\.python" r"hosted",
}

TEXT: Final = {".py", ".md", ".toml", ".csv", ".json", ".typ", ".j2", ".geojson", ".txt", ".css"}


def ignored_patterns(root: Path) -> list[str]:
    lines = (root / ".gitignore").read_text(encoding="utf-8").splitlines()
    # What one person's own checkout ignores, where git is there to say.
    asked = ["git", "rev-parse", "--git-path", "info/exclude"]
    try:
        told = subprocess.run(asked, cwd=root, capture_output=True, text=True, check=True).stdout
        lines += (root / told.strip()).read_text(encoding="utf-8").splitlines()
    except (OSError, subprocess.CalledProcessError):
        pass
    return [line.strip("/") for line in lines if line and not line.startswith("#")]


def is_ignored(name: str, patterns: list[str]) -> bool:
    return any(fnmatch.fnmatch(name, pattern) for pattern in patterns)


def files(root: Path) -> Iterator[Path]:
    """Give every file of the checkout that git would keep."""
    patterns = [*ignored_patterns(root), ".git"]
    for path in sorted(root.rglob("*")):
        parts = path.relative_to(root).parts
        if path.is_file() and not any(is_ignored(part, patterns) for part in parts):
            yield path


def test_nothing_unexpected_lies_at_the_top(root: Path) -> None:
    patterns = ignored_patterns(root)
    found = {path.name for path in root.iterdir() if not is_ignored(path.name, patterns)}
    assert found <= TOP_LEVEL, f"unexpected: {sorted(found - TOP_LEVEL)}"
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", "simulator", "tests"} <= found


def test_no_folder_of_the_package_holds_more_than_a_newcomer_can(root: Path) -> None:
    folders = [path.parent for path in (root / "simulator").rglob("*.py")]
    counts = {folder.name: folders.count(folder) for folder in set(folders)}
    assert len(counts) > 10
    assert {name for name, count in counts.items() if count > MOST_FILES} == set()


def test_no_two_modules_import_each_other(root: Path) -> None:
    imports: nx.DiGraph[str] = nx.DiGraph()
    paths = list((root / "simulator").rglob("*.py"))
    names = {".".join(path.relative_to(root).with_suffix("").parts) for path in paths}
    for path in paths:
        module = ".".join(path.relative_to(root).with_suffix("").parts)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                inner = {f"{node.module}.{alias.name}" for alias in node.names}
                imports.add_edges_from(
                    (module, other) for other in {str(node.module), *inner} & names
                )
    assert imports.number_of_edges() > 500
    assert [circle for circle in nx.strongly_connected_components(imports) if len(circle) > 1] == []


def test_a_class_name_means_one_thing(root: Path) -> None:
    homes: dict[str, list[str]] = {}
    for path in sorted((root / "simulator").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                where = f"{path.relative_to(root)}:{node.lineno}"
                homes.setdefault(node.name, []).append(where)
    assert len(homes) > 300
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}


def test_no_text_names_a_machine_or_a_registry(root: Path) -> None:
    faults = []
    for path in files(root):
        if path.suffix not in TEXT:
            continue
        text = path.read_text(encoding="utf-8")
        for what, pattern in UNWANTED.items():
            for found in re.finditer(pattern, text):
                line = text.count("\n", 0, found.start()) + 1
                faults.append(f"{path.relative_to(root)}:{line}: {what}")
    assert not faults, "\n".join(faults)


def test_no_library_module_touches_the_global_figure_state(root: Path) -> None:
    faults = []
    for path in (root / "simulator").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [f"{node.module}.{alias.name}" for alias in node.names]
            faults += [
                f"{path.name}:{name}" for name in names if name.startswith("matplotlib.pyplot")
            ]
    assert not faults


def test_every_room_says_what_it_is(root: Path) -> None:
    rooms = [path for path in (root / "simulator").iterdir() if (path / "__init__.py").is_file()]
    assert len(rooms) >= 8
    for room in rooms:
        tree = ast.parse((room / "__init__.py").read_text(encoding="utf-8"))
        assert ast.get_docstring(tree), room.name
        # A room's door re-exports nothing: every name has one home. Only the plan is its own door.
        assert len(tree.body) == 1 or room.name == "plan", room.name


def test_every_lint_rule_left_out_has_a_reason(root: Path) -> None:
    text = (root / "pyproject.toml").read_text(encoding="utf-8")
    lint = tomllib.loads(text)["tool"]["ruff"]["lint"]
    assert lint["select"] == ["ALL"]
    for rule in lint["ignore"]:
        assert re.search(rf'"{rule}",\s*# \S', text), rule
