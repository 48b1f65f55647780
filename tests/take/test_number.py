"""How tracks get their numbers, and what is said where that is not certain."""

from __future__ import annotations

import os
import struct

import pytest

from replay.take.find import open_take
from tests.take.making import bext, chunk, fmt, ixml, riff, samples, wave
from tests.take.shows import codes, lay, numbered, recorded, told

MONO = recorded()
PAIR = recorded(channels=2)
IN_ORDER = "No track numbers in the files' names or metadata: they were numbered in the order of their names, "


def take_of(tmp_path, files, **options):
    return open_take(lay(tmp_path, files), None, **({"wanted_tracks": 4} | options))


def with_ixml(*tracks, channels=1, frames=4800):
    return wave(frames, ixml(*tracks), channels=channels)


@pytest.mark.parametrize(
    "names",
    [
        {1: "01 Kick.wav", 2: "02 Snare top.wav", 7: "07 Bass.wav", 10: "10 Vox 1.wav", 11: "11 Vox 2.wav"},
        {1: "TRK01.wav", 7: "TRK07.wav", 10: "TRK10.wav"},
        {2: "Track 2.wav", 10: "Track 10.wav", 1: "Track 1.wav"},
        {7: "Audio 7_2.wav", 8: "Audio 8_2.wav", 10: "Audio 10_2.wav"},
        {7: "Audio 7_1.wav", 8: "Audio 8_2.wav"},
        {1: "Kick_01.wav", 2: "Snare_02.wav", 3: "Hat_03.wav"},
        {1: "1.wav", 2: "2.wav", 12: "12.wav"},
        {5: "ch5-Bass.wav", 6: "CH6-Keys.wav"},
        {17: "20261120_203000_17.wav", 18: "20261120_203000_18.wav"},
        {9: "07-09.wav", 8: "07-08.wav", 10: "07-10.wav"},
    ],
)
def test_numbers_in_the_names(tmp_path, names):
    take = take_of(tmp_path, dict.fromkeys(names.values(), MONO))
    assert numbered(take) == names
    assert take.troubles == ()


def test_names_without_numbers_are_told(tmp_path):
    take = take_of(tmp_path, {"Vox 1.wav": MONO, "Kick.wav": MONO, "Vox 2.wav": MONO, "Bass.wav": MONO})
    assert numbered(take) == {1: "Bass.wav", 2: "Kick.wav", 3: "Vox 1.wav", 4: "Vox 2.wav"}
    assert told(take) == [IN_ORDER + "from Bass.wav as 1 to Vox 2.wav as 4."]
    assert codes(take) == ["track-order"]


def test_numbers_of_microphones_are_no_track_numbers(tmp_path):
    take = take_of(tmp_path, {"Kick 52.wav": MONO, "Snare 57.wav": MONO, "Amp 421.wav": MONO})
    assert numbered(take) == {1: "Amp 421.wav", 2: "Kick 52.wav", 3: "Snare 57.wav"}
    assert told(take) == [IN_ORDER + "from Amp 421.wav as 1 to Snare 57.wav as 3."]


def test_one_polyphonic_file_needs_no_numbers(tmp_path):
    take = take_of(tmp_path, {"show.wav": recorded(channels=5)})
    assert numbered(take) == {i: f"show.wav:{i}" for i in range(1, 6)}
    assert [track.name for track in take.tracks] == [""] * 5
    assert take.troubles == ()


def test_the_number_of_a_polyphonic_file_counts_files(tmp_path):
    assert list(numbered(take_of(tmp_path, {"rec 07.wav": recorded(channels=3)}))) == [1, 2, 3]


def test_ranges_place_polyphonic_files(tmp_path):
    take = take_of(tmp_path, {"5-8 link b.wav": recorded(channels=4), "1-4 link a.wav": recorded(channels=4)})
    assert numbered(take)[5] == "5-8 link b.wav:1"
    assert numbered(take)[4] == "1-4 link a.wav:4"
    assert take.troubles == ()


def test_metadata_comes_before_names(tmp_path):
    take = take_of(tmp_path, {"b.wav": with_ixml((3, 1, "Kick in")), "a.wav": with_ixml((9, 1, "Gäste"))})
    assert numbered(take) == {3: "b.wav", 9: "a.wav"}
    assert [track.name for track in take.tracks] == ["Kick in", "Gäste"]
    assert take.troubles == ()


def test_metadata_against_numbered_names_is_told(tmp_path):
    take = take_of(tmp_path, {"01 a.wav": with_ixml((3, 1, "")), "02 b.wav": with_ixml((4, 1, ""))})
    assert numbered(take) == {3: "01 a.wav", 4: "02 b.wav"}
    expected = (
        "01 a.wav: its metadata says track 3, its name says otherwise; the metadata was followed, as in 1 more files."
    )
    assert told(take) == [expected]


@pytest.mark.parametrize("second", [with_ixml((1, 1, "x")), with_ixml(("", 1, "x")), MONO])
def test_metadata_that_does_not_number_all_files_is_not_used(tmp_path, second):
    take = take_of(tmp_path, {"05 a.wav": with_ixml((1, 1, "x")), "06 b.wav": second})
    assert numbered(take) == {5: "05 a.wav", 6: "06 b.wav"}
    assert take.troubles == ()


def test_metadata_of_a_polyphonic_file(tmp_path):
    content = with_ixml((2, 1, "Snare"), (7, 2, "Bass"), (1, 3, "Kick"), channels=3)
    take = take_of(tmp_path, {"show.wav": content})
    assert [(t.number, t.name, t.segments[0].channel) for t in take.tracks] == [
        (1, "Kick", 2),
        (2, "Snare", 0),
        (7, "Bass", 1),
    ]


def test_the_patch_places_files(tmp_path):
    take = take_of(tmp_path, {"Kick.wav": MONO, "Keys.wav": PAIR}, placed={"Kick.wav": 12, "keys.WAV": 3})
    assert numbered(take) == {3: "Keys.wav:1", 4: "Keys.wav:2", 12: "Kick.wav"}
    assert take.troubles == ()


def test_the_patch_places_one_and_the_rest_is_numbered_around_it(tmp_path):
    take = take_of(tmp_path, {"Kick.wav": MONO, "Bass.wav": MONO, "Vox.wav": MONO}, placed={"Vox": 1})
    assert numbered(take) == {1: "Vox.wav", 2: "Bass.wav", 3: "Kick.wav"}


def test_a_pair_takes_two_numbers(tmp_path):
    take = take_of(tmp_path, {"01 Kick.wav": MONO, "02 Keys.wav": PAIR, "04 Bass.wav": MONO})
    assert numbered(take) == {1: "01 Kick.wav", 2: "02 Keys.wav:1", 3: "02 Keys.wav:2", 4: "04 Bass.wav"}
    assert [track.name for track in take.tracks] == ["Kick", "Keys L", "Keys R", "Bass"]
    assert told(take) == ["Files with two channels were taken as two tracks each: 02 Keys.wav as 2-3."]


def test_a_pair_among_files_counted_one_by_one_moves_those_behind(tmp_path):
    take = take_of(tmp_path, {"17 Kick.wav": MONO, "18 Keys.wav": PAIR, "19 Bass.wav": MONO, "21 Vox.wav": MONO})
    assert numbered(take) == {
        17: "17 Kick.wav",
        18: "18 Keys.wav:1",
        19: "18 Keys.wav:2",
        20: "19 Bass.wav",
        22: "21 Vox.wav",
    }
    assert told(take)[0] == (
        "The numbers in the names count files, and some files hold two tracks: those behind were moved up."
    )


def test_a_pair_named_after_its_two_tracks(tmp_path):
    take = take_of(tmp_path, {"04 Kick.wav": MONO, "05-06 Keys.wav": PAIR, "Room 07-08.wav": PAIR, "09 Bass.wav": MONO})
    assert numbered(take)[6] == "05-06 Keys.wav:2"
    assert numbered(take)[7] == "Room 07-08.wav:1"
    assert codes(take) == ["track-order"]


def test_a_pair_among_names_without_numbers(tmp_path):
    take = take_of(tmp_path, {"Bass.wav": MONO, "Keys.wav": PAIR, "Vox.wav": MONO})
    assert numbered(take) == {1: "Bass.wav", 2: "Keys.wav:1", 3: "Keys.wav:2", 4: "Vox.wav"}
    assert told(take) == [
        IN_ORDER + "from Bass.wav as 1 to Vox.wav as 4.",
        "Files with two channels were taken as two tracks each: Keys.wav as 2-3.",
    ]


def test_a_single_pair_is_a_small_polyphonic_file(tmp_path):
    assert take_of(tmp_path, {"mix.wav": PAIR}).troubles == ()


def test_counted_from_0(tmp_path):
    take = take_of(tmp_path, {"00 Click.wav": MONO, "01 Kick.wav": MONO})
    assert numbered(take) == {1: "00 Click.wav", 2: "01 Kick.wav"}
    assert told(take) == ["The files are numbered from 0: 0 was taken as track 1, and so on."]


def test_one_name_without_a_number_goes_behind_the_others(tmp_path):
    take = take_of(tmp_path, {"01 Kick.wav": MONO, "02 Snare.wav": MONO, "Room.wav": MONO})
    assert numbered(take) == {1: "01 Kick.wav", 2: "02 Snare.wav", 3: "Room.wav"}
    assert told(take) == ["No track number in every name: Room.wav as 3 were numbered on behind the others."]


def test_two_numbers_in_every_name(tmp_path):
    take = take_of(tmp_path, {"01 Tom 2.wav": MONO, "02 Tom 1.wav": MONO})
    assert numbered(take) == {1: "01 Tom 2.wav", 2: "02 Tom 1.wav"}
    assert told(take) == [
        "The names carry two numbers, as in 01 Tom 2.wav: the one at the beginning was taken as the track's."
    ]


def test_two_files_on_one_track_the_longer_is_kept(tmp_path):
    files = {"07 Snare.wav": MONO, "TRK07.wav": recorded(0.2), "08 Hat.wav": MONO}
    take = take_of(tmp_path, files)
    assert numbered(take) == {7: "TRK07.wav", 8: "08 Hat.wav"}
    assert told(take) == ["TRK07.wav and 07 Snare.wav both claim track 7: TRK07.wav was kept, it is longer."]
    assert take.troubles[0].tracks == (7,)
    assert take.troubles[0].files == ("TRK07.wav", "07 Snare.wav")


def test_two_files_of_one_name(tmp_path):
    take = take_of(tmp_path, {"01 Kick.wav": MONO, "01 Kick.bwf": MONO, "02 Hat.wav": MONO})
    assert codes(take) == ["track-clash"]
    assert "both claim track 1" in told(take)[0]
    assert told(take)[0].endswith("it comes first.")


def test_a_broken_file_keeps_its_number(tmp_path):
    take = take_of(tmp_path, {"01 Kick.wav": MONO, "02 Snare.wav": b"", "03 Hat.wav": riff(fmt(), chunk(b"data", b""))})
    assert numbered(take) == {1: "01 Kick.wav"}
    assert [(t.code, t.tracks, t.detail) for t in take.troubles] == [
        ("unreadable", (2,), "02 Snare.wav cannot be read: it has 0 bytes."),
        ("empty-file", (3,), "03 Hat.wav holds no samples."),
    ]


def test_a_broken_file_among_numbered_metadata(tmp_path):
    take = take_of(tmp_path, {"Track 1.wav": with_ixml((1, 1, "Kick")), "Track 2.wav": b"no audio", "x.wav": b""})
    assert [(t.code, t.tracks) for t in take.troubles] == [("unreadable", (2,)), ("unreadable", ())]


@pytest.mark.parametrize(
    "name", ["Gäste \N{DRUM WITH DRUMSTICKS}", "two\nlines", "  many   spaces ", os.fsdecode(b"G\xe4ste")]
)
def test_names_of_any_bytes(tmp_path, name):
    take = take_of(tmp_path, {f"01 {name}.wav": MONO, f"02 {name}.wav": MONO})
    assert numbered(take) == {1: f"01 {name}.wav", 2: f"02 {name}.wav"}
    assert take.tracks[0].name == name.strip()


def test_over_1024_is_no_track_number(tmp_path):
    assert list(numbered(take_of(tmp_path, {"2026 show.wav": MONO, "2027 show.wav": MONO}))) == [1, 2]


def test_helpers_of_this_file_make_what_they_say():
    assert struct.unpack_from("<I", bext(reference=5)[8 + 338 :])[0] == 5
    assert len(samples(3, channels=2, width=3)) == 18
