"""Work that leaves Python's lock most of the time, done in threads."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

One = TypeVar("One")
Result = TypeVar("Result")


def in_threads(work: Callable[[One], Result], things: Iterable[One]) -> Iterator[Result]:
    """`work` of every one of some things, in their order, in a thread a processor; `things` are asked for here, a few
    ahead. It is worth it only where `work` consists of long calls of compiled code or of numpy: threads that take turns
    at short ones cost more than they save.

    >>> list(in_threads(lambda number: number * number, range(20))) == [number * number for number in range(20)]
    True
    """
    processors = os.cpu_count() or 1
    if processors == 1:
        yield from map(work, things)
        return
    waiting: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(processors) as threads:
        for thing in things:
            waiting.append(threads.submit(work, thing))
            if len(waiting) > 2 * processors:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
