"""Work on a large grid a few stations at a time, on all cores.

NumPy streams every temporary through memory: on 1.6 million points a chain of ten operations is
bound by that, not by arithmetic. A block that fits the cache runs two to three times faster, and
NumPy lets go of the interpreter lock, so blocks run side by side.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

__all__ = ["over_blocks"]

_CORES = os.cpu_count() or 1
_POOL = ThreadPoolExecutor(max_workers=_CORES, thread_name_prefix="geometry")


def over_blocks(
    work: Callable[[slice], None], stations: slice, width: int, *, points: int = 1 << 16
) -> None:
    """Call `work` on consecutive slices of `stations`.

    Parameters
    ----------
    work : callable
        Takes a slice of stations and writes its part of the result; parts must not depend on one
        another. Must not call `over_blocks` itself.
    stations : slice
        All stations to work on; start and stop are whole numbers.
    width : int
        Points in one station.
    points : int
        About how many points one block holds.
    """
    total = stations.stop - stations.start
    # Whole rounds of equal blocks, so that no core waits for the last block of another.
    rounds = -(-total * width // (points * _CORES))
    blocks = min(total, rounds * _CORES)
    edges = [stations.start + total * number // max(1, blocks) for number in range(blocks + 1)]
    parts = [slice(first, last) for first, last in pairwise(edges)]
    for _ in _POOL.map(work, parts):
        pass
