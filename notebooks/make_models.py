"""Make models.md and its figures: every formula with its curve, source and range.

Run ``python notebooks/make_models.py`` after a model has changed. The tests compare what is
committed with what this makes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray

from curves import (
    band_figure,
    held_at,
    lines_figure,
    model_figure,
    quantity,
)
from simulator.body import energy, exposure, pace, warmth, water
from simulator.body.catalogue import ASSUMPTIONS, MODELS, Model
from simulator.report.figures.style import svg_text
from simulator.sky.moon import moon_light
from simulator.sky.sun import elevation_series
from sun_chart import sun_year

HERE = Path(__file__).resolve().parent
PAGE = "models.md"
FIGURES = "models"

LATITUDE_DEG = 46.0
LONGITUDE_DEG = -30.0
ZONE = ZoneInfo("Etc/GMT+2")
YEAR = 2026

GROUPS = {
    "Walking speed": (
        "tobler_1993",
        "irmischer_clarke_2018",
        "campbell_2019",
        "campbell_2022",
        "naismith_1892",
        "bohannon_1997",
        "load_factor",
    ),
    "Energy": ("lcda_2019", "pandolf_1977", "minetti_2002", "mifflin_1990"),
    "Water": (
        "dubois_1916",
        "iso_7933_balance",
        "gonzalez_2009_piecewise",
        "gonzalez_2009_osec",
        "gonzalez_2012_cool",
        "shapiro_1982",
        "iso_7933",
        "fanger_1970",
    ),
    "Cold and heat": ("osczevski_bluestein_2005", "frostbite", "rothfusz_1990", "iso_11079"),
}
"""Every model, by what it is about."""

NOTES = {
    "tobler_1993": "The default. Off the path, times 0.6. Made from marching rates of soldiers.",
    "irmischer_clarke_2018": "Men on a path are shown; women 0.95 times that. Cadets with a map.",
    "campbell_2022": "Angles in degrees. From tracks that walkers recorded themselves.",
    "naismith_1892": "A rule for hill walkers; it gives nothing back downhill.",
    "bohannon_1997": "Men are shown. A few metres indoors, not five hours: an upper bound.",
    "lcda_2019": (
        "The default. *G* is the slope in percent, times the total mass of body and bag. Loads "
        "beyond 40 % of body mass: the same formula scaled on, flagged."
    ),
    "pandolf_1977": "*G* in percent, η from the table of surfaces. Never used to divide a speed.",
    "minetti_2002": "Tried on a treadmill, without a bag. Used for slopes the others do not reach.",
    "mifflin_1990": "A man of 80 kg and 1.78 m is shown; *H* in centimetres.",
    "gonzalez_2009_piecewise": (
        "The mean of this and the next is the default, or ISO 7933 below where that is higher and "
        "one of the two is as high."
    ),
    "gonzalez_2012_cool": "In warmer air its value at 20 °C is kept until the others overtake it.",
    "iso_7933": "A steady balance; it tells too little in the first hour of a walk in the cool.",
    "frostbite": "Exposed skin only. Keep it covered long before.",
    "rothfusz_1990": "In shade with a light wind; full sun feels up to 8 °C hotter.",
    "iso_11079": "In still air, awake and at rest. Rain and wet clothing lie outside the standard.",
}
"""What the catalogue's own fields do not say."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing of the page, and its name for those who cannot see it."""

    axes: Axes
    title: str


def speeds() -> Figure:
    """Compare the fits of walking speed."""
    slope = np.linspace(-0.45, 0.45, 361)
    lines = {name.replace("_", " "): 3.6 * fit(slope) for name, fit in pace.PACE_MODELS.items()}
    axes = lines_figure(
        slope, lines, across=quantity("slope"), up="km/h", from_zero=True, mark_zero=True
    )
    return Figure(axes, "Five published walking speeds against slope")


def speed_spread() -> Figure:
    """Show slowest, middle and fastest fit."""
    slope = np.linspace(-0.45, 0.45, 361)
    band = pace.speed_band(slope)
    axes = band_figure(
        slope,
        (3.6 * band.low, 3.6 * band.middle, 3.6 * band.high),
        across=quantity("slope"),
        up="km/h",
        names=("slowest fit", "middle", "fastest fit"),
    )
    return Figure(axes, "Slowest, middle and fastest published walking speed against slope")


def energies() -> Figure:
    """Compare the equations of the energy of walking."""
    slope = np.linspace(-0.45, 0.45, 361)
    lines = {
        name: energy.walking_w(80.0, 5.0, 1.34, slope, model=name)
        for name in ("lcda", "pandolf", "minetti")
    }
    axes = lines_figure(
        slope, lines, across=quantity("slope"), up="W", from_zero=True, mark_zero=True
    )
    return Figure(axes, "Three equations of the metabolic rate of walking against slope")


def lost(air_c: ArrayLike, sweat: str) -> water.WaterLoss:
    """Give the water that the walker of the sweat figure loses in an hour."""
    return water.water_loss_g_h(350.0, 1.98, air_c, 50.0, 3.0, 0.0, 0.9, walk_m_s=1.3, sweat=sweat)


def sweats() -> Figure:
    """Show what the sweat equations say of one walker in any weather."""
    air = np.linspace(-10.0, 40.0, 201)
    losses = {sweat: lost(air, sweat) for sweat in water.SWEAT_ESTIMATES}
    axes = band_figure(
        air,
        (losses["low"].sweat_g_h, losses["middle"].sweat_g_h, losses["high"].sweat_g_h),
        across=quantity("air_c"),
        up="sweat (g/h)",
        outside=~losses["middle"].in_range,
        names=("lowest", "used", "highest"),
    )
    return Figure(axes, "Sweat of one walker by air temperature, with the spread of the equations")


def chills() -> Figure:
    """Show wind chill for several air temperatures."""
    wind = np.linspace(0.0, 80.0, 161)
    lines = {
        f"{air} °C".replace("-", "\u2212"): exposure.wind_chill_c(air, wind)
        for air in (5, 0, -5, -10, -20)
    }
    axes = lines_figure(wind, lines, across=quantity("wind_km_h"), up="wind chill (°C)")
    return Figure(axes, "Wind chill against wind for five air temperatures")


def heats() -> Figure:
    """Show the heat index for several air temperatures."""
    humidity = np.linspace(0.0, 100.0, 201)
    lines = {f"{air} °C": exposure.heat_index_c(air, humidity) for air in (42, 38, 34, 30, 27)}
    axes = lines_figure(humidity, lines, across=quantity("humidity_pct"), up="heat index (°C)")
    return Figure(axes, "Heat index against humidity for five air temperatures")


def insulation() -> Figure:
    """Show the clothing that a halt needs, for several rates of heat."""
    air = np.linspace(-30.0, 10.0, 161)
    lines = {
        f"{words}, {rate:.0f} W/m²": warmth.required_clo(rate, air, 0.4)
        for words, rate in (
            ("resting", warmth.HALT_W_M2),
            ("pottering", 100.0),
            ("slow walk", 150.0),
            ("brisk walk", 200.0),
        )
    }
    axes = lines_figure(
        air, lines, across=quantity("air_c"), up="needed clothing (clo)", from_zero=True
    )
    return Figure(axes, "Required insulation against air temperature for four rates of heat")


def sun_heights() -> Figure:
    """Show the sun through a year."""
    hours, days = np.linspace(0.0, 24.0, 97), np.arange(0.0, 365.0, 7.0)
    first_s = datetime(YEAR, 1, 1, tzinfo=ZONE).timestamp()
    epoch_s = first_s + 86_400.0 * days[:, None] + 3600.0 * hours
    heights: NDArray[np.float64] = elevation_series(LATITUDE_DEG, LONGITUDE_DEG, epoch_s)
    axes = sun_year(heights, days, hours, across=f"{YEAR}, {LATITUDE_DEG:g}° north")
    return Figure(axes, "Height of the sun by day of the year and hour of the clock")


def moonlight() -> Figure:
    """Show the most light that the moon gives in each night of two months."""
    days, hours = np.arange(0.0, 59.0), np.linspace(0.0, 24.0, 97)
    epoch_s = datetime(YEAR, 1, 1, 12, tzinfo=ZONE).timestamp() + (
        86_400.0 * days[:, None] + 3600.0 * hours
    )
    dark = elevation_series(LATITUDE_DEG, LONGITUDE_DEG, epoch_s) < -6.0
    lux = np.where(dark, moon_light(LATITUDE_DEG, LONGITUDE_DEG, epoch_s).clear_sky_lux, 0.0)
    lines = {"clear sky": 1000.0 * lux.max(axis=1)}
    across = f"nights from 1 January {YEAR}, {LATITUDE_DEG:g}° north"
    axes = lines_figure(days, lines, across=across, up="moonlight (millilux)", from_zero=True)
    return Figure(axes, "Most moonlight of each night through two months under a clear sky")


LEVEL_KM_H = (3.6 * float(pace.speed_band(0.0).low), 3.6 * float(pace.speed_band(0.0).high))
SWEAT_SPREAD = float(lost(20.0, "high").sweat_g_h / lost(20.0, "low").sweat_g_h)
HALT_OVER_WALK = float(
    warmth.required_clo(warmth.HALT_W_M2, 0.0, 0.4) / warmth.required_clo(150.0, 0.0, 0.4)
)
"""Numbers that the words below tell."""

COMPARED = {
    "Walking speed": (
        (
            "speeds",
            speeds,
            (
                "On the level, where most of a walk home lies, the fits run from "
                f"{LEVEL_KM_H[0]:.2f} to {LEVEL_KM_H[1]:.2f} km/h: 25 km take from "
                f"{25.0 / LEVEL_KM_H[1]:.1f} to {25.0 / LEVEL_KM_H[0]:.1f} hours of moving. They "
                "were made from different people: marching soldiers, cadets with a map, walkers "
                "who record themselves. So the tool shows a band, and one timed walk of your own "
                "decides more than the choice of a fit."
            ),
        ),
        (
            "speed-band",
            speed_spread,
            (
                "The band that the tool shows beside its time: slowest and fastest fit at each "
                "slope. It jumps where a fit ends."
            ),
        ),
    ),
    "Energy": (
        (
            "energies",
            energies,
            (
                "One walker of 80 kg with 5 kg at 1.34 m/s. Past a gentle descent, going down "
                "costs more again: braking is work. Each curve ends where its source does."
            ),
        ),
    ),
    "Water": (
        (
            "sweat",
            sweats,
            (
                "A walker of 350 W in trousers, shirt and jacket, humidity 50 %, wind 3 m/s, no "
                f"sun. At 20 °C the highest of the published equations is {SWEAT_SPREAD:.1f} "
                "times the lowest; where it is hatched none of them reaches, and the tool says "
                "so. Drink by need, not by a table."
            ),
        ),
    ),
    "Cold and heat": (
        (
            "wind-chill",
            chills,
            "Wind chill is for bare skin at walking speed; it is no temperature of anything.",
        ),
        (
            "heat-index",
            heats,
            "The heat index is for shade. Hard work in it is more dangerous than the number tells.",
        ),
        (
            "insulation",
            insulation,
            (
                "Who stops after a slow walk makes less than half the heat and needs, at 0 °C, "
                f"{HALT_OVER_WALK:.1f} times the clothing: put layers on before a halt. "
                "Trousers, shirt and jacket are about 1 clo."
            ),
        ),
    ),
}
"""Figures that compare several models: file, drawing, words below."""

CAUTION = """\
A model is a mean of the people it was made from, inside the range they were measured in. It knows
nothing of illness, medicines, pregnancy, children or the very old. Beyond its range a model gives
no number. Where a walk needs one all the same, of pace, energy, sweat or a resting body, a stand-in
is used and the walk says where; of felt temperature there is none, and that counts as the worst.
Authorities, doctors and your own body come first."""


STAIRS = """\
Stairs. The first two rows are used, and never a speed above that of the same slope without steps.
The sources measure along other lengths and in other crowds."""

SURFACES = """\
Surfaces. The energy factors are Pandolf's list, restated; gravel, grass, rock and unknown are
assumptions. The share of speed is the one at which the rate of walking stays the same, η to the
power of -1/2: dividing speed by η itself would slow far too much."""


def page() -> str:
    """Write the page."""
    parts = [
        "# The models, each with its curve, source and range",
        "<!-- Made by make_models.py from the code's own catalogue; change it there. -->",
        CAUTION,
        (
            "Hatched in a figure: the source does not reach there. How well a source is known "
            "stands beside it; *from memory* means that the page of the paper still has to be "
            "read."
        ),
    ]
    for heading, names in GROUPS.items():
        parts.append(f"## {heading}")
        for stem, draw, words in COMPARED[heading]:
            parts += [f"![{draw().title}]({FIGURES}/{stem}.svg)", words]
        parts += [entry(name, MODELS[name]) for name in names]
        if heading == "Walking speed":
            parts += [STAIRS, stairs(), SURFACES, surfaces()]
    parts += [
        "## The sun and the moon",
        f"![{sun_heights().title}]({FIGURES}/sun.svg)",
        (
            "Height of the sun's centre without refraction. Sunrise and sunset are at -0.8333°, "
            "civil dawn and dusk at -6°; between them one can just walk without a lamp. Solar "
            "position algorithm of Reda and Andreas 2004, *Solar Energy* 76:577-589, through "
            "pvlib. Hills, houses and weather move what you see by minutes."
        ),
        f"![{moonlight().title}]({FIGURES}/moon.svg)",
        (
            "Brightness by phase after Krisciunas and Schaefer 1991, *PASP* 103:1033-1039, and "
            "height after the *Astronomical Almanac*, both from memory. The full moon high up "
            "gives about a quarter of a lux, a lit street ten times that and more; cloud, woods "
            "and walls take it. So it is told, and changes no number."
        ),
        "## What has no source",
        (
            "These numbers are assumptions: visible, with a range, and yours to change. When a "
            "verdict hangs on one of them, the tool says so."
        ),
        assumptions(),
    ]
    return "\n\n".join(parts) + "\n"


def entry(name: str, model: Model) -> str:
    """Write what is known of one model, in Markdown."""
    unit = f" [{model.unit}]" if model.unit else ""
    rows = [
        f"### {name}",
        "",
        f"![{model.gives}, by {quantity(model.across)}]({FIGURES}/{name}.svg)",
        "",
        f"- gives: {model.gives}{unit}",
        f"- source: {model.source} ({model.evidence})",
        f"- range: {model.valid_range()}",
    ]
    if model.fixed:
        rows.append(f"- the curve: {held_at(model.fixed)}")
    if name in NOTES:
        rows += ["", NOTES[name]]
    return "\n".join(rows)


def table(*rows: tuple[object, ...]) -> str:
    """Write a table in Markdown, its head first."""
    head, *others = (f"| {' | '.join(map(str, row))} |" for row in rows)
    return "\n".join([head, f"|{' --- |' * len(rows[0])}", *others])


def stairs() -> str:
    """Write the table of speeds on stairs."""
    along = {"plan": "the map", "stair": "the stair"}
    rows = [
        (way.direction, f"{way.m_s:.2f}", along[way.length], f"{way.plan_m_s():.2f}", way.source)
        for way in pace.STAIR_SOURCES
    ]
    return table(("stairs", "m/s", "measured along", "m/s on the map", "source"), *rows)


def surfaces() -> str:
    """Write the table of surfaces."""
    rows = [
        (name, f"{share:.2f}", f"{energy.TERRAIN_FACTORS[name]:.2f}")
        for name, share in pace.SURFACE_SPEED_FACTORS.items()
    ]
    return table(("surface", "share of the paved speed", "energy factor η"), *rows)


def assumptions() -> str:
    """Write the table of assumptions."""
    rows = [
        (what, f"{given.low:g}", f"{given.middle:g}", f"{given.high:g}", given.why)
        for what, given in ASSUMPTIONS.items()
    ]
    return table(("what", "low", "used", "high", "ground"), *rows)


def figures() -> dict[str, str]:
    """Draw every figure: file name to SVG."""
    made = {name: Figure(model_figure(model), model.gives) for name, model in MODELS.items()}
    for several in COMPARED.values():
        made |= {stem: draw() for stem, draw, _ in several}
    made |= {"sun": sun_heights(), "moon": moonlight()}
    return {
        f"{name}.svg": svg_text(
            figure.axes, prefix=name, title=figure.title, description=f"See {PAGE}."
        )
        + "\n"
        for name, figure in made.items()
    }


def main() -> None:
    """Write page and figures beside this script."""
    folder = HERE / FIGURES
    folder.mkdir(exist_ok=True)
    drawn = figures()
    for name, svg in drawn.items():
        (folder / name).write_text(svg, encoding="utf-8")
    (HERE / PAGE).write_text(page(), encoding="utf-8")
    print(f"{PAGE} and {len(drawn)} figures")


if __name__ == "__main__":
    main()
