"""What is read from headers that are right, and what is said of files that are not."""

from __future__ import annotations

import datetime
import os
import struct
import time
from pathlib import Path

import pytest

from replay.take.header import read_header
from replay.take.opened import Opened
from tests.take.making import bext, chunk, fmt, ixml, put, rf64, riff, samples, wave


def opened(tmp_path: Path, content: bytes, *, age: float = 3600.0, name: str = "Snare.wav") -> Opened:
    return read_header(put(tmp_path / name, content, age=age))


def said(result: Opened) -> list[tuple[str, str]]:
    return [(trouble.code, trouble.detail) for trouble in result.troubles]


@pytest.mark.parametrize(
    ("tag", "bits", "valid", "encoding", "is_float"),
    [
        (1, 8, None, "u8", False),
        (1, 16, None, "s16", False),
        (1, 24, None, "s24", False),
        (1, 32, None, "s32", False),
        (3, 32, None, "f32", True),
        (3, 64, None, "f64", True),
        (1, 32, 24, "s32", False),  # 24 valid bits in a container of 32
        (1, 24, 20, "s24", False),
        (3, 32, 32, "f32", True),
    ],
)
def test_every_encoding(tmp_path, tag, bits, valid, encoding, is_float):
    content = riff(
        fmt(tag=tag, bits=bits, channels=3, valid=valid), chunk(b"data", samples(7, channels=3, width=bits // 8))
    )
    result = opened(tmp_path, content)
    assert result.troubles == ()
    file = result.file
    assert (file.encoding, file.bits, file.is_float) == (encoding, bits, is_float)
    assert (file.rate, file.channels, file.frames) == (48000, 3, 7)
    assert content[file.data_offset :] == samples(7, channels=3, width=bits // 8) + b"\0" * (21 * bits // 8 % 2)
    assert file.frame_bytes == 3 * bits // 8


def test_bits_that_are_not_whole_bytes_lie_in_the_next_container(tmp_path):
    result = opened(tmp_path, riff(fmt(bits=20, channels=2), chunk(b"data", samples(5, channels=2, width=3))))
    assert (result.file.encoding, result.file.frames, result.troubles) == ("s24", 5, ())


@pytest.mark.parametrize("form", [b"RF64", b"BW64"])
def test_64_bit_forms(tmp_path, form):
    data = chunk(b"data", samples(100, width=3), size=0xFFFFFFFF)
    result = opened(tmp_path, rf64(300, fmt(bits=24), data, form=form))
    assert (result.file.encoding, result.file.frames, result.troubles) == ("s24", 100, ())


def test_chunks_behind_the_data_of_a_64_bit_file_are_no_samples(tmp_path):
    data = chunk(b"data", samples(100), size=0xFFFFFFFF)
    result = opened(tmp_path, rf64(200, fmt(), data, ixml((9, 1, "Snare top"))))
    assert (result.file.frames, result.file.names, result.file.numbers) == (100, ("Snare top",), (9,))


def test_bext_gives_start_time_date_and_description(tmp_path):
    result = opened(tmp_path, wave(4, bext(reference=48000 * 3600 * 20 + 7, description="Mill Yard, Gäste".encode())))
    file = result.file
    assert file.start_frame == 48000 * 3600 * 20 + 7
    assert file.description == "Mill Yard, Gäste"
    assert file.made == datetime.datetime(2026, 11, 20, 20, 30).timestamp()


@pytest.mark.parametrize(
    ("date", "clock"), [("", ""), ("0000-00-00", "00:00:00"), ("2026-13-45", "20:30:00"), ("yesterday!", "soon")]
)
def test_a_bext_date_that_is_none_is_left_out(tmp_path, date, clock):
    file = opened(tmp_path, wave(4, bext(date=date, clock=clock, reference=5))).file
    assert (file.made, file.start_frame) == (None, 5)


def test_no_bext_no_start_time(tmp_path):
    file = opened(tmp_path, wave(4)).file
    assert (file.start_frame, file.made, file.description) == (None, None, "")


def test_a_short_bext_gives_what_it_holds(tmp_path):
    file = opened(tmp_path, wave(4, chunk(b"bext", b"Kick in".ljust(256, b"\0")))).file
    assert (file.start_frame, file.description) == (None, "Kick in")


def test_metadata_behind_the_samples_is_found(tmp_path):
    content = riff(fmt(), chunk(b"data", samples(3)), bext(reference=9), ixml((4, 1, "Hi-hat")))
    file = opened(tmp_path, content).file
    assert (file.frames, file.start_frame, file.names, file.numbers) == (3, 9, ("Hi-hat",), (4,))


def test_samples_before_the_format_are_found(tmp_path):
    file = opened(tmp_path, riff(chunk(b"data", samples(3)), fmt())).file
    assert (file.frames, file.data_offset) == (3, 20)


# One row a broken file: its bytes, the frames that are read (None: it is not), and exactly what is said.
SAMPLES = samples(48000)
NEVER_CLOSED = (
    "truncated",
    "Snare.wav was never closed: its header does not give its length. All 1.00 s that are there were read, "
    "but its last moments may be missing and a player may see less or nothing.",
)
CUT_OFF = (
    "truncated",
    "Snare.wav is cut off: its header promises 3.00 s, 1.00 s are there, 2.00 s are missing.",
)
NO_AUDIO = "Snare.wav cannot be read: it is no audio file that is known here (Format not recognised)."


def unreadable(why: str) -> list[tuple[str, str]]:
    return [("unreadable", f"Snare.wav cannot be read: {why}.")]


BROKEN = {
    "no bytes": (b"", None, unreadable("it has 0 bytes")),
    "one byte": (b"R", None, [("unreadable", NO_AUDIO)]),
    "something like MPEG audio": (
        b"\xff\xfb\x90\x00" * 400,
        None,
        unreadable("it is MPEG audio, or what is left of something else; no recorder of raw tracks writes that"),
    ),
    "only zeros": (bytes(4096), None, [("unreadable", NO_AUDIO)]),
    "a text": (b"Setlist Mill Yard\n" * 50, None, [("unreadable", NO_AUDIO)]),
    "a header cut at 12 bytes": (
        riff(),
        None,
        unreadable("it has no fmt chunk, which says how its samples are written"),
    ),
    "no fmt chunk": (
        riff(chunk(b"data", SAMPLES)),
        None,
        unreadable("it has no fmt chunk, which says how its samples are written"),
    ),
    "fmt chunk cut short": (
        riff(chunk(b"fmt ", b"\1\0\1\0\x80\xbb\0\0\0\0"), chunk(b"data", SAMPLES)),
        None,
        unreadable("its fmt chunk is cut off after 10 of 16 bytes"),
    ),
    "extensible fmt chunk cut short": (
        riff(chunk(b"fmt ", fmt(valid=16)[8:32]), chunk(b"data", SAMPLES)),
        None,
        unreadable("its fmt chunk is cut off after 24 of 40 bytes"),
    ),
    "no data chunk": (riff(fmt()), None, unreadable("it has no data chunk, which holds the samples")),
    "no channels": (
        riff(fmt(channels=0, align=2), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives 0 channels; 1 to 1024 can be read"),
    ),
    "2000 channels": (
        riff(fmt(channels=2000), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives 2000 channels; 1 to 1024 can be read"),
    ),
    "rate 0": (
        riff(fmt(rate=0), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives a sample rate of 0 Hz"),
    ),
    "rate beyond any converter": (
        riff(fmt(rate=4_000_000_000, byte_rate=0), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives a sample rate of 4000000000 Hz"),
    ),
    "48-bit integers": (
        riff(fmt(bits=48), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives integer samples of 48 bits; 8, 16, 24, 32 can be read"),
    ),
    "16-bit float": (
        riff(fmt(tag=3, bits=16), chunk(b"data", SAMPLES)),
        None,
        unreadable("its header gives float samples of 16 bits; 32, 64 can be read"),
    ),
    "0 bits, but a block size": (
        riff(fmt(bits=0, align=2), chunk(b"data", SAMPLES)),
        48000,
        [
            (
                "depth-mismatch",
                "Snare.wav contradicts itself: its header says 0 bits a sample in 2 bytes; "
                "it was read as 16-bit samples.",
            )
        ],
    ),
    "24 bits in blocks of 4 bytes": (
        riff(fmt(bits=24, align=4), chunk(b"data", SAMPLES)),
        24000,
        [
            (
                "depth-mismatch",
                "Snare.wav contradicts itself: its header says 24 bits a sample in 4 bytes; "
                "it was read as 32-bit samples.",
            )
        ],
    ),
    "block size 0": (
        riff(fmt(align=0, byte_rate=96000), chunk(b"data", SAMPLES)),
        48000,
        [
            (
                "depth-mismatch",
                "Snare.wav contradicts itself: its header says 16 bits a sample, but 0 bytes a frame of 1 channels; "
                "it was read as 16-bit samples.",
            )
        ],
    ),
    "data size 0 with data behind it": (riff(fmt(), chunk(b"data", SAMPLES, size=0), size=36), 48000, [NEVER_CLOSED]),
    "all sizes 0": (riff(fmt(), chunk(b"data", SAMPLES, size=0), size=0), 48000, [NEVER_CLOSED]),
    "all sizes ones": (
        riff(fmt(), chunk(b"data", SAMPLES, size=0xFFFFFFFF), size=0xFFFFFFFF),
        48000,
        [NEVER_CLOSED],
    ),
    "the size of a pipe": (riff(fmt(), chunk(b"data", SAMPLES, size=0x7FFFF000)), 48000, [NEVER_CLOSED]),
    "RF64 without its sizes": (
        riff(fmt(), chunk(b"data", SAMPLES, size=0xFFFFFFFF), form=b"RF64", size=0xFFFFFFFF),
        48000,
        [NEVER_CLOSED],
    ),
    "RF64 with sizes never filled in": (
        rf64(0, fmt(), chunk(b"data", SAMPLES, size=0xFFFFFFFF)),
        48000,
        [NEVER_CLOSED],
    ),
    "RF64 with absurd sizes": (
        rf64((1 << 64) - 1, fmt(), chunk(b"data", SAMPLES, size=0xFFFFFFFF)),
        48000,
        [NEVER_CLOSED],
    ),
    "data longer than the file": (riff(fmt(), chunk(b"data", SAMPLES, size=288000)), 48000, [CUT_OFF]),
    "RF64 longer than the file": (rf64(288000, fmt(), chunk(b"data", SAMPLES, size=0xFFFFFFFF)), 48000, [CUT_OFF]),
    "cut off in the middle of a frame": (
        riff(fmt(), chunk(b"data", SAMPLES + b"\x55", size=288000, pad=False)),
        48000,
        [CUT_OFF],
    ),
    "a frame cut in half at the claimed end": (
        riff(fmt(bits=24), chunk(b"data", samples(100, width=3) + b"\x55")),
        100,
        [],
    ),
    "an empty recording": (riff(fmt(), chunk(b"data", b"")), 0, [("empty-file", "Snare.wav holds no samples.")]),
    "an empty recording with chunks behind": (
        riff(fmt(), chunk(b"data", b""), chunk(b"LIST", b"INFOISFT\4\0\0\0abc\0")),
        0,
        [("empty-file", "Snare.wav holds no samples.")],
    ),
    "a promise without a sample": (
        riff(fmt(), chunk(b"data", b"", size=288000)),
        0,
        [("empty-file", "Snare.wav holds no samples, though its header promises 3.00 s.")],
    ),
    "less than a frame": (
        riff(fmt(bits=32), chunk(b"data", b"\x11\x91")),
        0,
        [("empty-file", "Snare.wav holds no samples.")],
    ),
    "an odd chunk without its pad byte": (
        riff(fmt(), chunk(b"note", b"Mill Yard", pad=False), chunk(b"data", SAMPLES)),
        48000,
        [],
    ),
    "odd data without its pad byte": (
        riff(fmt(bits=8), chunk(b"data", samples(101, width=1), pad=False), ixml((1, 1, "Kick"))),
        101,
        [],
    ),
    "unknown chunks on all sides": (
        riff(chunk(b"zzzz", b"12345"), fmt(), chunk(b"\xff\xfe\xfd\xfc", b"1234"), chunk(b"data", SAMPLES)),
        48000,
        [],
    ),
    "two data chunks": (riff(fmt(), chunk(b"data", SAMPLES), chunk(b"data", b"1234")), 48000, []),
    "zeros behind the data": (riff(fmt(), chunk(b"data", SAMPLES)) + bytes(100_000), 48000, []),
    "a second of samples behind the claimed end": (
        riff(fmt(), chunk(b"data", SAMPLES)) + SAMPLES,
        48000,
        [
            (
                "truncated",
                "Snare.wav holds 1.00 s behind the end that its header gives (1.00 s); a player stops there.",
            )
        ],
    ),
    "a chunk before the data that claims 4 GiB": (
        riff(fmt(), chunk(b"JUNK", b"", size=0xFFFFFFFF), chunk(b"data", SAMPLES)),
        None,
        unreadable("it has no data chunk, which holds the samples"),
    ),
}


@pytest.mark.parametrize("what", BROKEN)
def test_broken_files(tmp_path, what):
    content, frames, expected = BROKEN[what]
    result = opened(tmp_path, content)
    assert said(result) == expected
    assert (result.file.frames if result.file else None) == frames
    assert all(trouble.files == ("Snare.wav",) for trouble in result.troubles)


def test_at_least_25_broken_files_are_in_the_table():
    assert len([what for what, (_, _, expected) in BROKEN.items() if expected]) >= 25


@pytest.mark.parametrize(
    ("what", "lost"),
    [
        ("data longer than the file", 2.0),
        ("RF64 longer than the file", 2.0),
        ("a promise without a sample", 3.0),
        ("a second of samples behind the claimed end", 1.0),
        ("data size 0 with data behind it", None),
    ],
)
def test_seconds_that_are_known_to_be_missing(tmp_path, what, lost):
    assert [trouble.lost_s for trouble in opened(tmp_path, BROKEN[what][0]).troubles] == [lost]


@pytest.mark.parametrize("claim", [0, 0xFFFFFFFF, 0xFFFFFFDB])
def test_beyond_4_gib_and_never_turned_into_rf64(tmp_path, claim):
    """The room for 64-bit sizes is still JUNK; the data runs to the end of the file (sparse here)."""
    head = riff(chunk(b"JUNK", bytes(28)), fmt(bits=24, channels=32), chunk(b"data", b"", size=claim), size=claim)
    path = tmp_path / "poly.wav"
    with open(path, "wb") as file:
        file.write(head + samples(4, channels=32, width=3))
        file.truncate(len(head) + 96 * 50_000_000)  # 4.8 GB
    os.utime(path, (1e9, 1e9))
    result = read_header(path)
    assert (result.file.frames, result.file.data_offset) == (50_000_000, len(head))
    assert [trouble.code for trouble in result.troubles] == ["truncated"]
    assert "was never closed" in result.troubles[0].detail
    assert "All 1041.67 s" in result.troubles[0].detail


def test_beyond_4_gib_with_a_size_that_wrapped_round(tmp_path):
    size = 96 * 50_000_000
    tail = ixml(*((i + 1, i + 1, f"In {i + 1}") for i in range(32)))
    head = riff(fmt(bits=24, channels=32), chunk(b"data", b"", size=size - (1 << 32)), size=12)
    path = tmp_path / "poly.wav"
    with open(path, "wb") as file:
        file.write(head + samples(4, channels=32, width=3))
        file.seek(len(head) + size)
        file.write(tail)
    os.utime(path, (1e9, 1e9))
    file = read_header(path).file
    assert file.frames == 50_000_000


def test_a_true_rf64_beyond_4_gib(tmp_path):
    size = 96 * 50_000_000
    head = rf64(size, fmt(bits=24, channels=32), chunk(b"data", b"", size=0xFFFFFFFF))
    path = tmp_path / "poly.wav"
    with open(path, "wb") as file:
        file.write(head)
        file.truncate(len(head) + size)
    assert (read_header(path).file.frames, read_header(path).troubles) == (50_000_000, ())


@pytest.mark.parametrize("claim", [0, 0xFFFFFFFF])
def test_a_file_that_was_not_closed_and_written_to_just_now_is_still_recording(tmp_path, claim):
    content = riff(fmt(), chunk(b"data", SAMPLES, size=claim))
    path = put(tmp_path / "Snare.wav", content)
    now = time.time()
    os.utime(path, (now - 4, now - 4))
    result = read_header(path, now=now)
    assert said(result) == [("still-recording", "Snare.wav is still being recorded; it was read up to 1.0 s.")]
    os.utime(path, (now - 6, now - 6))
    assert said(read_header(path, now=now)) == [NEVER_CLOSED]


def test_a_recorder_that_updates_its_header_now_and_then_is_read_up_to_now(tmp_path):
    content = riff(fmt(), chunk(b"data", SAMPLES)) + SAMPLES
    result = opened(tmp_path, content, age=1)
    assert result.file.frames == 96000
    assert [trouble.code for trouble in result.troubles] == ["still-recording"]


def test_a_file_made_just_now_and_closed_is_simply_a_file(tmp_path):
    assert opened(tmp_path, wave(48000), age=0).troubles == ()


def test_a_folder_and_a_pipe_are_not_read(tmp_path):
    (tmp_path / "a.wav").mkdir()
    os.mkfifo(tmp_path / "b.wav")
    for name in ("a.wav", "b.wav"):
        assert said(read_header(tmp_path / name)) == [
            ("unreadable", f"{name} cannot be read: it is not a regular file.")
        ]


def test_a_link_into_nothing(tmp_path):
    (tmp_path / "a.wav").symlink_to(tmp_path / "gone.wav")
    expected = "a.wav cannot be read: it is a link to a file that is gone, or has just been removed."
    assert said(read_header(tmp_path / "a.wav")) == [("unreadable", expected)]


def test_a_file_without_permission(tmp_path, monkeypatch):
    """Permissions do not hold for root, so the opening itself is made to fail here."""
    put(tmp_path / "a.wav", wave(4))

    def refuse(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    result = read_header(tmp_path / "a.wav")
    assert said(result) == [("unreadable", "a.wav cannot be read: permission denied.")]


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        (b"07 Snare top.wav", "07 Snare top.wav"),
        ("Gäste Überraschung.wav".encode(), "Gäste Überraschung.wav"),
        ("\N{DRUM WITH DRUMSTICKS} loud.wav".encode(), "\N{DRUM WITH DRUMSTICKS} loud.wav"),
        (b"two\nlines.wav", "two?lines.wav"),
        (b"esc\x1b[31m.wav", "esc?[31m.wav"),
        (b"G\xe4ste.wav", "G?ste.wav"),  # Latin-1, from a card
    ],
)
def test_names_of_any_bytes(tmp_path, name, shown):
    path = tmp_path / os.fsdecode(name)
    put(path, riff(fmt(), chunk(b"data", b"")))
    assert said(read_header(path)) == [("empty-file", f"{shown} holds no samples.")]
    big_endian = b"RIFX" + struct.pack(">I", 36) + b"WAVEfmt " + struct.pack(">IHHIIHH", 16, 1, 1, 48000, 96000, 2, 16)
    put(path, big_endian + b"data" + struct.pack(">I", 8) + bytes(8))
    assert (read_header(path).file.frames, read_header(path).file.encoding) == (4, None)


def test_a_thousand_chunks_are_walked_and_no_more(tmp_path):
    many = chunk(b"note", b"") * 1000
    assert opened(tmp_path, riff(fmt(), many, chunk(b"data", samples(5)))).file.frames == 5
    result = opened(tmp_path, riff(fmt(), many * 2, chunk(b"data", samples(5))))
    assert said(result) == unreadable("it has no data chunk, which holds the samples")
