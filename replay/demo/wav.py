"""Writes mono 24-bit WAV files with a broadcast extension (EBU Tech 3285), a block at a time."""

from __future__ import annotations

import struct
from pathlib import Path
from types import TracebackType

import numpy as np

BYTES = 3
LARGEST_CODE = 2**23 - 1
LONGEST = (2**32 - 4096) // BYTES
"""Frames that a RIFF file can hold with its sizes in 32 bits."""


def bext(description: str, date: str, time: str, time_reference: int) -> bytes:
    """The content of a `bext` chunk, version 1: what it is, when it was made, and its first frame counted from
    midnight."""
    head = struct.pack(
        "<256s32s32s10s8sQH",
        description.encode("ascii", "replace")[:256],
        b"replay demo",
        b"",
        date.encode("ascii"),
        time.encode("ascii"),
        time_reference,
        1,
    )
    return head + bytes(64 + 190)


class Recorder:
    """One track's file. Its length is told in advance, so that the header is right from the start."""

    def __init__(self, path: Path, frames: int, rate: int, extension: bytes) -> None:
        self._left = frames
        size = frames * BYTES
        head = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, rate, rate * BYTES, BYTES, 8 * BYTES)
        head += struct.pack("<4sI", b"bext", len(extension)) + extension + bytes(len(extension) % 2)
        head += struct.pack("<4sI", b"data", size)
        self._pad = bytes(size % 2)
        self._file = path.open("wb")
        self._file.write(struct.pack("<4sI4s", b"RIFF", 4 + len(head) + size + len(self._pad), b"WAVE") + head)

    def write(self, codes: np.ndarray) -> None:
        """Add frames: int32 codes of a 24-bit converter."""
        packed = np.ascontiguousarray(codes, "<i4").view(np.uint8).reshape(-1, 4)[:, :BYTES]
        self._file.write(packed.tobytes())
        self._left -= len(codes)

    def __enter__(self) -> Recorder:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                if self._left:
                    raise ValueError(f"{self._left} frames are missing")
                self._file.write(self._pad)
        finally:
            self._file.close()
