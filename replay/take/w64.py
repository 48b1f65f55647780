"""Wave 64 files whose floats the sound-file library takes for integers.

libsndfile 1.2.2 asks the extensible form of the fmt chunk of a W64 for the width of its samples and not for their
kind: 32-bit floats, as ffmpeg writes them, come out as 32-bit integers, that is, as noise near full scale. All other
W64 files are left to the library.

Layout: Sony Wave64 format, as in libsndfile's and ffmpeg's sources: chunks as in RIFF, but with names of 16 bytes,
sizes of 64 bits that count the 24 bytes of the chunk's head too, and beginnings at multiples of 8 bytes. ffmpeg counts
the bytes up to the next multiple in the size of the data; its fact chunk gives the true number of frames.
"""

from __future__ import annotations

from typing import BinaryIO

from replay.take.chunks import LONGEST_CLAIM, LONGEST_FMT, MOST_CHUNKS, Chunks

_RIFF = b"riff" + bytes.fromhex("2e91cf11a5d628db04c10000")
_TAIL = bytes.fromhex("f3acd3118cd100c04f8edb8a")
"""What all names but the first end with, behind four letters."""

HEAD = 24
ALIGNED = 8
EXTENSIBLE, FLOAT = 0xFFFE, 3


def read_float_chunks(file: BinaryIO, size: int) -> Chunks | None:
    """The chunks of `file`, an open file of `size` bytes, if it is a W64 of the extensible form that holds floats."""
    file.seek(0)
    if file.read(40)[:16] != _RIFF:
        return None
    fmt, frames, position = b"", 0, 40
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        head = file.read(HEAD)
        length = _number(head[16:]) - HEAD
        if len(head) < HEAD or head[4:16] != _TAIL:
            return None
        body = position + HEAD
        if head[:4] == b"data":
            if not fmt:
                return None
            claimed = _claimed(length, frames * _number(fmt[12:14]))
            there = size - body if claimed is None else min(size - body, claimed)
            return Chunks(form=_RIFF[:4], fmt=fmt, data_offset=body, data_bytes=there, claimed=claimed)
        if not 0 <= length < size:
            return None
        if head[:4] == b"fact":
            frames = _number(file.read(min(length, 8)))
        if head[:4] == b"fmt " and not fmt:
            fmt = file.read(min(length, LONGEST_FMT))
            if _number(fmt[:2]) != EXTENSIBLE or _number(fmt[24:28]) != FLOAT:
                return None
        position = body + length + -length % ALIGNED
    return None


def _number(little_endian: bytes) -> int:
    return int.from_bytes(little_endian, "little")


def _claimed(length: int, counted: int) -> int | None:
    """Bytes of data that the header gives: None where the file was never closed and has no size that a file can have;
    what the fact chunk counts, where the size goes on to the next multiple of 8."""
    if not 0 < length <= LONGEST_CLAIM:
        return None
    return counted if 0 < length - counted < ALIGNED else length
