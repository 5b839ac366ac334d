"""Run one lesson in a kernel of its own, then its exercises again with answers put in.

A program beside the tests: what the kernel's client leaves open at its end stays out of them.
It reads ``{"exercise": "answer"}`` from standard input and writes the cells run to standard output.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from pathlib import Path
from typing import Any

import jupytext
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient

ANSWER = re.compile(r"^answer_(\d)_(\d) = \.\.\.$", flags=re.MULTILINE)
LONGEST_S = 300
"""A cell that takes longer is stopped."""


def run(path: Path, answers: dict[str, str]) -> list[dict[str, Any]]:
    """Run a lesson.

    Parameters
    ----------
    path : pathlib.Path
        Its notebook.
    answers : dict of str
        Number of an exercise to its answer as Python.

    Returns
    -------
    list of dict
        What each code cell put out: ``exercise`` ("" for none), ``first`` and, for an exercise,
        ``answered``.
    """
    notebook: Any = jupytext.read(path)
    # A folder with a short name: the path of such a file is limited to about a hundred characters.
    with tempfile.TemporaryDirectory(prefix="lesson-") as folder:
        manager = AsyncKernelManager(
            kernel_name="python3",
            transport="ipc",  # a file, not the network
            ip=str(Path(folder) / "kernel"),
            connection_file=str(Path(folder) / "kernel.json"),
        )
        client = NotebookClient(
            notebook,
            km=manager,
            timeout=LONGEST_S,
            resources={"metadata": {"path": str(path.parent)}},
        )
        with client.setup_kernel():
            for number, cell in enumerate(notebook.cells):
                client.execute_cell(cell, number)
            told = [
                {"exercise": _exercise(cell.source), "first": cell.outputs}
                for cell in notebook.cells
                if cell.cell_type == "code"
            ]
            asked = [cell for cell in notebook.cells if cell.cell_type == "code"]
            for number, (cell, found) in enumerate(zip(asked, told, strict=True)):
                if found["exercise"]:
                    answer = answers[found["exercise"]]
                    cell.source = ANSWER.sub(rf"answer_\1_\2 = {answer}", cell.source)
                    found["answered"] = client.execute_cell(cell, number).outputs
    return told


def _exercise(source: str) -> str:
    """Give the number of the exercise that a cell asks for, "" for none."""
    asked = ANSWER.search(source)
    return ".".join(asked.groups()) if asked else ""


if __name__ == "__main__":
    json.dump(run(Path(sys.argv[1]), json.load(sys.stdin)), sys.stdout)
