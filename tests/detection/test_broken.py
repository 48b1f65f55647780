"""One try of each fault of clock, link and recorder, and the interval that the table gives. The rates themselves are a
command: `python -m tests.detection`."""

from __future__ import annotations

import pytest

from tests.detection.__main__ import findings
from tests.detection.broken import PLANTERS
from tests.detection.clean import synthetic
from tests.detection.material import TUNING
from tests.wilson import wilson

SEEDS = {"gaps_before_dither": 3}
"""Seed 2 plants these on a line input, where docs/limits.md says that they are not told."""


@pytest.mark.parametrize("plant", PLANTERS, ids=lambda plant: plant.__name__)
def test_each_fault_is_found_where_it_is_and_nothing_else(plant):
    planted = plant(TUNING, SEEDS.get(plant.__name__, 2))
    told = findings(planted.recording)
    assert [one for one in told if one[0] == planted.code and set(one[2]) & set(planted.inputs)], planted.what
    assert [one for one in told if one[0] != planted.code and one[1] != "note"] == []


def test_squares_saws_clicks_timecode_and_limiters_are_healthy():
    assert [one for one in findings(synthetic(TUNING, 2)) if one[1] != "note"] == []


def test_wilson_by_hand():
    # 19 of 20: (0.95 + z2/40 -+ z sqrt(0.95 * 0.05 / 20 + z2 / 1600)) / (1 + z2/20) with z2 = 3.8415.
    assert wilson(19, 20) == pytest.approx((0.7639, 0.9911), abs=1e-4)
    assert wilson(0, 0) == (0.0, 1.0)
