"""Findings made of what the take reports about its files."""

from __future__ import annotations

import pytest

from replay.checks import (
    depth_mismatch,
    empty_file,
    find_all,
    rate_mismatch,
    segment_missing,
    still_recording,
    track_clash,
    track_order,
    truncated,
    unreadable,
)
from replay.patch.model import Slot, Socket
from replay.take.model import FileTrouble
from tests.checks.factory import Session

CASES = [
    (unreadable, "fault"),
    (truncated, "fault"),
    (empty_file, "fault"),
    (segment_missing, "fault"),
    (track_clash, "fault"),
    (rate_mismatch, "fault"),
    (depth_mismatch, "note"),
    (still_recording, "note"),
    (track_order, "note"),
]


def trouble(code: str, file: str = "07 Vocal.wav", tracks: tuple[int, ...] = (7,), **more) -> FileTrouble:
    return FileTrouble(code=code, detail=f"{file} is odd.", files=(file,), tracks=tracks, **more)


@pytest.mark.parametrize(("module", "severity"), CASES, ids=[module.CODE for module, _ in CASES])
def test_speaks_with_place_and_severity(module, severity):
    session = Session()
    session.troubles = [trouble(module.CODE, lost_s=2.5, start_s=10.0)]
    (finding,) = module.check(session.show())
    assert (finding.code, finding.severity, finding.confidence) == (module.CODE, severity, "certain")
    assert (finding.channels, finding.tracks) == ((7,), (7,))
    assert (finding.slots, finding.sockets) == ((Slot("main", 7),), (Socket("riser", 7),))
    assert (finding.amount, finding.unit, finding.start_s) == (2.5, "s", 10.0)
    assert finding.message == "07 Vocal.wav is odd."
    assert finding.action


@pytest.mark.parametrize("module", [module for module, _ in CASES], ids=[module.CODE for module, _ in CASES])
def test_keeps_quiet(module):
    session = Session()
    others = {other.CODE for other, _ in CASES} - {module.CODE}
    session.troubles = [trouble(code) for code in sorted(others)]
    assert list(module.check(session.show())) == []


def test_a_file_that_gives_no_track_is_told_of_the_take():
    session = Session()
    session.troubles = [trouble("unreadable", "notes.wav", ()), trouble("unreadable", "more.wav", ())]
    found = list(unreadable.check(session.show()))
    assert [finding.channels for finding in found] == [(), ()]
    assert len({finding.id for finding in found}) == 2


def test_names_alike_in_an_id_still_give_different_ids():
    session = Session()
    session.troubles = [trouble("unreadable", "é.wav", ()), trouble("unreadable", "è.wav", ())]
    ids = [finding.id for finding in find_all(session.show()) if finding.code == "unreadable"]
    assert len(set(ids)) == 2


def test_a_power_cut_that_shortened_all_files_alike_is_told_once():
    session = Session()
    session.troubles = [trouble("truncated", f"{n:02d}.wav", (n,), lost_s=4.02) for n in range(1, 9)]
    (finding,) = truncated.check(session.show())
    assert finding.tracks == (1, 2, 3, 4, 5, 6, 7, 8)
    assert finding.message == "01.wav is odd. 7 more are like it."


def test_files_that_lost_different_lengths_are_told_apart():
    session = Session()
    session.troubles = [
        trouble("truncated", "1.wav", (1,), lost_s=4.0),
        trouble("truncated", "2.wav", (2,), lost_s=9.0),
    ]
    assert [finding.amount for finding in truncated.check(session.show())] == [4.0, 9.0]


def test_still_recording_is_one_note_for_all_files():
    session = Session()
    session.troubles = [trouble("still-recording", f"{n}.wav", (n,)) for n in (1, 2, 3)]
    assert len(list(still_recording.check(session.show()))) == 1


def test_names_from_files_are_made_harmless():
    session = Session()
    session.troubles = [trouble("unreadable", "a\x1b[31m\u202e.wav")]
    (finding,) = unreadable.check(session.show())
    assert finding.message == "a?[31m?.wav is odd."


def test_a_take_at_another_rate_than_the_patch():
    session = Session()
    session.patch_rate = 96000
    (finding,) = rate_mismatch.check(session.show())
    assert finding.severity == "fault"
    assert finding.message == "The take is at 48000 Hz, the patch says 96000 Hz."
    assert finding.channels == ()


@pytest.mark.parametrize("rate", [None, 48000])
def test_no_rate_in_the_patch_or_the_same_is_quiet(rate):
    session = Session()
    session.patch_rate = rate
    assert list(rate_mismatch.check(session.show())) == []
