"""What was assumed of the places that a walk relies on for water, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.questions.next_water import label_of
from simulator.questions.thirst import DRINK_AHEAD_ML, RESERVE_ML
from simulator.questions.treatment import ASSUMED
from simulator.units import Units, percent

if TYPE_CHECKING:
    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked


def place_assumptions(scene: Scene, walked: Walked) -> list[str]:
    """List what was assumed of the places that the walk relies on.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.

    Returns
    -------
    list of str
        Sentences: share working and stop time of every kind relied on for water, what the plan's
        own list of places says, how water is treated.
    """
    places, event, reading = scene.places, scene.plan.event.kind, walked.reading
    rows = walked.nearby.place
    wet = [
        place
        for place, relied in zip(rows.tolist(), reading.relied_on.tolist(), strict=True)
        if relied and "water" in places.gives[place]
    ]
    works = places.works_in(event)
    kinds = sorted({places.kind[place] for place in wet})
    lines = []
    if kinds:
        told = []
        for kind in kinds:
            first = next(place for place in wet if places.kind[place] == kind)
            minutes = places.service_s[first] / 60.0
            told.append(f"{kind} {percent(works[first])} and {minutes:.2g} min")
        lines.append(
            f"Assumed of water under “{event}”, share working and time at the place: "
            f"{'; '.join(told)}. Places are taken to fail independently of each other."
        )
    edits = sorted(
        {
            f"{label_of(scene, place)}: {places.edited[place]}"
            for place in rows.tolist()
            if places.edited[place]
        }
    )
    if edits:
        source = scene.plan.map.places.name if scene.plan.map.places else "the plan"
        lines.append(f"Assumed of single places, as {source} says: {'; '.join(edits)}.")
    if walked.stops and any(stop.ahead_ml > 0.0 for stop in walked.stops):
        units = Units(scene.plan.units)
        volume, reserve = units.volume(DRINK_AHEAD_ML), units.volume(RESERVE_ML)
        lines.append(
            f"Before filling, up to {volume} each is drunk ahead of need from what is left; where "
            f"it can be had, stops are chosen so that {reserve} each stays in the bottle."
        )
    used = sorted({places.needs_treatment[stop.place] for stop in walked.stops if stop.place >= 0})
    if True in used:
        lines.append(ASSUMED)
    return lines
