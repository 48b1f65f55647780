"""Parts joined, tracks lined up, and what is said to be missing."""

from __future__ import annotations

import pytest

from replay.take.find import open_take
from tests.take.making import bext, chunk, fmt, ixml, put, riff, samples, wave
from tests.take.shows import RATE, codes, lay, numbered, recorded, told

EVENING = 20.5 * 3600


def take_of(tmp_path, files, **options):
    return open_take(lay(tmp_path, files), None, **({"wanted_tracks": 2} | options))


def spans(take, number=1):
    return [(segment.start, segment.stop) for segment in take.track(number).segments]


@pytest.mark.parametrize(
    "names",
    [
        ["Track01_0001.wav", "Track01_0002.wav", "Track01_0003.wav"],
        ["show.wav", "show-2.wav", "show-3.wav"],
        ["show-1.wav", "show-2.wav", "show-10.wav"],
        ["show part 1.wav", "show part 2.wav", "show part 3.wav"],
    ],
)
def test_parts_are_joined_without_a_seam(tmp_path, names):
    channels = 4 if "show" in names[0] else 1
    lengths = (0.3, 0.1, 0.2)
    files = {n: recorded(s, channels=channels) for n, s in zip(names, lengths, strict=True)}
    if channels == 1:
        files |= {name.replace("01_", "02_"): content for name, content in files.items()}
    take = take_of(tmp_path, files)
    assert [segment.file.path.name for segment in take.tracks[0].segments] == names
    assert spans(take) == [(0, 14400), (14400, 19200), (19200, 28800)]
    assert take.track(1).coverage == ((0, 28800),)
    assert take.frames == 28800
    assert set(codes(take)) - {"segment-missing", "track-order"} == set()


def test_numbered_parts_are_no_guess(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(0.1 * p) for t in (1, 2, 3) for p in (1, 2)}
    assert take_of(tmp_path, files).troubles == ()


def test_bext_times_that_meet_join_parts_to_the_frame(tmp_path):
    files = {
        "Kick_1.wav": recorded(1, at=EVENING),
        "Kick_2.wav": recorded(1, at=EVENING + 1),
        "Kick_3.wav": recorded(0.5, at=EVENING + 2 + 3 / RATE),  # a recorder that rounds
    }
    take = take_of(tmp_path, files)
    assert spans(take) == [(0, RATE), (RATE, 2 * RATE), (2 * RATE, 2.5 * RATE)]
    assert (take.clock_source, take.troubles) == ("bext", ())


def test_a_missing_part_by_bext(tmp_path):
    files = {
        f"Track{t:02d}_{p:04d}.wav": recorded(1, at=EVENING + p) for t in (1, 2) for p in (1, 2, 3) if (t, p) != (2, 2)
    }
    take = take_of(tmp_path, files)
    assert spans(take, 2) == [(0, RATE), (2 * RATE, 3 * RATE)]
    (trouble,) = take.troubles
    assert trouble.detail == (
        "Between Track02_0001.wav and Track02_0003.wav 1.00 s of track 2 are missing, from 0:01 on."
    )
    assert (trouble.code, trouble.tracks, trouble.lost_s, trouble.start_s) == ("segment-missing", (2,), 1.0, 1.0)


def test_a_part_missing_on_all_tracks_by_bext(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1, at=EVENING + p) for t in (1, 2) for p in (1, 2, 4)}
    take = take_of(tmp_path, files)
    assert spans(take, 2) == [(0, RATE), (RATE, 2 * RATE), (3 * RATE, 4 * RATE)]
    assert [(t.code, t.tracks, t.lost_s) for t in take.troubles] == [
        ("segment-missing", (1,), 1.0),
        ("segment-missing", (2,), 1.0),
    ]


def test_a_missing_part_by_the_other_tracks(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1) for t in (1, 2, 3) for p in (1, 2, 3)}
    for gone in ("Track01_0001.wav", "Track02_0002.wav", "Track03_0003.wav"):
        del files[gone]
    take = take_of(tmp_path, files)
    assert [spans(take, n) for n in (1, 2, 3)] == [
        [(RATE, 2 * RATE), (2 * RATE, 3 * RATE)],
        [(0, RATE), (2 * RATE, 3 * RATE)],
        [(0, RATE), (RATE, 2 * RATE)],
    ]
    assert told(take, "segment-missing") == [
        "The beginning of track 1 is missing: 1.00 s before Track01_0002.wav, which the other tracks have.",
        "Between Track02_0001.wav and Track02_0003.wav 1.00 s of track 2 are missing, from 0:01 on.",
        "The end of track 3 is missing: 1.00 s behind Track03_0002.wav, which the other tracks have.",
    ]
    assert take.frames == 3 * RATE


def test_a_part_missing_on_all_tracks_without_times(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1) for t in (1, 2) for p in (1, 3)}
    take = take_of(tmp_path, files)
    assert spans(take) == [(0, RATE), (RATE, 2 * RATE)]
    assert told(take) == [
        "Part 2 of the recording is missing on all tracks; the parts around were joined, so times behind that are too "
        "early."
    ]
    assert take.troubles[0].lost_s is None


def test_a_part_that_is_cut_short_keeps_the_rest_in_step(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1) for t in (1, 2) for p in (1, 2)}
    files["Track02_0001.wav"] = riff(fmt(), chunk(b"data", samples(RATE // 2), size=2 * RATE))
    take = take_of(tmp_path, files)
    assert spans(take, 2) == [(0, RATE // 2), (RATE, 2 * RATE)]
    assert [(t.code, t.tracks, t.lost_s) for t in take.troubles] == [
        ("truncated", (2,), 0.5),
        ("segment-missing", (2,), 0.5),
    ]


def test_an_unreadable_part_is_a_missing_one(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1) for t in (1, 2) for p in (1, 2, 3)}
    files["Track02_0002.wav"] = b""
    take = take_of(tmp_path, files)
    assert spans(take, 2) == [(0, RATE), (2 * RATE, 3 * RATE)]
    assert [(t.code, t.tracks) for t in take.troubles] == [("unreadable", (2,)), ("segment-missing", (2,))]


def test_words_with_a_number_behind_are_joined_only_with_a_note(tmp_path):
    files = {"Kick_01.wav": recorded(0.1), "Kick_02.wav": recorded(0.3)}
    files |= {name.replace("Kick", "Snare"): content for name, content in files.items()}
    take = take_of(tmp_path, files)
    assert numbered(take) == {1: "Kick_01.wav", 2: "Snare_01.wav"}
    assert told(take)[0] == (
        "Kick_01.wav and Kick_02.wav were joined as parts of one recording by their names; "
        "nothing in the files proves it."
    )


def test_stamped_files_that_go_on_from_each_other_are_one_recording(tmp_path):
    files = {
        "R_20261120-203000.wav": recorded(10, channels=3),
        "R_20261120-203010.wav": recorded(10, channels=3),
        "R_20261120-203020.wav": recorded(1, channels=3),
    }
    take = take_of(tmp_path, files)
    assert spans(take) == [(0, 10 * RATE), (10 * RATE, 20 * RATE), (20 * RATE, 21 * RATE)]
    assert (take.others, take.troubles) == ((), ())


def test_stamped_files_that_go_on_by_bext(tmp_path):
    files = {
        "20261120-203000 Kick.wav": recorded(1, at=EVENING),
        "20261120-203001 Kick.wav": recorded(1, at=EVENING + 1),
        "20261120-203000 Hat.wav": recorded(1, at=EVENING),
        "20261120-203001 Hat.wav": recorded(1, at=EVENING + 1),
    }
    take = take_of(tmp_path, files)
    assert [len(track.segments) for track in take.tracks] == [2, 2]
    assert take.frames == 2 * RATE


def test_a_part_with_other_channels_is_left_out(tmp_path):
    files = {"show-1.wav": recorded(1, channels=4), "show-2.wav": recorded(0.5, channels=3)}
    take = take_of(tmp_path, files, wanted_tracks=4)
    assert told(take, "track-clash") == ["show-2.wav has 3 channels where show-1.wav has 4: it was left out."]
    assert take.frames == RATE


def test_start_times_line_tracks_up(tmp_path):
    files = {"01 Kick.wav": recorded(2, at=EVENING), "02 Bass.wav": recorded(1, at=EVENING + 0.5)}
    take = take_of(tmp_path, files)
    assert (spans(take, 1), spans(take, 2)) == ([(0, 2 * RATE)], [(RATE // 2, RATE + RATE // 2)])
    assert (take.clock_source, take.frames, take.troubles) == ("bext", 2 * RATE, ())


def test_start_times_on_both_sides_of_midnight(tmp_path):
    files = {"01 Kick.wav": recorded(2, at=86_399.5), "02 Bass.wav": recorded(1, at=0.25, date="2026-11-21")}
    take = take_of(tmp_path, files)
    assert (spans(take, 1), spans(take, 2)) == ([(0, 2 * RATE)], [(36000, 84000)])


def test_parts_across_midnight(tmp_path):
    files = {
        "Kick_1.wav": recorded(1, at=86_399.5, date="2026-11-20", clock="23:59:59"),
        "Kick_2.wav": recorded(1, at=0.5, date="2026-11-21", clock="00:00:00"),
    }
    take = take_of(tmp_path, files)
    assert spans(take) == [(0, RATE), (RATE, 2 * RATE)]
    assert take.clock_source == "bext"


@pytest.mark.parametrize(
    "second",
    [
        recorded(1),  # no time
        recorded(1, at=EVENING + 3600),  # an hour later, on a take of two seconds
        recorded(1, at=EVENING + 0.5, date="2026-11-25"),
        wave(RATE, bext(reference=1 << 50)),
    ],
)
def test_times_that_are_not_plausible_for_all_files_count_for_none(tmp_path, second):
    take = take_of(tmp_path, {"01 Kick.wav": recorded(2, at=EVENING), "02 Bass.wav": second})
    assert [spans(take, n)[0][0] for n in (1, 2)] == [0, 0]
    assert take.clock_source == "start"


def test_a_recorder_without_a_clock(tmp_path):
    files = {"01 Kick.wav": recorded(2, at=0), "02 Bass.wav": recorded(1, at=0)}
    assert take_of(tmp_path, files).clock_source == "start"


def test_every_part_with_the_start_of_the_whole_recording(tmp_path):
    files = {f"Track{t:02d}_{p:04d}.wav": recorded(1, at=EVENING) for t in (1, 2) for p in (1, 2)}
    take = take_of(tmp_path, files)
    assert spans(take, 2) == [(0, RATE), (RATE, 2 * RATE)]
    assert (take.clock_source, take.troubles) == ("start", ())


def test_another_rate_is_left_out_and_told(tmp_path):
    files = {f"0{i} x.wav": recorded(0.1) for i in (1, 2, 3)} | {"04 y.wav": recorded(0.1, rate=44100)}
    take = take_of(tmp_path, files)
    assert (take.rate, list(numbered(take))) == (48000, [1, 2, 3])
    (trouble,) = take.troubles
    assert (trouble.code, trouble.tracks) == ("rate-mismatch", (4,))
    assert trouble.detail == (
        "04 y.wav has a rate of 44100 Hz, the take has 48000 Hz: left out, as a player would run it at the wrong speed."
    )


@pytest.mark.parametrize(("rate", "kept"), [(None, 2), (48000, 2), (44100, 1), (96000, 2)])
def test_as_many_files_of_one_rate_as_of_the_other(tmp_path, rate, kept):
    files = {"01 x.wav": recorded(0.1, rate=44100), "02 y.wav": recorded(0.1)}
    assert list(numbered(take_of(tmp_path, files, rate=rate))) == [kept]


def test_other_depths_are_a_note(tmp_path):
    files = {"01 a.wav": recorded(bits=24), "02 b.wav": recorded(bits=24), "03 c.wav": recorded(bits=16)}
    files["04 d.wav"] = riff(fmt(tag=3, bits=32), chunk(b"data", bytes(400)))
    take = take_of(tmp_path, files)
    assert [(t.code, t.tracks, t.detail) for t in take.troubles] == [
        ("depth-mismatch", (3,), "03 c.wav is 16-bit integer, the rest of the take is 24-bit integer."),
        ("depth-mismatch", (4,), "04 d.wav is 32-bit float, the rest of the take is 24-bit integer."),
    ]
    assert list(numbered(take)) == [1, 2, 3, 4]


def test_mixed_forms_in_one_take(tmp_path):
    """Mono files, a pair, a FLAC file and an RF64 file, side by side."""
    import soundfile

    lay(tmp_path, {"01 Kick.wav": recorded(0.1), "02 Keys.wav": recorded(0.1, channels=2)})
    soundfile.write(tmp_path / "04 Bass.flac", [0.25] * 4800, RATE, subtype="PCM_16")
    soundfile.write(tmp_path / "05 Vox.rf64", [0.25] * 4800, RATE, format="RF64", subtype="PCM_16")
    take = open_take(tmp_path, None, wanted_tracks=5)
    assert list(numbered(take)) == [1, 2, 3, 4, 5]
    assert [track.segments[0].file.encoding for track in take.tracks] == ["s16", "s16", "s16", None, "s16"]
    assert {track.frames for track in take.tracks} == {4800}


def test_the_name_of_a_track_comes_from_any_part(tmp_path):
    put(tmp_path / "Track01_0001.wav", recorded(0.1))
    put(tmp_path / "Track01_0002.wav", wave(4800, ixml((1, 1, "Kick in"))))
    put(tmp_path / "Track02_0001.wav", recorded(0.1))
    put(tmp_path / "Track02_0002.wav", recorded(0.1))
    take = open_take(tmp_path, None, wanted_tracks=2)
    assert [track.name for track in take.tracks] == ["Kick in", "Track02"]
