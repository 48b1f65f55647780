"""What all tests share: numeric surprises fail, skips can be forbidden, and takes are built once a session."""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest

from tests.material.recording import Recording

# Kept results and compiled code of tests stay out of the user's own; compiled code stays for the next session.
os.environ.setdefault("REPLAY_CACHE_DIR", str(Path(tempfile.gettempdir()) / f"replay-tests-{os.getuid()}"))

# A shell starts what runs in its background with interruptions ignored, and so would every program that tests start.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

SKIPS_FORBIDDEN = os.environ.get("REPLAY_NO_SKIPS") == "1"
T = TypeVar("T")

FORBIDDEN = "skips are failures here (REPLAY_NO_SKIPS=1): "


def _forbid_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turn a skip into a failure that says what was skipped. An expected failure is not a skip."""
    if SKIPS_FORBIDDEN and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = FORBIDDEN + str(reason)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    _forbid_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    _forbid_skip(report)
    return report


@pytest.fixture(autouse=True)
def _numbers_surprise_nobody() -> Iterator[None]:
    """A division by zero, an overflow or an invalid operation is an error; underflow to zero is what silence does."""
    with np.errstate(divide="raise", over="raise", invalid="raise", under="ignore"):
        yield


class Shelf:
    """Things built once a session, by name, each in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made: dict[str, object] = {}

    def get(self, name: str, build: Callable[[Path], T]) -> T:
        """What `build(folder)` returned the first time that this name was asked for. Shared: do not change it."""
        if name not in self._made:
            place = self.folder / name
            place.mkdir(parents=True)
            self._made[name] = build(place)
        return self._made[name]  # type: ignore[return-value]


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    """Takes and shows that several tests read (and none changes)."""
    return Shelf(tmp_path_factory.mktemp("shelf"))


@pytest.fixture(scope="session")
def full_band(shelf: Shelf) -> Recording:
    """A minute of a band on 24 inputs with spare, talkback, timecode and click. Shared: `copy()` before planting."""
    from tests.material.stage import record

    return shelf.get("full band", lambda _: record(24, seed=1, seconds=60))
