"""A track's level over time in columns, and its octaves."""

from __future__ import annotations

import numpy as np
import pytest

from replay.desk.course import LOWEST_DB, course, hops_a_column
from replay.desk.spectrum import band_edges, octaves
from replay.meters.model import Measurement
from tests import parts

RATE = parts.RATE


def measured(hops: int, stop: int | None = None, **columns: np.ndarray) -> Measurement:
    silent = {name: np.zeros(hops) for name in ("high", "low", "energy", "k_energy")}
    coverage = ((0, hops * 4800 if stop is None else stop),)
    return parts.measurement(1, hops, {**silent, **columns}, coverage=coverage)


@pytest.mark.parametrize(
    ("hops", "columns", "length"), [(0, 7200, 1), (7200, 7200, 1), (7201, 7200, 2), (72000, 7200, 10), (5, 0, 5)]
)
def test_columns_are_as_short_as_their_number_allows(hops, columns, length):
    assert hops_a_column(hops, columns) == length


def test_peaks_are_the_greatest_and_least_of_a_column_and_none_is_lost():
    high, low = np.zeros(25), np.zeros(25)
    high[13], low[24] = 0.9, -0.8
    made = course(measured(25, high=high, low=low), 10)
    assert made.high.tolist() == [0.0, 0.9, 0.0]
    assert made.low.tolist() == [0.0, 0.0, -0.8]


def test_rms_is_that_of_the_whole_column_a_full_scale_sine_being_0():
    energy = np.full(20, 2400.0)  # a sine of amplitude 1: mean square 0.5
    energy[5:10] = 0.0  # half of the first column
    made = course(measured(20, energy=energy), 10)
    assert made.rms == pytest.approx([-3.01, 0.0], abs=0.01)


def test_the_last_column_counts_only_the_frames_that_exist():
    energy = np.array([2400.0, 1200.0])
    assert course(measured(2, stop=7200, energy=energy), 2).rms == pytest.approx([0.0], abs=0.01)


def test_short_term_loudness_needs_three_seconds():
    # K-weighted mean square 1 is -0.691 LUFS (BS.1770).
    made = course(measured(40, k_energy=np.full(40, 4800.0)), 10)
    assert made.short[:2].tolist() == [LOWEST_DB, LOWEST_DB]
    assert made.short[2:] == pytest.approx([-0.691, -0.691], abs=1e-3)


def test_silence_and_an_empty_track():
    assert course(measured(10), 10).rms.tolist() == [LOWEST_DB + 10 * np.log10(2)]
    assert len(course(measured(0), 10).high) == 0


def test_octaves_are_shares_of_the_hops_that_are_played():
    bands = {f"band_{band}": np.zeros(100) for band in range(11)}
    bands["band_3"][:] = 90.0
    bands["band_5"][:] = 10.0
    bands["band_8"][50:] = 1e-3  # far below a twentieth of the loud hops would it stand alone
    for band in bands.values():
        band[:50] *= 1e-4  # bleed in the first half, 40 dB down
    found = octaves(measured(100, **bands), 0, 100)
    assert found is not None
    assert found[3] == pytest.approx(-0.458, abs=0.01)
    assert found[5] == pytest.approx(-10.0, abs=0.01)
    assert found[0] == -120.0


def test_octaves_of_silence_or_without_bands_are_none():
    assert octaves(measured(10, **{f"band_{band}": np.zeros(10) for band in range(11)}), 0, 10) is None
    assert octaves(measured(10), 0, 10) is None


def test_band_edges_are_those_of_the_meter():
    from replay.meters.bands import edges

    for rate in (44100, 48000, 96000, 22050):
        assert band_edges(rate) == pytest.approx(edges(rate)), rate
