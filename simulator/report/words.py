"""Text from maps and lists made fit to print."""

from __future__ import annotations

import functools
import shutil
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import matplotlib as mpl

from simulator.errors import InputError
from simulator.files import terminal_safe

if TYPE_CHECKING:
    import typst
    from matplotlib.font_manager import FontProperties

    from simulator.report.subject import DrawnWalk

KEY = "choices.font"
SHOWN = 5
"""Letters named in a note."""


class Faces(NamedTuple):
    """What a PDF is set with.

    Attributes
    ----------
    fonts : typst.Fonts
        Good inside the block that gave them.
    named : list of str
        Families of the font that the plan names; they come last.
    """

    fonts: typst.Fonts
    named: list[str]


def _packaged() -> Path:
    """Folder of the fonts that come with the plotting library."""
    return Path(mpl.get_data_path()) / "fonts" / "ttf"


@contextmanager
def typeset_fonts(font: Path | None) -> Iterator[Faces]:
    """Give the fonts a PDF is set with."""
    import typst

    letters(font)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        # The typesetter looks through folders; this one holds the named font and no other.
        if font is not None:
            shutil.copyfile(font, Path(folder) / f"named{font.suffix.lower()}")
        places = [str(_packaged()), folder]
        fonts, ours = (
            typst.Fonts(include_system_fonts=False, font_paths=places[:count]) for count in (2, 1)
        )
        named = sorted(set(fonts.families()) - set(ours.families()))
        if font is not None and not named:
            raise _unusable(font, "it names no family of its own")
        yield Faces(fonts, named)


def letters(font: Path | None) -> frozenset[int]:
    """Give the letters that paper and figures have."""
    packaged = _characters(_packaged() / "DejaVuSans.ttf")
    return packaged if font is None else packaged | _characters(font)


@functools.cache
def _characters(font: Path) -> frozenset[int]:
    from matplotlib.ft2font import FT2Font

    try:
        return frozenset(FT2Font(str(font)).get_charmap())
    except (RuntimeError, OSError) as fault:
        raise _unusable(font, " ".join(str(fault).split())[:80]) from None


def _unusable(font: Path, why: str) -> InputError:
    return InputError(
        f"{KEY}: {font.name}",
        f"cannot be used as a font ({why}); name a TrueType or OpenType file (.ttf, .otf, .ttc)",
    )


def label_font(text: str, font: Path | None) -> FontProperties | None:
    """Choose the font of a figure's label."""
    if font is None or all(ord(letter) in letters(None) for letter in text):
        return None
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=font)


def lacking(texts: Iterable[str], font: Path | None) -> str:
    """Give the letters of texts that would print as empty boxes."""
    has = letters(font)
    return "".join(
        letter
        for letter in dict.fromkeys("".join(texts))
        if ord(letter) not in has and unicodedata.category(letter)[0] not in "ZC"
    )


def boxes_note(texts: Iterable[str], font: Path | None) -> str:
    """Say which letters print as empty boxes, and what to do."""
    missing = lacking(texts, font)
    if not missing:
        return ""
    codes = ", ".join(f"U+{ord(letter):04X}" for letter in missing[:SHOWN])
    more = f" and {len(missing) - SHOWN} more" if len(missing) > SHOWN else ""
    whose = "the plan's font" if font else "the paper's font"
    return (
        f"LETTERS: some names have letters that {whose} lacks ({codes}{more}). On paper they are "
        "empty boxes; on page.html they are whole. Name a font file that has them under [choices] "
        "font, and print again."
    )


def paper_note(walk: DrawnWalk) -> str:
    """Say which letters of a walk's names print as empty boxes, and what to do.

    Parameters
    ----------
    walk : DrawnWalk
        The walk.

    Returns
    -------
    str
        As `boxes_note`.
    """
    names = (walk.plan.title, *walk.segments["street"].unique(), *walk.refills["name"])
    return boxes_note(map(str, names), walk.plan.choices.font)


LONGEST = 160
"""Characters kept of one name; longer ones are cut with an ellipsis."""

_UNPRINTABLE = frozenset({"Co", "Cn"})  # private use and unassigned code points


def clean(text: object, *, longest: int = LONGEST) -> str:
    """Make one line of plain text from anything.

    Control and format characters (direction overrides, zero-width marks) go, so that a hostile
    name cannot reorder or hide its neighbours; white space is collapsed.

    Parameters
    ----------
    text : object
        Usually a name out of map data.
    longest : int
        Characters kept; the last becomes an ellipsis if there were more.

    Returns
    -------
    str
        One line. Not itself escaped for HTML, XML or a spreadsheet.

    Examples
    --------
    >>> clean("Mill" + chr(0x202E) + "  Lane" + chr(7))
    'Mill Lane'
    """
    return _clean(str(text), longest)


@functools.lru_cache(maxsize=8192)
def _clean(text: str, longest: int) -> str:
    kept = (c for c in terminal_safe(text) if unicodedata.category(c) not in _UNPRINTABLE)
    line = " ".join("".join(kept).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def drawable(text: object, *, longest: int = 32, font: Path | None = None) -> str:
    """Make a label the figures' fonts can draw; what they lack becomes a middle dot."""
    has = letters(font)
    shown = "".join(c if ord(c) in has else "·" for c in clean(text, longest=longest))
    return shown if shown.strip("· ") else ""
