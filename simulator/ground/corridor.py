"""The ground that a walk may need: around start, vias and home, with room for detours.

For two places and a longest way between them, every way no longer than that lies inside an ellipse
with the places as foci. The corridor is the union of the ellipses of the legs. Nothing else is
fetched or kept, and nothing inside is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the earth [m]; IUGG mean radius R1 of WGS84."""

METRES_PER_DEGREE = 110_500.0
"""One degree of latitude, rounded down, for boxes that must not be too small [m] (WGS84: 110.6 to
111.7 km)."""

CELLS_PER_DEGREE = 10
"""Cells are a tenth of a degree: about 11 km by 8 km at 45 degrees of latitude."""

SAMPLES_A_SIDE = 9
"""Points along each side of a cell at which it is compared with the corridor."""

Cell = tuple[int, int]
"""Row and column: south-west corner of a cell in tenths of a degree, latitude first."""

Box = tuple[float, float, float, float]
"""West, south, east, north [degrees]; east may pass 180 where the box crosses the date line."""


@dataclass(frozen=True, slots=True)
class Corridor:
    """Everywhere that a way of bounded length may lead.

    Attributes
    ----------
    places : tuple of (float, float)
        Latitude and longitude of start, vias and home, in walking order [degrees].
    longest_way : float
        Length of the longest way of each leg, over its straight line.
    margin_m : float
        Least room around every place [m]; also decides where a leg is short.
    """

    places: tuple[tuple[float, float], ...]
    longest_way: float
    margin_m: float

    def legs(self) -> list[tuple[tuple[float, float], tuple[float, float], float]]:
        """Give each leg with the length that bounds its ways.

        Returns
        -------
        list of (place, place, float)
            Ends (latitude, longitude) and longest way [m].
        """
        found = []
        for a, b in pairwise(self.places):
            straight_m = float(sphere_m(a[0], a[1], np.array([b[0]]), np.array([b[1]]))[0])
            found.append((a, b, max(self.longest_way * straight_m, straight_m + 2 * self.margin_m)))
        return found

    def contains(self, lon: Floats, lat: Floats, *, slack_m: float = 0.0) -> Flags:
        """Tell which points lie inside."""
        inside = np.zeros(lon.shape, bool)
        for a, b, longest_m in self.legs():
            there = sphere_m(a[0], a[1], lat, lon) + sphere_m(b[0], b[1], lat, lon)
            inside |= there <= longest_m + slack_m
        return inside

    def boxes(self) -> list[Box]:
        """Give a box around each leg."""
        found = []
        for a, b, longest_m in self.legs():
            east_of_a = (b[1] - a[1] + 180.0) % 360.0 - 180.0
            middle_lat, middle_lon = (a[0] + b[0]) / 2, a[1] + east_of_a / 2
            # Half the longest way reaches from the middle to the far ends of the ellipse.
            up = longest_m / 2 / METRES_PER_DEGREE
            south, north = max(middle_lat - up, -90.0), min(middle_lat + up, 90.0)
            shrink = np.cos(np.radians(max(abs(south), abs(north))))
            across = 180.0 if up >= 180.0 * shrink else up / float(shrink)
            found.append((middle_lon - across, south, middle_lon + across, north))
        return found

    def cells(self) -> tuple[Cell, ...]:
        """List the cells of a fixed grid that the corridor touches.

        Returns
        -------
        tuple of Cell
            Sorted; the same cells serve every plan of the neighbourhood.
        """
        share = np.linspace(0.0, 1.0, SAMPLES_A_SIDE)
        along, up = (grid.ravel() for grid in np.meshgrid(share, share))
        # A point of the cell lies at most this far from a sample, and each counts twice.
        slack_m = METRES_PER_DEGREE * 1.02 / CELLS_PER_DEGREE / (SAMPLES_A_SIDE - 1) * 2**0.5
        found: set[Cell] = set()
        for west, south, east, north in self.boxes():
            rows = range(_floor(south), _floor(north) + 1)
            columns = range(_floor(west), _floor(east) + 1)
            for row in rows:
                for column in columns:
                    lat = (row + up) / CELLS_PER_DEGREE
                    lon = (column + along) / CELLS_PER_DEGREE
                    if self.contains(lon, lat, slack_m=slack_m).any():
                        found.add((row, _wrapped(column)))
        return tuple(sorted(found))


def sphere_m(lat: float, lon: float, lats: Floats, lons: Floats) -> Floats:
    """Give great-circle distances on a sphere."""
    here, there = np.radians(lat), np.radians(lats)
    half = (
        np.sin((there - here) / 2) ** 2
        + np.cos(here) * np.cos(there) * np.sin(np.radians(lons - lon) / 2) ** 2
    )
    return np.asarray(2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


def box_of(cell: Cell) -> Box:
    """Give the box of a cell.

    Parameters
    ----------
    cell : Cell
        Row and column.

    Returns
    -------
    Box
        West, south, east, north [degrees].
    """
    row, column = cell
    west, south = column / CELLS_PER_DEGREE, row / CELLS_PER_DEGREE
    return west, south, (column + 1) / CELLS_PER_DEGREE, (row + 1) / CELLS_PER_DEGREE


def hull_of(cells: Sequence[Cell]) -> Box:
    """Give the box around cells.

    Parameters
    ----------
    cells : sequence of Cell
        At least one.

    Returns
    -------
    Box
        Its east may pass 180 degrees: cells on both sides of the date line are taken together.
    """
    columns = sorted({column for _, column in cells})
    turn = 360 * CELLS_PER_DEGREE
    # The widest gap between columns, around the earth, is what the box leaves out.
    gaps = [b - a for a, b in zip(columns, [*columns[1:], columns[0] + turn], strict=True)]
    widest = max(range(len(gaps)), key=gaps.__getitem__)
    first = columns[(widest + 1) % len(columns)]
    last = columns[widest] + (turn if columns[widest] < first else 0)
    rows = [row for row, _ in cells]
    west, east = first / CELLS_PER_DEGREE, (last + 1) / CELLS_PER_DEGREE
    return west, min(rows) / CELLS_PER_DEGREE, east, (max(rows) + 1) / CELLS_PER_DEGREE


def _floor(degrees: float) -> int:
    return int(np.floor(degrees * CELLS_PER_DEGREE))


def _wrapped(column: int) -> int:
    half = 180 * CELLS_PER_DEGREE
    return (column + half) % (2 * half) - half
