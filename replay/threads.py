"""Pieces of work done side by side in threads, and handed over in order.

Numpy and the kernels let go of Python's lock while they compute, so that threads share the processors; what comes out
does not depend on how many there are.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

Piece = TypeVar("Piece")
Result = TypeVar("Result")

AHEAD = 2
"""So many pieces a thread wait at most: memory stays that of a few pieces, however many there are."""


def side_by_side(work: Callable[[Piece], Result], pieces: Iterable[Piece]) -> Iterator[Result]:
    """`map(work, pieces)`, in a thread a processor; `pieces` is read in the caller's own thread.

    >>> list(side_by_side(lambda number: number * number, range(5)))
    [0, 1, 4, 9, 16]
    """
    workers = os.cpu_count() or 1
    if workers == 1:
        yield from map(work, pieces)
        return
    from concurrent.futures import Future, ThreadPoolExecutor

    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[Result]] = deque()
        try:
            for piece in pieces:
                waiting.append(pool.submit(work, piece))
                if len(waiting) > AHEAD * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
