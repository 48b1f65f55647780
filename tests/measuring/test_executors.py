"""The pass in other people's engines: any executor gives the same results to the bit, a lost worker too.

All of it stays on this machine; the cluster's scheduler and workers listen on the loopback address only.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import threading
import time
import warnings
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from replay.measuring import kept
from replay.measuring.history import read_history
from replay.measuring.job import Job, Measured, run
from replay.measuring.measure import jobs, measure, measurement
from replay.measuring.store import Store
from replay.take.model import Track
from tests import tracks as make
from tests.need import need_package

RATE = 48000
SECONDS = 12
"""Long enough for a job to be in the middle of its files when it looks around for the first time (every 5 s)."""


@pytest.fixture(scope="session")
def take(shelf) -> list[Track]:
    """Nineteen tracks: two groups of mono files and one over, and a polyphonic file of three."""

    def build(folder: Path) -> list[Track]:
        rng = np.random.default_rng(7)
        clock = np.arange(SECONDS * RATE)
        made = []
        for number in range(1, 17):
            tone = 0.3 * np.sin(clock * 0.01 * number) + 0.01 * rng.standard_normal(len(clock))
            made.append(make.mono(folder, number, tone[: len(clock) - 1000 * number], RATE, "s24"))
        noise = np.clip(rng.standard_normal((len(clock), 3)), -1, 1)
        file = make.write(folder / "evening.wav", noise, RATE)
        return made + [make.track(17 + channel, (file, channel, 0)) for channel in range(3)]

    return shelf.get("executors' take", build)


@pytest.fixture(scope="session")
def truth(take, shelf) -> list[dict]:
    """What one thread of this process measures."""

    def build(folder: Path) -> list[dict]:
        return everything(measure(take, RATE, folder, workers=1))

    return shelf.get("executors' truth", build)


def everything(done: Sequence[Measured]) -> list[dict]:
    return [make.everything(measurement(one.track, read_history(Path(one.path)))) for one in done]


def test_jobs_are_small_and_can_be_sent(take, tmp_path):
    work = jobs(take, RATE, tmp_path, workers=2)
    assert sorted(track.number for job in work for track in job.tracks) == list(range(1, 20))
    for job in work:
        packed = pickle.dumps(job)
        assert pickle.loads(packed) == job
        assert len(packed) < 1000 + 500 * len(job.tracks)


def test_a_job_of_a_polyphonic_file_of_64_tracks_is_small(tmp_path):
    file = make.write(tmp_path / "evening.wav", np.zeros((4800, 64), np.int32), RATE)
    work = jobs([make.track(number + 1, (file, number, 0)) for number in range(64)], RATE, tmp_path, workers=2)
    assert [len(job.tracks) for job in work] == [32, 32]
    assert all(len(pickle.dumps(job)) < 8000 for job in work)


def test_what_a_job_hands_back_is_small(take, tmp_path):
    (job, *_) = jobs(take[:3], RATE, tmp_path, workers=1)
    assert len(pickle.dumps(run(job))) < 1000


def test_short_chunks_of_a_job_of_many_tracks_change_no_figure(take, truth, tmp_path, monkeypatch):
    monkeypatch.setattr("replay.measuring.job.chunk_hops", lambda groups: 7)
    done = measure(take, RATE, tmp_path, workers=1)
    assert {read_history(Path(one.path)).facts["chunk_hops"] for one in done} == {7}
    assert everything(done) == truth


@pytest.mark.parametrize("workers", [1, 3])
def test_threads_of_somebody_elses_pool(take, truth, tmp_path, workers):
    with ThreadPoolExecutor(workers) as pool:
        assert everything(measure(take, RATE, tmp_path, executor=pool)) == truth


def test_processes(take, truth, tmp_path):
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        done = measure(take, RATE, tmp_path, executor=pool)
    assert [one.track for one in done] == list(range(1, 20))
    assert everything(done) == truth
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".history"] * 19


def test_progress_reaches_the_end(take, tmp_path):
    shares: list[float] = []
    with ThreadPoolExecutor(2) as pool:
        measure(take, RATE, tmp_path, executor=pool, progress=shares.append)
    assert len(shares) == len(jobs(take, RATE, tmp_path, workers=os.cpu_count() or 1))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_kept_results_do_not_depend_on_who_measured(take, truth, tmp_path):
    store = Store(tmp_path / "kept")
    with ThreadPoolExecutor(2) as pool:
        first = kept.known(take, RATE, store, executor=pool)
    again = kept.known(take, RATE, store, executor=NoExecutor())
    for known in (first, again):
        assert [make.everything(one) for one in known.measurements.values()] == truth


class NoExecutor(Executor):
    """Refuses all work."""

    def submit(self, *_: Any, **__: Any) -> Future:
        raise AssertionError("nothing is left to be measured")


class FirstJobFails(ThreadPoolExecutor):
    """One worker: the first job fails, the second does not end before it may."""

    def __init__(self) -> None:
        super().__init__(1)
        self.submitted: list[Future] = []
        self.may_end = threading.Event()

    def submit(self, function: Any, job: Job) -> Future:  # type: ignore[override]
        self.submitted.append(super().submit(self.wait if self.submitted else self.fail))
        return self.submitted[-1]

    def wait(self) -> list[Measured]:
        self.may_end.wait()
        return []

    @staticmethod
    def fail() -> list[Measured]:
        raise OSError(5, "Input/output error")


def test_a_job_that_fails_calls_the_others_off(take, tmp_path):
    with FirstJobFails() as pool:
        with pytest.raises(OSError, match="Input/output error"):
            measure(take, RATE, tmp_path, executor=pool)
        # The second may have begun already, the third cannot have.
        assert len(pool.submitted) == 3
        assert pool.submitted[2].cancelled()
        pool.may_end.set()


def test_a_job_given_up_and_done_elsewhere_does_not_spoil_the_second_one(take, tmp_path):
    """A worker that was thought dead may still be writing: its histories bear other names until they are whole."""
    (job,) = jobs(take[:4], RATE, tmp_path, workers=1)

    def tick(frames: int) -> None:
        if not second:
            second.extend(run(job))
            assert sorted(path.suffix for path in tmp_path.iterdir()) == [".history"] * 4 + [".part"] * 4
            assert everything(second) == wanted

    second: list[Measured] = []
    wanted = everything(measure(take[:4], RATE, tmp_path, workers=1))
    first = run(job, tick)
    assert len(second) == 4
    assert everything(first) == wanted
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".history"] * 4


def test_a_job_that_cannot_finish_leaves_nothing(take, tmp_path):
    (job,) = jobs(take[:4], RATE, tmp_path, workers=1)

    def tick(frames: int) -> None:
        raise InterruptedError("enough")

    with pytest.raises(InterruptedError, match="enough"):
        run(job, tick)
    assert list(tmp_path.iterdir()) == []


def hold_once(marks: str, job: Job) -> list[Measured]:
    """`run`, but the first one to be in the middle of its files says who it is and stays there."""

    def tick(frames: int) -> None:
        with contextlib.suppress(FileExistsError):
            handle = os.open(os.path.join(marks, "held"), os.O_CREAT | os.O_EXCL | os.O_WRONLY)
            os.write(handle, str(os.getpid()).encode())
            os.close(handle)
            time.sleep(600)

    return run(job, tick)


class Holding(Executor):
    """Hands work on to another executor, with `hold_once` in place of `run`."""

    def __init__(self, other: Any, marks: Path) -> None:
        self.other, self.marks = other, marks

    def submit(self, function: Any, job: Job) -> Future:  # type: ignore[override]
        assert function is run
        return self.other.submit(hold_once, str(self.marks), job)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Any]:
    """A scheduler and two worker processes on the loopback address, without a web page."""
    need_package("distributed")
    with warnings.catch_warnings():
        # Its own choices of event loop and of sockets are its own business.
        warnings.simplefilter("ignore")
        import dask
        from distributed import Client, LocalCluster

        quiet = {"distributed.admin.large-graph-warning-threshold": "1GB", "distributed.worker.daemon": True}
        with (
            dask.config.set(quiet),
            LocalCluster(
                n_workers=2,
                threads_per_worker=1,
                processes=True,
                host="127.0.0.1",
                dashboard_address=None,
                silence_logs=50,
            ) as made,
            Client(made) as client,
        ):
            addresses = [made.scheduler_address, *client.scheduler_info()["workers"]]
            assert all(address.startswith("tcp://127.0.0.1:") for address in addresses), addresses
            yield client


@pytest.mark.filterwarnings("ignore")
def test_a_cluster(cluster, take, truth, tmp_path):
    with cluster.get_executor() as executor:
        assert everything(measure(take, RATE, tmp_path, executor=executor)) == truth


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_that_loses_a_worker_in_the_middle(cluster, take, truth, tmp_path):
    (tmp_path / "histories").mkdir()
    marks = tmp_path / "marks"
    marks.mkdir()
    with ThreadPoolExecutor(1) as aside, cluster.get_executor(retries=3) as executor:
        working = aside.submit(
            measure, take, RATE, tmp_path / "histories", executor=Holding(executor, marks), workers=2
        )
        while not (marks / "held").exists() or not (marks / "held").read_text():
            assert not working.done(), working.exception()
            time.sleep(0.02)
        victim = int((marks / "held").read_text())
        assert victim != os.getpid()
        # In the middle of its files: histories begun, none of them whole.
        assert any(path.suffix == ".part" for path in (tmp_path / "histories").iterdir())
        os.kill(victim, signal.SIGKILL)
        done = working.result(timeout=120)
    assert everything(done) == truth
    assert len(list((tmp_path / "histories").glob("*.history"))) == 19
