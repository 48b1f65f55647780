from __future__ import annotations

import pytest

from replay.checks import length_mismatch
from tests.checks.factory import Session


def found(session):
    return list(length_mismatch.check(session.show()))


def cut_end(session, number, seconds):
    """Whole hops off the end."""
    session.tracks[number].levels = session.tracks[number].levels[: -round(seconds * 10)]


def test_equal_lengths_are_quiet():
    assert found(Session()) == []


def test_one_track_alone_is_quiet():
    session = Session()
    session.tracks = {1: session.tracks[1]}
    assert found(session) == []


def test_a_second_or_more_is_a_warning():
    session = Session()
    cut_end(session, 2, 1.0)
    (finding,) = found(session)
    assert (finding.severity, finding.amount, finding.unit) == ("warning", 1.0, "s")
    assert finding.message == "Track 2 ends 1 s before the others."


def test_under_a_second_is_a_note():
    session = Session()
    cut_end(session, 2, 0.9)
    (finding,) = found(session)
    assert (finding.severity, finding.amount) == ("note", 0.9)


def test_tracks_of_one_odd_length_are_told_once():
    session = Session()
    for number in (2, 3, 6):
        cut_end(session, number, 12.4)
    (finding,) = found(session)
    assert finding.tracks == (2, 3, 6)
    assert finding.message == "Tracks 2-3, 6 end 12.4 s before the others."


def test_two_odd_lengths_are_two_findings():
    session = Session()
    cut_end(session, 2, 12.4)
    cut_end(session, 3, 5)
    assert [finding.tracks for finding in found(session)] == [(2,), (3,)]


def test_a_late_start_is_told():
    session = Session()
    session.tracks[5].start_s = 2.0
    session.tracks[5].levels = session.tracks[5].levels[20:]
    (finding,) = found(session)
    assert finding.message == "Track 5 starts 2 s after the others."


def test_a_longer_track_runs_on():
    session = Session()
    for number in (1, 2, 3, 5, 6, 7, 8):
        cut_end(session, number, 3)
    (finding,) = found(session)
    assert finding.message == "Track 4 runs on 3 s after the others."


def test_small_differences_are_one_note_together():
    session = Session()
    cut_end(session, 2, 0.2)
    cut_end(session, 3, 0.3)
    (finding,) = found(session)
    assert (finding.severity, finding.tracks) == ("note", (2, 3))
    assert finding.message == "Tracks 2-3 end up to 0.3 s before the others."


@pytest.mark.parametrize("frames", [1, 64, 479])
def test_a_few_blocks_apart_are_quiet(frames):
    session = Session()
    session.tracks[2].coverage = ((0, 60 * 48000 - frames),)
    assert found(session) == []


def test_a_hole_inside_is_not_a_length():
    session = Session()
    session.tracks[2].coverage = ((0, 10 * 48000), (20 * 48000, 60 * 48000))
    assert found(session) == []
