"""Kept results through the whole program: the answer never depends on what was kept, whatever happens to the folder."""

from __future__ import annotations

import contextlib
import csv
import errno
import gc
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import numpy as np
import pytest

import replay
from replay import check, cli
from replay.findings.result import Report
from replay.measuring import history, kept, measure
from replay.measuring.store import WORK_PREFIX, Store
from replay.report import as_json
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record
from tests.measuring.test_store import rewrite

ROOT = Path(replay.__file__).parent.parent
NOW = 2e9
BUS = "\n[bus.main]\nceiling = -3.0\n"


def document(report: Report) -> dict:
    """All that a report says, without the names of findings and the take's date and place."""
    found = as_json.document(report)
    found["take"] = {key: value for key, value in found["take"].items() if key not in ("folder", "recorded_unix_s")}
    found["findings"] = [{key: value for key, value in one.items() if key != "id"} for one in found["findings"]]
    return found


def answer(show: Path, kept_in: Path | None = None, **how) -> dict:
    how.setdefault("keep", kept_in is not None)
    return document(check(show, kept_in=kept_in, now=NOW, **how))


def differences(one: object, other: object, place: str = "") -> list[str]:
    """Where two documents differ, numbers by more than two of their last decimals."""
    if isinstance(one, dict) and isinstance(other, dict) and list(one) == list(other):
        return list(chain.from_iterable(differences(one[key], other[key], f"{place}.{key}") for key in one))
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return list(chain.from_iterable(differences(a, b, f"{place}[{at}]") for at, (a, b) in pairs))
    if isinstance(one, float) and isinstance(other, float) and abs(one - other) < 2.5e-4:
        return []
    return [] if one == other else [f"{place}: {one!r}, {other!r}"]


def change_list(show: Path, column: str, values: dict[int, str]) -> None:
    """Write `values` (by channel) into a column of the show's input list."""
    path = show / "inputs.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    for row in rows:
        row[column] = values.get(int(row["channel"]), row[column])
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(out.getvalue())


@pytest.fixture(scope="session")
def small_band(shelf) -> Recording:
    """Eight inputs by twelve seconds, pairs of all kinds among them, one clipped. Shared: not to be changed."""

    def build(_: Path) -> Recording:
        from tests.material.faults import plant_clip

        made = record(12, seed=3, seconds=12, extras=False).part([1, 2, 3, 6, 7, 8, 10, 11])
        plant_clip(made, 6, 3.0)
        return made

    return shelf.get("small band", build)


@pytest.fixture
def show(tmp_path, small_band) -> Path:
    folder = write_show(tmp_path / "show", small_band, more=BUS[1:])
    change_list(folder, "bus", {number: f"main:{-6 - number}" for number in range(1, 9)})
    return folder


@pytest.fixture
def folder(tmp_path) -> Path:
    return tmp_path / "kept"


@pytest.fixture
def measured(monkeypatch) -> list[list[int]]:
    """The numbers of the tracks of every pass that is made from now on."""
    passes: list[list[int]] = []
    real = kept.measure

    def spy(tracks, *rest, **more):
        passes.append([track.number for track in tracks])
        return real(tracks, *rest, **more)

    monkeypatch.setattr(kept, "measure", spy)
    return passes


def names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def entries(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.history"))


def test_kept_is_fresh(show, folder, measured):
    fresh = answer(show)
    first = answer(show, folder)
    again = answer(show, folder)
    assert measured == [list(range(1, 9))] * 2
    assert fresh == first == again
    assert fresh["buses"][0]["true_peak_dbtp"] is not None
    assert any(one["code"] == "clipped" for one in fresh["findings"])


def test_after_a_check_the_folder_holds_entries_and_extras_only(show, folder):
    answer(show, folder)
    assert len(entries(folder)) == 8
    assert {name.rpartition(".")[2] for name in names(folder)} <= {"history", "extra"}


def test_fresh_ignores_and_replaces_what_is_kept(show, folder, measured):
    first = answer(show, folder)
    before = [path.stat().st_ino for path in entries(folder)]
    assert answer(show, folder, fresh=True) == first
    assert measured == [list(range(1, 9))] * 2
    assert len(entries(folder)) == 8
    assert not set(before) & {path.stat().st_ino for path in entries(folder)}


def test_a_part_of_the_take_is_the_same_from_kept_results(show, folder, measured):
    answer(show, folder)
    part = answer(show, folder, from_s=2.5, to_s=9.3)
    once_more = answer(show, folder, from_s=2.5, to_s=9.3)
    assert len(measured) == 1
    assert part == once_more == answer(show, from_s=2.5, to_s=9.3)


def test_trims_tried_out_are_what_a_patch_with_them_says(show, folder, measured):
    untried = answer(show, folder)
    tried = answer(show, folder, trims={1: -3.5, 6: 4.0})
    assert measured == [list(range(1, 9))]
    change_list(show, "trim", {1: "-3.5", 6: "4"})
    assert tried == answer(show, fresh=True)
    assert tried["channels"][0]["recorded"] == untried["channels"][0]["recorded"]
    moved = tried["channels"][0]["input"]["true_peak_dbtp"] - untried["channels"][0]["input"]["true_peak_dbtp"]
    assert moved == pytest.approx(-3.5, abs=1e-3)


def test_another_question_reads_no_history_of_10_ms_and_no_samples(tmp_path, small_band, folder, monkeypatch):
    show = write_show(tmp_path / "show", small_band)
    answer(show, folder)
    fresh = answer(show, trims={1: 3.5, 4: -6.0})
    read: list[str] = []
    real = history.History.column

    def column(self, name):
        read.append(name)
        return real(self, name)

    monkeypatch.setattr(history.History, "column", column)
    monkeypatch.setattr("replay.take.stream.Reader.__init__", lambda *_: pytest.fail("samples were read"))
    assert answer(show, folder, trims={1: 3.5, 4: -6.0}) == fresh
    assert read
    assert not {"k_energy_10ms", "jump", "jump_crest"} & set(read)


def test_fresh_does_not_believe_notes(show, folder):
    """Notes that say something else under the right name and with a right checksum: --fresh takes them away."""
    first = answer(show, folder)
    store = Store(folder)
    (name,) = (
        path.name.removesuffix(".extra") for path in folder.glob("*.extra") if b"loudness max" in path.read_bytes()
    )
    raw = json.loads(store.extra(name).tobytes())
    for found in raw.values():
        found.update({question: [1.0, 1.0] for question in found if question.startswith("loudness maxima")})
    text = json.dumps(raw).encode()
    store.keep_extra(name, np.frombuffer(text + b" " * (-len(text) % 8), np.float64))
    assert answer(show, folder) != first
    assert answer(show, folder, fresh=True) == first
    assert answer(show, folder) == first


def test_another_patch_on_the_same_take_is_answered_from_kept_results(show, folder, measured, tmp_path):
    answer(show, folder)
    other = tmp_path / "other"
    other.mkdir()
    for name in ("patch.toml", "inputs.csv"):
        shutil.copy(show / name, other / name)
    patch = (other / "patch.toml").read_text().replace('folder = "audio"', f'folder = "{show / "audio"}"')
    (other / "patch.toml").write_text(patch.replace('of = "show"', 'of = "soundcheck"'))
    change_list(other, "name", {1: "Big drum"})
    change_list(other, "bus", {1: "main:-3"})
    tried = answer(other, folder)
    assert measured == [list(range(1, 9))]
    assert tried == answer(other)
    assert tried["channels"][0]["name"] == "Big drum"


@pytest.mark.parametrize("power", [1, -3])
def test_a_gain_tried_out_is_a_take_really_recorded_at_it(tmp_path, small_band, folder, measured, power):
    """By a power of two every sample is scaled exactly; 6.0206 dB is less than a ten-millionth of a dB off."""
    step = 6.0206
    shows = []
    for name, factor in (("was", 1.0), ("scaled", 2.0**power)):
        recording = small_band.copy()
        # Low enough that doubling clips nothing; floats, so that no converter rounds.
        recording.tracks *= np.float32(0.25)
        recording.tracks[[0, 5]] *= np.float32(factor)
        made = write_show(tmp_path / name, recording, encoding="f32", more=BUS[1:])
        change_list(made, "bus", dict.fromkeys((1, 3, 6), "main:-6"))
        # A preamp whose every step doubles.
        patch = (made / "patch.toml").read_text()
        steps = f"gain = {{ min = 0, max = {10 * step:.4f}, step = {step!r} }}"
        (made / "patch.toml").write_text(patch.replace("gain = { min = 0, max = 60, step = 1 }", steps))
        change_list(made, "gain", {one.number: f"{5 * step:.4f}" for one in recording.inputs if one.gain is not None})
        shows.append(made)
    gain = round((5 + power) * step, 4)
    change_list(shows[1], "gain", dict.fromkeys((1, 6), f"{gain:.4f}"))
    untried = answer(shows[0], folder)
    tried = answer(shows[0], folder, gains={1: gain, 6: gain})
    assert measured == [list(range(1, 9))]
    scaled = answer(shows[1])
    assert differences(tried, scaled) == []
    assert tried["channels"][1]["recorded"] == scaled["channels"][1]["recorded"]
    moved = tried["channels"][0]["recorded"]["true_peak_dbtp"] - untried["channels"][0]["recorded"]["true_peak_dbtp"]
    assert moved == pytest.approx(power * step, abs=2e-4)


def test_a_file_changed_behind_its_date_is_measured_again(show, folder, measured):
    before = answer(show, folder)
    path = sorted((show / "audio").iterdir())[4]
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // 3 * 3
    data[middle : middle + 300] = b"\xff\xff\x7f" * 100
    rewrite(path, bytes(data))
    changed = answer(show, folder)
    assert measured == [list(range(1, 9)), [5]]
    assert changed == answer(show)
    assert changed["channels"][4]["recorded"] != before["channels"][4]["recorded"]
    assert changed["channels"][3] == before["channels"][3]


def test_a_file_touched_or_renamed_is_measured_again(show, folder, measured):
    before = answer(show, folder)
    paths = sorted((show / "audio").iterdir())
    os.utime(paths[1], ns=(1, 10**18))
    paths[6].rename(paths[6].with_name("07 other name.wav"))
    after = answer(show, folder)
    assert measured == [list(range(1, 9)), [2, 7]]
    for was, now in zip(before["channels"], after["channels"], strict=True):
        assert (now["recorded"], now["input"], now["advice"]) == (was["recorded"], was["input"], was["advice"])


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


PLACES = ["columns", "footer", "tail", "cut", "empty", "folder", "link to nowhere"]


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


HEAVY = ("numba", "llvmlite", "scipy", "soundfile", "pyloudnorm", "sounddevice", "openpyxl")


@pytest.mark.parametrize("command", ["check", "help", "routes", "kept"])
def test_what_needs_no_samples_loads_nothing_heavy(small_band, tmp_path, folder, command):
    # No buses: with changed trims they are added up anew, from samples.
    show = write_show(tmp_path / "show", small_band)
    answer(show, folder)
    words = {
        "check": ["check", str(show), "--kept", str(folder), "--trim", "1=-2", "--gain", "8=20", "--quiet"],
        "help": ["--help"],
        "routes": ["routes", str(show)],
        "kept": ["kept", str(folder)],
    }[command]
    program = (
        "import sys\nfrom replay.cli import run\n"
        f"status = run({words!r})\n"
        f"print(status, sorted({{name.split('.')[0] for name in sys.modules}} & set({HEAVY!r})))"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.stderr == ""
    assert done.stdout.splitlines()[-1] == ("1 []" if command == "check" else "0 []")


def test_the_command_that_looks_at_kept_results_and_empties_them(show, folder, capsys):
    assert cli.run(["kept", str(folder)]) == 0
    page = (
        "Folder     {}\nTracks     {} measured\nSize       {}, at most 4.3 GB: then what was unused for longest goes\n"
    )
    assert capsys.readouterr().out == page.format(folder, 0, "0 bytes")
    answer(show, folder)
    held = sum(path.stat().st_size for path in folder.iterdir())
    assert cli.run(["kept", str(folder)]) == 0
    assert capsys.readouterr().out == page.format(folder, 8, f"{held / 1000:.0f} kB")
    assert cli.run(["kept", str(folder), "--empty"]) == 0
    said = f"Removed the measurements of 8 tracks from {folder}: {held / 1000:.0f} kB are free again.\n"
    assert capsys.readouterr().out == said
    assert names(folder) == []


def test_the_usual_folder_can_be_looked_at_too(monkeypatch, tmp_path, capsys):
    monkeypatch.setenv("REPLAY_CACHE_DIR", str(tmp_path / "cache"))
    assert cli.run(["kept"]) == 0
    assert capsys.readouterr().out.startswith(f"Folder     {tmp_path}/cache/kept\nTracks     0 measured\n")


def test_what_could_not_be_removed_is_said(folder, capsys, monkeypatch):
    folder.mkdir()
    (folder / f"{'a' * 40}.history").write_bytes(b"x" * 2000)

    def refuse(self, missing_ok=False):
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(Path, "unlink", refuse)
    assert cli.run(["kept", str(folder), "--empty"]) == 2
    assert capsys.readouterr().out.splitlines()[-1] == "2.0 kB could not be removed."


def test_a_folder_for_kept_results_that_is_none_is_refused(show, tmp_path, capsys):
    (tmp_path / "file").write_bytes(b"")
    assert cli.run(["check", str(show), "--kept", str(tmp_path / "file")]) == 2
    hint = "(give a folder; it is made where there is none)"
    assert capsys.readouterr() == ("", f"replay: --kept: {tmp_path}/file is not a folder {hint}\n")
    assert cli.run(["kept", str(tmp_path / "file"), "--empty"]) == 2
    assert capsys.readouterr() == ("", f"replay: DIR: {tmp_path}/file is not a folder\n")
