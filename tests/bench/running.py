"""Commands run and their cost taken: processor time and memory as the system counts them for finished children."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.bench.figures import Cost, middle

ROOT = Path(__file__).resolve().parents[2]
MAXRSS_UNIT = 1 if sys.platform == "darwin" else 1024

REPEATED_UNDER_S = 15.0
RUNS = 3
"""Whatever takes less than this is run three times and the middle one shown; the long runs even themselves out."""


class FailedError(Exception):
    """A command ended with a status that it should not have."""


class _Children:
    """The processes that are running, so that all can be ended together."""

    def __init__(self, environment: dict[str, str], statuses: Sequence[int]) -> None:
        self.environment, self.statuses = environment, statuses
        self._lock = threading.Lock()
        self._running: list[subprocess.Popen] = []
        self._stopped = False

    def run(self, command: Sequence[str]) -> tuple[float, int] | None:
        """Seconds of processor time and bytes at most; None after `stop`."""
        with tempfile.TemporaryFile() as said:
            with self._lock:
                if self._stopped:
                    return None
                process = subprocess.Popen(
                    command,
                    cwd=ROOT,
                    env=self.environment,
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=said,
                )
                self._running.append(process)
            _, status, usage = os.wait4(process.pid, 0)
            with self._lock:
                process.returncode = os.waitstatus_to_exitcode(status)
                self._running.remove(process)
            if process.returncode not in self.statuses:
                said.seek(0)
                tail = said.read().decode(errors="replace")[-2000:]
                raise FailedError(f"{' '.join(command)[:300]} ended with {process.returncode}:\n{tail}")
        return usage.ru_utime + usage.ru_stime, usage.ru_maxrss * MAXRSS_UNIT

    def stop(self) -> None:
        with self._lock:
            self._stopped = True
            for process in self._running:
                process.kill()


def run(
    commands: Sequence[Sequence[str]],
    *,
    side_by_side: int = 1,
    statuses: Sequence[int] = (0,),
    environment: dict[str, str] | None = None,
) -> Cost:
    """Run commands, at most `side_by_side` at once, each in a process of its own. FailedError with what one said."""
    # An installed program's modules lie there compiled, whatever the shell that runs the bench says of writing them.
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    children = _Children({**kept, **(environment or {})}, statuses)
    begun = time.perf_counter()
    with ThreadPoolExecutor(side_by_side) as pool:
        try:
            costs = [cost for cost in pool.map(children.run, commands) if cost is not None]
        except BaseException:
            children.stop()
            raise
    wall = time.perf_counter() - begun
    peaks = sorted(peak for _, peak in costs)
    return Cost(sum(cpu for cpu, _ in costs), wall, sum(peaks[-side_by_side:]))


def repeated(once: Callable[[], Cost], *, again: bool) -> Cost:
    """The cost of a function that runs something: of several runs the middle one, if it is quick and `again`."""
    first = once()
    if not again or first.wall_s > REPEATED_UNDER_S:
        return first
    return middle([first, *(once() for _ in range(RUNS - 1))])
