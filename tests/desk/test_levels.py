"""Levels at another gain are the levels of the signal at that gain; a part's levels are that part's alone."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from replay.desk.levels import _greatest, _windows, levels, loudness_figures, stretch
from replay.desk.model import Levels
from replay.grid import cell_starts
from replay.meters.again import reader
from replay.meters.model import Measurement
from replay.units import amplitude
from tests.meters import reference_peak as reference
from tests.tracks import ReadAgain, measure_samples, recurring, refuse, true_peaks

RATE = 8000
HOP = 800


def music(seed: int, seconds: float = 12.0, level: float = 1.0, rate: int = RATE) -> np.ndarray:
    """Noise of rising and falling loudness with hits, a rest and some offset, within -1 to 1 at `level` 1."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * rate)
    course = 10 ** (np.interp(np.arange(frames), np.linspace(0, frames, 30), rng.uniform(-45, -12, 30)) / 20)
    out = rng.standard_normal(frames) * course / 4 + 0.001
    hits = rng.integers(0, frames - 100, 40)
    for at in hits:
        out[at : at + 100] += rng.uniform(-0.5, 0.5) * np.exp(-np.arange(100) / 20)
    out[frames // 2 : frames // 2 + rate] = 0.0
    return np.clip(out, -1, 1) * level


def of(one: Measurement, gain_db: float = 0.0, read_again: ReadAgain = refuse) -> Levels:
    return levels(stretch(one, 0, one.hops, read_again), gain_db)


POWERS = [k for k in range(-14, 8) if k and amplitude(20 * np.log10(2.0) * k) == 2.0**k]
"""Powers of two whose level in dB comes back to the bit."""


def test_there_are_powers_of_two_to_test_with() -> None:
    assert min(POWERS) <= -8
    assert max(POWERS) >= 4


@pytest.mark.parametrize("power", POWERS)
@pytest.mark.parametrize("level", [1.0, 2.0**-5, 2.0**-7])
def test_powers_of_two_are_exact(tmp_path: Path, power: int, level: float) -> None:
    """All figures, to the bit, whichever side of the -70 gate and of -60 dBFS the passages come to lie on."""
    signal = music(1, level=level)
    plain, scaled = measure_samples(tmp_path, signal, signal * 2.0**power, rate=RATE)[0]
    assert of(plain, 20 * np.log10(2.0) * power) == of(scaled)


def test_the_gates_are_crossed(tmp_path: Path) -> None:
    """The material above is what it must be: loudness and its range are not merely shifted, and time active changes."""
    signals = (music(1, level=2.0**-k) for k in (0, 5, 7, 9))
    loud, soft, softer, none = (of(one) for one in measure_samples(tmp_path, *signals, rate=RATE)[0])
    assert loud.integrated_lufs is not None
    assert softer.integrated_lufs is not None
    assert softer.integrated_lufs > loud.integrated_lufs - 7 * 6.0206 + 1
    assert loud.loudness_range_lu != softer.loudness_range_lu
    assert (none.integrated_lufs, none.loudness_range_lu) == (None, None)
    assert len({one.active_percent for one in (loud, soft, softer)}) == 3


@pytest.mark.parametrize("gain_db", [-0.1, 0.1, 1.0, -3.0, 5.5, -23.0, 37.7])
@pytest.mark.parametrize("level", [1.0, 2.0**-6])
def test_other_gains_to_a_millionth(tmp_path: Path, gain_db: float, level: float) -> None:
    signal = music(2, level=level)
    plain, scaled = measure_samples(tmp_path, signal, signal * 10 ** (gain_db / 20), rate=RATE)[0]
    moved, truly = asdict(of(plain, gain_db)), asdict(of(scaled))
    assert [name for name in truly if (moved[name] is None) != (truly[name] is None)] == []
    known = [name for name, value in truly.items() if value is not None]
    assert [moved[name] for name in known] == pytest.approx([truly[name] for name in known], abs=1e-6, rel=0)


def test_no_gain_is_no_change(tmp_path: Path) -> None:
    (one,), _ = measure_samples(tmp_path, music(3), rate=RATE)
    assert of(one) == of(one, 0.0) == of(one, -0.0)


def test_polarity_changes_nothing(tmp_path: Path) -> None:
    signal = music(4)
    plain, inverted = measure_samples(tmp_path, signal, -signal, rate=RATE)[0]
    assert of(plain) == of(inverted)


@pytest.mark.parametrize("signal", [np.zeros(0), np.zeros(1), np.zeros(5 * RATE)], ids=["empty", "one", "silence"])
def test_silence_has_no_levels(tmp_path: Path, signal: np.ndarray) -> None:
    (one,), _ = measure_samples(tmp_path, signal, rate=RATE)
    for gain_db in (0.0, 20.0, -20.0):
        found = asdict(of(one, gain_db))
        assert found.pop("active_percent") in (None, 0.0)
        assert set(found.values()) == {None}


def test_one_sample(tmp_path: Path) -> None:
    (one,), (track,) = measure_samples(tmp_path, np.array([0.5]), rate=RATE)
    found = of(one, read_again=reader(track, RATE))
    assert found.sample_peak_dbfs == found.true_peak_dbtp == pytest.approx(-6.0206, abs=1e-4)
    # One sample is all there is: its mean square is its own.
    assert found.rms_dbfs == pytest.approx(-6.0206 + 3.0103, abs=1e-4)
    assert found.crest_db == pytest.approx(0.0, abs=1e-9)
    assert (found.played_peak_dbtp, found.integrated_lufs, found.noise_floor_dbfs) == (None, None, None)


def test_textbook_signals(tmp_path: Path) -> None:
    """AES17: a full-scale sine is 0 dBFS RMS; a square of that height 3.01 more. Crest 3.01 and 0 dB."""
    t = np.arange(20 * 4800)
    sine = np.sin(2 * np.pi * t * 1000 / 48000)
    square = np.where(t // 24 % 2 == 0, 0.5, -0.5)
    first, second, third = (of(one) for one in measure_samples(tmp_path, sine, square, np.full(96000, -0.01))[0])
    assert first.rms_dbfs == pytest.approx(0.0, abs=1e-9)
    assert first.crest_db == pytest.approx(3.0103, abs=0.04)
    assert first.true_peak_dbtp == pytest.approx(0.0, abs=0.01)
    assert first.active_percent == 100.0
    assert second.rms_dbfs == pytest.approx(20 * np.log10(0.5) + 3.0103, abs=1e-4)
    assert second.crest_db == pytest.approx(0.0, abs=1e-9)
    assert third.dc_dbfs == pytest.approx(-40.0, abs=1e-9)
    assert second.dc_dbfs is None


class TestLonePeaks:
    def make(self, tmp_path: Path, lone: float) -> Levels:
        signal = np.zeros(60 * HOP)
        signal[HOP // 2 :: 5 * HOP] = 0.25
        signal[31 * HOP] = lone
        (one,), (track,) = measure_samples(tmp_path, signal, rate=RATE)
        return of(one, read_again=reader(track, RATE))

    def test_six_above(self, tmp_path: Path) -> None:
        found = self.make(tmp_path, 0.5)
        assert found.played_peak_dbtp == pytest.approx(-12.0412, abs=1e-4)
        assert (found.true_peak_s, found.lone_peak_s) == (3.1, 3.1)

    def test_less_than_six_above(self, tmp_path: Path) -> None:
        found = self.make(tmp_path, 0.49)
        assert (found.true_peak_s, found.lone_peak_s) == (3.1, None)


class TestParts:
    def outside(self, first: np.ndarray, inside: np.ndarray, last: np.ndarray) -> np.ndarray:
        rest = np.zeros(2 * HOP)
        return np.concatenate([first, rest, inside, rest, last])

    def test_levels_outside_do_not_matter(self, tmp_path: Path) -> None:
        """Between hops of silence, which empty the filters, a part is the same alone and among others, to the bit."""
        rng = np.random.default_rng(5)
        inside = music(6, 6.0, 0.25)
        loud, soft = rng.uniform(-1, 1, 40 * HOP), rng.uniform(-0.001, 0.001, 40 * HOP)
        rest = np.zeros(2 * HOP)
        signals = [self.outside(a, inside, b) for a, b in ((loud, soft), (soft, loud), (loud, loud))]
        found, tracks = measure_samples(tmp_path, *signals, np.concatenate([rest, inside, rest]), rate=RATE)
        # True peaks are those of 17 frames earlier: half of the rest is left out.
        alone = levels(stretch(found[3], 1, found[3].hops, reader(tracks[3], RATE)))
        assert alone.played_peak_dbtp is not None
        for one, track in zip(found[:3], tracks[:3], strict=True):
            part = levels(stretch(one, 41, 40 + found[3].hops, reader(track, RATE)))
            moved = replace(part, true_peak_s=part.true_peak_s - 4.0)
            if part.lone_peak_s is not None:
                moved = replace(moved, lone_peak_s=part.lone_peak_s - 4.0)
            assert asdict(moved) == pytest.approx(asdict(alone), abs=1e-9)
            for name in (
                "true_peak_dbtp",
                "played_peak_dbtp",
                "sample_peak_dbfs",
                "integrated_lufs",
                "loudness_range_lu",
            ):
                assert getattr(moved, name) == getattr(alone, name)

    @pytest.mark.parametrize(("first", "last"), [(0, 30), (30, 60), (45, 100), (90, 115), (119, 120)])
    def test_peaks_of_a_part_are_exact(self, tmp_path: Path, first: int, last: int) -> None:
        signal = music(7, 12.0)
        (one,), (track,) = measure_samples(tmp_path, signal, rate=RATE)
        exact = true_peaks(one, track)[first:last]
        part = stretch(one, first, last, reader(track, RATE))
        assert part.peaks.max() == exact.max()
        if last - first > 1:
            assert recurring(part.peaks) == recurring(exact)

    def test_as_the_reference_reads_that_part(self, tmp_path: Path) -> None:
        """Much softer than the rest: nothing of it was interpolated in the pass."""
        rng = np.random.default_rng(8)
        t = np.arange(30 * HOP)
        inside = 0.01 * np.sin(2 * np.pi * 0.25 * t + np.pi / 4) * np.hanning(len(t)) + rng.uniform(-1e-4, 1e-4, len(t))
        signal = self.outside(rng.uniform(-1, 1, 60 * HOP), inside, rng.uniform(-1, 1, 60 * HOP))
        (one,), (track,) = measure_samples(tmp_path, signal, rate=RATE)
        part = levels(stretch(one, 61, 94, reader(track, RATE)))
        assert part.true_peak_dbtp == pytest.approx(20 * np.log10(reference.true_peak(inside)), abs=0.05)
        assert part.true_peak_dbtp > part.sample_peak_dbfs + 2

    @pytest.mark.parametrize(("first", "last"), [(0, 0), (50, 60), (20, 25), (5, 5), (19, 1000)])
    def test_parts_beyond_the_track(self, tmp_path: Path, first: int, last: int) -> None:
        (one,), (track,) = measure_samples(tmp_path, np.full(20 * HOP, 0.5), rate=RATE)
        found = levels(stretch(one, first, last, reader(track, RATE)))
        assert (found.sample_peak_dbfs is not None) is (first < 20 and last > first)


@pytest.mark.parametrize("rate", [48000, 22050, 11025])
@pytest.mark.parametrize("seed", range(6))
def test_the_greatest_window_is_the_greatest_of_all(rate: int, seed: int) -> None:
    """Looking only where it can matter misses nothing, with holes or without."""
    rng = np.random.default_rng(seed)
    for cells in (10, 30, 40, 50, 300, 310, 700, 1200):
        sums = rng.exponential(1.0, cells) ** rng.integers(1, 5)
        if seed % 3 == 1:
            sums[rng.random(cells) < 0.9] = 0.0
        whole = rng.random(cells) >= (0.0 if seed % 2 else 0.01)
        starts = cell_starts(cells, rate)
        for length in (40, 300):
            wanted = float(_windows(sums, whole, starts, length).max(initial=0.0))
            assert _greatest(sums, whole, starts, length) == wanted


def test_loudness_figures_move_as_powers_do(tmp_path: Path) -> None:
    signal = music(9)
    (one, half), _ = measure_samples(tmp_path, signal, signal / 2, rate=RATE)
    part = stretch(one, 0, one.hops, refuse).loudness
    assert loudness_figures(part, 0.25) == loudness_figures(stretch(half, 0, half.hops, refuse).loudness)
