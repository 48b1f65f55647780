"""A job of the pass: a few tracks and a folder for what is measured of them.

A job is a small record that can be sent anywhere (a thread, another process, another machine that sees the same files).
Under way it can be left between any two hops and taken up again, by another thread too.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from replay.grid import hops_of
from replay.measuring.group_pass import GROUP, GroupPass, chunk_hops, effective_bits, events_of, run_out
from replay.meters.model import Facts
from replay.take.model import Track

Stretches = tuple[tuple[int, int], ...]
"""(start, stop) frames on the take's clock, in order, apart."""

SLICE_HOPS = 50
"""So much of a job is done in one go."""


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


class Running:
    """A job under way: `step` measures a little more of it, `results` ends it. To be closed.

    Histories get their names when they are whole: a job that was given up on and done again elsewhere does no harm even
    where its first worker is still at it. All of it raises OSError where the histories cannot be written.
    """

    def __init__(self, job: Job) -> None:
        from replay.take.stream import Reader

        self.job = job
        self.hop = 0
        self.last = max(hops_of(track.stop, job.rate) for track in job.tracks)
        attempt = f"{os.getpid()}-{threading.get_ident()}-{time.monotonic_ns()}"
        self._paths = [Path(job.folder) / f"{name}.{attempt}.part" for name in job.names]
        order = range(len(job.tracks))
        self._cuts = [order[at : at + GROUP] for at in range(0, len(order), GROUP)]
        self._passes: list[GroupPass] = []
        self._reader = Reader(job.tracks, job.rate)
        try:
            self._groups = [self._reader.group(cut) for cut in self._cuts]
            for cut in self._cuts:
                self._passes.append(GroupPass([job.tracks[i] for i in cut], job.rate, chunk_hops(len(self._cuts))))
                self._passes[-1].write_to([self._paths[i] for i in cut])
        except BaseException:
            self.close()
            raise

    @property
    def whole(self) -> bool:
        """Whether all hops have been measured."""
        return self.hop >= self.last

    def step(self, hops: int) -> int:
        """Measure the next `hops` hops, as far as there are any; gives their frames (of all tracks)."""
        frames = 0
        for hop in range(self.hop, min(self.hop + hops, self.last)):
            for group, one in zip(self._groups, self._passes, strict=True):
                group.fill(one.block, hop)
                one.feed()
            frames += self._passes[0].block.rows * len(self.job.tracks)
            self.hop = hop + 1
        return frames

    def results(self) -> list[Measured]:
        """What was measured, when the job is whole."""
        done = []
        for cut, group, one in zip(self._cuts, self._groups, self._passes, strict=True):
            one.flush()
            lost = [self._reader.lost(i) for i in cut]
            done += _results(one, group.codes, [self._paths[i] for i in cut], lost)
        return [_named(result, name) for result, name in zip(done, self.job.names, strict=True)]

    def close(self) -> None:
        """Close all files; what has no name yet is removed."""
        self._reader.close()
        for one in self._passes:
            one.close()
        for path in self._paths:
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def run(job: Job, tick: Callable[[int], None] | None = None) -> list[Measured]:
    """Measure a job's tracks from beginning to end. Raises OSError where the histories cannot be written.

    `tick` is called now and then with the frames (of all tracks) done since the last call.
    """
    with contextlib.closing(Running(job)) as running:
        while not running.whole:
            frames = running.step(SLICE_HOPS)
            if tick is not None:
                tick(frames)
        return running.results()


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
