"""The fixed part of a bext chunk, cut at every length."""

from __future__ import annotations

import datetime

import pytest

from replay.take.bext import Bext, read_bext
from tests.take.making import bext

WHOLE = bext(date="2026-11-20", clock="20:30:05", reference=3_546_240_007, description=b"Take 3")[8:]
WHEN = datetime.datetime(2026, 11, 20, 20, 30, 5).timestamp()


def test_the_whole_chunk():
    assert read_bext(WHOLE) == Bext(description="Take 3", made=WHEN, reference=3_546_240_007)


@pytest.mark.parametrize("cut", [0, 1, 256, 329, 330, 337, 345, 346, 602])
def test_cut_short(cut):
    found = read_bext(WHOLE[:cut])
    assert found.description == "Take 3"[:cut]
    assert found.reference == (3_546_240_007 if cut >= 346 else None)
    if cut >= 338:
        assert found.made == WHEN


@pytest.mark.parametrize("date", ["2026:11:20", "2026_11_20", "2026 11 20", "2026.11.20"])
def test_any_separator_between_the_numbers_of_a_date(date):
    assert read_bext(bext(date=date, clock="20-30-05")[8:]).made == WHEN


def test_a_reference_beyond_any_day_is_left_out():
    assert read_bext(bext(reference=(1 << 64) - 1)[8:]).reference is None
