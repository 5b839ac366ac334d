"""How much water a walker loses: sweat, breath, skin, urine.

Drink by need and keep looking for more; do not ration water below need. Do not drink more than is
lost either: too much is dangerous too (`simulator.body.drinking`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.drinking import (
    DEHYDRATION_STEPS,
    DO_NOT_OVERDRINK,
    DO_NOT_RATION,
    MAX_DRINK_ML_DAY,
    MAX_DRINK_ML_H,
    DehydrationStep,
    dehydration_pct,
    do_not_overdrink,
    drink_ml,
    over_drinking,
)
from simulator.body.heat import (
    bare_body_air_speed_m_s,
    bare_vapour_pressure_kpa,
    heat_terms,
    max_evaporation_w_m2,
    required_evaporation_w_m2,
)
from simulator.body.limits import (
    Flags,
    Floats,
    Limit,
    floats,
    inside,
    one_of,
    possible,
    published,
    unchecked,
)
from simulator.body.sweat import gonzalez_2009_piecewise_g_m2_h
from simulator.body.sweating import cool_terms, sweat_band_g_m2_h, sweat_middle_g_m2_h

__all__ = (
    "DEHYDRATION_STEPS",
    "DO_NOT_OVERDRINK",
    "DO_NOT_RATION",
    "LIMITS",
    "MAX_DRINK_ML_DAY",
    "MAX_DRINK_ML_H",
    "SWEAT_ESTIMATES",
    "DehydrationStep",
    "WaterLoss",
    "body_area_m2",
    "dehydration_pct",
    "do_not_overdrink",
    "drink_ml",
    "max_evaporation_w_m2",
    "over_drinking",
    "required_evaporation_w_m2",
    "respiratory_g_h",
    "skin_diffusion_g_h",
    "sweat_g_m2_h",
    "urine_g_h",
    "water_loss_g_h",
)

# DuBois and DuBois 1916; standard form.
DUBOIS_M2: Final = 0.007184
DUBOIS_MASS_POWER: Final = 0.425
DUBOIS_HEIGHT_POWER: Final = 0.725
CM_PER_M: Final = 100.0

# Fanger 1970, ISO 7730: latent heat of breathing; from memory.
FANGER_BREATH: Final = 1.7e-5
FANGER_BREATH_PA: Final = 5867.0
PA_PER_KPA: Final = 1000.0
LATENT_HEAT_J_G: Final = 2430.0  # at 30 degrees C; IOM 2004, read
S_PER_H: Final = 3600.0

# Institute of Medicine 2004, Dietary Reference Intakes for Water, p. 83; read.
SKIN_DIFFUSION_ML_DAY: Final = 450.0
SKIN_DIFFUSION_AREA_M2: Final = 1.8  # area it is taken for; assumption, the usual reference body
URINE_ML_H: Final = 50.0
URINE_DRY_ML_H: Final = 15.0
URINE_DRY_AT_PCT: Final = 2.0  # assumption, 1 to 4 %: where the kidneys save all they can
H_PER_DAY: Final = 24.0

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "water_loss": (
        Limit("air_c", 15, 46, "degrees C", "Gonzalez 2009; read in the abstract"),
        Limit("vapour pressure", 0.27, 4.45, "kPa", "Gonzalez 2009; read in the abstract"),
        Limit("air speed at the body", 0.4, 2.5, "m/s", "Gonzalez 2009; read in the abstract"),
        Limit("metabolic rate", 40, 450, "W/m2", "rest to 450; Gonzalez 2009, read in abstract"),
        Limit("clothing_clo", 0.1, 1.5, "clo", "ISO 7933 to 1.0, restated; stretched"),
    ),
}
"""Where the sweat equations are backed; joint limits by the names of derived quantities."""


@published()
def body_area_m2(mass_kg: ArrayLike, height_m: ArrayLike) -> Floats:
    """Give the skin area of a body.

    DuBois and DuBois 1916, Arch Intern Med 17:863-871 (standard form).

    Parameters
    ----------
    mass_kg, height_m : array_like
        Body mass in kg and height in m.

    Returns
    -------
    ndarray
        m2.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(body_area_m2(80, 1.78)), 4)
    1.9803
    """
    height_cm = CM_PER_M * floats(height_m)
    area: Floats = DUBOIS_M2 * floats(mass_kg) ** DUBOIS_MASS_POWER * height_cm**DUBOIS_HEIGHT_POWER
    return area


def sweat_g_m2_h(required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike) -> Floats:
    """Give the predicted sweat rate by the preferred equation.

    The piecewise equation of Gonzalez et al. 2009: of the published ones it alone neither
    overpredicts in the heat (Shapiro 1982) nor keeps sweating at rest (its sister, OSEC), and it
    agrees with ISO 7933 within a third from 25 to 35 degrees C. All stand in
    `simulator.body.sweat.SWEAT_MODELS`.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        As from `required_evaporation_w_m2` and `max_evaporation_w_m2`, W/m2.

    Returns
    -------
    ndarray
        g per m2 of skin and hour; NaN outside the limits.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(sweat_g_m2_h(250, 150)), 1)
    398.2
    """
    return gonzalez_2009_piecewise_g_m2_h(required_evaporation_w_m2, max_evaporation_w_m2)


@published()
def respiratory_g_h(metabolic_w: ArrayLike, air_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Give the water lost by breathing.

    Fanger 1970, ISO 7730 (from memory). Breathing grows with the metabolic rate, so the area of
    the body falls out.

    Parameters
    ----------
    metabolic_w : array_like
        Whole-body metabolic rate, W.
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(respiratory_g_h(165 * 1.9, 20, 50)), 1)
    37.1
    """
    vapour = bare_vapour_pressure_kpa(floats(air_c), floats(humidity_pct))
    return _breath_g_h(floats(metabolic_w), vapour)


def _breath_g_h(metabolic_w: Floats, vapour_kpa: Floats) -> Floats:
    per_watt = FANGER_BREATH * (FANGER_BREATH_PA - PA_PER_KPA * vapour_kpa)
    return np.maximum(per_watt, 0.0) * metabolic_w * (S_PER_H / LATENT_HEAT_J_G)


@published()
def skin_diffusion_g_h(area_m2: ArrayLike) -> Floats:
    """Give the water that passes through dry skin.

    About 450 ml a day (Institute of Medicine 2004, read), taken for 1.8 m2.

    Parameters
    ----------
    area_m2 : array_like
        Skin area, m2.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(skin_diffusion_g_h(1.8))
    18.75
    """
    return floats(area_m2) * (SKIN_DIFFUSION_ML_DAY / H_PER_DAY / SKIN_DIFFUSION_AREA_M2)


_bare_skin_diffusion_g_h = unchecked(skin_diffusion_g_h)


@published()
def urine_g_h(body_mass_loss_pct: ArrayLike = 0.0) -> Floats:
    """Give the urine flow, less when water is short.

    50 ml/h when well supplied, down to 15 ml/h in dehydration (Institute of Medicine 2004, read);
    straight between, reached at 2 % of body mass (assumption).

    Parameters
    ----------
    body_mass_loss_pct : array_like
        Water deficit, % of body mass.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [float(flow) for flow in urine_g_h([0.0, 1.0, 5.0])]
    [50.0, 32.5, 15.0]
    """
    dry = np.clip(floats(body_mass_loss_pct) / URINE_DRY_AT_PCT, 0.0, 1.0)
    return URINE_ML_H + (URINE_DRY_ML_H - URINE_ML_H) * dry


@dataclass(frozen=True, slots=True)
class WaterLoss:
    """Water that a walker loses in an hour.

    Attributes
    ----------
    sweat_g_h : ndarray
        Sweat, by the estimate asked for.
    respiratory_g_h : ndarray
        With the breath.
    insensible_g_h : ndarray
        Through dry skin.
    urine_g_h : ndarray
        Urine.
    total_g_h : ndarray
        All four.
    in_range : ndarray of bool
        True where the sweat equations are backed by their source (`LIMITS`). In cold weather it
        is False and the sweat is a bounded assumption.
    """

    sweat_g_h: Floats
    respiratory_g_h: Floats
    insensible_g_h: Floats
    urine_g_h: Floats
    total_g_h: Floats
    in_range: Flags


SWEAT_ESTIMATES: Final[dict[str, str]] = {
    "low": "steady balance of ISO 7933, or the mean of the two equations of Gonzalez et al. 2009 "
    "where that is lower",
    "middle": "mean of the two sweat equations of Gonzalez et al. 2009, or ISO 7933 where that is "
    "higher and one of the two confirms it",
    "high": "the highest of the published sweat rates, in warm air no less than at 20 degrees C",
}
"""Which of the sweat equations a water loss is made with, in words. At 20 degrees C low and high
differ by a factor of about four, more in light clothing; above 33 by less than two."""


def water_loss_g_h(
    metabolic_w: ArrayLike,
    area_m2: ArrayLike,
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    wind_m_s: ArrayLike,
    radiant_w_m2: ArrayLike,
    clothing_clo: ArrayLike,
    *,
    walk_m_s: ArrayLike = 0.0,
    body_mass_loss_pct: ArrayLike = 0.0,
    sweat: str = "middle",
) -> WaterLoss:
    """Give the water a walker loses in an hour, in any weather.

    Sweat comes from the heat balance and the published equations, whose band is wide in cool
    weather (`simulator.body.sweating`). Below 15 degrees C none of them reaches: there the sweat
    follows the heat balance down to nothing (`simulator.body.sweating.NO_SWEAT_BELOW_W_M2`, an
    assumption) and `in_range` is False. Missing input gives NaN and `in_range` False.

    Parameters
    ----------
    metabolic_w : array_like
        Whole-body metabolic rate, W.
    area_m2 : array_like
        Skin area, m2.
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.
    wind_m_s : array_like
        Wind at 10 m, m/s, as weather reports give it.
    radiant_w_m2 : array_like
        Heat absorbed from the sun, W per m2 of skin.
    clothing_clo : array_like
        Basic insulation of the clothing, clo.
    walk_m_s : array_like
        Walking speed, m/s.
    body_mass_loss_pct : array_like
        Water deficit so far, % of body mass; it lowers the urine.
    sweat : str
        Estimate of the sweat: "low", "middle" or "high" of the band.

    Returns
    -------
    WaterLoss
        Arrays of the broadcast shape.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> loss = water_loss_g_h(300, 1.98, 30, 50, 2, 0, 0.6, walk_m_s=1.3)
    >>> bool(loss.in_range), 300 < float(loss.sweat_g_h) < 400
    (True, True)
    """
    watts, area = possible("metabolic_w", metabolic_w), possible("area_m2", area_m2)
    air, clothing = possible("air_c", air_c), possible("clothing_clo", clothing_clo)
    walk = possible("walk_m_s", walk_m_s)
    vapour = bare_vapour_pressure_kpa(air, possible("humidity_pct", humidity_pct))
    air_speed = bare_body_air_speed_m_s(possible("wind_m_s", wind_m_s), walk)
    rate, sun = watts / area, possible("radiant_w_m2", radiant_w_m2)
    terms = heat_terms(rate, air, vapour, air_speed, sun, clothing, walk)
    rate_g_m2_h: Floats
    if one_of("sweat", sweat, SWEAT_ESTIMATES) == "middle":
        rate_g_m2_h = sweat_middle_g_m2_h(terms, rate)
    else:
        cool = cool_terms(terms, rate, air, floats(humidity_pct), air_speed, sun, clothing, walk)
        rate_g_m2_h = getattr(sweat_band_g_m2_h(terms, cool, rate), sweat)
    chosen = rate_g_m2_h * area
    breath = _breath_g_h(watts, vapour)
    skin = _bare_skin_diffusion_g_h(area)
    urine = urine_g_h(body_mass_loss_pct)
    total = chosen + breath + skin + urine
    backed = inside(
        LIMITS["water_loss"],
        {
            "air_c": air,
            "vapour pressure": vapour,
            "air speed at the body": air_speed,
            "metabolic rate": rate,
            "clothing_clo": clothing,
        },
    )
    return WaterLoss(
        sweat_g_h=chosen,
        respiratory_g_h=breath,
        insensible_g_h=skin,
        urine_g_h=urine,
        total_g_h=total,
        in_range=backed & ~np.isnan(total),
    )
