"""Checks that read the patch against the take: which channel is fed by which track."""

from __future__ import annotations

import pytest

from replay.checks import (
    channel_count,
    extra_track,
    no_track,
    not_recorded,
    return_mismatch,
    shared_socket,
    unexpected_signal,
    unfed_channel,
)
from replay.patch.model import Box, Feed, Link, Slot, Socket
from tests.checks.factory import Session, TrackPlan

ALL = (
    channel_count,
    extra_track,
    no_track,
    not_recorded,
    return_mismatch,
    shared_socket,
    unexpected_signal,
    unfed_channel,
)


def found(module, session):
    return list(module.check(session.show()))


@pytest.mark.parametrize("module", ALL, ids=[module.CODE for module in ALL])
def test_the_good_session_is_quiet(module):
    assert found(module, Session()) == []


class TestNoTrack:
    def test_fault_for_must(self):
        session = Session()
        del session.tracks[7]
        (finding,) = found(no_track, session)
        assert (finding.severity, finding.channels, finding.tracks) == ("fault", (7,), (7,))
        assert finding.message == "The take has no track 7 (channel 7)."

    def test_note_for_may(self):
        session = Session()
        del session.tracks[8]
        (finding,) = found(no_track, session)
        assert (finding.severity, finding.channels) == ("note", (8,))

    def test_nothing_for_off(self):
        session = Session()
        session.channels[8]["use"] = "off"
        del session.tracks[8]
        assert found(no_track, session) == []

    def test_neighbours_are_told_once(self):
        session = Session()
        for number in (2, 3, 4, 6):
            del session.tracks[number]
        assert [finding.channels for finding in found(no_track, session)] == [(2, 3, 4), (6,)]

    def test_must_and_may_are_told_apart(self):
        session = Session()
        del session.tracks[7], session.tracks[8]
        assert [(f.severity, f.channels) for f in found(no_track, session)] == [("fault", (7,)), ("note", (8,))]

    def test_the_return_that_leads_nowhere_is_in_the_sentence(self):
        session = Session()
        session.channels[7]["playback"] = Slot("main", 12)
        (finding,) = found(no_track, session)
        assert finding.message == (
            "The take has no track 12: the channel returns from slot 12, but is recorded on slot 7 (track 7)."
        )


class TestExtraTrack:
    def test_a_signal_is_a_warning_each(self):
        session = Session()
        session.add_track(11)
        session.add_track(12)
        findings = found(extra_track, session)
        assert [(f.severity, f.tracks, f.channels) for f in findings] == [
            ("warning", (11,), ()),
            ("warning", (12,), ()),
        ]

    def test_all_empty_ones_are_one_note(self):
        session = Session()
        for number in (9, 10, 11, 14):
            session.add_track(number)
            session.silence(number)
        session.add_track(15)
        session.noise(15)
        (finding,) = found(extra_track, session)
        assert (finding.severity, finding.tracks, finding.amount) == ("note", (9, 10, 11, 14, 15), 5.0)
        assert finding.message.startswith("Tracks 9-11, 14-15 are in the take, no channel uses them")

    def test_beyond_the_last_slot(self):
        session = Session()
        session.add_track(40)
        (finding,) = found(extra_track, session)
        assert (finding.tracks, finding.slots) == ((40,), ())

    def test_a_recorded_channel_that_stays_live_is_no_extra(self):
        session = Session()
        session.channels[7]["playback"] = "live"
        assert found(extra_track, session) == []

    def test_the_socket_behind_the_slot_is_named(self):
        session = Session()
        session.feeds = [Feed(box="riser", link="main", sources=tuple(range(1, 10)), slots=tuple(range(1, 10)))]
        session.add_track(9)
        (finding,) = found(extra_track, session)
        assert finding.sockets == (Socket("riser", 9),)
        assert finding.message == "Track 9 (riser 9) holds a signal (played peak -12.0 dBTP), and no channel uses it."


class TestUnexpectedSignal:
    def test_speaks(self):
        session = Session()
        session.channels[8]["use"] = "off"
        (finding,) = found(unexpected_signal, session)
        assert (finding.severity, finding.channels) == ("note", (8,))

    @pytest.mark.parametrize("how", ["silence", "noise"])
    def test_silence_and_noise_are_as_expected(self, how):
        session = Session()
        session.channels[8]["use"] = "off"
        getattr(session, how)(8)
        assert found(unexpected_signal, session) == []


class TestChannelCount:
    def test_speaks(self):
        session = Session()
        session.add_track(9)
        (finding,) = found(channel_count, session)
        assert (finding.severity, finding.amount) == ("note", 1.0)
        assert finding.message == "The take has 9 tracks, the patch uses 8 slots."


class TestNotRecorded:
    def far(self, session, *numbers, box="riser"):
        """Move channels to sockets beyond the feed."""
        for number in numbers:
            session.channels[number]["socket"] = Socket(box, number + 8)
            del session.tracks[number]

    def test_speaks_by_box_socket_and_channel(self):
        session = Session()
        self.far(session, 2, 3, 6)
        (finding,) = found(not_recorded, session)
        assert (finding.severity, finding.channels) == ("warning", (2, 3, 6))
        assert finding.sockets == (Socket("riser", 10), Socket("riser", 11), Socket("riser", 14))
        assert finding.message == "No feed carries riser 10-11, 14: channels 2-3, 6 are not on the recorder."

    def test_local_inputs_are_a_note(self):
        session = Session()
        session.boxes.append(Box(name="local", sockets=16))
        self.far(session, 7, box="local")
        (finding,) = found(not_recorded, session)
        assert (finding.severity, finding.channels) == ("note", (7,))

    @pytest.mark.parametrize(
        "facts", [{"kind": "talkback"}, {"use": "may"}, {"playback": "live"}, {"playback": "none"}]
    )
    def test_talkback_spares_and_what_is_declared_are_a_note(self, facts):
        session = Session()
        self.far(session, 7)
        session.channels[7].update(facts)
        assert [finding.severity for finding in found(not_recorded, session)] == ["note"]

    def test_the_last_eight_of_a_second_box(self):
        """Two boxes of 32 onto a link of 56: the last 8 of the second are not recorded (common practice)."""
        session = Session()
        session.boxes = [Box(name="left", sockets=32), Box(name="right", sockets=32)]
        session.links = [Link(name="main", slots=56, first_track=1)]
        session.feeds = [
            Feed(box="left", link="main", sources=tuple(range(1, 33)), slots=tuple(range(1, 33))),
            Feed(box="right", link="main", sources=tuple(range(1, 25)), slots=tuple(range(33, 57))),
        ]
        session.channels = {
            n: {"name": f"In {n}", "socket": Socket("left", n) if n <= 32 else Socket("right", n - 32)}
            for n in range(1, 65)
        }
        plan = session.tracks[7]
        session.tracks = {n: TrackPlan(levels=plan.levels) for n in range(1, 57)}
        (finding,) = found(not_recorded, session)
        assert finding.channels == tuple(range(57, 65))
        assert finding.sockets == tuple(Socket("right", n) for n in range(25, 33))


class TestReturnMismatch:
    def test_speaks(self):
        session = Session()
        session.channels[7]["playback"] = Slot("main", 2)
        (finding,) = found(return_mismatch, session)
        assert (finding.severity, finding.channels) == ("warning", (7,))
        assert finding.message == "It returns from slot 2, which records riser 2; its own source is on slot 7."

    def test_links_are_named_where_there_are_several(self):
        session = Session()
        session.links.append(Link(name="spare", slots=16, first_track=17))
        session.channels[7]["playback"] = Slot("main", 2)
        (finding,) = found(return_mismatch, session)
        assert (
            finding.message == "It returns from slot main 2, which records riser 2; its own source is on slot main 7."
        )

    def test_a_slot_that_nothing_records_onto(self):
        session = Session()
        session.channels[7]["playback"] = Slot("main", 12)
        (finding,) = found(return_mismatch, session)
        assert "slot 12, which no feed records onto" in finding.message

    def test_talkback_is_a_note(self):
        session = Session()
        session.channels[7].update(playback=Slot("main", 2), kind="talkback")
        assert [finding.severity for finding in found(return_mismatch, session)] == ["note"]

    def test_declared_ones_are_one_note(self):
        session = Session()
        session.channels[6]["playback"] = "none"
        session.channels[7]["playback"] = "live"
        (finding,) = found(return_mismatch, session)
        assert (finding.severity, finding.channels) == ("note", (6, 7))

    def test_the_recorded_slot_said_out_loud_is_quiet(self):
        session = Session()
        session.channels[7]["playback"] = Slot("main", 7)
        assert found(return_mismatch, session) == []

    def test_a_channel_that_only_the_recorder_feeds_is_quiet(self):
        session = Session()
        session.channels[9] = {"name": "Player", "kind": "playback", "playback": Slot("main", 12)}
        assert found(return_mismatch, session) == []


class TestSharedSocket:
    def test_two_channels(self):
        session = Session()
        session.channels[9] = {"name": "Vocal mon", "kind": "vocal", "socket": Socket("riser", 7)}
        (finding,) = found(shared_socket, session)
        assert (finding.severity, finding.channels, finding.sockets) == ("note", (7, 9), (Socket("riser", 7),))
        assert finding.message == "riser 7 feeds channels 7, 9."

    def test_two_slots(self):
        session = Session()
        session.feeds.append(Feed(box="riser", link="main", sources=(7,), slots=(12,)))
        (finding,) = found(shared_socket, session)
        assert (finding.channels, finding.tracks) == ((7,), (7, 12))
        assert finding.message == "riser 7 is recorded on slot 7 and slot 12."


class TestUnfedChannel:
    def test_all_in_one_note(self):
        session = Session()
        session.channels[9] = {"name": "Return"}
        session.channels[10] = {"name": "Return"}
        session.channels[11] = {"name": "Nothing", "use": "off"}
        (finding,) = found(unfed_channel, session)
        assert (finding.severity, finding.channels) == ("note", (9, 10))
        assert finding.message == "No socket feeds channels 9-10."
