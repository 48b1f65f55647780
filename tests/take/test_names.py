"""File names taken apart."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.take.names import natural, spoken, stamp_time, take_apart, track_number


@pytest.mark.parametrize(
    ("name", "label", "base", "part", "body", "tail"),
    [
        ("07 Snare top.wav", "", "07 Snare top", None, "07 Snare top", None),
        ("TRK07.wav", "", "TRK07", None, "TRK07", None),
        ("Track 07.wav", "", "Track 07", None, "Track", 7),
        ("Track01_0002.wav", "", "Track01_0002", None, "Track01", 2),
        ("show-2.wav", "", "show-2", None, "show", 2),
        ("Kick (3).wav", "", "Kick (3)", None, "Kick", 3),
        ("Take 2 Kick.wav", "Take 2", "Kick", None, "Kick", None),
        ("Intake 3.wav", "", "Intake 3", None, "Intake", 3),
        ("Kick part 3.wav", "", "Kick", 3, "Kick", None),
        ("R_20261124-203000.wav", "20261124-203000", "R", None, "R", None),
        ("2026-11-24 20.30.05 Kick.wav", "2026-11-24 20.30.05", "Kick", None, "Kick", None),
        ("261124-203000_05.wav", "261124-203000", "05", None, "05", None),
        ("20261399 Kick.wav", "", "20261399 Kick", None, "20261399 Kick", None),  # no month is the 13th
        ("12.wav", "", "12", None, "12", None),
    ],
)
def test_pieces(name, label, base, part, body, tail):
    found = take_apart(Path(name))
    assert (found.label, found.base, found.part, found.body, found.tail) == (label, base, part, body, tail)


@pytest.mark.parametrize(
    ("text", "way", "expected"),
    [
        ("TRK07", "word", (7, 7)),
        ("Audio 7_2", "word", (7, 7)),
        ("ch-12 Bass", "word", (12, 12)),
        ("Tracks", "word", None),
        ("Churn 3", "word", None),
        ("07 Snare top", "leading", (7, 7)),
        ("05-06 Keys", "leading", (5, 6)),
        ("5+6 Keys", "leading", (5, 6)),
        ("12-string", "leading", (12, 12)),
        ("Snare 7", "leading", None),
        ("Snare 7", "trailing", (7, 7)),
        ("Keys 07-08", "trailing", (7, 8)),
        ("Keys 8-7", "trailing", (7, 7)),
        ("Snare", "trailing", None),
        ("12345 Kick", "leading", None),
    ],
)
def test_track_numbers(text, way, expected):
    assert track_number(text, way) == expected


@pytest.mark.parametrize(
    ("base", "name"),
    [
        ("07 Snare top", "Snare top"),
        ("05-06 Keys", "Keys"),
        ("Track 07 - Snare", "Snare"),
        ("TRK07", "TRK07"),
        ("12", "12"),
        ("Kick", "Kick"),
        ("07", "07"),
        ("2nd guitar", "2nd guitar"),
    ],
)
def test_what_is_said_without_the_number(base, name):
    assert spoken(base) == name


def test_natural_order():
    names = ["Track 10", "track 2", "Track 1", "Kick", "02 a", "10 a"]
    assert sorted(names, key=natural) == ["02 a", "10 a", "Kick", "Track 1", "track 2", "Track 10"]


def test_times_of_stamps():
    assert stamp_time("20261124-203000") - stamp_time("2026-11-24 20.29.30") == 30
    assert stamp_time("2026-11-24") is None
    assert stamp_time("Take 2") is None


@given(st.text(max_size=60))
def test_any_text(text):
    if "/" in text or "\0" in text:
        return
    found = take_apart(Path(text + ".wav"))
    assert isinstance(natural(found.base), tuple)
    assert spoken(found.base) in found.base
    for way in ("word", "leading", "trailing"):
        numbers = track_number(found.base, way)
        assert numbers is None or 0 <= numbers[0] <= numbers[1] <= 9999
