"""What the pages promise is there: commands, files, links and the reference of the plan."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from simulator.plan import plan_reference

PAGES = [
    "README.md",
    "DEVELOPERS.md",
    "data/README.md",
    "notebooks/README.md",
    "notebooks/models.md",
]
REFERENCE = "\n## Every key of plan.toml\n"


@pytest.mark.parametrize("page", PAGES)
def test_every_file_that_a_page_links_to_is_there(root: Path, page: str) -> None:
    text = (root / page).read_text(encoding="utf-8")
    links = re.findall(r"\]\((?!https?:|#)([^)\s]+)\)", text)
    missing = [link for link in links if not ((root / page).parent / link.split("#")[0]).exists()]
    assert not missing


def test_the_readme_lists_just_the_commands_that_there_are(root: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "simulator", "--help"], capture_output=True, text=True, check=True
    )
    offered = set(re.findall(r"^ {4}(\w+) {2,}\w", done.stdout, flags=re.MULTILINE))
    text = (root / "README.md").read_text(encoding="utf-8")
    section = text.split("\n## Commands\n")[1].split("\n## ")[0]
    assert set(re.findall(r"^\| `walkhome (\w+)", section, flags=re.MULTILINE)) == offered


def test_the_readme_opens_with_the_job_and_two_commands(root: Path) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    job, commands = text.split("\n## ")[:2]
    assert "25 km" in job
    assert "bag" in job
    blocks = re.findall(r"```\n(.*?)\n```", commands, flags=re.DOTALL)
    assert blocks == [
        "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/walkhome demo",
        ".venv/bin/pip install '.[test]' && .venv/bin/pytest -n auto",
    ]


def cell(text: str) -> str:
    """Make a text safe inside a table of Markdown."""
    return text.replace("|", "\\|").replace("\n", " ")


def reference() -> str:
    """Write every key of plan.toml as tables, from the fields that check a plan."""
    lines: list[str] = []
    heading = None
    for key in plan_reference():
        table, _, name = key.key.rpartition(".")
        if table != heading:
            heading = table
            title = f"**[{table}]**" if table else "**At the top**"
            lines += ["", title, "", "| key | allowed | default | meaning |", "| --- " * 4 + "|"]
        allowed = f"{key.kind} [{key.unit}]" if key.unit else key.kind
        lines.append(f"| `{name}` | {cell(allowed)} | {cell(key.default)} | {cell(key.meaning)} |")
    return "\n".join(lines) + "\n"


def test_the_reference_of_the_plan_is_the_one_the_code_makes(root: Path) -> None:
    # WALKHOME_WRITE_DOCS=1 writes the section anew after a key has changed.
    page = root / "README.md"
    text, _, told = page.read_text(encoding="utf-8").partition(REFERENCE)
    if os.environ.get("WALKHOME_WRITE_DOCS"):
        page.write_text(text + REFERENCE + reference(), encoding="utf-8")
        told = reference()
    assert told == reference()
