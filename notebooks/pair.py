"""Keep each lesson's two files alike: text that reads well in a diff, notebook that opens at once.

``python notebooks/pair.py`` writes the notebooks from the texts; ``--back`` writes the texts from
notebooks that were edited. Neither keeps outputs.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import jupytext
import nbformat

HERE = Path(__file__).resolve().parent
LESSONS = tuple(sorted(HERE.glob("lesson_*.py")))
METADATA = {
    "jupytext": {"formats": "ipynb,py:percent"},
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
HEADER = """\
# ---
# jupyter:
#   jupytext:
#     formats: ipynb,py:percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

"""


def notebook_of(text: str) -> str:
    """Make a notebook of a lesson's text.

    Parameters
    ----------
    text : str
        Python with cells parted by ``# %%``.

    Returns
    -------
    str
        JSON of the notebook: no outputs, cells numbered in order.
    """
    read: Any = jupytext.reads(text, fmt="py:percent")
    for number, cell in enumerate(read.cells, 1):
        cell.id = f"cell-{number:02d}"
        cell.metadata = {}
        if cell.cell_type == "code":
            cell.outputs = []
            cell.execution_count = None
    read.metadata = METADATA
    read.nbformat, read.nbformat_minor = 4, 5
    nbformat.validate(read)
    written: str = nbformat.writes(read)  # type: ignore[no-untyped-call]
    return written.rstrip("\n") + "\n"


def text_of(notebook: str) -> str:
    """Make the text of a lesson's notebook.

    Parameters
    ----------
    notebook : str
        JSON of the notebook.

    Returns
    -------
    str
        Python with cells parted by ``# %%``.
    """
    read: Any = nbformat.reads(notebook, as_version=4)  # type: ignore[no-untyped-call]
    for cell in read.cells:
        cell.metadata = {}
    read.metadata = {}
    written: str = jupytext.writes(read, fmt="py:percent")
    _, _, body = written.partition("# %%")
    return f"{HEADER}# %%{body}"


def main() -> None:
    """Write the one from the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--back", action="store_true", help="write the texts from the notebooks")
    back = parser.parse_args().back
    for path in LESSONS:
        notebook = path.with_suffix(".ipynb")
        if back:
            path.write_text(text_of(notebook.read_text(encoding="utf-8")), encoding="utf-8")
        else:
            notebook.write_text(notebook_of(path.read_text(encoding="utf-8")), encoding="utf-8")
        print(path.name if back else notebook.name)


if __name__ == "__main__":
    main()
