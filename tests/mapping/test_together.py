"""Declared pairs on lists made by hand: when their sides are apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.mapping.together import Pairs
from replay.mapping.weigh import Weighing
from tests.mapping.test_weigh import N, list_of


@pytest.mark.parametrize(("alike", "price"), [(0.97, 0.0), (0.945, 0.15), (0.86, 2.7), (0.6, 3.0)])
def test_a_pair_is_apart_where_another_track_goes_with_one_side_so_much_closer(alike: float, price: float) -> None:
    """A shift by one through keys tears them apart, and yet all that plays chords rises and falls together: the track
    behind, which holds the second side now, goes with the first one closer still."""
    together = np.full((N, N), 0.3)
    together[8, 9] = together[9, 8] = alike
    together[9, 10] = together[10, 9] = 0.97
    pairs = Pairs(replace(list_of(), together=together))
    assert pairs.price({}) == pytest.approx(price, abs=0.01)


def test_tracks_that_go_together_loosely_tear_no_pair_apart() -> None:
    together = np.full((N, N), 0.3)
    together[8, 9] = together[9, 8] = 0.8
    together[9, 10] = together[10, 9] = 0.84
    # (0.85 - 0.8) of (0.85 - 0.45), of 3.
    assert Pairs(replace(list_of(), together=together)).price({}) == pytest.approx(0.375)


def test_a_torn_pair_speaks_for_the_shift_that_mends_it() -> None:
    # Organ, keys and guitars sound alike; only the keys' two sides tell where they lie.
    places = list_of([*range(6), -1, *range(6, 13)])
    places.sound[:] *= 0.0
    together = np.full((N, N), 0.7)
    together[9, 10] = together[10, 9] = 0.98
    (one,) = Weighing(replace(places, together=together)).told()
    assert (one.shape, one.by) == ("shift", 1)
    assert one.gains["pairs"] == pytest.approx(3.0)
