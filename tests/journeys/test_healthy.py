"""A healthy take gives no fault and no warning, and its figures do not depend on how the recorder wrote it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from replay.findings.result import Report
from replay.simulate import check
from tests.conftest import Shelf
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record
from tests.need import need_package


def loud(report: Report) -> list[tuple[str, str, tuple[int, ...], str]]:
    """Faults and warnings, as (severity, code, channels, message): nothing, for a healthy show."""
    return [
        (finding.severity, finding.code, finding.channels, finding.message)
        for finding in report.findings
        if finding.severity in ("fault", "warning")
    ]


def peaks(report: Report) -> dict[str, float | None]:
    return {view.channel.name: view.recorded.true_peak_dbtp for view in report.show.channels if view.recorded}


def test_a_full_band_is_ready(tmp_path):
    recording = record(24, seed=31, extras=False)
    report = check(write_show(tmp_path / "show", recording, of="show"))
    assert loud(report) == []
    assert report.verdict == "ready"
    assert set(report.states.values()) == {"good"}
    assert all(peak is not None and -12.2 <= peak <= -6 for peak in peaks(report).values()), peaks(report)


def test_a_full_band_with_spares_talkback_timecode_and_click_is_ready(tmp_path, full_band):
    kinds = {one.kind for one in full_band.inputs}
    assert {"talkback", "timecode", "click", "other", "playback"} <= kinds
    report = check(write_show(tmp_path / "show", full_band, of="show"))
    assert loud(report) == []
    assert report.verdict == "ready"
    for view in report.show.channels:
        expected = "spare" if view.channel.use == "may" else "good"
        assert report.states[view.channel.number] == expected, view.channel.name


@pytest.mark.parametrize(("kit", "seed", "line_check"), [("pearl", 32, True), ("pacific", 33, False)])
def test_other_kits_and_a_line_check_are_ready_too(tmp_path, kit, seed, line_check):
    recording = record(32, seed=seed, kit=kit, seconds=45, line_check=line_check)
    report = check(write_show(tmp_path / "show", recording, of="show"))
    assert loud(report) == []
    assert report.verdict == "ready"


@pytest.mark.parametrize("rate", [44100, 96000])
def test_other_rates_are_ready_too(tmp_path, rate):
    recording = record(20, seed=34, seconds=31, rate=rate)
    report = check(write_show(tmp_path / "show", recording, of="show"))
    assert loud(report) == []
    assert report.verdict == "ready"


def test_56_tracks_on_two_boxes_are_ready(tmp_path):
    recording = record(56, seed=35, seconds=31)
    report = check(write_show(tmp_path / "show", recording, of="show"))
    assert len(report.show.tracks) == 56
    assert loud(report) == []
    assert report.verdict == "ready"


def bytes_of(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


def test_the_take_is_not_touched(tmp_path, full_band):
    show = write_show(tmp_path / "show", full_band.part([1, 2, 3], stop_s=32.0))
    before = bytes_of(show / "audio")
    check(show)
    assert bytes_of(show / "audio") == before
    assert {path.name for path in show.iterdir()} == {"patch.toml", "inputs.csv", "audio"}


CUTS_S = (7.77, 20.00001, 31.4159)
"""Where segments end: on no hop, no cell, no round number."""


def seven(shelf: Shelf) -> Recording:
    """Seven inputs for 40 s: close and open microphones, DI, a stereo pair, playback with exact zeros, timecode."""
    return shelf.get("seven", lambda _: record(24, seed=36, seconds=45).part([2, 7, 9, 12, 13, 21, 24], stop_s=40.0))


def figures(shelf: Shelf, form: str, encoding: str) -> Report:
    def build(folder: Path) -> Report:
        cuts = CUTS_S if "segments" in form else ()
        # Segments carry the time at which each starts; so do all the others, to be compared like with like.
        return check(write_show(folder / "show", seven(shelf), form, encoding, cuts_s=cuts, metadata=True))

    return shelf.get(f"seven as {form} {encoding}", build)


@pytest.mark.parametrize(
    "form", ["pairs", "polyphonic", "segments", "polyphonic-segments", "rf64", "rf64-mono", "flac", "w64"]
)
def test_figures_are_equal_whatever_the_form_of_the_files(shelf, form):
    """Equal, not nearly: the samples are the same, so every figure must be."""
    need_package("soundfile")
    mono, other = figures(shelf, "mono", "s24"), figures(shelf, form, "s24")
    assert len(mono.show.tracks) == len(other.show.tracks) == 7
    for one, two in zip(mono.show.channels, other.show.channels, strict=True):
        assert two.recorded == one.recorded, one.channel.name
        assert two.input == one.input
        assert two.advice == one.advice
    for one, two in zip(mono.show.tracks, other.show.tracks, strict=True):
        assert (two.whole, two.recorded, two.clipping, two.active_s) == (
            one.whole,
            one.recorded,
            one.clipping,
            one.active_s,
        )
    assert other.show.pairs == mono.show.pairs
    assert other.states == mono.states
    assert other.verdict == mono.verdict
    assert loud(other) == []


@pytest.mark.parametrize("encoding", ["s32", "f32"])
def test_wider_words_hold_the_same_figures(shelf, encoding, tmp_path):
    """24-bit samples in containers of 32 bits and in floats are the same samples."""
    import numpy as np

    recording = seven(shelf).copy()
    recording.tracks[:] = np.rint(recording.tracks.astype(float) * 2**23) / 2**23
    mono = figures(shelf, "mono", "s24")
    wide = check(write_show(tmp_path / "show", recording, "mono", encoding, metadata=True))
    for one, two in zip(mono.show.channels, wide.show.channels, strict=True):
        assert two.recorded == one.recorded, one.channel.name
    assert wide.show.pairs == mono.show.pairs
    assert [view.measurement.effective_bits for view in wide.show.tracks[:3]] == [24, 24, 24]


def test_16_bits_are_as_healthy(tmp_path, shelf):
    report = check(write_show(tmp_path / "show", seven(shelf), "mono", "s16"))
    assert loud(report) == []
    wide = figures(shelf, "mono", "s24")
    for one, two in zip(wide.show.channels, report.show.channels, strict=True):
        assert two.recorded.sample_peak_dbfs == pytest.approx(one.recorded.sample_peak_dbfs, abs=0.01)
        assert two.recorded.integrated_lufs == pytest.approx(one.recorded.integrated_lufs, abs=0.01)
