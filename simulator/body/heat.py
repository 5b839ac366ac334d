"""The heat balance of a clothed walker: what must evaporate, and what can.

Steady form of the balance of ISO 7933 (predicted heat strain): dry exchange through clothing whose
insulation falls with wind and walking, respiration, and evaporation through the clothing. The
coefficients are restated in a general-purpose comfort library's form of the standard; the
standard was not read. The skin is at the standard's own equilibrium temperature, so no inner
loop is needed.

Air speed here is the speed of the air past the body, not the wind of a weather report
(`body_air_speed_m_s` makes one of the other).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import PERCENT, Floats, floats, published, unchecked

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
