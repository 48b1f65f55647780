"""Which take is opened, what others there are, and what is said where there is none."""

from __future__ import annotations

import datetime
import os
import time

import pytest

from replay.errors import TakeError
from replay.take import find, walk
from replay.take.find import open_take
from tests.take.making import chunk, fmt, put, rf64, riff, samples
from tests.take.shows import RATE, codes, lay, numbered, recorded, told


def long_take(seconds: float, tracks: int) -> dict[str, bytes]:
    """A take that is long but small: 1000 Hz, 8 bits."""
    content = riff(fmt(bits=8, rate=1000), chunk(b"data", samples(round(seconds * 1000), width=1)))
    return {f"{i:02d} x.wav": content for i in range(1, tracks + 1)}


def test_the_newest_take_that_is_long_enough_and_wide_enough(tmp_path):
    lay(tmp_path / "wednesday", long_take(60, 4), age=90_000)
    lay(tmp_path / "thursday", long_take(60, 4), age=50_000)
    lay(tmp_path / "line check", long_take(29, 4), age=3_000)
    lay(tmp_path / "two tracks", long_take(60, 2), age=2_000)
    take = open_take(tmp_path, None, wanted_tracks=8)
    assert take.folder == tmp_path / "thursday"
    assert take.others == ("two tracks", "line check", "wednesday")
    assert open_take(tmp_path, None, wanted_tracks=4).folder == tmp_path / "two tracks"


def test_exactly_half_of_the_tracks_is_enough_and_30_s_are_not(tmp_path):
    lay(tmp_path / "a", long_take(60, 4), age=9_000)
    lay(tmp_path / "b", long_take(30, 8), age=1_000)
    assert open_take(tmp_path, None, wanted_tracks=8).folder.name == "a"
    assert open_take(tmp_path, None, wanted_tracks=9).folder.name == "b"  # none fits: the one with enough tracks


def test_a_pocket_show_of_a_second_works(tmp_path):
    lay(tmp_path / "audio", {"01 Kick.wav": recorded(1)})
    take = open_take(tmp_path, "audio", wanted_tracks=10)
    assert (take.duration_s, take.others) == (1.0, ())


def test_bext_dates_outlive_copying(tmp_path):
    lay(tmp_path / "old", {"01 a.wav": recorded(1, at=5, date="2026-11-18")}, age=10)
    lay(tmp_path / "new", {"01 a.wav": recorded(1, at=5, date="2026-11-20")}, age=9_000)
    take = open_take(tmp_path, None, wanted_tracks=1)
    assert take.folder.name == "new"
    assert take.recorded == datetime.datetime(2026, 11, 20, 20, 30).timestamp()


@pytest.mark.parametrize("date", ["1980-01-01", "2126-11-20"])
def test_dates_of_clocks_that_were_never_set_do_not_count(tmp_path, date):
    path = put(tmp_path / "01 a.wav", recorded(1, at=5, date=date))
    assert open_take(tmp_path, None, wanted_tracks=1).recorded == path.stat().st_mtime


def test_takes_side_by_side_in_one_folder(tmp_path):
    lay(tmp_path, {f"Take 1 0{i} x.wav": recorded(1) for i in (1, 2)}, age=9_000)
    lay(tmp_path, {f"Take 2 0{i} x.wav": recorded(2) for i in (1, 2)}, age=1_000)
    take = open_take(tmp_path, None, wanted_tracks=2)
    assert (take.duration_s, take.others) == (2.0, ("Take 1",))
    assert open_take(tmp_path, None, wanted_tracks=2, choice="take 1").duration_s == 1.0


def test_takes_numbered_in_front_of_the_track(tmp_path):
    lay(tmp_path, {f"1-0{i}.wav": recorded(1) for i in (1, 2, 3)}, age=9_000)
    lay(tmp_path, {f"2-0{i}.wav": recorded(2) for i in (1, 2, 3)}, age=1_000)
    take = open_take(tmp_path, None, wanted_tracks=3)
    assert (take.duration_s, take.others, list(numbered(take))) == (2.0, ("1",), [1, 2, 3])


def test_polyphonic_takes_in_one_folder(tmp_path):
    lay(tmp_path, {"soundcheck.wav": recorded(1, channels=4)}, age=9_000)
    lay(tmp_path, {"show.wav": recorded(3, channels=4)}, age=1_000)
    take = open_take(tmp_path, None, wanted_tracks=4)
    assert (take.duration_s, take.others, len(take.tracks)) == (3.0, ("soundcheck",), 4)


def test_polyphonic_files_of_one_length_are_two_links(tmp_path):
    lay(tmp_path, {"link a.wav": recorded(1, channels=4), "link b.wav": recorded(1, channels=4)})
    take = open_take(tmp_path, None, wanted_tracks=8)
    assert list(numbered(take).values())[3:5] == ["link a.wav:4", "link b.wav:1"]
    assert codes(take) == ["track-order"]


def test_polyphonic_files_that_go_on_from_each_other_are_one_take(tmp_path):
    # Cards count their files without a separator, and begin a new one at 2 or 4 GiB.
    lay(tmp_path, {f"REC000{part}.wav": recorded(1, channels=4, at=70_000 + part) for part in (1, 2, 3)})
    take = open_take(tmp_path, None, wanted_tracks=4)
    assert (take.duration_s, take.others, len(take.tracks)) == (3.0, (), 4)
    assert [segment.file.path.name for segment in take.tracks[0].segments] == [f"REC000{n}.wav" for n in (1, 2, 3)]
    assert codes(take) == []


def test_polyphonic_files_with_a_pause_between_them_or_other_channels_are_takes(tmp_path):
    lay(tmp_path / "a", {f"REC000{part}.wav": recorded(1, channels=4, at=70_000 + 2 * part) for part in (1, 2)})
    take = open_take(tmp_path / "a", None, wanted_tracks=4)
    assert (take.duration_s, len(take.others)) == (1.0, 1)
    files = {f"REC000{n}.wav": recorded(3 * n, channels=2 + 2 * n, at=70_000 + 3 * n) for n in (1, 2)}
    take = open_take(lay(tmp_path / "b", files), None, wanted_tracks=4)
    assert (take.duration_s, len(take.others)) in {(3.0, 1), (6.0, 1)}


def test_passes_recorded_at_other_times_are_other_takes(tmp_path):
    for age, part in ((9_000, 1), (5_000, 2)):
        lay(tmp_path, {f"Track0{t}_{part:02d}.wav": recorded(part) for t in (1, 2)}, age=age)
    take = open_take(tmp_path, None, wanted_tracks=2)
    assert (take.duration_s, take.others) == (2.0, ("1",))


def test_passes_by_bext_times(tmp_path):
    for at, part in ((1_000, 1), (2_000, 2)):
        lay(tmp_path, {f"Track0{t}_{part:02d}.wav": recorded(part, at=at) for t in (1, 2)})
    assert open_take(tmp_path, None, wanted_tracks=2, choice="1").duration_s == 1.0
    assert open_take(tmp_path, None, wanted_tracks=2, choice="2").duration_s == 2.0


@pytest.mark.parametrize("choice", ["friday", "FRIDAY", "audio/friday", "friday/01 a.wav", "{tmp}/audio/friday"])
def test_the_take_that_was_asked_for(tmp_path, choice):
    lay(tmp_path / "audio" / "friday", {"01 a.wav": recorded(1)}, age=9_000)
    lay(tmp_path / "audio" / "saturday", {"01 a.wav": recorded(2)}, age=1_000)
    take = open_take(tmp_path, "audio", wanted_tracks=1, choice=choice.replace("{tmp}", str(tmp_path)))
    assert (take.folder, take.duration_s) == (tmp_path / "audio" / "friday", 1.0)


@pytest.mark.parametrize(("choice", "seconds"), [("1", 3.0), ("2", 1.0), ("03", 2.0)])
def test_takes_by_number_in_the_order_in_which_they_were_recorded(tmp_path, choice, seconds):
    for name, length, age in (("evening", 2, 1_000), ("rest", 1, 5_000), ("noon", 3, 9_000)):
        lay(tmp_path / name, {"01 a.wav": recorded(length)}, age=age)
    assert open_take(tmp_path, None, wanted_tracks=1, choice=choice).duration_s == seconds


def test_a_number_in_a_name_comes_before_the_order(tmp_path):
    lay(tmp_path / "take 2", {"01 a.wav": recorded(2)}, age=9_000)  # the first was thrown away
    lay(tmp_path / "take 03", {"01 a.wav": recorded(3)}, age=1_000)
    assert open_take(tmp_path, None, wanted_tracks=1, choice="2").duration_s == 2.0
    assert open_take(tmp_path, None, wanted_tracks=1, choice="3").duration_s == 3.0
    assert open_take(tmp_path, None, wanted_tracks=1, choice="1").duration_s == 2.0


@pytest.mark.parametrize("choice", ["0", "3", "99999999999", "²"])
def test_a_number_beyond_the_takes_there(tmp_path, choice):
    for name, age in (("noon", 9_000), ("evening", 1_000)):
        lay(tmp_path / name, {"01 a.wav": recorded(1)}, age=age)
    with pytest.raises(TakeError, match=r"there is no take called .* \(there are: 1 noon, 2 evening\)"):
        open_take(tmp_path, None, wanted_tracks=1, choice=choice)


def test_a_path_from_where_we_are(tmp_path, monkeypatch):
    lay(tmp_path / "show", {"01 a.wav": recorded(1)})
    lay(tmp_path / "elsewhere", {"01 a.wav": recorded(2)})
    (tmp_path / "friday").mkdir()
    monkeypatch.chdir(tmp_path)
    assert open_take(tmp_path / "show", None, wanted_tracks=1, choice="elsewhere").duration_s == 2.0
    with pytest.raises(TakeError, match="there is no take called 'friday'"):  # an empty folder there is not meant
        open_take(tmp_path / "show", None, wanted_tracks=1, choice="friday")


def test_a_take_that_is_not_there(tmp_path):
    lay(tmp_path / "friday", {"01 a.wav": recorded(1)})
    lay(tmp_path / "saturday", {"01 a.wav": recorded(1)}, age=9_000)
    with pytest.raises(TakeError) as caught:
        open_take(tmp_path, None, wanted_tracks=1, choice="sunday")
    assert str(caught.value) == f"there is no take called 'sunday' in {tmp_path} (there are: 1 saturday, 2 friday)"


def test_the_patch_may_name_one_file(tmp_path):
    lay(tmp_path, {"a.wav": recorded(1, channels=4), "b.wav": recorded(2, channels=4)})
    assert open_take(tmp_path, "a.wav", wanted_tracks=4).duration_s == 1.0


def test_no_folder(tmp_path):
    with pytest.raises(TakeError) as caught:
        open_take(tmp_path, "audio", wanted_tracks=1)
    assert str(caught.value) == (
        f"take.folder: the take folder {tmp_path}/audio does not exist (record into it, or set take.folder)"
    )


def test_no_audio(tmp_path):
    put(tmp_path / "notes.txt", b"x")
    put(tmp_path / "._01 Kick.wav", b"Mac OS X")
    put(tmp_path / ".hidden" / "01 Kick.wav", recorded())
    with pytest.raises(TakeError) as caught:
        open_take(tmp_path, None, wanted_tracks=1)
    kinds = ".aif .aifc .aiff .au .bw64 .bwf .caf .flac .oga .ogg .opus .rf64 .snd .w64 .wav .wave"
    assert str(caught.value) == (
        f"there is no take in {tmp_path} or the folders in it (looked for files named {kinds})"
    )


def test_not_one_file_that_can_be_read(tmp_path):
    lay(tmp_path, {"01 a.wav": b"", "02 b.wav": riff(fmt(), chunk(b"data", b""))})
    with pytest.raises(TakeError) as caught:
        open_take(tmp_path, None, wanted_tracks=1)
    assert str(caught.value) == (
        f"{tmp_path}: 01 a.wav cannot be read: it has 0 bytes.\n{tmp_path}: 02 b.wav holds no samples."
    )


def test_other_files_lying_about_are_no_concern(tmp_path):
    files = {"setlist.pdf": b"%PDF", "stage.jpg": b"\xff\xd8", "mix.mp3": b"ID3", ".DS_Store": b"x", "._01 a.wav": b"x"}
    take = open_take(lay(tmp_path, files | {"01 a.wav": recorded()}), None, wanted_tracks=1)
    assert (numbered(take), take.troubles) == ({1: "01 a.wav"}, ())


def test_a_text_with_the_name_of_a_recording(tmp_path):
    take = open_take(lay(tmp_path, {"01 a.wav": recorded(), "02 b.wav": b"a text"}), None, wanted_tracks=1)
    assert told(take) == ["02 b.wav cannot be read: it is no audio file that is known here (Format not recognised)."]
    assert take.troubles[0].tracks == (2,)


def test_folders_that_hold_each_other(tmp_path):
    lay(tmp_path / "a", {"01 a.wav": recorded()})
    (tmp_path / "a" / "again").symlink_to(tmp_path, target_is_directory=True)
    (tmp_path / "self").symlink_to("self")
    take = open_take(tmp_path, None, wanted_tracks=1)
    assert (len(take.tracks), take.others, take.troubles) == (1, (), ())


def test_a_deep_folder_ends_the_walk(tmp_path):
    deep = tmp_path.joinpath(*"abcdefghijkl")
    lay(deep, {"01 a.wav": recorded()})
    with pytest.raises(TakeError, match="there is no take in"):
        open_take(tmp_path, None, wanted_tracks=1)


def test_a_folder_without_end(tmp_path, monkeypatch):
    lay(tmp_path, {f"{i:02d} a.wav": recorded() for i in range(1, 9)})
    monkeypatch.setattr(walk, "MOST_ENTRIES", 5)
    assert walk.walk(tmp_path).cut
    take = open_take(tmp_path, None, wanted_tracks=1)
    assert len(take.tracks) == 4
    assert take.others == (f"more in {tmp_path.name}, which holds too much to be looked through",)


def test_more_files_than_are_read(tmp_path, monkeypatch):
    lay(tmp_path, {f"{i:02d} a.wav": recorded() for i in range(1, 9)})
    monkeypatch.setattr(walk, "MOST_FILES", 6)
    take = open_take(tmp_path, None, wanted_tracks=1)
    assert len(take.tracks) == 6
    assert told(take) == ["2 more audio files lie there; the first 6 by name were read."]


def test_a_folder_that_cannot_be_opened(tmp_path, monkeypatch):
    """Permissions do not hold for root, so the listing itself is made to fail here."""
    lay(tmp_path / "a", {"01 a.wav": recorded()})
    (tmp_path / "locked").mkdir()
    scandir = os.scandir

    def refuse(path):
        if os.path.basename(path) == "locked":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(walk.os, "scandir", refuse)
    assert open_take(tmp_path, None, wanted_tracks=1).others == ("locked (cannot be opened: permission denied)",)
    with pytest.raises(TakeError, match="the folder cannot be opened: permission denied"):
        open_take(tmp_path / "locked", None, wanted_tracks=1)


def test_files_that_grow_while_we_look(tmp_path, monkeypatch):
    lay(tmp_path, {"01 a.wav": recorded(1), "02 b.wav": riff(fmt(), chunk(b"data", samples(RATE), size=0))})
    assemble = find.assemble

    def meanwhile(*arguments):
        for path in tmp_path.iterdir():
            with open(path, "ab") as file:
                file.write(bytes(100))
        return assemble(*arguments)

    monkeypatch.setattr(find, "assemble", meanwhile)
    take = open_take(tmp_path, None, wanted_tracks=2)
    (trouble,) = take.troubles
    assert (trouble.code, trouble.tracks, trouble.files) == ("still-recording", (1, 2), ("01 a.wav", "02 b.wav"))
    assert trouble.detail == "01 a.wav and 1 more are still being recorded; read up to 1.0 s."
    assert take.frames == RATE


def test_files_without_sizes_written_to_just_now_are_one_matter(tmp_path):
    content = riff(fmt(), chunk(b"data", samples(RATE), size=0xFFFFFFFF))
    now = time.time()
    lay(tmp_path, {"01 a.wav": content, "02 b.wav": content}, age=2)
    assert codes(open_take(tmp_path, None, wanted_tracks=2, now=now)) == ["still-recording"]
    assert codes(open_take(tmp_path, None, wanted_tracks=2, now=now + 60)) == ["truncated", "truncated"]


def test_a_file_pulled_while_we_look_is_no_crash(tmp_path, monkeypatch):
    lay(tmp_path, {"01 a.wav": recorded(1), "02 b.wav": recorded(1)})
    walked = walk.walk(tmp_path)
    (tmp_path / "02 b.wav").unlink()
    monkeypatch.setattr(find, "walk", lambda _root: walked)
    assert codes(open_take(tmp_path, None, wanted_tracks=2)) == ["unreadable"]


def test_a_take_of_64_bit_files(tmp_path):
    data = chunk(b"data", samples(RATE, channels=3), size=0xFFFFFFFF)
    lay(tmp_path, {"show.wav": rf64(RATE * 6, fmt(channels=3), data, form=b"BW64")})
    assert len(open_take(tmp_path, None, wanted_tracks=3).tracks) == 3


def test_opening_changes_nothing(tmp_path):
    lay(tmp_path, {"01 a.wav": recorded(1), "02 b.wav": b"", "03 c.flac": b"fLaC"})
    before = {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.iterdir()}
    open_take(tmp_path, None, wanted_tracks=2)
    assert {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.iterdir()} == before
