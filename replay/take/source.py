"""One open file of a take: a stretch of its frames in the reader's bytes, plain or decoded.

Plain PCM and float are read as they lie; all else is decoded by libsndfile into 32-bit integers or doubles. Where a
file cannot be read on, `broken_at` says from which frame; what lies before is read to the last one.
"""

from __future__ import annotations

import contextlib
import os
from typing import Any, Protocol

import numpy as np

from replay.take.decode import KINDS
from replay.take.library import open_file
from replay.take.model import AudioFile
from replay.take.opened import Unreadable

WIDTHS = {"u8": 1, "s16": 2, "s24": 3, "s32": 4, "f32": 4, "f64": 8}
_INTEGER_SUBTYPES = ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "ALAC_16", "ALAC_20", "ALAC_24", "ALAC_32")


class Counts(Protocol):
    """Whoever wants to know how often something was read."""

    loads: int


class Region:
    """A stretch of the reader's bytes, and the source whose frames lie there."""

    def __init__(self, raw: np.ndarray, offset: int) -> None:
        self.offset = offset
        self.bytes = raw.data[offset:]
        self.owner: Source | None = None


class Source:
    """One open file, of which `ahead` frames are read at a time; `read_on` says that what follows them will be asked
    for next."""

    def __init__(self, reader: Counts, file: AudioFile, region: Region, ahead: int, *, read_on: bool) -> None:
        self._reader = reader
        self.file = file
        self.region = region
        self._ahead = ahead
        self._read_on = read_on and hasattr(os, "posix_fadvise")
        self.start = self.stop = 0
        self.broken_at: int | None = None
        self._handle: Any = None
        self.encoding, self.frame_bytes = layout(file)
        self.kind = KINDS[self.encoding]

    def place(self, channel: int, frame: int) -> int:
        """Where the sample of a frame that `fetch` has made available lies in the reader's bytes."""
        return self.region.offset + (frame - self.start) * self.frame_bytes + channel * WIDTHS[self.encoding]

    def fetch(self, start: int, count: int) -> int:
        """Make `count` frames from `start` available (as many as exist and can be read): the number there are."""
        if self.region.owner is not self or start < self.start or start + count > self.stop:
            self._load(start, max(count, self._ahead))
        return max(0, min(count, self.stop - start))

    def _load(self, start: int, count: int) -> None:
        self._reader.loads += 1
        self.region.owner = self
        self.start = self.stop = start
        end = self.file.frames if self.broken_at is None else self.broken_at
        count = min(count, end - start)
        if count <= 0:
            return
        try:
            got = self._read_plain(start, count) if self.file.encoding else self._decode(start, count)
        except (OSError, RuntimeError, Unreadable):
            # The library's errors while decoding are RuntimeErrors; either way the file ends here for us.
            got = 0
        if got < count:
            self.broken_at = start + got
        self.stop = start + got

    def _read_plain(self, start: int, count: int) -> int:
        offset = self.file.data_offset + start * self.frame_bytes
        wanted, got = count * self.frame_bytes, 0
        # What came before an error is good.
        with contextlib.suppress(OSError):
            if self._handle is None:
                self._handle = open(self.file.path, "rb", buffering=0)  # noqa: SIM115 - closed with the reader
            self._handle.seek(offset)
            while got < wanted:
                read = self._handle.readinto(self.region.bytes[got:wanted])
                if not read:
                    break
                got += read
            if self._read_on and not _in_memory(self._handle.fileno(), offset + 2 * wanted - 1):
                # The next stretch comes in while this one is being measured.
                os.posix_fadvise(self._handle.fileno(), offset + wanted, wanted, os.POSIX_FADV_WILLNEED)
        return got // self.frame_bytes

    def _decode(self, start: int, count: int) -> int:
        got = self._decode_all(start, count)
        if got is not None:
            return got
        # The library gives nothing of a read that meets damage: look for the longest one before it.
        good, bad = 0, count
        while bad - good > 1:
            middle = (good + bad) // 2
            if self._decode_all(start, middle) == middle:
                good = middle
            else:
                bad = middle
        return (self._decode_all(start, good) or 0) if good else 0

    def _decode_all(self, start: int, count: int) -> int | None:
        """Decode frames into the region: how many there were, None where they cannot all be read."""
        try:
            if self._handle is None:
                self._handle = open_file(self.file.path)
            if self._handle.tell() != start:
                self._handle.seek(start)
            decoded = self._handle.read(count, dtype="int32" if self.encoding == "s32" else "float64", always_2d=True)
        except (Unreadable, OSError, RuntimeError, ValueError):
            # The library's own errors are RuntimeErrors; its decoders do not recover from one.
            self._close_handle()
            return None
        self.region.bytes[: decoded.nbytes] = decoded.reshape(-1).view(np.uint8).data
        return len(decoded)

    def close(self) -> None:
        """Close the file; it is opened again when it is asked for again."""
        self._close_handle()
        self.start = self.stop = 0

    def _close_handle(self) -> None:
        if self._handle is not None:
            with contextlib.suppress(OSError, RuntimeError):
                self._handle.close()
            self._handle = None


_BYTE = bytearray(1)


def _in_memory(descriptor: int, offset: int) -> bool:
    """Whether a byte of a file can be read without waiting for the disk; False where the system cannot tell. To ask for
    a stretch that is there already costs up to a third of what reading it does."""
    try:
        return os.preadv(descriptor, [_BYTE], offset, os.RWF_NOWAIT) == 1
    except (AttributeError, OSError):
        return False


def layout(file: AudioFile) -> tuple[str, int]:
    """The encoding in which a file's samples reach the decoder, and the bytes of one frame."""
    if file.encoding:
        return file.encoding, file.frame_bytes
    try:
        with open_file(file.path) as sound:
            encoding = "s32" if sound.subtype in _INTEGER_SUBTYPES else "f64"
    except (OSError, Unreadable):
        encoding = "f64"
    return encoding, file.channels * WIDTHS[encoding]
