"""Kept results whose folder is damaged, full, shared or gone: the answer is the same, and nothing is left behind."""

from __future__ import annotations

import contextlib
import errno
import gc
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest

from replay import check, cli
from replay.measuring import history, measure
from replay.measuring.store import WORK_PREFIX, Store
from tests.material.show import write_show
from tests.measuring.answers import BUS, ROOT, answer, entries, names

PLACES = ["columns", "footer", "tail", "cut", "empty", "folder", "link to nowhere"]


def damage(path: Path, place: str) -> None:
    data = path.read_bytes()
    footer = data.rindex(b'{"rate"')
    at = {"columns": 100, "footer": footer + 20, "tail": len(data) - 20}
    if place in at:
        path.write_bytes(data[: at[place]] + bytes([data[at[place]] ^ 0x40]) + data[at[place] + 1 :])
    elif place == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif place == "empty":
        path.write_bytes(b"")
    elif place == "folder":
        path.unlink()
        path.mkdir()
    elif place == "link to nowhere":
        path.unlink()
        path.symlink_to(path.with_name("nowhere"))


@pytest.mark.parametrize("place", PLACES)
def test_a_damaged_entry_costs_a_pass_and_nothing_else(show, folder, measured, place, capfd):
    first = answer(show, folder)
    for path in entries(folder):
        damage(path, place)
    assert answer(show, folder) == first
    assert sorted(chain.from_iterable(measured[1:])) == list(range(1, 9))
    assert capfd.readouterr() == ("", "")
    passes = len(measured)
    assert answer(show, folder) == first
    # A folder in an entry's place is not ours to remove: nothing is kept there, and the answer stays right.
    assert measured[passes:] == ([list(range(1, 9))] if place == "folder" else [])


def test_only_what_is_damaged_is_measured_again(show, folder, measured):
    first = answer(show, folder)
    damage(entries(folder)[3], "columns")
    assert answer(show, folder) == first
    assert [len(one) for one in measured] == [8, 1]


def test_events_of_a_damaged_entry_are_not_believed(show, folder, measured):
    first = answer(show, folder)
    for path in entries(folder):
        data = path.read_bytes()
        facts = json.loads(data[data.rindex(b'{"rate"') : -28])
        if facts["events"]:
            break
    at = data.rindex(b'{"rate"') - 5
    path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
    assert answer(show, folder) == first
    assert [len(one) for one in measured] == [8, 1]


def test_damaged_extras_are_made_again(show, folder):
    first = answer(show, folder, from_s=2.5, to_s=9.3)
    extras = sorted(folder.glob("*.extra"))
    assert any(path.name.endswith("-sums.extra") for path in extras)
    good = {path: path.read_bytes() for path in extras}
    for path, data in good.items():
        path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert answer(show, folder, from_s=2.5, to_s=9.3) == first
    assert {path: path.read_bytes() for path in extras} == good


def test_an_entry_that_goes_while_it_is_read(show, folder, measured, monkeypatch):
    """Another run may empty the folder between our finding an entry and our reading it."""
    first = answer(show, folder)
    real = Store.find

    def find_and_lose(self, key, **how):
        found = real(self, key, **how)
        for path in entries(folder):
            path.unlink()
        return found

    monkeypatch.setattr(Store, "find", find_and_lose)
    assert answer(show, folder) == first
    assert measured[-1] == list(range(1, 9))


def test_a_folder_in_which_nothing_stays_is_given_up(show, folder, measured, monkeypatch):
    first = answer(show)
    real = history.History.column

    def column(self, name):
        if self.path.parent == folder:
            self.path.unlink(missing_ok=True)
        return real(self, name)

    monkeypatch.setattr(history.History, "column", column)
    assert answer(show, folder) == first
    # Once for the truth, twice in the folder, and once where nobody else can reach.
    assert len(measured) == 4


def test_two_runs_at_once_in_an_empty_folder(show, folder, tmp_path):
    truth = answer(show)
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "replay", "check", str(show), "--kept", str(folder), "--json", "-"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(3)
    ]
    for run in runs:
        out, err = run.communicate(timeout=300)
        assert (run.returncode, err) == (1, "")
        found = json.loads(out)
        assert found["channels"] == truth["channels"]
        assert found["buses"] == truth["buses"]
        assert found["pairs"] == truth["pairs"]
    assert len(entries(folder)) == 8
    assert not [name for name in names(folder) if name.startswith(WORK_PREFIX) or name.endswith(".part")]


@pytest.mark.parametrize("kind", ["a file", "below a file", "not writable"])
def test_a_folder_that_cannot_be_used(show, tmp_path, kind, monkeypatch):
    (tmp_path / "file").write_bytes(b"x")
    place = {"a file": tmp_path / "file", "below a file": tmp_path / "file" / "kept", "not writable": tmp_path / "no"}
    if kind == "not writable":
        place[kind].mkdir()
        real = os.access
        # An administrator may write everywhere: the answer is made by hand.
        monkeypatch.setattr(os, "access", lambda path, mode: False if path == place[kind] else real(path, mode))
    truth = answer(show)
    assert answer(show, place[kind]) == truth
    assert answer(show, place[kind]) == truth
    assert (tmp_path / "file").read_bytes() == b"x"


@pytest.fixture
def full_disk(tmp_path, monkeypatch) -> Iterator[Path]:
    """A folder on a disk of 64 kB where one can be mounted; else one whose writes are refused as a full disk does."""
    place = tmp_path / "tiny disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)]
    with contextlib.suppress(OSError):
        if subprocess.run(command, capture_output=True).returncode == 0:
            try:
                yield place
            finally:
                gc.collect()
                subprocess.run(["umount", "-l", str(place)], check=True)
            return
    real = history.Writer.append

    def append(self, values, hops):
        if place in Path(self._file.name).parents:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(self, values, hops)

    monkeypatch.setattr(history.Writer, "append", append)
    yield place


def test_a_full_disk_keeps_nothing_and_the_answer_is_given(show, full_disk):
    truth = answer(show)
    assert answer(show, full_disk) == truth
    gc.collect()
    assert not [name for name in names(full_disk) if name.startswith(WORK_PREFIX)]
    assert answer(show, full_disk) == truth


def test_no_room_anywhere_is_told(show, folder, monkeypatch, capsys):
    def append(self, values, hops):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(history.Writer, "append", append)
    with pytest.raises(OSError, match="No space left on device"):
        answer(show, folder)
    assert cli.run(["check", str(show), "--kept", str(folder)]) == 2
    assert capsys.readouterr() == ("", "replay: No space left on device\n")
    gc.collect()
    assert names(folder) == []


def test_a_take_larger_than_the_limit_is_answered(show, folder, monkeypatch, measured):
    monkeypatch.setattr("replay.simulate.Store", lambda place: Store(place, limit_bytes=1))
    truth = answer(show)
    assert answer(show, folder) == truth
    assert len(entries(folder)) == 8  # what the run reads is spared, whatever its size
    assert answer(show, folder) == truth
    assert len(measured) == 2


def test_another_take_pushes_out_the_one_unused_for_longest(show, folder, tmp_path, small_band, monkeypatch):
    answer(show, folder)
    first = entries(folder)
    size = sum(path.stat().st_size for path in folder.iterdir())
    other = write_show(tmp_path / "other", small_band, more=BUS[1:])
    monkeypatch.setattr("replay.simulate.Store", lambda place: Store(place, limit_bytes=size + 1000))
    answer(other, folder)
    assert len(entries(folder)) >= 8
    assert sum(path.stat().st_size for path in folder.iterdir()) <= size + 1000
    assert len(set(first) & set(entries(folder))) <= 1


def test_leavings_of_a_killed_run_go(show, folder):
    stale = folder / f"{WORK_PREFIX}12345678"
    stale.mkdir(parents=True)
    (stale / "track-1.1-1-1.part").write_bytes(b"x")
    for path in (stale / "track-1.1-1-1.part", stale):
        os.utime(path, (10**9, 10**9))
    answer(show, folder)
    assert not stale.exists()


def test_keep_false_leaves_nothing_and_histories_live_as_long_as_the_report(show, tmp_path, monkeypatch):
    scratch = tmp_path / "temporary"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    monkeypatch.setenv("REPLAY_CACHE_DIR", str(tmp_path / "cache"))
    (tmp_path / "cache").mkdir()
    report = check(show, keep=False)
    assert not (tmp_path / "cache" / "kept").exists()
    assert len(names(scratch)) == 1
    gc.collect()
    assert len(report.show.tracks[0].measurement.column("k_energy_10ms")) == 1200
    view = report.show.tracks[3].measurement
    del report
    gc.collect()
    assert len(view.column("energy")) == 120  # one measurement is enough to keep them
    del view
    gc.collect()
    assert names(scratch) == []


def test_kept_results_need_no_scratch_folder(show, folder):
    report = check(show, kept_in=folder)
    assert not [name for name in names(folder) if name.startswith(WORK_PREFIX)]
    assert len(report.show.tracks[0].measurement.column("energy")) == 120


def test_an_interrupted_run_leaves_nothing(show, folder):
    def progress(share: float, phrase: str) -> None:
        if share > 0.2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        check(show, kept_in=folder, progress=progress)
    gc.collect()
    assert names(folder) == []


def test_a_track_that_could_not_be_read_to_its_end_is_not_kept(show, folder, measured, monkeypatch):
    answer(show, folder)
    real = measure.in_turns

    def broken(*words):
        from dataclasses import replace

        return [replace(one, broken_at=48000) if one.track == 3 else one for one in real(*words)]

    monkeypatch.setattr(measure, "in_turns", broken)
    shutil.rmtree(folder)
    found = answer(show, folder)
    assert [one["code"] for one in found["findings"] if one["tracks"] == [3]] == ["truncated"]
    assert len(entries(folder)) == 7
    monkeypatch.setattr(measure, "in_turns", real)
    answer(show, folder)
    assert measured[-1] == [3]
