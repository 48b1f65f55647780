"""The one pass: every track of a take read once, all meters fed, a compact measurement left of each.

Tracks are measured in groups of eight, side by side; tracks of one polyphonic file share a job, so that the file is
read once a job. Jobs are run in threads that take turns at them (`turns`), or in any executor. How the work is cut
changes no figure.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import weakref
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from pathlib import Path

import numpy as np

from replay.grid import hops_of
from replay.measuring.group_pass import GROUP
from replay.measuring.history import History
from replay.measuring.job import Job, Measured, run
from replay.measuring.store import WORK_PREFIX
from replay.measuring.turns import in_turns
from replay.meters.model import Measurement
from replay.take.model import Track


def jobs(tracks: Sequence[Track], rate: int, folder: Path, *, workers: int) -> list[Job]:
    """Cut tracks into jobs: polyphonic files into at most `workers` jobs each, all else by eight."""
    by_files: dict[tuple, list[Track]] = {}
    for track in tracks:
        by_files.setdefault(tuple(segment.file.path for segment in track.segments), []).append(track)
    bundles: list[list[Track]] = []
    small: list[Track] = []
    for together in by_files.values():
        if len(together) <= GROUP:
            if len(small) + len(together) > GROUP:
                bundles.append(small)
                small = []
            small = small + together
            continue
        groups = -(-len(together) // GROUP)
        per_job = -(-groups // workers) * GROUP
        bundles += [together[at : at + per_job] for at in range(0, len(together), per_job)]
    if small:
        bundles.append(small)
    bundles.sort(key=lambda bundle: -sum(track.frames for track in bundle))
    return [
        Job(tuple(bundle), tuple(f"track-{track.number}" for track in bundle), rate, str(folder)) for bundle in bundles
    ]


class Scratch:
    """A folder for histories that lives as long as somebody may still ask for one, and is removed then."""

    def __init__(self, inside: Path | None = None) -> None:
        self.path = Path(tempfile.mkdtemp(prefix=WORK_PREFIX, dir=inside))
        weakref.finalize(self, shutil.rmtree, self.path, ignore_errors=True)


def measurement(track: int, history: History, owner: object = None) -> Measurement:
    """A measured track as meters' users see it: columns are read when asked for, and `owner` lives until then."""
    facts = history.facts

    def read(name: str, owner: object = owner) -> np.ndarray:
        return history.column(name)

    return Measurement(
        track=track,
        rate=facts["rate"],
        hops=history.hops,
        coverage=tuple((start, stop) for start, stop in facts["coverage"]),
        is_float=facts["is_float"],
        container_bits=facts["container_bits"],
        effective_bits=facts["effective_bits"],
        totals=facts["totals"],
        events=history.events,
        event_counts=facts["event_counts"],
        read_column=read,
    )


def measure(
    tracks: Sequence[Track],
    rate: int,
    folder: Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Measured]:
    """Measure tracks; histories go to `folder`, one file a track.

    `executor` is any concurrent.futures executor (its workers must see the same files); by default a thread a
    processor. `progress` gets the share done, 0 to 1. Raises OSError where the histories cannot be written.
    """
    workers = workers or os.cpu_count() or 1
    work = jobs(tracks, rate, folder, workers=workers)
    total = max(1, sum(hops_of(track.stop, rate) * rate // 10 for track in tracks))
    done = 0

    def tick(frames: int) -> None:
        nonlocal done
        done += frames
        if progress is not None:
            progress(min(1.0, done / total))

    results = in_turns(work, workers, tick) if executor is None else _elsewhere(work, executor, tick)
    by_number = {one.track: one for one in results}
    return [by_number[track.number] for track in tracks]


def _elsewhere(work: Sequence[Job], executor: Executor, tick: Callable[[int], None]) -> list[Measured]:
    """All jobs in somebody else's engine."""
    jobs_of = {executor.submit(run, job): job for job in work}
    results = []
    try:
        for future in as_completed(jobs_of):
            results += future.result()
            job = jobs_of[future]
            tick(sum(hops_of(track.stop, job.rate) * job.rate // 10 for track in job.tracks))
    except BaseException:
        for future in jobs_of:
            future.cancel()
        raise
    return results
