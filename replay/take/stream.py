"""Tracks as blocks of samples: one 100 ms hop of up to eight tracks at a time.

Plain reads into one reused array; nothing is mapped (a drive pulled under a mapped file kills the process) and nothing
is written. Plain PCM and float go from the bytes to samples in one compiled step; all else is decoded by libsndfile
into 32-bit integers or doubles first. Both give the same samples to the bit.

A file that can no longer be read in the middle (a bad sector, a drive that went away, a damaged frame) is read as
missing from there on; `lost` says where. What lies before is read to the last frame, however much is read at a time.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from replay.grid import CELLS_PER_HOP, cell_start, hop_start, longest_hop
from replay.lanes import LANES
from replay.take.block import HALO, Block
from replay.take.decode import KINDS, SPARE, decode_group, decode_lane
from replay.take.model import Segment, Track
from replay.take.source import Region, Source, layout

READ_BYTES = 1 << 18
"""Bytes to read from a file at a time, at least one hop and at most AHEAD_HOPS: enough to make a read's cost small."""

AHEAD_HOPS = 10


class Reader:
    """Reads the tracks of one job, hop by hop, forward.

    Parameters
    ----------
    tracks : sequence of Track
        Up to a whole polyphonic file's; `fill` takes groups of at most eight of them.
    rate : int
        Frames per second of the take's clock.
    apart : int, optional
        Stretches of so many hops are wanted that lie apart: no more is read at a time, and nothing asked for ahead. By
        default the tracks are read on and on.
    """

    def __init__(self, tracks: Sequence[Track], rate: int, *, apart: int | None = None) -> None:
        self.rate = rate
        self._read_on = apart is None
        hops = AHEAD_HOPS if apart is None else min(apart, AHEAD_HOPS)
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
                width = layout(segment.file)[1]
                ahead = hop * max(1, min(hops, READ_BYTES // (hop * width)))
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
            self._regions.append(Region(self._raw, offset))
            offset += size + SPARE
        self._zeros = offset
        self._region_of = regions
        self._sources: dict[Any, Source] = {}
        self._at = [0] * len(self._tracks)
        self.loads = 0
        self._lost: dict[int, dict[int, int]] = {}

    def group(self, numbers: Sequence[int]) -> Group:
        """A group of at most eight of the reader's tracks, by their place in `tracks`."""
        return Group(self, numbers)

    def source(self, segment: Segment) -> Source:
        path = segment.file.path
        if path not in self._sources:
            region = self._region_of[path]
            self._sources[path] = Source(
                self, segment.file, self._regions[region], self._ahead[region], read_on=self._read_on
            )
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
            end = segment.start + source.stop
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
