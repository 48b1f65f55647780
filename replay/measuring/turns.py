"""The pass in threads of this process, which take turns at the jobs.

What a job costs is known when it is done: noise, and timecode above all, cost several times what music does. So that
no thread is left with a dear job while the others have nothing to do, several jobs are under way at once, and a thread
that has measured SLICE_HOPS of one goes on with the one that has the most before it.
"""

from __future__ import annotations

import contextlib
import heapq
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

from replay.measuring.job import SLICE_HOPS, Job, Measured, Running

UNDER_WAY = 8
"""Jobs under way at once, or one a thread: each holds some megabytes of blocks and histories, and open files."""


def in_turns(work: Sequence[Job], workers: int, tick: Callable[[int], None]) -> list[Measured]:
    """All jobs to their end, in their order; where one fails, the others are given up and its error is raised.

    `tick` gets the frames of every slice, from one thread at a time.
    """
    return _Turns(work, workers, tick).run()


class _Turns:
    def __init__(self, work: Sequence[Job], workers: int, tick: Callable[[int], None]) -> None:
        self._waiting = list(enumerate(work))[::-1]
        self._workers = workers
        self._tick = tick
        self._lock = threading.Lock()
        # (hops before the end, negative; number; job)
        self._resting: list[tuple[int, int, Running]] = []
        # As many in the last round as in the others: a job alone at the end would keep one thread only.
        most = max(UNDER_WAY, workers)
        rounds = max(1, -(-len(work) // most))
        self._room = -(-len(work) // rounds)
        self._stopped = False
        self._done: list[list[Measured]] = [[] for _ in work]

    def run(self) -> list[Measured]:
        try:
            with ThreadPoolExecutor(max_workers=self._workers) as pool:
                futures = [pool.submit(self._work) for _ in range(self._workers)]
                try:
                    for future in futures:
                        future.result()
                except BaseException:
                    # Interrupted, or a job failed: the other threads end at their next turn.
                    self._stopped = True
                    raise
        finally:
            for _, _, running in self._resting:
                running.close()
        return [one for results in self._done for one in results]

    def _work(self) -> None:
        """What each thread does."""
        try:
            while (turn := self._next()) is not None:
                self._slice(*turn)
        except BaseException:
            self._stopped = True
            raise

    def _next(self) -> tuple[int, Running] | None:
        """A job to go on with; None where the other threads have all that is left."""
        with self._lock:
            if self._stopped:
                return None
            if self._waiting and self._room > 0:
                number, job = self._waiting.pop()
                running = Running(job)
                self._room -= 1
                return number, running
            if not self._resting:
                return None
            _, number, running = heapq.heappop(self._resting)
            return number, running

    def _slice(self, number: int, running: Running) -> None:
        """Measure a little of a job and put it back, or end it."""
        with contextlib.ExitStack() as cleanup:
            cleanup.callback(running.close)
            frames = running.step(SLICE_HOPS)
            if running.whole:
                self._done[number] = running.results()
            with self._lock:
                self._tick(frames)
                if running.whole:
                    self._room += 1
                else:
                    heapq.heappush(self._resting, (running.hop - running.last, number, running))
                    cleanup.pop_all()
