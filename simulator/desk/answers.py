"""Every change of the page answered by the code of ``walkhome plan``, the latest one first."""

from __future__ import annotations

import io
import json
import tempfile
import threading
import tomllib
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from simulator.bag.items import Items, read_items
from simulator.desk.bringing import Line, bring, find, look
from simulator.desk.data import bag_told, ground_told, plane_of, walk_told
from simulator.desk.document import (
    Draft,
    Opened,
    PageState,
    Texts,
    faults_of,
    named_in,
    put_in_place,
    reopened,
    save,
    texts_of,
)
from simulator.errors import InputError, NoWayHomeError
from simulator.fetch.sources import on_this_map, with_ground
from simulator.home.answer import Walk
from simulator.home.scene import KeptGround, prepare, read_ground
from simulator.home.walk import answer
from simulator.plan import Plan
from simulator.report.files import write_walk

Send = Callable[[Line], None]

PAUSE_S = 0.25
"""Wait between the verdict and the slower questions, in which a next change may come [s]."""


class SupersededError(Exception):
    """A later change has come; this answer is no longer wanted."""


@dataclass(frozen=True, slots=True)
class Answered:
    """The last plan that was answered in full.

    Attributes
    ----------
    plan : Plan
        What was asked.
    walk : Walk
        The answer.
    texts : Texts
        Its files.
    """

    plan: Plan
    walk: Walk
    texts: Texts


class Desk:
    """A plan kept open: its ground in memory, its draft on disk, its last answer at hand.

    Parameters
    ----------
    opened : Opened
        The plan.
    draft : Draft
        Where unsaved work is kept.
    """

    def __init__(self, opened: Opened, draft: Draft) -> None:
        self.opened = opened
        self.draft = draft
        self._turn = 0
        self._later = threading.Condition()
        self._working = threading.Lock()
        self._ground: KeptGround | None = None
        self._answered: Answered | None = None
        self._files: tuple[Answered, dict[str, bytes]] | None = None

    def begin(self) -> int:
        """Announce a change: whatever is still being answered is given up.

        Returns
        -------
        int
            The turn to answer it under.
        """
        with self._later:
            self._turn += 1
            self._later.notify_all()
            return self._turn

    def give_up(self, turn: int) -> None:
        """End a turn that nobody waits for, unless a later one has begun."""
        with self._later:
            if self._turn == turn:
                self._turn += 1
                self._later.notify_all()

    def keep(self, state: PageState) -> None:
        """Keep a state of the page as the draft, answered or not."""
        if state.as_json() != self.opened.state.as_json():
            self.draft.write(self.opened, state, texts_of(self.opened, state))

    def close(self) -> bool:
        """Give up what is being answered, and the draft if it holds nothing new.

        Returns
        -------
        bool
            Whether unsaved work is kept.
        """
        self.begin()
        state, _same = self.draft.read(self.opened)
        if state is None or state.as_json() == self.opened.state.as_json():
            self.draft.drop()
            return False
        return True

    def _check(self, turn: int, *, wait_s: float = 0.0) -> None:
        """End the work when a later change has come, or comes within a short wait."""
        with self._later:
            if self._later.wait_for(lambda: self._turn != turn, timeout=wait_s):
                raise SupersededError

    def answer(self, turn: int, state: PageState, send: Send) -> None:
        """Answer a state of the page, line by line."""
        with self._working:
            try:
                self._answer(turn, state, send)
            except SupersededError:
                send({"line": "later"})
            except NoWayHomeError as fault:
                send({"line": "no way", "reason": str(fault)})

    def _answer(self, turn: int, state: PageState, send: Send) -> None:
        self._check(turn)
        self._answered = None  # what was answered before is not this state's to print
        texts = self._drafted(state)
        plan, faults = self._plan(texts)
        items, more = _items(plan, texts)
        faults += more
        capacity = None if plan is None else plan.bag.capacity_l
        checked = {
            "line": "checked",
            "faults": faults,
            "bag": bag_told(items, capacity),
            "unsaved": self._unsaved(texts),
        }
        send(checked)
        if plan is None or faults:
            return

        def tell(stage: str) -> None:
            self._check(turn)
            send({"line": "stage", "words": stage})

        found = with_ground(plan)
        try:
            ground = read_ground(found, kept=self._ground, progress=tell)
            send({"line": "ground", "mark": self._keep(ground)})
            scene = prepare(plan, progress=tell, kept=ground)
            plane = plane_of(ground)

            def first(walk: Walk) -> None:
                self._check(turn)
                send({"line": "walk", **walk_told(walk, plane)})
                self._check(turn, wait_s=PAUSE_S)

            walk = answer(scene, progress=tell, first=first)
        except InputError as fault:
            send({"line": "faults", "faults": faults_of(fault, texts)})
            return
        except NoWayHomeError as fault:
            raise NoWayHomeError(on_this_map(str(fault), found)) from None
        self._check(turn)
        self._answered = Answered(scene.plan, walk, texts)
        send({"line": "more", **walk_told(walk, plane)})

    def _drafted(self, state: PageState) -> Texts:
        """Write a state as files into the draft."""
        texts = texts_of(self.opened, state)
        self.draft.write(self.opened, state, texts)
        return texts

    def _plan(self, texts: Texts) -> tuple[Plan | None, list[tuple[str, str]]]:
        """Read the draft as a plan, or say what is wrong beside each entry."""
        faults = list(texts.faults)
        plan = None
        try:
            plan = self.draft.plan(self.opened, texts)
        except InputError as fault:
            named = {name for name, _ in faults}
            faults += [one for one in faults_of(fault, texts) if one[0] not in named]
        return plan, faults

    def _keep(self, ground: KeptGround) -> str:
        """Keep the ground; tell it from another."""
        self._ground = ground
        return str(id(ground))

    def _unsaved(self, texts: Texts) -> bool:
        """Whether the draft differs from the opened files."""
        return bool(
            texts.plan != self.opened.plan_text
            or texts.area
            or (texts.bag_name and texts.bag != self.opened.lists[self.opened.state.bag].text)
        )

    def look(self, state: PageState) -> Line:
        """Say what a fetch of the page's plan would ask, and whom.

        Parameters
        ----------
        state : PageState
            What the page shows.

        Returns
        -------
        dict
            ``words``, or ``faults``.
        """
        plan, faults = self._plan(self._drafted(state))
        if plan is None or faults:
            return {"faults": faults}
        try:
            return {"words": look(plan)}
        except InputError as fault:
            return {"faults": [("", str(fault))]}

    def bring(self, turn: int, state: PageState, send: Send) -> None:
        """Fetch the ground of the page's plan."""
        plan, faults = self._plan(self._drafted(state))
        if plan is None or faults:
            send({"line": "faults", "faults": faults})
            return

        def tell(stage: str) -> None:
            self._check(turn)
            send({"line": "stage", "words": stage})

        try:
            send({"line": "done", "words": bring(plan, tell)})
        except InputError as fault:
            send({"line": "faults", "faults": [("", str(fault))]})
        except SupersededError:
            send({"line": "later"})

    def find(self, name: str, *, agreed: bool) -> Line:
        """Look a place up, or say first who would be asked."""
        tables = tomllib.loads(self.opened.plan_text)
        return find(name, agreed=agreed, server=named_in(tables, "fetch", "places_from"))

    def swap(self, what: str, name: str) -> Line:
        """Open another list, or other closed areas, in the place of those shown."""
        try:
            return put_in_place(self.opened, what, name)
        except InputError as fault:
            return {"faults": [("", str(fault))]}

    def ground(self) -> Line:
        """Describe the ground that was read last, for drawing; empty before there is any."""
        return {} if self._ground is None else ground_told(self._ground)

    def save(self, state: PageState, *, overwrite: bool) -> Line:
        """Save a state of the page.

        Parameters
        ----------
        state : PageState
            What the page shows.
        overwrite : bool
            Whether files that are there may be replaced.

        Returns
        -------
        dict
            ``asks`` with the names in the way, ``faults``, or ``saved`` with the plan's name.
        """
        with self._working:
            texts = self._drafted(state)
            plan, faults = self._plan(texts)
            _items_read, more = _items(plan, texts)
            if plan is None or faults or more:
                return {"faults": [*faults, *more]}
            try:
                asks = save(self.opened, texts, plan, overwrite=overwrite)
            except InputError as fault:
                return {"faults": [("", str(fault))]}
            if asks:
                return {"asks": list(asks)}
            self.opened = reopened(self.opened, path=self.opened.save_as)
            self.draft.drop()
            return {"saved": str(self.opened.path), "state": self.opened.state.as_json()}

    def files(self) -> dict[str, bytes] | None:
        """Write all files of the last full answer; None before there is one.

        Returns
        -------
        dict of str to bytes
            Content by name.
        """
        answered = self._answered
        if answered is None:
            return None
        with self._working:
            if self._files is None or self._files[0] is not answered:
                page: Literal["A4", "Letter"] = answered.plan.choices.page
                with tempfile.TemporaryDirectory() as folder:
                    paths = write_walk(answered.walk, Path(folder), page=page)
                    self._files = (answered, {path.name: path.read_bytes() for path in paths})
        return self._files[1]


def _items(plan: Plan | None, texts: Texts) -> tuple[Items | None, list[tuple[str, str]]]:
    """Read the list, or say what is wrong in which cell."""
    if plan is None or plan.bag.items is None:
        return None, []
    try:
        return read_items(plan.bag.items), []
    except InputError as fault:
        return None, faults_of(fault, texts)


def zipped(contents: dict[str, bytes]) -> bytes:
    """Put files into one archive; the same files give the same bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return stream.getvalue()


def as_line(line: Line) -> str:
    r"""Write one line of an answer."""
    return json.dumps(line, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"
