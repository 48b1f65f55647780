"""What is read of broken files, and exactly what is said of them."""

from __future__ import annotations

import pytest

from tests.take.making import (
    NEVER_CLOSED,
    SAMPLES,
    chunk,
    fmt,
    ixml,
    opened,
    rf64,
    riff,
    said,
    samples,
    unreadable,
)

CUT_OFF = (
    "truncated",
    "Snare.wav is cut off: its header promises 3.00 s, 1.00 s are there, 2.00 s are missing.",
)
NO_AUDIO = "Snare.wav cannot be read: it is no audio file that is known here (Format not recognised)."

# One row a broken file: its bytes, the frames that are read (None: it is not), and exactly what is said.
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
