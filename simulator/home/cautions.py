"""Cautions and assumptions of a walk, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, pace
from simulator.body.assumed import ASSUMED_CLO, Assumed
from simulator.body.catalogue import ASSUMPTIONS
from simulator.body.drinking import (
    DO_NOT_RATION,
    UNFELT_LOSS_PCT,
    do_not_overdrink,
    most_drink_ml_h,
    over_drinking,
)
from simulator.body.exposure import WIND_CHILL_UP_TO_C
from simulator.home.records import Moon
from simulator.home.refills import ASSUMED, DRINK_AHEAD_ML, RELIED_ON_SHARE, SPARED_SHARE
from simulator.home.scene import age_cautions
from simulator.home.unknown_heights import map_notes
from simulator.home.water import label_of
from simulator.sky.moon import moon_light
from simulator.units import Units, percent
from simulator.walk.conditions import (
    CLOCK_STEP_S,
    NIGHT_BELOW_DEG,
    SUN_ABSORBED_RANGE,
    SUN_ABSORBED_SHARE,
)
from simulator.walk.halts import NO_LIGHT, next_first_light
from simulator.walk.ledger import local_time
from simulator.walk.party import pace_limits
from simulator.walk.records import Total

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.home.verdict import Findings
    from simulator.home.walked import Walked

BRIGHT_SHARE = 0.5
"""Lit share of the disc from which the moon is worth a word; an assumption."""


def moon_over(scene: Scene, segments: pd.DataFrame) -> Moon | None:
    """Tell how the moon stands while it is dark on the way."""
    dark = segments["dark"].to_numpy(dtype=bool)
    if not dark.any():
        return None
    moment = scene.depart_epoch_s + segments["elapsed_s"].to_numpy()[dark]
    hours = segments["moving_s"].to_numpy()[dark] / 3600.0
    lat, lon = segments["lat"].to_numpy()[dark], segments["lon"].to_numpy()[dark]
    moon = moon_light(lat, lon, moment)
    up = moon.elevation_deg > 0.0
    pct = 100.0 * float(moon.illuminated.mean())
    up_h, dark_h = float(hours[up].sum()), float(hours.sum())
    return Moon(
        illuminated_pct=pct,
        up_h=up_h,
        dark_h=dark_h,
        clear_sky_lux=float(moon.clear_sky_lux.max()),
        words=_words(pct, up_h, dark_h),
    )


def _words(illuminated_pct: float, up_h: float, dark_h: float) -> str:
    """Say it in one or two sentences."""
    if up_h == 0.0:
        return "No moon while it is dark on the way."
    often = "all" if np.isclose(up_h, dark_h) else f"{up_h:.1f} of {dark_h:.1f} h"
    seen = f"The moon, {illuminated_pct:.0f} % lit, is up for {often} of the dark on foot."
    if illuminated_pct < 100.0 * BRIGHT_SHARE:
        return f"{seen} It gives hardly any light."
    return (
        f"{seen} Under a clear sky and away from trees and walls it shows an even way; under "
        "cloud it shows nothing. Carry the lamp all the same."
    )


def moon_sentence(moon: Moon | None) -> list[str]:
    """Give the moon's words for a list of assumptions."""
    if moon is None:
        return []
    return [f"Moon: {moon.words} No number here counts on its light."]


LONGEST_WAIT_H = 16.0
"""Longest wait for first light that a night halt can be counted on for [h]; an assumption, 12 to
20; the longest night without twilight at latitude 60 has 16.2 h."""

NEAR_DEG = 0.5
"""The sun of a first light found between steps of the clock lies this near to its height [deg]."""

WAITING_FAILS = (
    f"First light is more than {LONGEST_WAIT_H:.0f} h away at a night halt of this plan, or does "
    "not come at all: waiting for light does not work there, whatever halts this plan shows. "
    "Carry lamp light for the whole way with some to spare, keep to lit ways, or stay "
    "where it is warm."
)
"""Common practice."""


def no_light_caution(scene: Scene, walked: Walked) -> list[str]:
    """Warn of a night halt whose first light does not come soon, or that sits in the open."""
    trace = walked.outcome.trace
    if trace is None:
        message = "halts are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    for event in np.flatnonzero(trace.stop >= 0).tolist():
        if walked.stops[int(trace.stop[event])].until_epoch_s is None:
            continue
        began_s = scene.depart_epoch_s + float(trace.totals[event - 1, Total.CLOCK_S, 0])
        if _dark_for_long(scene, began_s):
            return [WAITING_FAILS]
    first = next(iter(walked.halts), None)
    if first is None or first.sheltered or first.reason != NO_LIGHT:
        return []
    leave = local_time(next_first_light(scene.conditions, scene.depart_epoch_s), scene.zone)
    return [
        (
            f"Without a lamp for the dark this walk would sit in the open. Wait indoors where you "
            f"are instead and leave at first light, about {leave:%H:%M on %d %B}, or take a lamp "
            "for every walker."
        )
    ]


def ends_at_first_light(scene: Scene, until_epoch_s: float) -> bool:
    """Say whether a halt ends at first light, or only when its time is over."""
    height_deg = float(scene.conditions.at(np.array([until_epoch_s])).sun_deg[0])
    return abs(height_deg - NIGHT_BELOW_DEG) < NEAR_DEG


def _dark_for_long(scene: Scene, began_epoch_s: float) -> bool:
    """Say whether the longest wait from a moment on brings no first light, and ends in the dark."""
    waited = began_epoch_s + np.arange(0.0, 3600.0 * LONGEST_WAIT_H, CLOCK_STEP_S)
    dark = scene.conditions.at(waited).sun_deg < NIGHT_BELOW_DEG
    return bool(dark[-1]) and not bool((dark[:-1] & ~dark[1:]).any())


def place_assumptions(scene: Scene, walked: Walked) -> list[str]:
    """List what was assumed of the places that the walk relies on."""
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
        lines.append(
            f"Before filling, up to {units.volume(DRINK_AHEAD_ML)} each is drunk ahead of need "
            "from what is left. No stop is made to spare a lack of water below "
            f"{SPARED_SHARE * UNFELT_LOSS_PCT:.2g} % of body mass, far less than is felt; a "
            f"shortage counts from {UNFELT_LOSS_PCT:.2g} % (0.1 to 0.5)."
        )
    used = sorted({places.needs_treatment[stop.place] for stop in walked.stops if stop.place >= 0})
    if True in used:
        lines.append(ASSUMED)
    return lines


MODEL_ONLY = (
    "This is a model, not a promise. Follow the authorities, warnings and road closures of the "
    "day; if they say stay, stay."
)
ASK_A_DOCTOR = (
    "With an illness, a medicine, a pregnancy or an injury ask a doctor before relying on a "
    "long walk."
)
EMERGENCY = (
    "Call the emergency number, and stay with who is hurt: confusion, collapse or odd behaviour in "
    "heat, the skin wet or dry (cool at once with any water); shivering that stops while still "
    "cold, stumbling, slurred speech (shelter, dry, wrap up, handle gently); chest pain, "
    "breathlessness at rest, fainting (stop, sit down)."
)
"""Cautions that hold for every walk, beside those on drinking; common practice and the public
guidance named in the docs."""

HEAT = (
    "Heat: rest in shade, wet skin and clothes, slow down; headache, dizziness, nausea or cramps "
    "mean stop and cool down. Wet skin does not rule out heat stroke: who is confused or behaves "
    "oddly is cooled at once with any water, and help called."
)
COLD = (
    "Cold: keep dry, put layers on before a halt, do not sit on bare ground; wet clothes lose most "
    "of their warmth. Shivering that stops while still cold is the grave sign, not the end of it."
)
DARK = (
    "Dark: wear something bright or reflecting, face oncoming traffic where you share the road, "
    "and step off the road for vehicles."
)
LIGHTS_OUT = "Power failure: street lights, traffic lights, lifts and pumps may be out."
FLOOD = (
    "Flood: never walk or wade through moving or murky water, not even ankle-deep; bridges may be "
    "undermined; flood water is foul, and no tablet or boiling makes it safe from chemicals."
)
WET = (
    "Rain: in pace and sweat wet clothes are not counted; they chill more, weigh more and chafe. "
    "In the warmth of the hours and of a halt soaked clothes count for half of theirs unless the "
    "bag holds a shelter (both assumed; the standard leaves wet clothing out)."
)
STORM = (
    "Storm: keep away from trees, scaffolding and fallen lines; wait it out inside. When thunder "
    "is heard go indoors, and stay until 30 minutes after the last."
)
UNTREATED = (
    "Untreated water: treat as the label says and wait the full time, twice as long when it is "
    "cold or cloudy. Chlorine and iodine leave Cryptosporidium alive, chlorine dioxide needs hours "
    "for it; boiling works. Neither tablets nor boiling remove fuel or chemicals: leave water that "
    "smells, shines or is near works."
)
PRIVATE_TAP = "Taps on private buildings: ask first; a key gives no right to the water."
TUNNEL = "Tunnel: carry light even by day; leave it if there is smoke or water in it."
"""Cautions for a kind of walk; common practice and the usual public advice."""

FOOD = f"Food: {energy.ONE_DAY_SHORTAGE}"
"""What a day with too little food means; printed when more is used than eaten."""

OVER_DRINKING = (
    "This plan drinks more, or faster, than is safe: drink no more than is lost, and spread it out."
)

HOT_C, COLD_C = 27.0, 5.0
"""Felt temperatures from which the heat and cold cautions are printed [degC]; an assumption."""

HIGH_M = 2000.0
"""Height from which thin air clearly takes from what one can do [m]; common practice, 1,500 to
2,500 m."""

SHORT_KCAL = 250.0
"""Shortage of food of one walker that is worth a word, a snack [kcal]; an assumption."""

AHEAD_ML = 500.0
"""Drunk ahead of need, as before filling the bottles, that is not yet too much [mL]; an
assumption: about two glasses."""

SWEAT_FROM_C = 15.0
"""Coolest air for which a sweat equation was published [degC]; Gonzalez et al. 2009."""


def cautions(scene: Scene, walked: Walked, findings: Findings) -> list[str]:
    """List what to be careful of on this walk."""
    places, event = scene.places, scene.plan.event
    stops = [stop.place for stop in walked.stops if stop.place >= 0]
    total = walked.outcome.totals
    coldest_c, hottest_c = _extremes_c(scene, walked, findings)
    applies = {
        FOOD: bool((total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL]).max() > SHORT_KCAL),
        OVER_DRINKING: over_drunk(walked, scene.walkers.mass_kg),
        HEAT: hottest_c >= HOT_C,
        COLD: coldest_c <= COLD_C,
        DARK: float(walked.outcome.totals[Total.DARK_S, 0]) > 0.0,
        LIGHTS_OUT: not scene.manner.street_lights,
        FLOOD: event.kind == "flood" or event.flood_level_m is not None,
        STORM: event.kind == "storm",
        UNTREATED: any(places.needs_treatment[place] for place in stops),
        PRIVATE_TAP: any(places.needs_key[place] for place in stops),
        TUNNEL: bool(walked.way.course.tunnel.any()),
    }
    lines = [
        *age_cautions(scene.plan),
        MODEL_ONLY,
        DO_NOT_RATION,
        do_not_overdrink(Units(scene.plan.units), float(scene.walkers.mass_kg.min())),
        EMERGENCY,
        ASK_A_DOCTOR,
        *(text for text, holds in applies.items() if holds),
    ]
    if scene.items is not None:
        lines += [
            f"{name}: {text}"
            for name, text in zip(scene.items.item, scene.items.caution, strict=True)
            if text
        ]
    return lines


def _extremes_c(scene: Scene, walked: Walked, findings: Findings) -> tuple[float, float]:
    """Give how cold and how hot it gets: felt, or the air's where no index reaches [degC]."""
    known = (float(findings.coldest_felt_c[0]), float(findings.hottest_felt_c[0]))
    if not np.isnan(known).any() or walked.outcome.trace is None:
        return known
    clock_s = walked.outcome.trace.totals[:, Total.CLOCK_S, 0]
    sky = scene.conditions.at(scene.depart_epoch_s + clock_s)
    unknown = np.isnan(sky.felt_c)
    felt = np.where(unknown, sky.air_c, sky.felt_c)
    # In a gale beyond the tables air that is merely cool chills like frost.
    gale = unknown & (sky.air_c <= WIND_CHILL_UP_TO_C)
    return float(np.where(gale, np.minimum(felt, COLD_C), felt).min()), float(felt.max())


def over_drunk(walked: Walked, masses_kg: NDArray[np.float64]) -> bool:
    """Say whether anyone drinks too much on the walk."""
    trace = walked.outcome.trace
    if trace is None:
        message = "drinking is read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    clock_h = trace.totals[:, Total.CLOCK_S, 0] / 3600.0
    drunk_ml, lost_ml = trace.totals[:, Total.DRUNK_ML], trace.totals[:, Total.LOST_ML]
    if bool((drunk_ml - lost_ml > AHEAD_ML).any()):
        return True
    hours = np.arange(0.0, clock_h[-1] + 1.0)
    for walker in range(drunk_ml.shape[1]):
        by_hour = np.interp(hours, clock_h, drunk_ml[:, walker])
        gone = np.diff(by_hour)
        day = by_hour[1:] - np.interp(hours[1:] - 24.0, hours, by_hour)
        mass_kg = float(masses_kg[walker])
        if over_drinking(
            gone, np.maximum(gone, 0.0), 1.0, drunk_today_ml=day, mass_kg=mass_kg
        ).any():
            return True
    return False


def assumptions(
    scene: Scene, walked: Walked, *, hours: pd.DataFrame, segments: pd.DataFrame
) -> list[str]:
    """List everything the numbers rest on that the map, the list or the papers do not say."""
    units = Units(scene.plan.units)
    return [
        *_ground(scene, walked, segments, units),
        *_pace(scene),
        *_body(scene, walked, hours, units),
        *_places(scene, walked, units),
        *moon_sentence(moon_over(scene, segments)),
        *scene.notes,
    ]


def _ground(scene: Scene, walked: Walked, segments: pd.DataFrame, units: Units) -> list[str]:
    terrain, course = scene.streets.terrain, walked.way.course
    lines = []
    if terrain is None:
        lines.append(
            "NO HEIGHTS: the plan names no elevation raster, so all ground counts as flat; hills "
            "make the real walk longer and harder."
        )
    else:
        lines.append(
            f"Heights are smoothed over {units.height(terrain.smoothing_m)} (raster cells of "
            f"{units.height(terrain.cell_m)}) so that raster noise does not count as climbing; "
            "bridges and tunnels run straight between their ends."
        )
        lines += [
            f"{name} gives no unit of height: metres are assumed, and feet would make the hills "
            "more than three times too high."
            for name in terrain.no_unit
        ]
        if terrain.capped:
            lines.append(f"{terrain.capped} impossible slopes of the raster were capped.")
        lines += map_notes(scene.streets, spanned=True)
    unknown_m = float(segments.loc[segments["lit"] < 0, "run_m"].sum())
    if unknown_m > 0.0:
        lines.append(
            f"The map says nothing of street lights on {_stretch(unknown_m, units)} of the way: "
            "taken as unlit."
        )
    bare_m = float(segments.loc[segments["surface"] == "unknown", "run_m"].sum())
    if bare_m > 0.0:
        lines.append(
            f"The map says nothing of the surface on {_stretch(bare_m, units)} of the way: taken "
            f"as a dirt road, at {_bare_pace(scene):.0%} of the pace on paved ground."
        )
    start, home = (units.height(end.distance_m) for end in (scene.ends[0], scene.ends[-1]))
    lines.append(
        f"Start and home lie {start} and {home} from the nearest street that can be walked; the "
        "walk between is not counted."
    )
    if course.delay_s.sum() > 0.0:
        lines.append(
            f"Waiting at crossings is taken as {course.delay_s.sum() / 60.0:.0f} min in all."
        )
    return lines


def _bare_pace(scene: Scene) -> float:
    """Share of the paved speed kept where the surface is not known."""
    return pace.SURFACE_SPEED_FACTORS["unknown"] if scene.manner.surface else 1.0


def _stretch(length_m: float, units: Units) -> str:
    """Say a part of the way."""
    return units.long(length_m) if length_m >= units.long_m else units.near(length_m)


def _pace(scene: Scene) -> list[str]:
    manner = scene.manner
    lines = [
        (
            f"Pace: {_pace_words(manner.model)}, times "
            f"{scene.walkers.pace_factor.min():.2f} for the slowest walker"
            f"{_response(manner.slope_response)}. Published pace models differ; the span of "
            "arrival shows by how much. One timed walk of your own beats them all."
        ),
    ]
    switched = {
        "surface": manner.surface,
        "stairs": manner.stairs,
        "load": manner.load,
        "dark": manner.dark,
        "fatigue": manner.fatigue,
    }
    off = [name for name, on in switched.items() if not on]
    if off:
        lines.append(f"Left out by the plan: {', '.join(off)}.")
    if manner.dark:
        lines.append(
            f"After dark pace falls to {manner.dark_lit_factor:.0%} {_range(LIT_SHARE)} on lit and "
            f"to {manner.dark_unlit_factor:.0%} {_range(UNLIT_SHARE)} on unlit ways: an "
            "assumption, no study gives a figure."
        )
    if manner.fatigue:
        lines.append(
            f"Tiredness takes {manner.fatigue_per_h:.0%} {_range(TIRING)} of pace for each hour on "
            "foot after the first hours: an assumption."
        )
    lines.append(
        f"Rests: {manner.rest_s_per_h / 60.0:.0f} min after each full hour on foot; a stop at "
        "least as long counts as one."
    )
    return lines


def _response(response: float) -> str:
    return "" if response == 1.0 else f", slopes slowing {response:.2f} times as strongly as by it"


def _pace_words(model: str) -> str:
    """Name a choice of pace."""
    if model == pace.MIDDLE:
        return "the median of the published models"
    return model.replace("_", " ").title()


LIT_SHARE = ASSUMPTIONS["speed share in the dark, lit"]
UNLIT_SHARE = ASSUMPTIONS["speed share in the dark, unlit"]
TIRING = ASSUMPTIONS["speed share lost per hour of fatigue"]
BODY_WIND = ASSUMPTIONS["wind at the body over wind at 10 m"]
SOAKED = ASSUMPTIONS["insulation share of soaked clothing"]


def _range(of: Assumed) -> str:
    """Say the range of a share that is assumed."""
    return f"({of.low:.0%} to {of.high:.0%})"


def _effort(walked: Walked) -> list[str]:
    """Say how far the effort that can be kept up slows the walk."""
    slowed_min = float(walked.outcome.totals[Total.EFFORT_S].max()) / 60.0
    if slowed_min < 1.0:
        return []
    return [
        (
            f"The pace is slowed by {slowed_min:.0f} min in all so that the effort can be kept up: "
            "by the mean capacity of age, sex and mass (own capacity: 80% to 120% of it), and the "
            "share of it that is kept up for so long. If yours is measured, tell it "
            "in the plan."
        )
    ]


def _weather_on_the_body() -> list[str]:
    """Say what is assumed of wind, sun and wet clothes on the body, with its range."""
    low, high = SUN_ABSORBED_RANGE
    return [
        (
            f"Assumed: {BODY_WIND.middle:.0%} {_range(BODY_WIND)} of the reported wind reaches the "
            f"body; {SUN_ABSORBED_SHARE:.1%} ({low:.0%} to {high:.0%}) of the sun on "
            f"level ground is taken up by each part of the skin; soaked clothes keep "
            f"{SOAKED.middle:.0%} {_range(SOAKED)} of their warmth; a foil sheet gives "
            f"{ASSUMED_CLO['foil sheet'].low:.1f} to {ASSUMED_CLO['foil sheet'].high:.1f} clo."
        )
    ]


def _body(scene: Scene, walked: Walked, hours: pd.DataFrame, units: Units) -> list[str]:
    outcome, course = walked.outcome, walked.way.course
    lines = [
        f"Energy by the {scene.manner.energy_model.upper()} equation on body plus bag.",
        (
            f"Drinking follows need, at most "
            f"{units.volume(float(most_drink_ml_h(scene.walkers.mass_kg).min()))} an hour, from a "
            "full start; body-mass loss counts water only."
        ),
        (
            "Heat and cold slow nobody here: they change water and warmth, not pace. In heat "
            "people walk slower and rest more than this, so times are then too short."
        ),
    ]
    lines += [*_effort(walked), *_weather_on_the_body()]
    known = np.isfinite(course.height_m)
    highest_m = float(np.max(course.height_m, where=known, initial=0.0))
    if highest_m > HIGH_M:
        lines.append(
            f"The way climbs to {units.height(highest_m)}: thin air slows nobody here, but above "
            f"about {units.height(HIGH_M)} people go slower, tire and dry out sooner, and may "
            "fall ill. Go down when head or stomach say so."
        )
    low, high = pace_limits(scene.manner.model)
    for what, where in (
        ("pace model's", (course.slope < low) | (course.slope > high)),
        ("energy equation's", outcome.energy_outside),
    ):
        steps = np.flatnonzero(where)
        if steps.size:
            lines.append(
                f"Outside the {what} published range on {_where(walked, where, hours, units)}; a "
                "documented stand-in was used there."
            )
    if outcome.sweat_outside.any():
        lines.append(_sweat(walked, hours, units))
    if float(hours["rain_mm"].sum()) > 0.0:
        lines.append(WET)
    if scene.carried.unknown:
        lines.append(
            "Empty cells of the bag list count as nothing, so sums are at least as shown: "
            + ", ".join(plain_cell(cell) for cell in scene.carried.unknown)
            + "."
        )
    return lines


def plain_cell(cell: str) -> str:
    """Name a cell of the bag list without the name of its column."""
    column, of, item = cell.partition(" of ")
    return f"{column.rpartition('_')[0] or column}{of}{item.strip(chr(39))}"


def _where(walked: Walked, where: NDArray[np.bool_], hours: pd.DataFrame, units: Units) -> str:
    """Say on what part of the way something holds, by distance and hour."""
    course = walked.way.course
    if where.all():
        return "the whole way"
    steps = np.flatnonzero(where)
    first, last = course.distance_m[steps[0]], course.distance_m[steps[-1] + 1]
    share = float(course.run_m[where].sum()) / course.length_m
    return (
        f"{share:.0%} of the way (between {units.long_name} {first / units.long_m:.1f} and "
        f"{last / units.long_m:.1f}, from hour {_hour_at(hours, float(first))} on)"
    )


def _sweat(walked: Walked, hours: pd.DataFrame, units: Units) -> str:
    """Say on what the sweat of steps outside the published equation's range rests."""
    where = walked.outcome.sweat_outside
    cool = float(hours["air_c"].min()) < SWEAT_FROM_C
    opening = (
        f"Below {units.degrees(SWEAT_FROM_C)} no published sweat equation reaches"
        if cool
        else "The published sweat equation does not reach this weather"
    )
    return (
        f"{opening}: {_where(walked, where, hours, units)} rests on the heat balance alone, so "
        "take the water need as rough."
    )


def _hour_at(hours: pd.DataFrame, distance_m: float) -> int:
    """Ordinal of the hour in which a distance is reached, from 1."""
    reached = hours["distance_so_far_km"].to_numpy() * 1000.0
    return int(np.searchsorted(reached, distance_m, side="right")) + 1


def _places(scene: Scene, walked: Walked, units: Units) -> list[str]:
    lines = [
        (
            f"Places off the way by up to {units.near(scene.plan.choices.refill_reach_m)} are "
            f"considered. A kind of place is relied on when at least {percent(RELIED_ON_SHARE)} of "
            f"its kind is assumed to work under “{scene.plan.event.kind}”; the shares are "
            "assumptions."
        ),
    ]
    lines += place_assumptions(scene, walked)
    if not walked.settled:
        lines.append("Stops and arrival times did not fully settle; times at stops are rough.")
    return lines
