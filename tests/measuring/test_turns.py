"""Threads that take turns at the pass's jobs: all advance together, and where one fails nothing is left behind."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from replay.measuring import turns
from replay.measuring.job import SLICE_HOPS, Running
from replay.measuring.measure import jobs
from tests import tracks as make

RATE = 48000


@pytest.fixture
def work(tmp_path: Path):
    """Three jobs: two of eight tracks and one of a single, longer track."""
    rng = np.random.default_rng(3)
    tones = [make.mono(tmp_path, n, rng.uniform(-0.1, 0.1, 15 * RATE), RATE, "s24") for n in range(1, 17)]
    long = make.mono(tmp_path, 17, rng.uniform(-0.1, 0.1, 25 * RATE), RATE, "s24")
    folder = tmp_path / "results"
    folder.mkdir()
    return jobs([*tones, long], RATE, folder, workers=1)


def watch(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int]]:
    """The slices in the order in which they are begun: (first track of the job, hops still before it)."""
    seen: list[tuple[int, int]] = []
    step = Running.step

    def watched(self: Running, hops: int) -> int:
        seen.append((self.job.tracks[0].number, self.last - self.hop))
        return step(self, hops)

    monkeypatch.setattr(Running, "step", watched)
    return seen


def test_the_job_with_the_most_before_it_goes_on(work, monkeypatch):
    seen = watch(monkeypatch)
    turns.in_turns(work, 1, lambda frames: None)
    left = dict(seen[:3])
    assert sorted(left.values()) == [150, 150, 250]
    # Once all three are open, none is ever more than a slice behind another that has as much before it.
    for number, hops in seen[3:]:
        left[number] = hops
        assert hops >= max(left.values()) - SLICE_HOPS
    assert len(seen) == 5 + 3 + 3


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_results_come_in_the_jobs_order(work, workers):
    done: list[int] = []
    results = turns.in_turns(work, workers, done.append)
    assert [one.track for one in results] == [track.number for job in work for track in job.tracks]
    assert sum(done) == 16 * 15 * RATE + 25 * RATE


def test_jobs_are_spread_evenly_over_rounds(work, monkeypatch):
    """Where three fit at once, four go by twos: not three, and one alone at the end while a thread rests."""
    monkeypatch.setattr(turns, "UNDER_WAY", 3)
    work = [*work, replace(work[-1], names=("again",))]
    most, here = 0, set()
    step, close = Running.step, Running.close

    def watched(self: Running, hops: int) -> int:
        nonlocal most
        here.add(id(self))
        most = max(most, len(here))
        return step(self, hops)

    def closed(self: Running) -> None:
        here.discard(id(self))
        close(self)

    monkeypatch.setattr(Running, "step", watched)
    monkeypatch.setattr(Running, "close", closed)
    turns.in_turns(work, 1, lambda frames: None)
    assert most == 2


def test_no_job_at_all():
    assert turns.in_turns([], 2, lambda frames: None) == []


@pytest.mark.parametrize("workers", [1, 2])
def test_where_one_job_fails_nothing_is_left(work, workers, monkeypatch):
    step = Running.step

    def failing(self: Running, hops: int) -> int:
        if self.hop >= 100 and len(self.job.tracks) == 1:
            raise OSError(28, "No space left on device")
        return step(self, hops)

    monkeypatch.setattr(Running, "step", failing)
    with pytest.raises(OSError, match="No space left"):
        turns.in_turns(work, workers, lambda frames: None)
    left = [path.suffix for path in Path(work[0].folder).iterdir()]
    assert ".part" not in left
