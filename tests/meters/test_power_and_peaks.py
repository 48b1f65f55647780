"""Sample peak, power, offset, over full scale: every hop against literal sums, one after the other."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from replay.grid import hop_starts
from replay.meters.peak import sample_peak
from replay.meters.power import mean_square, offset
from tests.tracks import as_samples, codes, measure_samples


def hops(samples: np.ndarray, rate: int) -> list[np.ndarray]:
    count = -(-len(samples) * 10 // rate)
    starts = hop_starts(count, rate)
    return [samples[a:b] for a, b in pairwise(starts) if a < len(samples)]


def one_by_one(values: np.ndarray) -> float:
    """The sum in order of time: floating point sums depend on their order."""
    total = 0.0
    for value in values.tolist():
        total += value
    return total


@pytest.mark.parametrize("rate", [8000, 11025, 48000])
@pytest.mark.parametrize("encoding", ["s16", "s24", "f32", "f64"])
def test_every_hop_to_the_bit(tmp_path: Path, rate: int, encoding: str) -> None:
    rng = np.random.default_rng(rate)
    signals = [rng.uniform(-1.2, 1.1, rate // 3), rng.standard_normal(rate // 4) * 0.01, np.zeros(rate // 5)]
    if encoding in ("s16", "s24"):
        signals = [as_samples(codes(signal, int(encoding[1:]))) for signal in signals]
    elif encoding == "f32":
        signals = [signal.astype(np.float32).astype(np.float64) for signal in signals]
    for one, signal in zip(measure_samples(tmp_path, *signals, rate=rate, encoding=encoding)[0], signals, strict=True):
        parts = hops(signal, rate)
        assert one.column("high").tolist() == [max(0.0, part.max()) for part in parts]
        assert one.column("low").tolist() == [min(0.0, part.min()) for part in parts]
        assert one.column("energy").tolist() == [one_by_one(part * part) for part in parts]
        assert one.column("sum").tolist() == [one_by_one(part) for part in parts]
        assert one.column("over").tolist() == [(np.abs(part) > 1).sum() for part in parts]
        assert one.totals["sample_peak"] == np.abs(signal).max()
        assert one.totals["over_full_scale"] == (np.abs(signal) > 1).sum()


def test_one_sided_signals_have_one_sided_peaks(tmp_path: Path) -> None:
    up, down = np.full(9600, 0.25), np.full(9600, -0.25)
    first, second = measure_samples(tmp_path, up, down)[0]
    assert first.column("low").tolist() == second.column("high").tolist() == [0.0, 0.0]
    assert first.column("high").tolist() == [0.25, 0.25]
    assert second.column("low").tolist() == [-0.25, -0.25]


def test_exactly_full_scale_is_not_over(tmp_path: Path) -> None:
    (one,) = measure_samples(tmp_path, np.tile([1.0, -1.0, np.nextafter(1, 2), -1.5], 1200), encoding="f64")[0]
    assert one.column("over").tolist() == [2400]


def test_figures_over_hops() -> None:
    assert sample_peak(np.array([0.1, 0.3]), np.array([-0.4, 0.0])) == 0.4
    assert sample_peak(np.zeros(0), np.zeros(0)) == 0.0
    # A full-scale sine has a mean square of a half, a full-scale square of one.
    sine = np.sin(2 * np.pi * np.arange(48000) * 997 / 48000)
    assert mean_square((sine**2).reshape(10, -1).sum(axis=1), 48000) == pytest.approx(0.5, rel=1e-12)
    assert offset(np.array([30.0, -6.0]), 240) == 0.1
    assert (mean_square(np.zeros(0), 0), offset(np.zeros(0), 0)) == (0.0, 0.0)
    assert math.isclose(mean_square(np.array([4800.0]), 4800), 1.0)
