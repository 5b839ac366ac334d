"""What the moon does for a walk in the dark: words only, for cloud, trees and walls take its light.

A lamp is needed all the same; no number of the walk rests on the moon.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.sky.moon import moon_light

if TYPE_CHECKING:
    import pandas as pd

    from simulator.questions.scene import Scene

BRIGHT_SHARE = 0.5
"""Lit share of the disc from which the moon is worth a word; an assumption."""


def moon_over(scene: Scene, segments: pd.DataFrame) -> dict[str, Any] | None:
    """Tell how the moon stands while it is dark on the way.

    Parameters
    ----------
    scene : Scene
        Where and when.
    segments : pandas.DataFrame
        The step table.

    Returns
    -------
    dict or None
        ``illuminated_pct``, ``up_h`` and ``dark_h`` of the time on foot, ``clear_sky_lux`` at its
        best, and ``words``; None when nothing of the way is dark.
    """
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
    return {
        "illuminated_pct": pct,
        "up_h": up_h,
        "dark_h": dark_h,
        "clear_sky_lux": float(moon.clear_sky_lux.max()),
        "words": _words(pct, up_h, dark_h),
    }


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


def moon_sentence(moon: dict[str, Any] | None) -> list[str]:
    """Give the moon's words for a list of assumptions.

    Parameters
    ----------
    moon : dict or None
        From ``moon_over``.

    Returns
    -------
    list of str
        One text or none; it says that no number rests on the moon.
    """
    if moon is None:
        return []
    return [f"Moon: {moon['words']} No number here counts on its light."]
