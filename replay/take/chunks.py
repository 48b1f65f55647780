"""The chunks of a RIFF, RF64 or BW64 wave file, walked once, bounded, trusting nothing that the header claims.

A recorder that loses its power leaves headers that are wrong in few, well-known ways: sizes still zero or all ones,
sizes of a file that was longer, the room for 64-bit sizes never filled in. The samples are still there, so the walk
counts what is in the file and compares the claims with it. No size from a file is ever used to allocate.

Layout: RIFF MCI 1991; EBU Tech 3306 (RF64: 32-bit sizes all ones, true sizes in a ds64 chunk); ITU-R BS.2088 (BW64).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

MOST_CHUNKS = 1024
LONGEST_BEXT = 602  # the fixed part (EBU Tech 3285); the coding history behind it is not read
LONGEST_FMT = 64
LONGEST_IXML = 4 << 20

FOUR_GIB = 1 << 32
UNSET = 0xFFFFFFFF
UNSEEKABLE = (0x7FFFF000, 0x7FFFFFFF, 0x80000000)
"""Data sizes that programs write when they cannot go back to fill in the true one (a pipe), besides 0 and UNSET."""
LONGEST_CLAIM = 1 << 50
"""A 64-bit claim above this (a pebibyte) is a number that was never filled in."""

FORMS = (b"RIFF", b"RF64", b"BW64")
KNOWN = frozenset(
    (b"fmt ", b"data", b"bext", b"iXML", b"ds64", b"LIST", b"JUNK", b"junk", b"PAD ", b"FLLR", b"fact", b"cue ")
    + (b"smpl", b"inst", b"plst", b"axml", b"chna", b"levl", b"link", b"qlty", b"PEAK", b"id3 ", b"ID3 ", b"umid")
)


@dataclass(frozen=True, kw_only=True)
class Chunks:
    """What the walk found. `fmt`, `bext` and `ixml` are bodies as far as they are in the file (None: no such chunk).

    `data_bytes` are really there, from `data_offset` on (None: no data chunk). `claimed` is the data size that the
    header gives, None where it gives none (never closed). `behind` counts bytes behind the claimed end that are
    neither chunks nor zeros: samples that were written after the header was last brought up to date.
    """

    form: bytes
    fmt: bytes | None = None
    bext: bytes | None = None
    ixml: bytes | None = None
    data_offset: int | None = None
    data_bytes: int = 0
    claimed: int | None = None
    behind: int = 0


class _Walk:
    def __init__(self, file: BinaryIO, size: int) -> None:
        self.file, self.size = file, size

    def at(self, position: int, count: int) -> bytes:
        """At most `count` bytes; fewer where the file ends. `count` is always one of our own limits or smaller."""
        if position >= self.size:
            return b""
        self.file.seek(position)
        return self.file.read(min(count, self.size - position))

    def name_at(self, position: int) -> bytes:
        return self.at(position, 4)

    def is_chunk(self, position: int) -> bool:
        """Whether a chunk may begin here: a printable name and a size that fits."""
        head = self.at(position, 8)
        if len(head) < 8 or any(byte < 0x20 or byte > 0x7E for byte in head[:4]):
            return False
        return head[:4] in KNOWN or int.from_bytes(head[4:], "little") <= self.size - position - 8

    def after(self, end: int, odd: bool) -> int:
        """Where the next chunk begins: behind the pad byte of an odd chunk, or right at its end if that was left out.

        Known names are looked for first: with the pad byte missing, "data" read one byte late is "ata" and a bit.
        """
        if not odd or self.name_at(end + 1) in KNOWN:
            return end + odd
        if self.name_at(end) in KNOWN:
            return end
        if self.is_chunk(end) and not self.is_chunk(end + 1):
            return end
        return end + 1

    def chunks_to_the_end(self, position: int) -> bool:
        """Whether nothing but whole chunks lies from here to the end of the file (one stray byte allowed)."""
        for _ in range(64):
            if self.size - position <= 1:
                return True
            head = self.at(position, 8)
            length = int.from_bytes(head[4:], "little")
            if not self.is_chunk(position) or length > self.size - position - 8:
                return False
            position = self.after(position + 8 + length, bool(length & 1))
        return True

    def extent(self, form: bytes, claim: int, long_claim: int | None, start: int) -> tuple[int, int | None, int]:
        """(bytes of data that are there, bytes claimed or None, bytes behind them) of the data chunk at `start`."""
        there = max(0, self.size - start)
        claimed: int | None = claim
        if form != b"RIFF" and claim in (0, UNSET) and long_claim is not None:
            claimed = long_claim if long_claim <= LONGEST_CLAIM else None
        elif claim == UNSET or (claim in UNSEEKABLE and claim > there):
            claimed = None
        if claimed is None:
            return there, None, 0
        if claimed == 0 and there > 1 and not self.chunks_to_the_end(start):
            return there, None, 0
        if claimed >= there:
            return there, claimed, 0
        end = self.after(start + claimed, bool(claimed & 1))
        if self.name_at(end) in KNOWN or self.chunks_to_the_end(end):
            return claimed, claimed, 0
        if form == b"RIFF" and there >= FOUR_GIB - (1 << 28):
            # Beyond 4 GiB and never turned into RF64: the 32-bit size has wrapped round or stuck at its top.
            whole = claimed + (there - claimed) // FOUR_GIB * FOUR_GIB
            if whole > claimed and self.chunks_to_the_end(self.after(start + whole, bool(whole & 1))):
                return whole, None, 0
            return there, None, 0
        rest = there - claimed
        return claimed, claimed, rest if any(self.at(start + claimed, 1 << 16)) else 0


def read_chunks(file: BinaryIO, size: int) -> Chunks | None:
    """Walk the chunks of `file`, an open file of `size` bytes. None if it is no RIFF, RF64 or BW64 wave file.

    At most MOST_CHUNKS chunk headers are looked at and LONGEST_* bytes of each body read.
    """
    walk = _Walk(file, size)
    head = walk.at(0, 12)
    if len(head) < 12 or head[:4] not in FORMS or head[8:] != b"WAVE":
        return None
    form = head[:4]
    bodies: dict[bytes, bytes] = {}
    long_claim: int | None = None
    data: tuple[int, int, int | None, int] | None = None
    position = 12
    for _ in range(MOST_CHUNKS):
        head = walk.at(position, 8)
        if len(head) < 8:
            break
        name, length = head[:4], int.from_bytes(head[4:], "little")
        body = position + 8
        if name == b"ds64" and long_claim is None:
            sizes = walk.at(body, min(length, 16))
            if len(sizes) == 16:
                long_claim = struct.unpack("<QQ", sizes)[1]
        elif name == b"data" and data is None:
            there, claimed, behind = walk.extent(form, length, long_claim, body)
            data = (body, there, claimed, behind)
            length = there
        elif name == b"fmt ":
            bodies.setdefault(name, walk.at(body, min(length, LONGEST_FMT)))
        elif name == b"bext":
            bodies.setdefault(name, walk.at(body, min(length, LONGEST_BEXT)))
        elif name == b"iXML" and length <= LONGEST_IXML:
            bodies.setdefault(name, walk.at(body, length))
        position = walk.after(body + length, bool(length & 1))
    found = Chunks(form=form, fmt=bodies.get(b"fmt "), bext=bodies.get(b"bext"), ixml=bodies.get(b"iXML"))
    if data is None:
        return found
    return Chunks(
        form=form,
        fmt=found.fmt,
        bext=found.bext,
        ixml=found.ixml,
        data_offset=data[0],
        data_bytes=data[1],
        claimed=data[2],
        behind=data[3],
    )
