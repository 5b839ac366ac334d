"""The door for a closed area drawn as GeoJSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry import shape
from shapely.validation import explain_validity

from simulator.errors import InputError


def read_area(path: Path) -> Polygon | MultiPolygon:
    """Read a closed area from a GeoJSON file (RFC 7946): longitude first.

    Parameters
    ----------
    path : Path
        A Polygon or MultiPolygon, a Feature with one, or a FeatureCollection of them.

    Returns
    -------
    Polygon or MultiPolygon
        All of them together; lon, lat [degrees].

    Raises
    ------
    InputError
        The file cannot be read, holds no area, crosses itself, or has impossible coordinates.
    """
    where = path.name
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(where, f"the file cannot be read ({error.strerror})") from error
    except ValueError as error:
        raise InputError(where, f"this is not GeoJSON ({error})") from error
    areas = []
    for geometry in _geometries(content, where):
        kind = geometry.get("type")
        if kind not in {"Polygon", "MultiPolygon"}:
            raise InputError(where, f"a closed area must be a Polygon or MultiPolygon, not {kind}")
        try:
            area = shape(geometry)
        except (ValueError, TypeError, KeyError, IndexError, AttributeError) as error:
            raise InputError(where, "a ring has coordinates that cannot be read") from error
        if not isinstance(area, (Polygon, MultiPolygon)) or area.is_empty:
            raise InputError(where, "the closed area is empty; draw at least one polygon")
        _refuse_impossible(area, where)
        if not area.is_valid:
            reason = explain_validity(area)
            raise InputError(where, f"the closed area is not a clean polygon: {reason}")
        areas.append(area)
    if not areas:
        raise InputError(where, "the closed area is empty; draw at least one polygon")
    joined = shapely.union_all(areas)
    if not isinstance(joined, (Polygon, MultiPolygon)) or joined.area == 0.0:
        raise InputError(where, "the closed area has no surface; draw at least one polygon")
    return joined


def _geometries(content: Any, where: str) -> list[dict[str, Any]]:  # noqa: ANN401
    """Unwrap features down to their geometries."""
    if not isinstance(content, dict) or "type" not in content:
        raise InputError(where, 'this is not GeoJSON: an object with a "type" is needed')
    if content["type"] == "FeatureCollection":
        features = content.get("features") or []
        return [found for feature in features for found in _geometries(feature, where)]
    if content["type"] == "Feature":
        geometry = content.get("geometry")
        return [] if geometry is None else _geometries(geometry, where)
    return [content]


def _refuse_impossible(area: Polygon | MultiPolygon, where: str) -> None:
    """Refuse coordinates that lie on no map, with a hint if they are the wrong way round."""
    west, south, east, north = area.bounds
    if not np.isfinite([west, south, east, north]).all():
        raise InputError(where, "the closed area has coordinates that are not numbers")
    if max(abs(south), abs(north)) <= 90 and max(abs(west), abs(east)) <= 180:  # noqa: PLR2004
        return
    swapped = max(abs(west), abs(east)) <= 90 and max(abs(south), abs(north)) <= 180  # noqa: PLR2004
    hint = (
        "latitude and longitude seem swapped; GeoJSON writes longitude first"
        if swapped
        else "GeoJSON takes degrees, longitude first"
    )
    raise InputError(where, f"latitude {south:g} to {north:g} is outside -90 to 90 degrees: {hint}")
