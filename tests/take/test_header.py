"""What is read from headers that are right, and of files beyond 4 GiB, being recorded, or out of reach."""

from __future__ import annotations

import datetime
import os
import struct
import time

import pytest

from replay.take.header import read_header
from tests.take.making import (
    NEVER_CLOSED,
    SAMPLES,
    bext,
    chunk,
    fmt,
    ixml,
    opened,
    put,
    rf64,
    riff,
    said,
    samples,
    unreadable,
    wave,
)


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
