"""Kept results through the whole program: the answer never depends on what was kept, whatever happens to the folder."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from replay import cli
from replay.measuring import history
from replay.measuring.store import Store
from tests.material.show import write_show
from tests.measuring.answers import BUS, ROOT, answer, change_list, differences, entries, names
from tests.measuring.test_store import rewrite


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
