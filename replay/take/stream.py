"""Tracks as blocks of samples: one 100 ms hop of up to eight tracks at a time.

Plain reads into one reused array; nothing is mapped (a drive pulled under a mapped file kills the process) and nothing
is written. Plain PCM and float go from the bytes to samples in one compiled step; all else is decoded by libsndfile
into 32-bit integers or doubles first. Both give the same samples to the bit.

A file that can no longer be read in the middle (a bad sector, a drive that went away, a damaged frame) is read as
missing from there on; `lost` says where. What lies before is read to the last frame, however much is read at a time.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from typing import Any

import numpy as np

from replay.grid import CELLS_PER_HOP, cell_start, hop_start, longest_hop
from replay.lanes import LANES
from replay.take.block import HALO, Block
from replay.take.decode import KINDS, SPARE, decode_group, decode_lane
from replay.take.library import open_file
from replay.take.model import AudioFile, Segment, Track
from replay.take.opened import Unreadable

READ_BYTES = 1 << 18
"""Bytes to read from a file at a time, at least one hop and at most AHEAD_HOPS: enough to make a read's cost small."""

AHEAD_HOPS = 10

_WIDTHS = {"u8": 1, "s16": 2, "s24": 3, "s32": 4, "f32": 4, "f64": 8}
_INTEGER_SUBTYPES = ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "ALAC_16", "ALAC_20", "ALAC_24", "ALAC_32")


class _Region:
    """A stretch of the reader's bytes, and the source whose frames lie there."""

    def __init__(self, raw: np.ndarray, offset: int) -> None:
        self.offset = offset
        self.bytes = raw.data[offset:]
        self.owner: _Source | None = None


class _Source:
    """One open file."""

    def __init__(self, reader: Reader, file: AudioFile, region: _Region, ahead: int) -> None:
        self._reader = reader
        self.file = file
        self.region = region
        self._ahead = ahead
        self._start = self._stop = 0
        self.broken_at: int | None = None
        self._handle: Any = None
        self.encoding, self.frame_bytes = _layout(file)
        self.kind = KINDS[self.encoding]

    def place(self, channel: int, frame: int) -> int:
        """Where the sample of a frame that `fetch` has made available lies in the reader's bytes."""
        return self.region.offset + (frame - self._start) * self.frame_bytes + channel * _WIDTHS[self.encoding]

    def fetch(self, start: int, count: int) -> int:
        """Make `count` frames from `start` available (as many as exist and can be read): the number there are."""
        if self.region.owner is not self or start < self._start or start + count > self._stop:
            self._load(start, max(count, self._ahead))
        return max(0, min(count, self._stop - start))

    def _load(self, start: int, count: int) -> None:
        self._reader.loads += 1
        self.region.owner = self
        self._start = self._stop = start
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
        self._stop = start + got

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
            if hasattr(os, "posix_fadvise") and not _in_memory(self._handle.fileno(), offset + 2 * wanted - 1):
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
        self._start = self._stop = 0

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


def _layout(file: AudioFile) -> tuple[str, int]:
    """The encoding in which a file's samples reach the decoder, and the bytes of one frame."""
    if file.encoding:
        return file.encoding, file.frame_bytes
    try:
        with open_file(file.path) as sound:
            encoding = "s32" if sound.subtype in _INTEGER_SUBTYPES else "f64"
    except (OSError, Unreadable):
        encoding = "f64"
    return encoding, file.channels * _WIDTHS[encoding]


class Reader:
    """Reads the tracks of one job, hop by hop, forward.

    Parameters
    ----------
    tracks : sequence of Track
        Up to a whole polyphonic file's; `fill` takes groups of at most eight of them.
    rate : int
        Frames per second of the take's clock.
    """

    def __init__(self, tracks: Sequence[Track], rate: int) -> None:
        self.rate = rate
        self._tracks = list(tracks)
        hop = longest_hop(rate)
        regions: dict[Any, int] = {}
        sizes: list[int] = []
        self._ahead: list[int] = []
        for number, track in enumerate(self._tracks):
            for segment in track.segments:
                if segment.file.path in regions:
                    continue
                region = regions[segment.file.path] = number
                width = _layout(segment.file)[1]
                ahead = hop * max(1, min(AHEAD_HOPS, READ_BYTES // (hop * width)))
                while len(sizes) <= region:
                    sizes.append(0)
                    self._ahead.append(0)
                self._ahead[region] = ahead if self._ahead[region] == 0 else min(ahead, self._ahead[region])
                sizes[region] = max(sizes[region], ahead * width)
        # Unused lanes are decoded from zeros, so that every group is decoded alike.
        zeros = max(sizes, default=0)
        self._raw = np.zeros(SPARE + sum(sizes) + SPARE * len(sizes) + zeros + SPARE, np.uint8)
        offset = SPARE
        self._regions = []
        for size in sizes:
            self._regions.append(_Region(self._raw, offset))
            offset += size + SPARE
        self._zeros = offset
        self._region_of = regions
        self._sources: dict[Any, _Source] = {}
        self._at = [0] * len(self._tracks)
        self.loads = 0
        self._lost: dict[int, dict[int, int]] = {}

    def group(self, numbers: Sequence[int]) -> Group:
        """A group of at most eight of the reader's tracks, by their place in `tracks`."""
        return Group(self, numbers)

    def source(self, segment: Segment) -> _Source:
        path = segment.file.path
        if path not in self._sources:
            region = self._region_of[path]
            self._sources[path] = _Source(self, segment.file, self._regions[region], self._ahead[region])
        return self._sources[path]

    def segment_at(self, number: int, frame: int) -> Segment | None:
        """The segment of a track that is the first to end after `frame`. Files left behind are closed."""
        segments = self._tracks[number].segments
        at = self._at[number]
        while at < len(segments) and segments[at].stop <= frame:
            source = self._sources.get(segments[at].file.path)
            if source is not None:
                source.close()
            at += 1
        self._at[number] = at
        return segments[at] if at < len(segments) else None

    def note_lost(self, number: int, start: int, stop: int) -> None:
        """Remember that frames `start` to `stop` - 1 of a track could not be read."""
        self._lost.setdefault(number, {})[start] = stop

    def lost(self, number: int) -> tuple[tuple[int, int], ...]:
        """The stretches of a track that could not be read, as (start, stop) frames on the take's clock, in order."""
        return tuple(sorted(self._lost.get(number, {}).items()))

    def close(self) -> None:
        """Close all files."""
        for source in self._sources.values():
            source.close()

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class Group:
    """Up to eight tracks, decoded together."""

    def __init__(self, reader: Reader, numbers: Sequence[int]) -> None:
        self._reader = reader
        self.numbers = list(numbers)
        self.codes = np.zeros(LANES, np.int64)
        self._plan_start = self._plan_stop = self._plan_loads = 0
        self._plan: tuple[np.ndarray, int, int] | None = None

    def fill(self, block: Block, hop: int) -> None:
        """Put hop `hop` into the block; the hop before it must have been the last one (or the block be fresh)."""
        rate = self._reader.rate
        start, stop = hop_start(hop, rate), hop_start(hop + 1, rate)
        samples = block.samples
        samples[:HALO] = samples[block.rows : block.rows + HALO]
        if block.rows != stop - start or rate % 100:
            block.cells[:] = [HALO + cell_start(CELLS_PER_HOP * hop + k, rate) - start for k in range(11)]
        block.start, block.rows = start, stop - start
        # A plan holds as long as nothing has been read since: another group may have moved a shared file on.
        planned = self._plan_start <= start and stop <= self._plan_stop and self._plan_loads == self._reader.loads
        if not planned and not self._make_plan(start, stop):
            self._fill_piecewise(block, start, stop)
            return
        assert self._plan is not None
        offsets, stride, kind = self._plan
        block.bad[:] = 0
        at = offsets + (start - self._plan_start) * stride
        at[len(self.numbers) :] = self._reader._zeros
        decode_group(self._reader._raw, at, stride, block.rows, kind, samples, HALO, self.codes)

    def _make_plan(self, start: int, stop: int) -> bool:
        """Find a stretch from `start` on in which all tracks lie alike; whether there is one that reaches `stop`."""
        self._plan_stop = 0
        reader = self._reader
        offsets = np.zeros(LANES, np.int64)
        until = None
        stride = kind = -1
        for lane, number in enumerate(self.numbers):
            segment = reader.segment_at(number, start)
            if segment is None or segment.start > start or segment.stop < stop:
                return False
            source = reader.source(segment)
            if source.kind not in (KINDS["s16"], KINDS["s24"], KINDS["s32"]):
                return False
            if lane and (source.kind != kind or source.frame_bytes != stride):
                return False
            frame = start - segment.start
            if source.fetch(frame, stop - start) < stop - start:
                return False
            stride, kind = source.frame_bytes, source.kind
            offsets[lane] = source.place(segment.channel, frame)
            end = segment.start + source._stop
            until = end if until is None else min(until, end)
        if until is None:
            return False
        self._plan_start, self._plan_stop, self._plan_loads = start, until, reader.loads
        self._plan = (offsets, stride, kind)
        return True

    def _fill_piecewise(self, block: Block, start: int, stop: int) -> None:
        """A hop in which tracks begin, end, change files or differ in format: piece by piece."""
        reader = self._reader
        block.samples[HALO : HALO + block.rows] = 0.0
        block.bad[:] = 0
        for lane, number in enumerate(self.numbers):
            at = start
            while at < stop:
                segment = reader.segment_at(number, at)
                if segment is None or segment.start >= stop:
                    break
                at = max(at, segment.start)
                end = min(stop, segment.stop)
                source = reader.source(segment)
                got = source.fetch(at - segment.start, end - at)
                if source.broken_at is not None:
                    reader.note_lost(number, segment.start + source.broken_at, segment.stop)
                if got:
                    decode_lane(
                        reader._raw,
                        source.place(segment.channel, at - segment.start),
                        source.frame_bytes,
                        got,
                        source.kind,
                        block.samples,
                        HALO + at - start,
                        lane,
                        self.codes,
                        block.bad,
                    )
                at = end
