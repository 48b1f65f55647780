"""Sliding sums against sums written out, and what a running sum would get wrong."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.meters.window import sliding_sums


@given(st.lists(st.integers(-1000, 1000), max_size=200), st.integers(1, 70))
def test_sums_of_whole_numbers_are_exact(values: list[int], length: int) -> None:
    wanted = [sum(values[i : i + length]) for i in range(len(values) - length + 1)]
    assert sliding_sums(np.array(values, float), length).tolist() == wanted


@pytest.mark.parametrize("length", [4, 30, 40, 300])
def test_nothing_of_a_loud_passage_is_left_in_the_silence_behind_it(length: int) -> None:
    values = np.concatenate([np.random.default_rng(1).uniform(0, 1e6, 1000), np.zeros(1000)])
    assert (sliding_sums(values, length)[1000:] == 0).all()


def test_fewer_values_than_the_window() -> None:
    assert sliding_sums(np.ones(29), 30).tolist() == []
    assert sliding_sums(np.ones(30), 30).tolist() == [30.0]
