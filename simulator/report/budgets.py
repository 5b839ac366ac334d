"""The four budgets of an hour as short text and bars: water, food, lamp light, warmth."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.report.subject import Walk
from simulator.units import ML_PER_L, Units, number

FloatArray = NDArray[np.float64]

EMPTY_ML = 25.0
"""Less water than this, hardly a mouthful, is called none."""

LEAST_ML, LEAST_KCAL, LEAST_H, LEAST_CLO = 1.0, 5.0, 1.0 / 60.0, 0.05
"""Shortages below this are not told."""

LACK = "\N{MINUS SIGN}"
"""Stands before an amount that is short."""

BLANK = "\N{EN DASH}"
"""Stands where no model says anything."""

ROUGHLY = "\N{ALMOST EQUAL TO}"


@dataclass(frozen=True, slots=True)
class Budget:
    """One budget in one hour, ready to print.

    Attributes
    ----------
    left, short : str
        What is left and what is short, without units; ``short`` is empty when nothing is.
    left_share, short_share : float
        Lengths of the full and of the hatched part of the bar, together at most 1.
    alarm : bool
        Whether what is short is printed loudly; food is not, for a body has its own store.
    asked : bool
        False where no model says anything: no bar.
    """

    left: str
    short: str
    left_share: float
    short_share: float
    alarm: bool = True
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Budgets:
    """The four budgets in one hour.

    Attributes
    ----------
    water, food, light, warmth : Budget
        Water and food left in the bag and short so far, lamp hours left and short so far, and the
        clothes against what the hour asks of them.
    """

    water: Budget
    food: Budget
    light: Budget
    warmth: Budget


def budget_rows(walk: Walk, units: Units) -> tuple[Budgets, ...]:
    """Write the budgets of every hour.

    Parameters
    ----------
    walk : Walk
        The walk.
    units : Units
        Units to print in.

    Returns
    -------
    tuple of Budgets
        One an hour.
    """
    table, told = walk.hours, walk.summary
    unit_ml, decimals = units.cup_ml, units.cup_digits
    water = _course(
        _column(table, "water_left_ml") / unit_ml,
        _column(table, "water_short_ml") / unit_ml,
        packed=number(told["water"]["carried_l"]) * ML_PER_L / unit_ml,
        empty=EMPTY_ML / unit_ml,
        least=LEAST_ML / unit_ml,
        decimals=decimals,
    )
    food = _course(
        _column(table, "food_left_kcal"),
        _column(table, "energy_short_kcal"),
        packed=number(told["food"]["carried_kcal"]),
        empty=LEAST_KCAL,
        least=LEAST_KCAL,
        decimals=-1,
        alarm=False,
    )
    light = _course(
        _column(table, "light_left_h"),
        _column(table, "light_short_h"),
        packed=number(told["light"]["carried_h"]),
        empty=LEAST_H,
        least=LEAST_H,
        decimals=1,
    )
    return tuple(map(Budgets, water, food, light, _warmth(table)))


def _column(table: pd.DataFrame, name: str) -> FloatArray:
    return table[name].to_numpy(np.float64)


def _course(
    left: FloatArray,
    short: FloatArray,
    *,
    packed: float,
    empty: float,
    least: float,
    decimals: int,
    alarm: bool = True,
) -> list[Budget]:
    """Write one budget hour by hour; a full bar is what was packed, or the most there is of it."""
    lacks = np.where(short >= least, short, 0.0)
    full = float(np.nanmax(np.append(left + lacks, [packed, least])))

    def said(amount: float) -> str:
        return f"{round(amount, decimals):.{max(decimals, 0)}f}"

    rows = []
    for have, lack in zip(left.tolist(), lacks.tolist(), strict=True):
        some = max(lack, 0.6 * 10.0**-decimals)  # what is short is never told as zero
        rows.append(
            Budget(
                left=said(have) if have >= empty else "0",
                short=f"{LACK}{said(some)}" if lack > 0.0 else "",
                left_share=_share(have, full),
                short_share=_share(lack, full),
                alarm=alarm,
            )
        )
    return rows


def _warmth(table: pd.DataFrame) -> list[Budget]:
    """Write the clothes against what the hour asks; a full bar is what it asks."""
    rows = []
    for row in table[
        ["warmth_have_clo", "warmth_need_clo", "warmth_short_clo", "warmth_basis"]
    ].to_dict("records"):
        have, need = number(row["warmth_have_clo"]), number(row["warmth_need_clo"])
        if not math.isfinite(need):
            rows.append(Budget(BLANK, "", 0.0, 0.0, asked=False))
            continue
        short = number(row["warmth_short_clo"])
        told = f"{have:.1f}/{need:.1f}"
        if "outside" in str(row["warmth_basis"]):
            told = f"{ROUGHLY}{told}"
        lacks = short >= LEAST_CLO
        covered = 1.0 if need <= have else _share(have, need)
        rows.append(
            Budget(
                left="" if lacks else told,
                short=told if lacks else "",
                left_share=covered,
                short_share=round(1.0 - covered, 3) if lacks else 0.0,
            )
        )
    return rows


def _share(value: float, most: float) -> float:
    if not (math.isfinite(value) and most > 0.0):
        return 0.0
    return round(min(max(value / most, 0.0), 1.0), 3)
