"""What the cache knows about its files: records, each with a check of its own."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from simulator.files import write_text


@dataclass(frozen=True, slots=True)
class Kept:
    """One file of a record.

    Attributes
    ----------
    sha256 : str
        Fingerprint of the content.
    name : str
        Name of the file.
    size : int
        Size [bytes].
    """

    sha256: str
    name: str
    size: int


@dataclass(frozen=True, slots=True)
class Record:
    """What the cache holds about one thing.

    Attributes
    ----------
    key : str
        What it answers, e.g. address and question.
    kind : str
        ``area`` or ``piece``.
    about : str
        One line for people.
    made_epoch_s : float
        When it was fetched, since 1970 in UTC [s].
    files : tuple of Kept
        Its files.
    facts : mapping of str to object
        What else is known: JSON values.
    """

    key: str
    kind: str
    about: str
    made_epoch_s: float
    files: tuple[Kept, ...]
    facts: Mapping[str, Any]

    @property
    def size(self) -> int:
        """Size of the files [bytes]."""
        return sum(file.size for file in self.files)


def write_record(record: Record, path: Path) -> None:
    """Write a record, whole or not at all.

    Parameters
    ----------
    record : Record
        What to write.
    path : pathlib.Path
        Its file.
    """
    body = json.dumps(asdict(record), ensure_ascii=False, sort_keys=True)
    whole = {"check": hashlib.sha256(body.encode()).hexdigest(), "record": json.loads(body)}
    write_text(path, json.dumps(whole, ensure_ascii=False, sort_keys=True))


def read_record(path: Path) -> Record | None:
    """Read a record.

    Parameters
    ----------
    path : pathlib.Path
        Its file.

    Returns
    -------
    Record or None
        None when it is missing or not what was written.
    """
    try:
        whole = json.loads(path.read_text(encoding="utf-8"))
        body = json.dumps(whole["record"], ensure_ascii=False, sort_keys=True)
        if hashlib.sha256(body.encode()).hexdigest() != whole["check"]:
            return None
        files = tuple(Kept(**file) for file in whole["record"].pop("files"))
        return Record(**whole["record"], files=files)
    except (OSError, ValueError, KeyError, TypeError):
        return None
