"""Checks on mapping: each where it must speak and where it must keep quiet, on evidence made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.checks import (
    duplicate,
    find_all,
    moved_block,
    name_mismatch,
    noise_only,
    polarity,
    shifted,
    swapped,
    time_offset,
    unlikely_source,
)
from replay.desk.model import Show
from replay.evidence.model import Evidence, Likeness
from replay.findings.finding import Finding
from replay.findings.settle import settle
from replay.mapping.model import ChannelMapping, MappingResult, Misplacement
from tests.checks.factory import Session


def like(a: int, b: int, **facts) -> Likeness:
    usual = {"lag_s": 0.0, "gain_db": 0.0, "inverted": False, "height": 0.95, "residual_db": None}
    return Likeness(a=a, b=b, moments=8, asked=8, **{**usual, **facts})


def show_of(session: Session, *, likeness: tuple[Likeness, ...] = (), **mapping) -> Show:
    evidence = Evidence((), None, {}, likeness={(one.a, one.b): one for one in likeness})
    return replace(session.show(), evidence=evidence, mapping=MappingResult(judged=True, **mapping))


def misplaced(sources: dict[int, int | None], shape: str = "exchange", proven: bool = False, by: int = 0, **gains):
    gains = {kind.replace("_", " "): value for kind, value in (gains or {"sound": 8.0}).items()}
    return Misplacement(shape, tuple(sources), sources, by, gains, 6.0, proven)


def one(found) -> Finding:
    (finding,) = list(found)
    return finding


def test_an_exchange_that_only_the_sound_tells_is_a_warning() -> None:
    finding = one(swapped.check(show_of(Session(), misplaced=(misplaced({2: 7, 7: 2}),))))
    assert (finding.severity, finding.confidence, finding.channels) == ("warning", "likely", (2, 7))
    assert finding.message == "Exchanged: the source of 2 Snare on track 7 and 7 Vocal on track 2; the sound says so."
    assert "riser 2 and riser 7" in finding.action


@pytest.mark.parametrize(
    "case",
    [misplaced({2: 7, 7: 2}, sound=8.0, names=4.0), misplaced({2: 7, 7: 2}, proven=True, line_check=9.0)],
    ids=["two kinds agree", "the line check proves it"],
)
def test_an_exchange_is_a_fault_where_it_is_certain(case: Misplacement) -> None:
    finding = one(swapped.check(show_of(Session(), misplaced=(case,))))
    assert (finding.severity, finding.confidence) == ("fault", "certain")


def test_a_shift_names_where_to_start_and_what_is_lost() -> None:
    case = misplaced({4: 5, 5: 6, 6: 7, 7: None}, "shift", by=1, sound=8.0, silence=2.5)
    show = show_of(Session(), misplaced=(case,))
    assert list(swapped.check(show)) == []
    finding = one(shifted.check(show))
    assert finding.message.startswith("The sources of channels 4-7 lie 1 track further on, and 7 Vocal not recorded; ")
    assert finding.action.startswith("Start at riser 4 (channel 4 OH R) ")


def test_a_shift_that_may_begin_earlier_says_so() -> None:
    case = replace(misplaced({5: 4, 6: 5, 7: 6}, "shift", by=-1, sound=8.0, silence=2.5), may_begin=(2, 3, 4))
    finding = one(shifted.check(show_of(Session(), misplaced=(case,))))
    assert finding.message.startswith(
        "The sources of channels 5-7 lie 1 track further back, perhaps also those of channels 2-4; "
    )
    assert finding.action.startswith("Start at riser 2 (channel 2 Snare) ")
    assert finding.channels == (5, 6, 7)


def test_a_shift_that_may_end_later_says_so() -> None:
    case = misplaced({3: 2, 4: 3, 5: 4}, "shift", by=-1, sound=8.0, silence=2.5)
    finding = one(shifted.check(show_of(Session(), misplaced=(replace(case, may_end=(7,)),))))
    assert finding.message.startswith(
        "The sources of channels 3-5 lie 1 track further back, perhaps also that of channel 7; "
    )
    assert finding.action.startswith("Start at riser 3 (channel 3 OH L) ")
    both = one(shifted.check(show_of(Session(), misplaced=(replace(case, may_begin=(1, 2), may_end=(6, 7)),))))
    assert "further back, perhaps also those of channels 1-2, 6-7; " in both.message
    assert both.action.startswith("Start at riser 1 ")


def test_blocks_on_each_others_tracks_are_told_as_one() -> None:
    halves = {1: 5, 2: 6, 3: 7, 4: 8, 5: 1, 6: 2, 7: 3, 8: 4}
    show = show_of(Session(), misplaced=(misplaced(halves, "block", proven=True, line_check=9.0),))
    finding = one(moved_block.check(show))
    assert (finding.severity, finding.channels) == ("fault", (1, 2, 3, 4, 5, 6, 7, 8))
    assert finding.message == (
        "Blocks exchanged: the sources of channels 1-8 lie in other blocks of tracks 1-8; the line check says so."
    )
    assert list(swapped.check(show)) == []
    assert list(shifted.check(show)) == []


@pytest.mark.parametrize("case", [misplaced({2: 7, 7: 2}), misplaced({4: 5, 5: 6, 6: 7, 7: None}, "shift", by=1)])
def test_what_is_no_block_is_not_told_as_one(case: Misplacement) -> None:
    assert list(moved_block.check(show_of(Session(), misplaced=(case,)))) == []


def test_names_that_contradict_are_a_warning_and_a_note_where_the_sound_confirms() -> None:
    show = show_of(Session(), misnamed=((2, 2, "7 Vocal"),))
    assert one(name_mismatch.check(show)).severity == "warning"
    views = tuple(replace(view, mapping=ChannelMapping("heard", "likely")) for view in show.channels)
    assert one(name_mismatch.check(replace(show, channels=views))).severity == "note"


def test_names_that_say_nothing_are_one_note() -> None:
    finding = one(name_mismatch.check(show_of(Session(), names="the track names say nothing about sources")))
    assert (finding.severity, finding.channels) == ("note", ())


def test_a_copy_on_a_channel_with_a_source_of_its_own_is_a_fault() -> None:
    copy = like(2, 7, residual_db=-110.0, gain_db=-3.0, inverted=True, lag_s=0.0001)
    finding = one(duplicate.check(show_of(Session(), likeness=(copy,))))
    assert (finding.severity, finding.tracks) == ("fault", (2, 7))
    assert finding.message == (
        "Track 7 is an inverted copy of track 2, 3 dB softer, 0.1 ms later: "
        "the source of 2 Snare and 7 Vocal is there once only."
    )


def test_a_declared_pair_that_is_mono_is_a_note() -> None:
    assert one(duplicate.check(show_of(Session(), likeness=(like(3, 4, residual_db=-90.0),)))).severity == "note"


def test_a_pair_that_was_mono_is_no_fault_where_it_lies_on_other_tracks() -> None:
    """3 and 4 are a declared pair: 4 was exchanged with 7, so the pair lies on tracks 3 and 7."""
    moved = misplaced({4: 7, 7: 4})
    copy = like(3, 7, residual_db=-90.0)
    assert one(duplicate.check(show_of(Session(), likeness=(copy,), misplaced=(moved,)))).severity == "note"
    assert one(duplicate.check(show_of(Session(), likeness=(copy,)))).severity == "fault"
    # What lies on the pair's own tracks then are two sources, and one of them is missing.
    theirs = like(3, 4, residual_db=-90.0)
    assert one(duplicate.check(show_of(Session(), likeness=(theirs,), misplaced=(moved,)))).severity == "fault"


@pytest.mark.parametrize(
    "near", [like(2, 7, residual_db=-25.0), like(2, 7), replace(like(2, 7, residual_db=-90.0), moments=7)]
)
def test_what_is_only_nearly_the_same_is_no_copy(near: Likeness) -> None:
    assert list(duplicate.check(show_of(Session(), likeness=(near,)))) == []


def test_polarity_after_the_switches() -> None:
    turned = like(3, 4, inverted=True)
    assert one(polarity.check(show_of(Session(), likeness=(turned,)))).severity == "note"
    session = Session()
    session.channels[4].update(inverted=True, polarity_stated=True)
    assert list(polarity.check(show_of(session, likeness=(turned,)))) == []
    straight = one(polarity.check(show_of(session, likeness=(like(3, 4),))))
    assert (straight.severity, straight.channels) == ("warning", (3, 4))


def test_sides_of_a_stereo_source_that_cancel_are_a_warning() -> None:
    turned = like(3, 4, inverted=True, height=1.0)
    found = one(polarity.check(show_of(Session(), likeness=(turned,))))
    assert (found.severity, found.confidence) == ("warning", "likely")
    assert found.message == (
        "Opposite polarity at the desk, after the switches of the input list (a correlation of 1.00 at 0 ms apart)."
    )
    session = Session()
    for number in (3, 4):
        # Two microphones on one source: the desk's switch is yet to be set, as on a lower snare.
        session.channels[number]["pairing"] = "one-source"
    assert one(polarity.check(show_of(session, likeness=(turned,)))).severity == "note"
    assert list(polarity.check(show_of(Session(), likeness=(like(3, 4, height=1.0),)))) == []


@pytest.mark.parametrize(
    "unsure", [like(3, 4, inverted=True, height=0.3), replace(like(3, 4, inverted=True), moments=3)]
)
def test_sides_with_little_in_common_have_no_polarity(unsure: Likeness) -> None:
    assert list(polarity.check(show_of(Session(), likeness=(unsure,)))) == []


def test_an_offset_in_time_is_told_with_its_distance() -> None:
    finding = one(time_offset.check(show_of(Session(), likeness=(like(3, 4, lag_s=0.005),))))
    assert finding.message == "4 OH R comes 5 ms after 3 OH L, as if 1.7 m further away."
    assert (finding.severity, finding.amount, finding.unit) == ("note", 5.0, "ms")
    assert list(time_offset.check(show_of(Session(), likeness=(like(3, 4, lag_s=0.0005),)))) == []


def test_a_spaced_pair_may_be_apart() -> None:
    session = Session()
    for number in (3, 4):
        session.channels[number]["pairing"] = "spaced"
    assert list(time_offset.check(show_of(session, likeness=(like(3, 4, lag_s=0.005),)))) == []


def test_an_unlikely_source_is_only_possible() -> None:
    finding = one(unlikely_source.check(show_of(Session(), unlikely={5: "a voice"})))
    assert (finding.severity, finding.confidence) == ("note", "possible")
    assert finding.message == "Hardly sounds like bass; it sounds more like a voice."


def test_an_exchange_explains_what_is_odd_about_its_channels() -> None:
    show = show_of(
        Session(),
        misplaced=(misplaced({2: 7, 7: 2}, proven=True),),
        misnamed=((2, 2, "7 Vocal"),),
        unlikely={7: "snare"},
    )
    found = [*swapped.check(show), *name_mismatch.check(show), *unlikely_source.check(show)]
    (kept,) = settle(found)
    assert kept.code == "swapped"
    assert kept.swallowed == ("name-mismatch", "unlikely-source")


def test_a_dead_source_in_a_moved_block_is_told_beside_it() -> None:
    session = Session()
    session.noise(5, -80)
    halves = {1: 5, 2: 6, 3: 7, 4: 8, 5: 1, 6: 2, 7: 3, 8: 4}
    show = show_of(session, misplaced=(misplaced(halves, "block", proven=True, line_check=9.0),))
    (dead,) = noise_only.check(show)
    assert dead.message.endswith(" The source of 1 Kick came to lie here, and it is dead too.")
    assert {"moved-block", "noise-only"} <= {one.code for one in settle(find_all(show))}


def test_a_dead_track_that_a_shift_leaves_behind_is_explained_by_it() -> None:
    session = Session()
    session.noise(4, -80)
    show = show_of(session, misplaced=(misplaced({4: 5, 5: 6, 6: 7, 7: None}, "shift", by=1, sound=8.0, silence=2.5),))
    assert "noise-only" not in {one.code for one in settle(find_all(show)) if 4 in one.channels}
