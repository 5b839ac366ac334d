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

from simulator.body.heat import BODY_WIND_SHARE, M2K_W_PER_CLO
from simulator.body.limits import (
    PERCENT,
    Flags,
    Floats,
    Limit,
    floats,
    inside,
    one_of,
    possible,
    published,
)

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
EXPIRED: Final = (29.0, 0.2)
BREATH_VAPOUR: Final = 1.73e-2
BREATH_HEAT: Final = 1.4e-3
ANTOINE: Final = (0.1333, 18.6686, 4030.183, 235.0)
WALK_PER_W_M2: Final = 0.0052
WALK_FROM_W_M2: Final = 58.0
MOST_WALK_M_S: Final = 1.2
LEAST_AIR_SPEED_M_S: Final = 0.4
"""Least air speed of the standard; in a still shelter it is on the safe side."""

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
    criterion: str, metabolic: Floats, air: Floats, humidity: Floats, air_speed: Floats
) -> _Cold:
    skin_0, skin_1, wet_0, wet_1 = CRITERIA[criterion]
    skin = skin_0 + skin_1 * metabolic
    ambient = _vapour_kpa(air) * humidity / PERCENT
    expired = EXPIRED[0] + EXPIRED[1] * air
    breath = metabolic * (
        BREATH_VAPOUR * (_vapour_kpa(expired) - ambient) + BREATH_HEAT * (expired - air)
    )
    walk = np.clip(WALK_PER_W_M2 * (metabolic - WALK_FROM_W_M2), 0.0, MOST_WALK_M_S)
    scale, per_air, per_walk, less = AIR_LAYER
    layer = scale * np.exp(per_air * air_speed + per_walk * walk) + less
    share, per_air, per_walk, power, per_log, constant = RESULTANT
    permeability = AIR_PERMEABILITY_L_M2_S
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
    minimal = _cold("minimal", metabolic, air, humid, wind)
    need = _required_clo(minimal, basic=True)
    neutral = _required_clo(_cold("neutral", metabolic, air, humid, wind), basic=True)
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
