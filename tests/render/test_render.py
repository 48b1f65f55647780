"""Rendered files: samples exact, names and numbers right, and what is wrong told before anything is written."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import numpy as np
import pytest

from replay import check, cli
from tests.sound.shows import make_show, noise


def read(path: Path) -> np.ndarray:
    import soundfile

    return soundfile.read(path, dtype="float64", always_2d=True)[0]


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT"])
def test_a_channel_without_trim_is_its_track_to_the_bit(tmp_path, subtype):
    import soundfile

    codes = noise(30001, 2)
    if subtype == "PCM_16":
        codes = codes // 65536 * 65536
    if subtype == "PCM_32":
        codes = codes + 77  # finer than 24 bits
    samples = make_show(tmp_path / "show", 2, codes, subtype=subtype)
    before = tree(tmp_path / "show")
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 0
    assert sorted(os.listdir(tmp_path / "out")) == ["01 Source 1.wav", "02 Source 2.wav"]
    wanted = {"PCM_16": "PCM_24", "PCM_24": "PCM_24", "PCM_32": "PCM_32", "FLOAT": "FLOAT"}[subtype]
    assert soundfile.info(tmp_path / "out" / "01 Source 1.wav").subtype == wanted
    assert np.array_equal(read(tmp_path / "out" / "01 Source 1.wav")[:, 0], samples[:, 0])
    assert np.array_equal(read(tmp_path / "out" / "02 Source 2.wav")[:, 0], samples[:, 1])
    assert tree(tmp_path / "show") == before


def test_trim_and_polarity_and_returns(tmp_path, capsys):
    codes = noise(10000, 4)
    columns = "return,trim,polarity"
    cells = {1: "3,-6,inverted", 2: "1,0,inverted", 3: "3,0,normal", 4: "live,0,normal"}
    samples = make_show(tmp_path / "show", 4, codes, columns=columns, cells=cells)
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 0
    # Channels 1 and 3 return from slot 3: the second one gets the first free number.
    assert sorted(os.listdir(tmp_path / "out")) == ["01 Source 2.wav", "03 Source 1.wav", "04 Source 3.wav"]
    assert np.array_equal(read(tmp_path / "out" / "01 Source 2.wav")[:, 0], -samples[:, 0])
    assert np.array_equal(read(tmp_path / "out" / "04 Source 3.wav")[:, 0], samples[:, 2])
    trimmed = read(tmp_path / "out" / "03 Source 1.wav")[:, 0]
    assert np.abs(trimmed - -samples[:, 2] * 10 ** (-6 / 20)).max() <= 0.5 / 2**23
    assert "Not written: channel 4 (live on playback).\n" in capsys.readouterr().out


def test_one_file_with_silence_where_no_channel_returns(tmp_path):
    samples = make_show(tmp_path / "show", 3, noise(9000, 3), columns="return", cells={2: "none"})
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out"), "--poly"]) == 0
    assert os.listdir(tmp_path / "out") == ["channels.wav"]
    held = read(tmp_path / "out" / "channels.wav")
    assert np.array_equal(held, samples * [1, 0, 1])


def test_a_part_of_the_take(tmp_path):
    samples = make_show(tmp_path / "show", 1, noise(48000, 1))
    words = ["render", str(tmp_path / "show"), str(tmp_path / "out"), "--from", "0.25", "--to", "0.75"]
    assert cli.run(words) == 0
    assert np.array_equal(read(tmp_path / "out" / "01 Source 1.wav")[:, 0], samples[12000:36000, 0])


def test_a_folder_that_could_be_taken_for_the_take_is_told(tmp_path, capsys):
    make_show(tmp_path / "show", 1, noise(4800, 1))
    patch = tmp_path / "show" / "patch.toml"
    told = "It lies where takes are looked for, and is the newest now: --take says which one is meant.\n"
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "show" / "one")]) == 0
    assert told not in capsys.readouterr().out
    patch.write_text(patch.read_text().replace('folder = "audio"', ""))
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "show" / "two"), "--take", "audio"]) == 0
    assert capsys.readouterr().out.endswith(told)


def test_when_a_part_was_recorded_goes_with_it(tmp_path):
    from replay.take.header import read_header
    from tests.take.making import bext, put, wave

    make_show(tmp_path / "show", 1, noise(4800, 1))
    (tmp_path / "show" / "audio" / "001 Source 1.wav").unlink()
    part = bext(date="2026-06-20", clock="17:30:00", reference=63000 * 48000)
    put(tmp_path / "show" / "audio" / "01.wav", wave(96000, part, bits=24))
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out"), "--from", "1"]) == 0
    held = read_header(tmp_path / "out" / "01 Source 1.wav").file
    assert held.start_frame == 63001 * 48000
    assert held.names == ("Source 1",)
    original = read_header(tmp_path / "show" / "audio" / "01.wav").file
    assert held.made == original.made + 1


def test_buses_are_sums_in_float(tmp_path, capsys):
    samples = make_show(
        tmp_path / "show", 3, noise(9000, 3, peak=0.9),
        columns="bus,polarity", cells={1: "main:-10,normal", 2: "main:0,inverted", 3: "main:6,normal"}, more="",
    )  # fmt: skip
    patch = tmp_path / "show" / "patch.toml"
    patch.write_text(patch.read_text() + "\n[bus.main]\nceiling = -3\n")
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 0
    assert os.listdir(tmp_path / "out" / "buses") == ["01 main.wav"]
    wanted = samples @ [10 ** (-10 / 20), -1.0, 10 ** (6 / 20)]
    held = read(tmp_path / "out" / "buses" / "01 main.wav")[:, 0]
    assert np.abs(held - wanted).max() < 2e-7
    over = 20 * np.log10(np.abs(wanted).max())
    assert (
        f"Bus main goes {over:.1f} dB above full scale; its file is float and keeps that.\n" in capsys.readouterr().out
    )


def test_trims_that_would_clip_are_all_told_and_nothing_is_written(tmp_path, capsys):
    codes = noise(96000, 3, peak=0.25)
    codes[50000, 0] = 2**30  # -6.02 dBFS
    codes[70000, 1] = -(2**30)
    make_show(tmp_path / "show", 3, codes, columns="trim", cells={1: "8", 2: "12", 3: "6"})
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 2
    out, err = capsys.readouterr()
    hint = "(lower the trim, or write --float, which keeps what is above full scale)"
    assert err.splitlines() == [
        f"replay: channel 1 Source 1: trim +8 dB would clip it, by 2.0 dB at 0:01 {hint}",
        f"replay: channel 2 Source 2: trim +12 dB would clip it, by 6.0 dB at 0:01 {hint}",
    ]
    assert out == ""
    assert os.listdir(tmp_path) == ["show"]
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out"), "--float"]) == 0
    assert read(tmp_path / "out" / "01 Source 1.wav")[50000, 0] == pytest.approx(0.5 * 10 ** (8 / 20), rel=1e-6)


def test_a_place_that_cannot_be_used(tmp_path, capsys):
    make_show(tmp_path / "show", 1, noise(4800, 1))
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    (tmp_path / "file").touch()
    show = str(tmp_path / "show")
    for place, why in [
        (tmp_path / "full", "this folder is not empty (name a new folder, or an empty one)"),
        (tmp_path / "file", "this is not a folder (name a new folder, or an empty one)"),
        (tmp_path / "show" / "audio" / "new",
         "this lies inside the take, and nothing is ever written into a take (give a folder outside it)"),
    ]:  # fmt: skip
        assert cli.run(["render", show, str(place)]) == 2
        assert capsys.readouterr().err == f"replay: {place}: {why}\n"
    assert cli.run(["render", show, str(tmp_path / "empty"), "--from", "9"]) == 2
    assert capsys.readouterr().err == ("replay: the part from 9 s to 0.1 s holds nothing (the take is 0.1 s long)\n")


def test_a_full_disk_leaves_nothing_behind(tmp_path, capsys, monkeypatch):
    make_show(tmp_path / "show", 1, noise(4800, 1))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: shutil._ntuple_diskusage(100, 90, 10))
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 2
    assert "there is no room for 14 kB: 10 bytes are free (give a folder on another disk)" in capsys.readouterr().err
    monkeypatch.undo()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert cli.run(["render", str(tmp_path / "show"), str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err == f"replay: {tmp_path}/out: cannot be written: No space left on device\n"
    assert os.listdir(tmp_path) == ["show"]


def levels(report, number: int, which: str) -> dict[str, float]:
    found = getattr(report.show.view(number), which)
    names = ("sample_peak_dbfs", "true_peak_dbtp", "played_peak_dbtp", "integrated_lufs", "momentary_max_lufs",
             "short_term_max_lufs", "loudness_range_lu", "rms_dbfs", "noise_floor_dbfs")  # fmt: skip
    return {name: getattr(found, name) for name in names}


@pytest.fixture
def played(tmp_path) -> Path:
    """Ten seconds of noise that comes and goes, on four channels with trims; channel 2 clipped in its recording."""
    codes = noise(480000, 4, peak=0.2)
    swell = np.repeat(np.random.default_rng(2).uniform(0.05, 1.0, 20), 24000)
    codes = (codes / 256 * swell[:, None]).astype(np.int32) * 256
    codes[100000:100010, 1] = (2**23 - 1) * 256
    cells = {1: "20,-3.7,normal", 2: "30,0,normal", 3: "40,9.5,inverted", 4: "20,0,normal"}
    make_show(tmp_path / "show", 4, codes, columns="gain,trim,polarity", cells=cells)
    return tmp_path / "show"


def test_checking_what_was_rendered_gives_the_channels_levels(tmp_path, played):
    before = check(played, keep=False)
    assert cli.run(["render", str(played), str(tmp_path / "out")]) == 0
    # The same show with its trims at 0: they are in the files.
    shutil.copytree(played, tmp_path / "neutral")
    rows = (tmp_path / "neutral" / "inputs.csv").read_text()
    rows = rows.replace("-3.7", "0").replace("9.5,inverted", "0,normal")
    (tmp_path / "neutral" / "inputs.csv").write_text(rows)
    after = check(tmp_path / "neutral", take=str(tmp_path / "out"), keep=False)
    for number in range(1, 5):
        wanted = levels(before, number, "input")
        assert None not in [wanted["integrated_lufs"], wanted["true_peak_dbtp"], wanted["played_peak_dbtp"]]
        for which in ("recorded", "input"):
            assert levels(after, number, which) == pytest.approx(wanted, abs=0.01)


def test_a_take_written_at_a_new_gain_is_the_gain_tried_out(tmp_path, played, capsys):
    words = ["--gain", "1=26", "--gain", "2=20"]
    before = check(played, gains={1: 26.0, 2: 20.0}, keep=False)
    assert cli.run(["render", str(played), str(tmp_path / "out"), *words]) == 0
    out = capsys.readouterr().out
    assert "Track 2 holds clips, the first at 0:02: they stay. Record it again.\n" in out
    assert "Trims are not applied: the take is as if it had been recorded at these gains.\n" in out
    shutil.copytree(played, tmp_path / "turned")
    rows = (tmp_path / "turned" / "inputs.csv").read_text()
    rows = rows.replace("1,20,-3.7", "1,26,-3.7").replace("2,30,0", "2,20,0")
    (tmp_path / "turned" / "inputs.csv").write_text(rows)
    after = check(tmp_path / "turned", take=str(tmp_path / "out"), keep=False)
    for number in range(1, 5):
        assert levels(after, number, "input") == pytest.approx(levels(before, number, "input"), abs=0.01)
    # What nobody turned is there to the bit.
    assert np.array_equal(read(tmp_path / "out" / "03 Source 3.wav"), read(played / "audio" / "003 Source 3.wav"))


def test_a_gain_that_would_clip_is_told(played, tmp_path, capsys):
    assert cli.run(["render", str(played), str(tmp_path / "out"), "--gain", "2=36", "--gain", "3=99"]) == 2
    assert capsys.readouterr().err == "replay: --gain 3=99: the preamp goes from 0 to 60 dB\n"
    assert cli.run(["render", str(played), str(tmp_path / "out"), "--gain", "2=36"]) == 2
    assert capsys.readouterr().err == (
        "replay: track 2 Source 2: gain +6 dB would clip it, by 6.0 dB at 0:02 (a preamp at that gain would have "
        "clipped: record again, or write --float, which keeps what is above)\n"
    )
