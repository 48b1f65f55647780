"""Wave files made byte by byte, so that every field of a header can be wrong on purpose, and what is said of them."""

from __future__ import annotations

import os
import struct
import time
from pathlib import Path

from replay.take.header import read_header
from replay.take.opened import Opened

GUID_TAIL = bytes.fromhex("000010008000 00aa00389b71".replace(" ", ""))


def chunk(name: bytes, body: bytes, *, size: int | None = None, pad: bool = True) -> bytes:
    """One chunk; `size` is what its header claims (the truth by default)."""
    claimed = len(body) if size is None else size
    return name + struct.pack("<I", claimed) + body + (b"\0" if pad and len(body) % 2 else b"")


def fmt(
    *,
    tag: int = 1,
    channels: int = 1,
    rate: int = 48000,
    bits: int = 16,
    align: int | None = None,
    byte_rate: int | None = None,
    valid: int | None = None,
    mask: int = 0,
) -> bytes:
    """A fmt chunk; with `valid`, an extensible one whose sub-format is `tag`."""
    align = channels * ((bits + 7) // 8) if align is None else align
    byte_rate = rate * align if byte_rate is None else byte_rate
    head = struct.pack("<HHIIHH", 0xFFFE if valid is not None else tag, channels, rate, byte_rate, align, bits)
    if valid is not None:
        head += struct.pack("<HHII", 22, valid, mask, tag) + GUID_TAIL
    return chunk(b"fmt ", head)


def bext(*, date: str = "2026-11-20", clock: str = "20:30:00", reference: int = 0, description: bytes = b"") -> bytes:
    """A bext chunk as in EBU Tech 3285, version 1, without coding history."""
    body = description.ljust(256, b"\0") + bytes(64) + date.encode().ljust(10, b"\0") + clock.encode().ljust(8, b"\0")
    return chunk(b"bext", body + struct.pack("<QH", reference, 1) + bytes(254))


def ixml(*tracks: tuple[object, object, str]) -> bytes:
    """An iXML chunk with (channel index, interleave index, name) of each track."""
    inner = "".join(
        f"<TRACK><CHANNEL_INDEX>{number}</CHANNEL_INDEX><INTERLEAVE_INDEX>{place}</INTERLEAVE_INDEX>"
        f"<NAME>{name}</NAME></TRACK>"
        for number, place, name in tracks
    )
    text = f'<?xml version="1.0" encoding="UTF-8"?><BWFXML><TRACK_LIST>{inner}</TRACK_LIST></BWFXML>'
    return chunk(b"iXML", text.encode())


def riff(*chunks: bytes, form: bytes = b"RIFF", size: int | None = None) -> bytes:
    body = b"WAVE" + b"".join(chunks)
    return form + struct.pack("<I", len(body) if size is None else size) + body


def rf64(data_bytes: int, *chunks: bytes, form: bytes = b"RF64", frames: int = 0) -> bytes:
    """A file whose sizes are in a ds64 chunk; `data_bytes` is the data size claimed there."""
    sizes = struct.pack("<QQQI", sum(map(len, chunks)) + 40, data_bytes, frames, 0)
    return riff(chunk(b"ds64", sizes), *chunks, form=form, size=0xFFFFFFFF)


def samples(frames: int, *, channels: int = 1, width: int = 2) -> bytes:
    """Loud, plainly not zero, and never a chunk's name."""
    return bytes((0x11, 0x91, 0xD1, 0xF1)[i % 4] for i in range(frames * channels * width))


def wave(frames: int, *before: bytes, channels: int = 1, bits: int = 16, rate: int = 48000) -> bytes:
    """A healthy file; `before` are chunks between fmt and data."""
    data = samples(frames, channels=channels, width=bits // 8)
    return riff(fmt(channels=channels, bits=bits, rate=rate), *before, chunk(b"data", data))


def put(path: Path, content: bytes, *, age: float = 3600.0) -> Path:
    """Write a file as if it had been written `age` seconds ago."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    then = time.time() - age
    os.utime(path, (then, then))
    return path


def opened(tmp_path: Path, content: bytes, *, age: float = 3600.0, name: str = "Snare.wav") -> Opened:
    return read_header(put(tmp_path / name, content, age=age))


def said(result: Opened) -> list[tuple[str, str]]:
    return [(trouble.code, trouble.detail) for trouble in result.troubles]


def unreadable(why: str) -> list[tuple[str, str]]:
    return [("unreadable", f"Snare.wav cannot be read: {why}.")]


SAMPLES = samples(48000)
NEVER_CLOSED = (
    "truncated",
    "Snare.wav was never closed: its header does not give its length. All 1.00 s that are there were read, "
    "but its last moments may be missing and a player may see less or nothing.",
)
