"""What every room says of arrays, and models over very long ones, piece by piece."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
"""A float64 array; a scalar call gives a ``numpy.float64``, which behaves alike."""

Flags: TypeAlias = NDArray[np.bool_]
"""A boolean array; a scalar call gives a ``numpy.bool``."""

Position: TypeAlias = tuple[int, float]
"""A segment of the streets, and the share of it from its tail (0 to 1)."""

SCRATCH_BLOCK: Final = 2_000_000  # doubles; 16 MB, below the 32 MB the allocator learns up to


def _keep_scratch_memory() -> None:
    """Let the allocator learn, from one freed block, to keep scratch arrays instead of paging."""
    np.empty(SCRATCH_BLOCK).fill(0.0)


def in_chunks(
    function: Callable[..., Floats],
    *arrays: ArrayLike,
    chunk: int = 65_536,
    workers: int = 1,
    **options: object,
) -> Floats:
    """Apply a function to long arrays piece by piece, so that its working memory stays small."""
    columns = [np.asarray(array) for array in arrays]
    try:
        shape = np.broadcast_shapes(*(column.shape for column in columns))
    except ValueError:
        shape = ()
    if not shape:
        shapes = ", ".join(str(column.shape) for column in columns)
        msg = f"shapes {shapes} cannot be cut; allowed: one length, or shapes that broadcast to one"
        raise ValueError(msg)
    _keep_scratch_memory()
    result = np.empty(shape)
    rows = max(1, chunk // max(1, math.prod(shape[1:])))

    def work(start: int) -> None:
        piece = slice(start, start + rows)
        parts = (
            column[piece] if column.ndim == len(shape) and len(column) > 1 else column
            for column in columns
        )
        result[piece] = function(*parts, **options)

    starts = range(0, shape[0], rows)
    if workers == 1:
        for start in starts:
            work(start)
    else:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, starts))  # the list brings up what went wrong in a thread
    return result
