"""Models over very long arrays, piece by piece, in little memory."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import Floats

SCRATCH_BLOCK: Final = 2_000_000  # doubles; 16 MB, below the 32 MB the allocator learns up to


def _keep_scratch_memory() -> None:
    """Let the allocator learn, from one freed block, to keep scratch arrays instead of paging.

    The GNU allocator gives freed memory back to the system until it has seen a larger block freed;
    asking for it again then costs more than the arithmetic (three to four times here).
    """
    np.empty(SCRATCH_BLOCK).fill(0.0)


def in_chunks(
    function: Callable[..., Floats],
    *arrays: ArrayLike,
    chunk: int = 65_536,
    workers: int = 1,
    **options: object,
) -> Floats:
    """Apply a function to long arrays piece by piece, so that its working memory stays small.

    Besides the result nothing grows with the input: scratch arrays have the length of one chunk
    and stay in the processor's cache, which is faster too.

    Parameters
    ----------
    function : callable
        Any function of this room that gives one array.
    *arrays : array_like
        Its positional arguments; one-dimensional arrays of one length, or scalars.
    chunk : int
        Elements at a time.
    workers : int
        Threads that take pieces; the result is the same to the bit, whoever takes which.
    **options : object
        Keyword arguments, passed on as they are.

    Returns
    -------
    ndarray
        As ``function(*arrays, **options)``.

    Raises
    ------
    ValueError
        If the arrays differ in length or have more than one dimension.
    """
    columns = [np.asarray(array) for array in arrays]
    lengths = {column.size for column in columns if column.ndim}
    if len(lengths) != 1 or any(column.ndim > 1 for column in columns):
        shapes = ", ".join(str(column.shape) for column in columns)
        msg = f"shapes {shapes} cannot be cut; allowed: one length, one dimension, or scalars"
        raise ValueError(msg)
    (length,) = lengths
    _keep_scratch_memory()
    result = np.empty(length)

    def work(start: int) -> None:
        piece = slice(start, start + chunk)
        parts = (column[piece] if column.ndim else column for column in columns)
        result[piece] = function(*parts, **options)

    starts = range(0, length, chunk)
    if workers == 1:
        for start in starts:
            work(start)
    else:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, starts))  # the list brings up what went wrong in a thread
    return result
