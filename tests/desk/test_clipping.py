"""Clip runs sorted by the part that is judged, with more of them than any list keeps."""

from __future__ import annotations

import numpy as np
import pytest

from replay.desk.clipping import clipping
from tests.desk.desks import HOPS, made

LEVEL = 1 - 2.0**-23


def test_runs_in_and_before_the_judged_part() -> None:
    one = made(1, -10.0, clip_at=(1.0, 9.99, 10.0, 11.5, 20.0, 30.0))
    found = clipping(one, 10.0, 20.0)
    assert [run.start_s for run in found.runs] == [10.0, 11.5]
    assert (found.count, found.before) == (2, 2)
    assert {(run.length, run.positive) for run in found.runs} == {(5, True)}
    assert found.longest_ms == pytest.approx(5 / 48)


def test_none() -> None:
    found = clipping(made(1, -10.0), 0.0, 60.0)
    assert (found.runs, found.count, found.before, found.longest_ms) == ((), 0, 0, 0.0)


@pytest.mark.parametrize(
    ("from_s", "to_s", "clipped_hops", "count", "before"),
    [
        # Six kept from 1 s to 6 s, 94 more behind them.
        (0.0, 60.0, [], 100, 0),
        (3.0, 60.0, [], 4 + 94, 2),
        # All kept ones lie before: the judged part reaches full scale or it does not.
        (30.0, 40.0, [350], 94, 6),
        (30.0, 40.0, [299, 400], 0, 100),
        # All lie behind.
        (0.0, 1.0, [], 0, 0),
        (0.0, 0.5, [30], 0, 0),
    ],
)
def test_more_than_were_kept(from_s: float, to_s: float, clipped_hops: list[int], count: int, before: int) -> None:
    high = np.full(HOPS, 0.3)
    high[10:61] = LEVEL
    high[clipped_hops] = LEVEL
    one = made(1, -10.0, clip_at=(1, 2, 3, 4, 5, 6), clips=100, columns={"high": high, "low": -high * 0.5})
    found = clipping(one, from_s, to_s)
    assert (found.count, found.before) == (count, before)
