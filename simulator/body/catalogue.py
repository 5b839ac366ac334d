"""Every model and every assumption of this room as data, for documents and figures.

A document shows each model's formula, curve, source and range from here, so that none of them is
written twice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from simulator.arrays import Floats
from simulator.body import assumed, energy, exposure, pace, warmth, water
from simulator.body import pace as pace_fits
from simulator.body import pace as pace_slowing
from simulator.body import water as sweat
from simulator.body import water as sweating
from simulator.body.assumed import Assumed
from simulator.body.limits import Limit, describe
from simulator.body.warmth import required_evaporation_w_m2


@dataclass(frozen=True, slots=True)
class Model:
    """One published model, with all that is needed to show it.

    Attributes
    ----------
    gives : str
        What it gives, in plain words.
    unit : str
        Unit of that.
    formula : str
        The formula as mathtext, without dollar signs.
    source : str
        Author, year, journal.
    evidence : str
        How well the source is known.
    limits : tuple of Limit
        How far it reaches.
    function : callable
        The model.
    across : str
        Name of the argument that a curve runs along.
    span : tuple of float
        Where the curve begins and ends.
    fixed : mapping of str to float
        The other arguments of the curve.
    """

    gives: str
    unit: str
    formula: str
    source: str
    evidence: str
    limits: tuple[Limit, ...]
    function: Callable[..., Floats]
    across: str
    span: tuple[float, float]
    fixed: Mapping[str, float] = field(default_factory=dict)

    def valid_range(self) -> str:
        """Give the limits in words."""
        return describe(self.limits)

    def curve(self, points: int = 201) -> tuple[Floats, Floats]:
        """Give the curve to draw, NaN beyond the limits."""
        values = np.linspace(*self.span, points)
        result = self.function(**self.fixed, **{self.across: values})
        return values, np.broadcast_to(result, values.shape)


STEEP: Final = (-0.45, 0.45)
WALKER: Final = {"mass_kg": 80.0, "load_kg": 5.0, "speed_m_s": 1.34}

MODELS: Final[dict[str, Model]] = {
    "tobler_1993": Model(
        "walking speed",
        "m/s",
        r"v = \frac{6}{3.6}\, e^{-3.5\, |m + 0.05|}",
        "Tobler 1993, NCGIA Technical Report 93-1",
        "restated in several sources",
        pace.LIMITS["tobler_1993"],
        pace.tobler_speed_m_s,
        "slope",
        STEEP,
    ),
    "irmischer_clarke_2018": Model(
        "walking speed",
        "m/s",
        r"v = 0.11 + e^{-(100 m + 5)^2 / 1800}",
        "Irmischer and Clarke 2018, Cartogr Geogr Inf Sci 45:177-186",
        "from memory; a published set of check values agrees",
        pace_fits.FIT_LIMITS["irmischer_clarke_2018"],
        pace.irmischer_clarke_2018_speed_m_s,
        "slope",
        STEEP,
    ),
    "campbell_2019": Model(
        "walking speed, median",
        "m/s",
        r"v = \frac{c}{\pi b\,(1 + ((\theta - a)/b)^2)} + d + e\,\theta",
        "Campbell et al. 2019, Appl Geogr 106:93-107",
        "form restated, coefficients from memory",
        pace_fits.FIT_LIMITS["campbell_2019"],
        pace.campbell_2019_speed_m_s,
        "slope",
        STEEP,
    ),
    "campbell_2022": Model(
        "walking speed, median",
        "m/s",
        r"v = \frac{c}{\pi b\,(1 + ((\theta - a)/b)^2)} + d + e\,\theta",
        "Campbell et al. 2022, Comput Environ Urban Syst 97:101866",
        "form restated, coefficients from memory",
        pace_fits.FIT_LIMITS["campbell_2022"],
        pace.campbell_2022_speed_m_s,
        "slope",
        STEEP,
    ),
    "naismith_1892": Model(
        "walking speed",
        "m/s",
        r"v = 1 / (0.72 + 6 \max(m, 0))",
        "Naismith 1892, Scottish Mountaineering Club J 2:136",
        "restated",
        pace_fits.FIT_LIMITS["naismith_1892"],
        pace.naismith_1892_speed_m_s,
        "slope",
        STEEP,
    ),
    "bohannon_1997": Model(
        "comfortable level walking speed over a few metres",
        "m/s",
        r"\mathrm{table\ by\ decade}",
        "Bohannon 1997, Age Ageing 26:15-19",
        "extremes read in the abstract, other cells from memory",
        pace_slowing.SLOWING_LIMITS["bohannon_1997"],
        lambda age_y: pace.comfortable_speed_m_s(age_y, "male"),
        "age_y",
        (20.0, 79.0),
    ),
    "load_factor": Model(
        "share of the unloaded speed at the same metabolic rate",
        "",
        r"\sqrt{\frac{1}{1+L/W} - \frac{2 (L/W)^2}{1.5 \cdot 1.34^2}}",
        "Pandolf et al. 1977, solved for speed",
        "restated; the use of it for speed is ours",
        pace_slowing.SLOWING_LIMITS["load_factor"],
        pace.load_factor,
        "load_kg",
        (0.0, 40.0),
        {"mass_kg": 80.0},
    ),
    "lcda_2019": Model(
        "metabolic rate of walking, without load",
        "W/kg",
        r"1.44 + 1.94 v^{0.43} + 0.24 v^4 + 0.34 v G (1 - 1.05^{1 - 1.11^{G+32}})",
        "Looney et al. 2019, Med Sci Sports Exerc 51:346-351 and 51:1954-1960",
        "restated in two sources; range read in the abstract; base 1.11 in doubt",
        energy.LIMITS["lcda_2019"],
        energy.lcda_w_kg,
        "slope",
        STEEP,
        {"speed_m_s": 1.34},
    ),
    "pandolf_1977": Model(
        "metabolic rate of walking with a load, corrected downhill",
        "W",
        r"1.5 W + 2 (W+L)(L/W)^2 + \eta (W+L)(1.5 v^2 + 0.35 v G)",
        "Pandolf et al. 1977, J Appl Physiol 43:577-581; Santee et al. 2003, USARIEM TN03-3",
        "restated; the downhill correction from memory",
        energy.LIMITS["pandolf_1977"],
        energy.pandolf_w,
        "slope",
        STEEP,
        WALKER,
    ),
    "minetti_2002": Model(
        "net cost of walking a metre of path",
        "J/kg/m",
        r"280.5 i^5 - 58.7 i^4 - 76.8 i^3 + 51.9 i^2 + 19.6 i + 2.5",
        "Minetti et al. 2002, J Appl Physiol 93:1039-1046",
        "restated; range read in the abstract",
        energy.LIMITS["minetti_2002"],
        energy.minetti_walk_j_kg_m,
        "slope",
        STEEP,
    ),
    "mifflin_1990": Model(
        "resting metabolic rate",
        "W",
        r"10 W + 6.25 H - 5 A + 5\ \mathrm{or}\ -161\ \mathrm{kcal/day}",
        "Mifflin et al. 1990, Am J Clin Nutr 51:241-247",
        "from memory, standard form",
        energy.LIMITS["mifflin_1990"],
        lambda age_y: energy.resting_w(80.0, 1.78, age_y, "male"),
        "age_y",
        (15.0, 85.0),
    ),
    "dubois_1916": Model(
        "skin area",
        "m2",
        r"0.007184\, W^{0.425} H^{0.725}",
        "DuBois and DuBois 1916, Arch Intern Med 17:863-871",
        "standard form",
        (),
        water.body_area_m2,
        "mass_kg",
        (40.0, 120.0),
        {"height_m": 1.75},
    ),
    "iso_7933_balance": Model(
        "evaporation that would keep the heat balance",
        "W/m2",
        r"E_{req} = M - C_{res} - E_{res} - C - R",
        "ISO 7933:2023, steady",
        "restated in a comfort library",
        (),
        required_evaporation_w_m2,
        "air_c",
        (-20.0, 45.0),
        {
            "metabolic_w_m2": 150.0,
            "humidity_pct": 50.0,
            "air_speed_m_s": 1.3,
            "radiant_w_m2": 0.0,
            "clothing_clo": 0.9,
            "walk_m_s": 1.3,
        },
    ),
    "gonzalez_2009_piecewise": Model(
        "sweat rate",
        "g/m2/h",
        r"147 + 1.527 E_{req} - 0.87 E_{max}",
        "Gonzalez et al. 2009, J Appl Physiol 107:379-388",
        "read in the abstract",
        sweat.SWEAT_LIMITS["gonzalez_2009"],
        sweat.gonzalez_2009_piecewise_g_m2_h,
        "required_evaporation_w_m2",
        (0.0, 450.0),
        {"max_evaporation_w_m2": 200.0},
    ),
    "gonzalez_2009_osec": Model(
        "sweat rate",
        "g/m2/h",
        r"147\, e^{0.0012 \cdot 27.9 E_{req} E_{max}^{-0.455}}",
        "Gonzalez et al. 2009, J Appl Physiol 107:379-388",
        "read in the abstract",
        sweat.SWEAT_LIMITS["gonzalez_2009"],
        sweat.gonzalez_2009_osec_g_m2_h,
        "required_evaporation_w_m2",
        (0.0, 450.0),
        {"max_evaporation_w_m2": 200.0},
    ),
    "gonzalez_2012_cool": Model(
        "sweat rate below 20 degrees C",
        "g/m2/h",
        r"350 + 1.527 E_{req} - 0.87 E_{max}",
        "Gonzalez et al. 2012, J Appl Physiol 112:1300-1310",
        "read in the abstract",
        sweat.SWEAT_LIMITS["gonzalez_2012_cool"],
        sweat.gonzalez_2012_cool_g_m2_h,
        "required_evaporation_w_m2",
        (0.0, 450.0),
        {"max_evaporation_w_m2": 200.0},
    ),
    "shapiro_1982": Model(
        "sweat rate",
        "g/m2/h",
        r"27.9\, E_{req} E_{max}^{-0.455}",
        "Shapiro et al. 1982, Eur J Appl Physiol 48:83-96",
        "read; range from memory",
        sweat.SWEAT_LIMITS["shapiro_1982"],
        sweat.shapiro_1982_g_m2_h,
        "required_evaporation_w_m2",
        (0.0, 450.0),
        {"max_evaporation_w_m2": 200.0},
    ),
    "iso_7933": Model(
        "required sweat rate",
        "g/m2/h",
        r"\frac{2.67}{1.8} E_{req} / (1 - w^2/2),\ w = E_{req}/E_{max}",
        "ISO 7933:2023",
        "restated in a comfort library",
        sweat.SWEAT_LIMITS["iso_7933"],
        sweat.iso_7933_g_m2_h,
        "required_evaporation_w_m2",
        (0.0, 450.0),
        {"max_evaporation_w_m2": 500.0},
    ),
    "fanger_1970": Model(
        "water lost by breathing",
        "g/h",
        r"1.7 \cdot 10^{-5} M (5867 - p_a) \cdot 3600 / 2430",
        "Fanger 1970; ISO 7730",
        "from memory; a published table read agrees",
        (),
        water.respiratory_g_h,
        "air_c",
        (-20.0, 40.0),
        {"metabolic_w": 300.0, "humidity_pct": 60.0},
    ),
    "osczevski_bluestein_2005": Model(
        "wind chill",
        "degrees C",
        r"13.12 + 0.6215 T - 11.37 V^{0.16} + 0.3965 T V^{0.16}",
        "Osczevski and Bluestein 2005, Bull Amer Meteor Soc 86:1453-1458",
        "read",
        exposure.LIMITS["osczevski_bluestein_2005"],
        exposure.wind_chill_c,
        "wind_km_h",
        (0.0, 100.0),
        {"air_c": -10.0},
    ),
    "frostbite": Model(
        "time until bare skin freezes in 5 % of people",
        "min",
        r"(2111 - 24.5\,(0.667 V + 4.8))\,(-4.8 - T)^{-1.668}",
        "Osczevski and Bluestein, Canadian weather service",
        "from memory",
        exposure.LIMITS["frostbite"],
        exposure.frostbite_min,
        "wind_km_h",
        (0.0, 100.0),
        {"air_c": -30.0},
    ),
    "rothfusz_1990": Model(
        "heat index",
        "degrees C",
        r"\mathrm{nine\ terms\ in}\ T, R, TR, T^2, R^2, T^2R, TR^2, T^2R^2",
        "Rothfusz 1990, NWS Technical Attachment SR 90-23",
        "read; range from memory",
        exposure.LIMITS["rothfusz_1990"],
        exposure.heat_index_c,
        "humidity_pct",
        (0.0, 100.0),
        {"air_c": 33.0},
    ),
    "iso_11079": Model(
        "basic insulation to be cold but bearable",
        "clo",
        r"M = E + H_{res} + R + C\ \mathrm{at}\ t_{sk} = 33.34 - 0.0354 M",
        "ISO 11079:2007, parts",
        "restated in a comfort library",
        warmth.LIMITS["iso_11079"],
        warmth.required_clo,
        "air_c",
        (-30.0, 10.0),
        {"metabolic_w_m2": warmth.HALT_W_M2, "air_speed_m_s": 0.4},
    ),
}
"""Published models by author and year, or by standard."""

ASSUMPTIONS: Final[dict[str, Assumed]] = {
    "speed share in the dark, unlit": Assumed(
        0.67, pace.DARK_UNLIT_FACTOR, 1.0, "army march rates, night over day; from memory"
    ),
    "speed share in the dark, lit": Assumed(0.9, pace.DARK_LIT_FACTOR, 1.0, "no source"),
    "speed share lost per hour of fatigue": Assumed(0.0, pace.FATIGUE_PER_H, 0.05, "no source"),
    "hours walked before fatigue": Assumed(2.0, pace.FATIGUE_FREE_H, 4.0, "no source"),
    "least speed share in fatigue": Assumed(0.6, pace.FATIGUE_LEAST, 0.9, "no source"),
    "energy factor of unknown surface": Assumed(
        1.0, energy.TERRAIN_FACTORS["unknown"], 1.2, "as a dirt road"
    ),
    "energy factor of gravel": Assumed(
        1.1, energy.TERRAIN_FACTORS["gravel"], 1.27, "order measured by Kowalsky et al. 2021"
    ),
    "energy factor of grass": Assumed(
        1.1, energy.TERRAIN_FACTORS["grass"], 1.27, "order measured by Kowalsky et al. 2021"
    ),
    "energy factor of rock": Assumed(1.2, energy.TERRAIN_FACTORS["rock"], 2.0, "as heavy brush"),
    "wind at the body over wind at 10 m": Assumed(
        0.3, warmth.BODY_WIND_SHARE, 1.0, "open ground; streets and woods shelter more"
    ),
    "heat deficit at which sweating ends, W/m2": Assumed(
        -200.0, sweating.NO_SWEAT_BELOW_W_M2, -50.0, "no source for cold weather"
    ),
    "metabolic rate from which marchers' sweat counts, W/m2": Assumed(
        65.0, sweating.WORK_W_M2, 130.0, "classes of ISO 8996, from memory; full from light work on"
    ),
    "water deficit of least urine, % of body mass": Assumed(
        1.0, water.URINE_DRY_AT_PCT, 4.0, "no source for the shape"
    ),
    "insulation share of soaked clothing": assumed.WET_INSULATION_SHARE,
    "rain that soaks clothing, mm": assumed.SOAKING_RAIN_MM,
    "wind share under a tarp": assumed.TARP_WIND_SHARE,
    **{f"clo of a {thing}": value for thing, value in assumed.ASSUMED_CLO.items()},
}
"""Every number of this room that has no source, with the range it may have."""
