"""The one pass: every track of a take read once, all meters fed, a compact measurement left of each.

Tracks are measured in groups of eight, side by side. A job is a small record that can be sent anywhere (a thread,
another process, another machine that sees the same files): it names its tracks and the folder for their histories.
Tracks of one polyphonic file share a job, so that the file is read once a job. How the work is cut changes no figure.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import threading
import time
import weakref
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from replay.grid import hops_of
from replay.meters.group_pass import GROUP, GroupPass, chunk_hops, effective_bits, events_of, run_out
from replay.meters.history import History
from replay.meters.model import Facts, Measurement
from replay.meters.store import WORK_PREFIX
from replay.take.model import Track

Stretches = tuple[tuple[int, int], ...]
"""(start, stop) frames on the take's clock, in order, apart."""


@dataclass(frozen=True)
class Job:
    """Tracks to be measured together; `folder` gets one history file a track, named by `names`."""

    tracks: tuple[Track, ...]
    names: tuple[str, ...]
    rate: int
    folder: str


@dataclass(frozen=True)
class Measured:
    """Where a job has left what it measured of a track, and the frame from which the track could not be read."""

    track: int
    path: str
    broken_at: int | None


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


def run(job: Job, tick: Callable[[int], None] | None = None) -> list[Measured]:
    """Measure a job's tracks. `tick` is called now and then with the frames (of all tracks) done since the last call.

    Histories get their names when they are whole: a job that was given up on and done again elsewhere does no harm even
    where its first worker is still at it. Raises OSError where the histories cannot be written.
    """
    from replay.take.stream import Reader

    last = max(hops_of(track.stop, job.rate) for track in job.tracks)
    attempt = f"{os.getpid()}-{threading.get_ident()}-{time.monotonic_ns()}"
    paths = [Path(job.folder) / f"{name}.{attempt}.part" for name in job.names]
    order = range(len(job.tracks))
    cuts = [order[at : at + GROUP] for at in range(0, len(order), GROUP)]
    passes: list[GroupPass] = []
    with Reader(job.tracks, job.rate) as reader:
        try:
            groups = [reader.group(cut) for cut in cuts]
            for cut in cuts:
                passes.append(GroupPass([job.tracks[i] for i in cut], job.rate, chunk_hops(len(cuts))))
                passes[-1].write_to([paths[i] for i in cut])
            done = 0
            for hop in range(last):
                for group, one in zip(groups, passes, strict=True):
                    group.fill(one.block, hop)
                    one.feed()
                done += passes[0].block.rows * len(job.tracks)
                if tick is not None and hop % 50 == 49:
                    tick(done)
                    done = 0
            if tick is not None:
                tick(done)
            results = []
            for cut, group, one in zip(cuts, groups, passes, strict=True):
                one.flush()
                results += _results(one, group.codes, [paths[i] for i in cut], [reader.lost(i) for i in cut])
            return [_named(result, name) for result, name in zip(results, job.names, strict=True)]
        finally:
            for one in passes:
                one.close()
            for path in paths:
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)


def _named(result: Measured, name: str) -> Measured:
    path = Path(result.path).parent / f"{name}.history"
    os.replace(result.path, path)
    return replace(result, path=str(path))


def _results(one: GroupPass, codes: np.ndarray, paths: Sequence[Path], lost: Sequence[Stretches]) -> list[Measured]:
    from replay.take.decode import FINER

    run_out(one)
    results = []
    for lane, track in enumerate(one.tracks):
        files = [segment.file for segment in track.segments]
        is_float = any(file.is_float for file in files)
        bits = effective_bits(int(codes[lane]), FINER)
        coverage = _without(track.coverage, lost[lane])
        facts = Facts(rate=one.block.rate, effective_bits=bits, is_float=is_float, coverage=coverage)
        events, counts = events_of(one, lane, facts)
        one.writers[lane].finish(
            {
                "rate": facts.rate,
                "coverage": coverage,
                "is_float": is_float,
                "container_bits": max(file.bits for file in files),
                "effective_bits": bits,
                "totals": {
                    "sample_peak": float(one.peaks[lane]),
                    "not_a_number": float(one.bad[lane]),
                    "over_full_scale": float(one.over[lane]),
                },
                "event_counts": counts,
            },
            events,
        )
        results.append(Measured(track.number, str(paths[lane]), lost[lane][0][0] if lost[lane] else None))
    return results


def _without(coverage: Stretches, lost: Stretches) -> Stretches:
    """Stretches without what was lost of them; none is left empty.

    >>> _without(((0, 50), (60, 90)), ((30, 50), (60, 60)))
    ((0, 30), (60, 90))
    """
    left = list(coverage)
    for begin, end in lost:
        parts = [((start, min(stop, begin)), (max(start, end), stop)) for start, stop in left]
        left = [part for both in parts for part in both if part[0] < part[1]]
    return tuple(left)


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


class _StoppedError(Exception):
    """Ends a job whose result nobody waits for any more."""


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
    stop = threading.Event()
    total = max(1, sum(hops_of(track.stop, rate) * rate // 10 for track in tracks))
    done = 0

    def tick(frames: int) -> None:
        nonlocal done
        if stop.is_set():
            raise _StoppedError
        done += frames
        if progress is not None:
            progress(min(1.0, done / total))

    if executor is not None:
        elsewhere = {executor.submit(run, job): job for job in work}
        results = []
        try:
            for future in as_completed(elsewhere):
                results += future.result()
                tick(sum(hops_of(track.stop, rate) * rate // 10 for track in elsewhere[future].tracks))
        except BaseException:
            for future in elsewhere:
                future.cancel()
            raise
    else:
        with ThreadPoolExecutor(max_workers=workers) as pool:
            futures = [pool.submit(run, job, tick) for job in work]
            try:
                results = [one for future in futures for one in future.result()]
            except BaseException:
                # Interrupted, or one job failed: the others end at their next tick.
                stop.set()
                pool.shutdown(cancel_futures=True)
                raise
    by_number = {one.track: one for one in results}
    return [by_number[track.number] for track in tracks]
