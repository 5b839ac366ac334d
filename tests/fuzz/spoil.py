"""Ways of spoiling a good file: byte by byte, word by word, and with what readers stumble over."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from hypothesis import strategies as st

NASTY = tuple(
    text.encode("utf-8", "surrogatepass")
    for text in (
        # numbers that are none, that no machine holds, or that look like one
        "nan", "inf", "-inf", "1e999", "-1e999", "1e-320", "-0", "-1", "0", "91", "181", "1e9",
        "9" * 400, "9" * 5000, "0x10", "1_000", "1,5", "\u00b2", "\u0663", "1.7976931348623157e308",
        # days and hours that are none
        "2026-02-30", "0000-00-00", "9999-12-31T23:59:59", "2026-03-29T02:30", "24:61", "Z",
        # words of formats, in the wrong place
        "null", "None", "true", "[]", "{}", "[" * 300, "{" * 300, "]]", '"', "'", "\\", "\\u0000",
        "=1+2", "<!DOCTYPE a [<!ENTITY b 'c'>]>", "<![CDATA[", "&b;", "&#0;", "<a>", "</osm>", "/>",
        # characters that hide, turn, end a line or end a text
        "\x00", "\x1b[31m", "\u202e", "\u200d", "\ufeff", "\ud800", "\r", "\r\n", "\n", "\t",
        "\x85",
        "\U0001f600", "\u0301" * 40, "x" * 70_000, " " * 300, "",
        # names of what is not beside the plan
        "../../../etc/passwd", "/dev/zero", "/vsicurl/http://127.0.0.1:9/x", "http://[::1",
        "a" * 300,
    )
)  # fmt: skip


class Blow(NamedTuple):
    """One change of a file: what kind, where (a share of its length), how long, with what."""

    kind: str
    where: float
    length: int
    with_what: bytes


KINDS = ("flip", "delete", "insert", "replace word", "repeat", "cut", "swap", "move")


def blows() -> st.SearchStrategy[list[Blow]]:
    """Draw a few changes."""
    one = st.builds(
        Blow,
        kind=st.sampled_from(KINDS),
        where=st.floats(0.0, 1.0, exclude_max=True),
        length=st.integers(1, 400),
        with_what=st.one_of(st.sampled_from(NASTY), st.binary(min_size=1, max_size=8)),
    )
    return st.lists(one, min_size=1, max_size=5)


def _word_replaced(good: bytes, at: int, new: bytes) -> bytes:
    word = re.compile(rb"[\w.+-]+").search(good, at)
    return good[: word.start()] + new + good[word.end() :] if word else good


def _moved(good: bytes, at: int, stop: int) -> bytes:
    rest = good[:at] + good[stop:]
    to = len(rest) - at if at <= len(rest) else 0
    return rest[:to] + good[at:stop] + rest[to:]


def spoilt(good: bytes, changes: Sequence[Blow]) -> bytes:
    """Change a file."""
    for kind, where, length, with_what in changes:
        at = int(where * len(good))
        stop = min(at + length, len(good))
        before, run, after = good[:at], good[at:stop], good[stop:]
        if kind == "move":
            good = _moved(good, at, stop)
        elif kind == "replace word":
            good = _word_replaced(good, at, with_what)
        else:
            good = (
                before
                + {
                    "flip": bytes(byte ^ (1 << length % 8) for byte in run[:1]) + run[1:] + after,
                    "delete": after,
                    "insert": with_what + run + after,
                    "repeat": run * (2 + length % 50) + after,
                    "cut": b"",
                    "swap": run[::-1] + after,
                }[kind]
            )
    return good
