"""How warm a halt must be: the insulation that holds the balance, and how long less will do.

In the spirit of ISO 11079:2007 (restated in a general-purpose comfort library; the standard was
not read). Taken from it: the heat balance of a clothed body in the cold, the "minimal" and
"neutral" skin criteria, the required insulation IREQ, the correction from basic to resultant
insulation for wind and walking, and the duration-limited exposure at 40 Wh/m2 of heat lost. Left
out: radiant temperatures other than the air's, external work, recovery times, local cooling of
hands and feet, and the table of garments. Rain, wet clothing, cold ground and a clear sky are
outside the standard; wet clothing enters here as a stated penalty. Illness, alcohol, exhaustion,
age and small children need more warmth than any number here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.limits import (
    PERCENT,
    Limit,
    floats,
    inside,
    one_of,
    possible,
    published,
    unchecked,
)

M2K_W_PER_CLO: Final = 0.155  # definition of the clo; read

# Saturation vapour pressure over water, Magnus form as in ISO 7933; restated.
MAGNUS: Final = (0.6105, 17.27, 237.3)  # kPa, -, degrees C

BODY_WIND_SHARE: Final = 2 / 3
"""Wind at face height over the wind at 10 m in the open, as the wind chill index assumes
(Osczevski and Bluestein 2005; from memory). Streets and woods shelter more."""

# ISO 7933, restated: clothing area, still air, corrections for air speed v and walking speed w.
CLOTHING_AREA_PER_CLO: Final = 0.28
STILL_AIR_M2K_W: Final = 0.111
MOST_AIR_SPEED_M_S: Final = 3.0
MOST_WALK_M_S: Final = 1.5
THIN_CLO: Final = 0.6
CLOTHED: Final = (1.044, 0.066, -0.398, 0.094, -0.378)
BARE: Final = (1.0, 0.047, -0.472, 0.117, -0.342)
CONVECTION_SLOW: Final = (3.5, 5.2)
CONVECTION_FAST: Final = (8.7, 0.6)
CONVECTION_FAST_FROM_M_S: Final = 1.0
LEWIS_K_KPA: Final = 16.7
STATIC_PERMEABILITY: Final = 0.38
MOTION_PERMEABILITY: Final = (2.6, -6.5, 4.9)
MOST_PERMEABILITY: Final = 0.9
EMISSIVITY: Final = 0.97
RADIATING_SHARE: Final = 0.77  # standing
STEFAN_BOLTZMANN: Final = 5.67e-8
KELVIN: Final = 273.15
OUTER_CLOTHES_C: Final = 30.0  # rough temperature of the outer clothes, for the radiation term only

# Skin at equilibrium, clothed, ISO 7933; restated. Constant, then per degree of air and of
# radiant temperature, kPa, m/s, W/m2, and degree of core temperature.
SKIN: Final = (12.165, 0.02017, 0.04361, 0.19354, -0.25315, 0.005346, 0.51274)
CORE: Final = (36.6, 0.0036)  # constant, per W/m2

# Respiration, ISO 7933; restated: heat per W of metabolism and degree between expired and inspired
# air; expired temperature as constant, per degree and kPa; vapour likewise.
BREATH_HEAT: Final = 0.001516
EXPIRED: Final = (28.56, 0.115, 0.641)
BREATH_VAPOUR: Final = 0.00127
BREATH_VAPOUR_TERMS: Final = (59.34, 0.53, -11.63)

# The same, gathered by what they multiply.
SKIN_GATHERED: Final = (
    SKIN[0] + SKIN[6] * CORE[0],
    SKIN[1] + SKIN[2],  # the surroundings are as warm as the air
    SKIN[3],
    SKIN[4],
    SKIN[5] + SKIN[6] * CORE[1],
)
BREATH_GATHERED: Final = (
    BREATH_HEAT * EXPIRED[0] + BREATH_VAPOUR * BREATH_VAPOUR_TERMS[0],
    BREATH_HEAT * (EXPIRED[1] - 1.0) + BREATH_VAPOUR * BREATH_VAPOUR_TERMS[1],
    BREATH_HEAT * EXPIRED[2] + BREATH_VAPOUR * BREATH_VAPOUR_TERMS[2],
)


@dataclass(frozen=True, slots=True)
class HeatTerms:
    """The heat balance per square metre of skin.

    Attributes
    ----------
    skin_c : ndarray
        Skin temperature, degrees C.
    dry_w_m2 : ndarray
        Dry heat lost through the clothing, sun taken off, W/m2.
    respired_w_m2 : ndarray
        Heat lost by breathing, W/m2.
    required_w_m2 : ndarray
        Evaporation that would keep the balance, W/m2; negative when the body cools without any.
    vapour_gap_w_m2 : ndarray
        What could evaporate through clothing as permeable to vapour as to heat, W/m2.
    motion : ndarray
        Share of the clothing's insulation that wind and walking leave.
    """

    skin_c: Floats
    dry_w_m2: Floats
    respired_w_m2: Floats
    required_w_m2: Floats
    vapour_gap_w_m2: Floats
    motion: Floats

    @property
    def most_w_m2(self) -> Floats:
        """Most that can evaporate, by the clothing's static permeability, W/m2."""
        return STATIC_PERMEABILITY * self.vapour_gap_w_m2

    @property
    def most_moving_w_m2(self) -> Floats:
        """The same with the permeability raised by motion, as ISO 7933 has it, W/m2."""
        square, linear, constant = MOTION_PERMEABILITY
        raised = STATIC_PERMEABILITY * ((square * self.motion + linear) * self.motion + constant)
        return np.minimum(raised, MOST_PERMEABILITY) * self.vapour_gap_w_m2


@published()
def vapour_pressure_kpa(air_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Give the water vapour pressure of air.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    humidity_pct : array_like
        Relative humidity over water, %.

    Returns
    -------
    ndarray
        kPa.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(vapour_pressure_kpa(20, 50)), 3)
    1.169
    """
    return _saturation_kpa(floats(air_c)) * (floats(humidity_pct) / PERCENT)


bare_vapour_pressure_kpa = unchecked(vapour_pressure_kpa)
"""The formula alone, for inputs that are checked already."""


def _saturation_kpa(celsius: Floats) -> Floats:
    scale, rise, offset = MAGNUS
    pressure: Floats = scale * np.exp(rise * celsius / (celsius + offset))
    return pressure


@published()
def body_air_speed_m_s(wind_m_s: ArrayLike, walk_m_s: ArrayLike = 0.0) -> Floats:
    """Give the speed of the air past a walker.

    The larger of the wind at body height and the walker's own speed, as ISO 7933 takes it when
    the direction is not known (restated).

    Parameters
    ----------
    wind_m_s : array_like
        Wind at 10 m, m/s, as weather reports give it.
    walk_m_s : array_like
        Walking speed, m/s.

    Returns
    -------
    ndarray
        m/s.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(body_air_speed_m_s(3.0, 1.3))
    2.0
    """
    return np.maximum(BODY_WIND_SHARE * floats(wind_m_s), floats(walk_m_s))


bare_body_air_speed_m_s = unchecked(body_air_speed_m_s)
"""The formula alone, for inputs that are checked already."""


def _motion(terms: tuple[float, ...], air_speed: Floats, walk: Floats) -> Floats:
    scale, air_2, air_1, walk_2, walk_1 = terms
    factor: Floats = scale * np.exp(
        (air_2 * air_speed + air_1) * air_speed + (walk_2 * walk + walk_1) * walk
    )
    return np.minimum(factor, 1.0)


def heat_terms(
    metabolic_w_m2: Floats,
    air_c: Floats,
    vapour_kpa: Floats,
    air_speed_m_s: Floats,
    radiant_w_m2: Floats,
    clothing_clo: Floats,
    walk_m_s: Floats,
) -> HeatTerms:
    """Give every term of the heat balance, unchecked.

    Parameters
    ----------
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.
    air_c : ndarray
        Air temperature, degrees C; surroundings are taken to be as warm.
    vapour_kpa : ndarray
        Vapour pressure, kPa.
    air_speed_m_s : ndarray
        Speed of the air past the body, m/s.
    radiant_w_m2 : ndarray
        Heat absorbed from the sun, W per m2 of skin.
    clothing_clo : ndarray
        Basic insulation of the clothing, clo.
    walk_m_s : ndarray
        Walking speed, m/s.

    Returns
    -------
    HeatTerms
        Float arrays of the broadcast shape.
    """
    air_speed = np.minimum(air_speed_m_s, MOST_AIR_SPEED_M_S)
    walk = np.minimum(walk_m_s, MOST_WALK_M_S)
    area = 1.0 + CLOTHING_AREA_PER_CLO * clothing_clo
    clothed, bare = _motion(CLOTHED, air_speed, walk), _motion(BARE, air_speed, walk)
    share = np.minimum(clothing_clo / THIN_CLO, 1.0)
    motion = bare + share * (clothed - bare)
    total = (clothing_clo * M2K_W_PER_CLO + STILL_AIR_M2K_W / area) * motion
    clothing = total - STILL_AIR_M2K_W * bare / area

    slow, per_speed = CONVECTION_SLOW
    fast, power = CONVECTION_FAST
    convection = np.where(
        air_speed > CONVECTION_FAST_FROM_M_S,
        fast * air_speed**power,
        slow + per_speed * air_speed,
    )
    mean_k = KELVIN + (air_c + OUTER_CLOTHES_C) / 2
    radiation = (4 * EMISSIVITY * RADIATING_SHARE * STEFAN_BOLTZMANN) * (mean_k * mean_k * mean_k)
    outer = 1.0 / (area * (convection + radiation))

    constant, per_air, per_kpa, per_m_s, per_w_m2 = SKIN_GATHERED
    skin = constant + per_air * air_c + per_kpa * vapour_kpa
    skin = skin + per_m_s * air_speed + per_w_m2 * metabolic_w_m2
    dry = (skin - air_c - radiant_w_m2 * outer) / (clothing + outer)
    constant, per_air, per_kpa = BREATH_GATHERED
    respired = metabolic_w_m2 * (constant + per_air * air_c + per_kpa * vapour_kpa)
    return HeatTerms(
        skin_c=skin,
        dry_w_m2=dry,
        respired_w_m2=respired,
        required_w_m2=metabolic_w_m2 - dry - respired,
        vapour_gap_w_m2=(_saturation_kpa(skin) - vapour_kpa) * (LEWIS_K_KPA / total),
        motion=motion,
    )


@published()
def required_evaporation_w_m2(
    metabolic_w_m2: ArrayLike,
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    air_speed_m_s: ArrayLike,
    radiant_w_m2: ArrayLike,
    clothing_clo: ArrayLike,
    *,
    walk_m_s: ArrayLike = 0.0,
) -> Floats:
    """Give the evaporation that would keep a walker's heat balance.

    Metabolic rate less dry loss less breathing, by the steady balance of ISO 7933.
    External work is left out: climbing turns up to a fifth of the
    metabolic rate into height, so this is on the high side uphill.

    Parameters
    ----------
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin.
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.
    air_speed_m_s : array_like
        Speed of the air past the body, m/s.
    radiant_w_m2 : array_like
        Heat absorbed from the sun, W per m2 of skin.
    clothing_clo : array_like
        Basic insulation of the clothing, clo.
    walk_m_s : array_like
        Walking speed, m/s.

    Returns
    -------
    ndarray
        W/m2; negative where the body cools without any evaporation.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.
    """
    return heat_terms(
        floats(metabolic_w_m2),
        floats(air_c),
        bare_vapour_pressure_kpa(floats(air_c), floats(humidity_pct)),
        floats(air_speed_m_s),
        floats(radiant_w_m2),
        floats(clothing_clo),
        floats(walk_m_s),
    ).required_w_m2


@published()
def max_evaporation_w_m2(
    metabolic_w_m2: ArrayLike,
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    air_speed_m_s: ArrayLike,
    clothing_clo: ArrayLike,
    *,
    walk_m_s: ArrayLike = 0.0,
) -> Floats:
    """Give the most that can evaporate through the clothing.

    Vapour pressure difference over the evaporative resistance, at the clothing's static
    permeability index of 0.38. The sweat equations were fitted with such values; ISO 7933 raises
    the index with motion, to values two to three times beyond the fitted range.

    Parameters
    ----------
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin (it warms the skin).
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.
    air_speed_m_s : array_like
        Speed of the air past the body, m/s.
    clothing_clo : array_like
        Basic insulation of the clothing, clo.
    walk_m_s : array_like
        Walking speed, m/s.

    Returns
    -------
    ndarray
        W/m2; negative where vapour would condense on the skin.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.
    """
    return heat_terms(
        floats(metabolic_w_m2),
        floats(air_c),
        bare_vapour_pressure_kpa(floats(air_c), floats(humidity_pct)),
        floats(air_speed_m_s),
        floats(0.0),
        floats(clothing_clo),
        floats(walk_m_s),
    ).most_w_m2


CRITERIA: Final[dict[str, tuple[float, float, float, float]]] = {
    "minimal": (33.34, -0.0354, 0.06, 0.0),  # cold but bearable
    "neutral": (35.7, -0.0285, 0.0, 0.001),  # neither warm nor cold
}
"""Skin temperature and wettedness, each as constant and slope by metabolic rate in W/m2."""

EXPOSURE_WH_M2: Final = 40.0
AIR_LAYER: Final = (0.092, -0.15, -0.22, -0.0045)
STILL_LAYER_M2K_W: Final = 0.085
AREA_PER_INSULATION: Final = 1.197
RESULTANT: Final = (0.54, -0.15, -0.22, 0.075, -0.06, 0.5)
VAPOUR_RESISTANCE: Final = 0.06 / 0.38
IREQ_EXPIRED: Final = (29.0, 0.2)
IREQ_BREATH_VAPOUR: Final = 1.73e-2
IREQ_BREATH_HEAT: Final = 1.4e-3
ANTOINE: Final = (0.1333, 18.6686, 4030.183, 235.0)
WALK_PER_W_M2: Final = 0.0052
WALK_FROM_W_M2: Final = 58.0
IREQ_MOST_WALK_M_S: Final = 1.2
LEAST_AIR_SPEED_M_S: Final = 0.4
"""Least air speed of the standard; in a still shelter it is on the safe side."""

WINDPROOF_L_M2_S: Final = 8.0
"""Air permeability of a coated or tightly woven outer layer, zipped up [L/m2/s]; restated, 1 to
8."""

AIR_PERMEABILITY_L_M2_S: Final = 50.0
"""Of ordinary clothing, from memory; a windproof outer layer has about 1 to 8."""

MOST_INSULATION_M2K_W: Final = 5.0
BISECTIONS: Final = 40
FIXED_POINT_ROUNDS: Final = 60

HALT_W_M2: Final = 58.15
"""Sitting quietly, 1 met (standard). Asleep it is about 40 to 46 (from memory), below the reach
of the standard; shivering raises it, and is not to be planned with."""

HALT_HUMIDITY_PCT: Final = 60.0  # hardly matters in the cold

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "iso_11079": (
        Limit("air_c", -60, 10, "degrees C", "upper restated; lower from memory"),
        Limit("metabolic_w_m2", 58, 400, "W/m2", "restated"),
        Limit("air_speed_m_s", LEAST_AIR_SPEED_M_S, 18, "m/s", "restated"),
    ),
}
"""How far the standard reaches."""


def _vapour_kpa(celsius: Floats) -> Floats:
    scale, constant, per_kelvin, offset = ANTOINE
    pressure: Floats = scale * np.exp(constant - per_kelvin / (celsius + offset))
    return pressure


@dataclass(frozen=True, slots=True)
class _Cold:
    """What the balance needs, made once: a body that meets one criterion in one weather."""

    skin_c: Floats
    wettedness: Floats
    vapour_gap_kpa: Floats  # skin less air
    kept_w_m2: Floats  # metabolic rate less breathing
    air_layer_m2k_w: Floats
    resultant_share: Floats
    air_c: Floats

    def storage_w_m2(self, insulation: Floats) -> Floats:
        """Give the heat stored (lost if negative) with a resultant insulation."""
        area = 1.0 + AREA_PER_INSULATION * insulation
        evaporated = (
            self.wettedness
            * self.vapour_gap_kpa
            / (VAPOUR_RESISTANCE * (self.air_layer_m2k_w + insulation))
        )
        dry = area * (self.skin_c - self.air_c) / (self.air_layer_m2k_w + area * insulation)
        return self.kept_w_m2 - evaporated - dry


def _cold(
    criterion: str,
    metabolic: Floats,
    air: Floats,
    humidity: Floats,
    air_speed: Floats,
    permeability: ArrayLike = AIR_PERMEABILITY_L_M2_S,
) -> _Cold:
    skin_0, skin_1, wet_0, wet_1 = CRITERIA[criterion]
    skin = skin_0 + skin_1 * metabolic
    ambient = _vapour_kpa(air) * humidity / PERCENT
    expired = IREQ_EXPIRED[0] + IREQ_EXPIRED[1] * air
    breath = metabolic * (
        IREQ_BREATH_VAPOUR * (_vapour_kpa(expired) - ambient) + IREQ_BREATH_HEAT * (expired - air)
    )
    walk = np.clip(WALK_PER_W_M2 * (metabolic - WALK_FROM_W_M2), 0.0, IREQ_MOST_WALK_M_S)
    scale, per_air, per_walk, less = AIR_LAYER
    layer = scale * np.exp(per_air * air_speed + per_walk * walk) + less
    share, per_air, per_walk, power, per_log, constant = RESULTANT
    permeability = floats(permeability)
    resultant = (
        share * np.exp(per_air * air_speed + per_walk * walk) * permeability**power
        + per_log * np.log(permeability)
        + constant
    )
    return _Cold(
        skin_c=skin,
        wettedness=wet_0 + wet_1 * metabolic,
        vapour_gap_kpa=_vapour_kpa(skin) - ambient,
        kept_w_m2=metabolic - breath,
        air_layer_m2k_w=layer,
        resultant_share=resultant,
        air_c=air,
    )


def _balanced(balance: Callable[[Floats], Floats], like: Floats) -> Floats:
    """Find the least insulation that holds the balance, by halving; 0 where none is needed."""
    low, high = np.zeros_like(like), np.full_like(like, MOST_INSULATION_M2K_W)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        too_cold = balance(middle) < 0
        low, high = np.where(too_cold, middle, low), np.where(too_cold, high, middle)
    return np.where(balance(np.zeros_like(like)) >= 0, 0.0, high)


def _basic(cold: _Cold, resultant: Floats) -> Floats:
    area = 1.0 + AREA_PER_INSULATION * resultant
    total = (resultant + cold.air_layer_m2k_w / area) / cold.resultant_share
    return np.where(resultant > 0, np.maximum(total - STILL_LAYER_M2K_W / area, 0.0), 0.0)


def _resultant(cold: _Cold, basic: Floats) -> Floats:
    resultant = basic
    for _ in range(FIXED_POINT_ROUNDS):
        area = 1.0 + AREA_PER_INSULATION * resultant
        total = (basic + STILL_LAYER_M2K_W / area) * cold.resultant_share
        resultant = np.maximum(total - cold.air_layer_m2k_w / area, 0.0)
    return resultant


def _required_clo(cold: _Cold, *, basic: bool) -> Floats:
    like = cold.kept_w_m2 + cold.air_layer_m2k_w
    resultant = _balanced(cold.storage_w_m2, like)
    insulation = _basic(cold, resultant) if basic else resultant
    missing = np.isnan(cold.storage_w_m2(like))
    return np.where(missing, np.nan, insulation / M2K_W_PER_CLO)


def _exposure_h(cold: _Cold, clothing_clo: Floats) -> Floats:
    stored = cold.storage_w_m2(_resultant(cold, clothing_clo * M2K_W_PER_CLO))
    lost = np.maximum(-stored, 0.0)
    with np.errstate(divide="ignore"):  # nothing lost: no limit
        return EXPOSURE_WH_M2 / lost


@published(LIMITS["iso_11079"])
def required_clo(
    metabolic_w_m2: ArrayLike,
    air_c: ArrayLike,
    air_speed_m_s: ArrayLike,
    *,
    humidity_pct: ArrayLike = HALT_HUMIDITY_PCT,
    criterion: str = "minimal",
    basic: bool = True,
) -> Floats:
    """Give the clothing insulation that holds the heat balance in the cold.

    ISO 11079:2007 in spirit (restated); the module says which parts.

    Parameters
    ----------
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin.
    air_c : array_like
        Air temperature, degrees C; the surroundings are taken to be as warm.
    air_speed_m_s : array_like
        Speed of the air past the body, m/s.
    humidity_pct : array_like
        Relative humidity, %.
    criterion : str
        "minimal" (cold but bearable) or "neutral".
    basic : bool
        True for the basic insulation of the clothing as tables of garments give it, False for
        the resultant one that must be left in wind and motion (IREQ).

    Returns
    -------
    ndarray
        clo; 0 where none is needed.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(required_clo(150, 0, 1.2)), 1)
    1.3
    """
    cold = _cold(
        one_of("criterion", criterion, CRITERIA),
        floats(metabolic_w_m2),
        floats(air_c),
        floats(humidity_pct),
        floats(air_speed_m_s),
    )
    return _required_clo(cold, basic=basic)


@published(LIMITS["iso_11079"])
def exposure_limit_h(
    metabolic_w_m2: ArrayLike,
    air_c: ArrayLike,
    air_speed_m_s: ArrayLike,
    clothing_clo: ArrayLike,
    *,
    humidity_pct: ArrayLike = HALT_HUMIDITY_PCT,
    criterion: str = "minimal",
) -> Floats:
    """Give the time until a body has lost 40 Wh/m2 of heat in the cold.

    ISO 11079:2007 in spirit (restated): the duration-limited exposure.

    Parameters
    ----------
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin.
    air_c : array_like
        Air temperature, degrees C.
    air_speed_m_s : array_like
        Speed of the air past the body, m/s.
    clothing_clo : array_like
        Basic insulation worn, clo.
    humidity_pct : array_like
        Relative humidity, %.
    criterion : str
        "minimal" or "neutral".

    Returns
    -------
    ndarray
        Hours; infinite where no heat is lost.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> bool(exposure_limit_h(58.15, 2, 0.4, 0.9) < 2)
    True
    """
    cold = _cold(
        one_of("criterion", criterion, CRITERIA),
        floats(metabolic_w_m2),
        floats(air_c),
        floats(humidity_pct),
        floats(air_speed_m_s),
    )
    return _exposure_h(cold, floats(clothing_clo))


@dataclass(frozen=True, slots=True)
class HaltWarmth:
    """Whether a halt is warm enough.

    Attributes
    ----------
    required_minimal_clo, required_neutral_clo : ndarray
        Basic insulation to be cold but bearable, and to be comfortable, clo.
    available_clo : ndarray
        What is worn and carried, clo.
    short_clo : ndarray
        What is missing to bearable, clo; 0 if nothing.
    exposure_limit_h : ndarray
        Time until 40 Wh/m2 are lost, h; infinite if the balance holds.
    enough : ndarray of bool
        True where the halt ends before that time.
    hangs_on_bag : ndarray of bool
        True where it is enough only with what the bag carries: if its insulation is an
        assumption (`simulator.body.assumed.ASSUMED_CLO`), so is the answer.
    in_range : ndarray of bool
        True within the limits of ISO 11079; above 10 degrees C the same balance is used without
        its backing.
    """

    required_minimal_clo: Floats
    required_neutral_clo: Floats
    available_clo: Floats
    short_clo: Floats
    exposure_limit_h: Floats
    enough: Flags
    hangs_on_bag: Flags
    in_range: Flags


def halt_warmth(
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    worn_clo: ArrayLike,
    bag_clo: ArrayLike,
    hours: ArrayLike,
    *,
    metabolic_w_m2: ArrayLike = HALT_W_M2,
    humidity_pct: ArrayLike = HALT_HUMIDITY_PCT,
    permeability_l_m2_s: ArrayLike = AIR_PERMEABILITY_L_M2_S,
) -> HaltWarmth:
    """Compare the warmth a halt needs with what is worn and carried.

    Stopping halves the heat the body makes and doubles the clothing it needs.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    wind_m_s : array_like
        Wind at 10 m, m/s; less where there is shelter (`simulator.body.assumed`; indoors 0).
    worn_clo, bag_clo : array_like
        Insulation worn and insulation carried, clo; they are added, as garments are.
    hours : array_like
        Length of the halt, h.
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin.
    humidity_pct : array_like
        Relative humidity, %.
    permeability_l_m2_s : array_like
        Air permeability of the outer layer: `AIR_PERMEABILITY_L_M2_S` of ordinary clothes,
        `WINDPROOF_L_M2_S` of a windproof one.

    Returns
    -------
    HaltWarmth
        Arrays of the broadcast shape.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    A night of ten hours at 2 degrees C in street clothes, with a blanket, in a light wind:

    >>> night = halt_warmth(2, 1.0, 0.9, 1.0, 10)
    >>> bool(night.enough), bool(night.short_clo > 1)
    (False, True)
    """
    metabolic, air = possible("metabolic_w_m2", metabolic_w_m2), possible("air_c", air_c)
    humid = possible("humidity_pct", humidity_pct)
    wind = np.maximum(BODY_WIND_SHARE * possible("wind_m_s", wind_m_s), LEAST_AIR_SPEED_M_S)
    worn, length = possible("worn_clo", worn_clo), possible("hours", hours)
    available = worn + possible("bag_clo", bag_clo)
    tight = floats(permeability_l_m2_s)
    minimal = _cold("minimal", metabolic, air, humid, wind, tight)
    need = _required_clo(minimal, basic=True)
    neutral = _required_clo(_cold("neutral", metabolic, air, humid, wind, tight), basic=True)
    limit = _exposure_h(minimal, available)
    enough = limit >= length
    return HaltWarmth(
        required_minimal_clo=need[()],
        required_neutral_clo=neutral[()],
        available_clo=available[()],
        short_clo=np.maximum(need - available, 0.0)[()],
        exposure_limit_h=limit[()],
        enough=enough,
        hangs_on_bag=enough & (_exposure_h(minimal, worn) < length),
        in_range=inside(
            LIMITS["iso_11079"],
            {"metabolic_w_m2": metabolic, "air_c": air, "air_speed_m_s": wind},
        ),
    )
