"""Track names and numbers from iXML, and the texts from which nothing is taken."""

from __future__ import annotations

import pytest

from replay.take.ixml import LONGEST_NAME, IxmlTrack, place_tracks, read_ixml
from tests.take.making import ixml


def body(*tracks: tuple[object, object, str]) -> bytes:
    return ixml(*tracks)[8:]


def test_tracks_in_order():
    assert read_ixml(body((17, 1, "Kick in"), (18, 2, "Gäste"))) == (
        IxmlTrack(17, 1, "Kick in"),
        IxmlTrack(18, 2, "Gäste"),
    )


def test_zeros_behind_the_text_are_padding():
    assert read_ixml(body((3, 1, "Hat")) + bytes(500)) == (IxmlTrack(3, 1, "Hat"),)


def test_names_in_an_eight_bit_code_page():
    assert read_ixml(body((3, 1, "G#ste")).replace(b"#", b"\xe4"))[0].name == "Gäste"


def test_utf_16():
    text = "<BWFXML><TRACK_LIST><TRACK><NAME>Kick</NAME></TRACK></TRACK_LIST></BWFXML>"
    assert read_ixml(text.encode("utf-16")) == (IxmlTrack(None, None, "Kick"),)


@pytest.mark.parametrize(
    "text",
    [
        b"",
        bytes(100),
        b"not xml at all",
        b"<BWFXML><TRACK_LIST><TRACK>",
        b"<!DOCTYPE x [<!ENTITY a 'b'>]><BWFXML><TRACK_LIST><TRACK><NAME>&a;</NAME></TRACK></TRACK_LIST></BWFXML>",
        b"<!doctype html><BWFXML><TRACK_LIST><TRACK><NAME>x</NAME></TRACK></TRACK_LIST></BWFXML>",
        "<!DOCTYPE x><BWFXML><TRACK_LIST><TRACK><NAME>x</NAME></TRACK></TRACK_LIST></BWFXML>".encode("utf-16"),
        b"<BWFXML><TRACK_LIST><TRACK><NAME>&unknown;</NAME></TRACK></TRACK_LIST></BWFXML>",
        b"<?xml version='1.0' encoding='no-such-code'?><BWFXML><TRACK_LIST><TRACK/></TRACK_LIST></BWFXML>",
        b"<a>" * 100_000,
        b"<BWFXML><TRACK_LIST>" + b"<TRACK/>" * 1025 + b"</TRACK_LIST></BWFXML>",
    ],
)
def test_nothing_is_taken_from(text):
    assert read_ixml(text) == ()


@pytest.mark.parametrize("number", ["", "0", "-1", "1025", "99999999999", "1.5", "seven", "٧"])
def test_numbers_that_are_none(number):
    assert read_ixml(body((number, 1, "x"))) == (IxmlTrack(None, 1, "x"),)


def test_long_names_are_cut():
    assert read_ixml(body((1, 1, "x" * 100_000)))[0].name == "x" * LONGEST_NAME


def test_the_interleave_index_says_which_channel():
    tracks = (IxmlTrack(8, 2, "right"), IxmlTrack(7, 1, "left"))
    assert place_tracks(tracks, 2) == (("left", "right"), (7, 8))


def test_a_channel_without_a_track_has_no_name():
    assert place_tracks((IxmlTrack(9, 3, "only"),), 3) == (("", "", "only"), (None, None, 9))


def test_a_mono_file_that_keeps_its_place_in_the_set():
    assert place_tracks((IxmlTrack(5, 5, "Bass"),), 1) == (("Bass",), (5,))


def test_a_mono_file_that_lists_the_whole_set_says_nothing():
    tracks = (IxmlTrack(1, 1, "Kick"), IxmlTrack(2, 2, "Snare"))
    assert place_tracks(tracks, 1) == (("",), (None,))
