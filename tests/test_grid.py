"""The grid of 10 ms cells and 100 ms hops: literal cases, and what must hold at any rate."""

from __future__ import annotations

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.grid import CELLS_PER_HOP, cell_start, cell_starts, hop_start, hop_starts, hops_of, longest_hop

RATES = (8000, 11025, 16000, 22050, 32000, 44100, 47952, 48000, 48048, 88200, 96000, 176400, 192000)


def test_whole_hundredths() -> None:
    assert [cell_start(k, 48000) for k in range(4)] == [0, 480, 960, 1440]
    assert [hop_start(k, 44100) for k in range(4)] == [0, 4410, 8820, 13230]


def test_hundredths_that_are_not_whole() -> None:
    # 220.5 frames a cell, halves rounded up.
    assert cell_starts(6, 22050).tolist() == [0, 221, 441, 662, 882, 1103, 1323]
    assert hop_starts(3, 22050).tolist() == [0, 2205, 4410, 6615]
    # 1102.5 frames a hop.
    assert hop_starts(4, 11025).tolist() == [0, 1103, 2205, 3308, 4410]
    assert longest_hop(11025) == 1103


@pytest.mark.parametrize("rate", RATES)
def test_cells_start_at_the_nearest_frame(rate: int) -> None:
    starts = cell_starts(1000, rate).tolist()
    assert starts == [floor(Fraction(k * rate, 100) + Fraction(1, 2)) for k in range(1001)]
    assert starts == [cell_start(k, rate) for k in range(1001)]
    assert hop_starts(100, rate).tolist() == starts[::CELLS_PER_HOP]


@given(st.integers(1000, 1_536_000), st.integers(0, 10_000_000))
def test_hops_are_never_longer_than_the_longest(rate: int, hop: int) -> None:
    assert rate // 10 <= hop_start(hop + 1, rate) - hop_start(hop, rate) <= longest_hop(rate)


@given(st.integers(1000, 1_536_000), st.integers(0, 1 << 46))
def test_hops_of_are_just_enough(rate: int, frames: int) -> None:
    hops = hops_of(frames, rate)
    assert hop_start(hops, rate) >= frames
    assert hops == 0 or hop_start(hops - 1, rate) < frames


def test_hops_of_short_stretches() -> None:
    assert [hops_of(frames, 48000) for frames in (0, 1, 4799, 4800, 4801, 9600)] == [0, 1, 1, 1, 2, 2]
    # A hop of 1103 and one of 1102 frames.
    assert [hops_of(frames, 11025) for frames in (1102, 1103, 1104, 2205, 2206)] == [1, 1, 2, 2, 3]
