"""Samples of many tracks side by side, in order of time.

Loads the compiled reader: import this module only where audio is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from replay.grid import hop_start, hops_of, longest_hop
from replay.lanes import LANES
from replay.take.block import HALO, Block
from replay.take.model import Track
from replay.take.stream import Reader


class Reading:
    """Reads stretches of some tracks of a take.

    Attributes
    ----------
    broken : dict
        Track number -> the first frame that could not be read; such frames are silent.
    bad : int
        Samples met so far that were not numbers (or infinite); they are 0.
    """

    def __init__(self, tracks: Sequence[Track], rate: int) -> None:
        self._tracks = list(tracks)
        self._rate = rate
        self.broken: dict[int, int] = {}
        self.bad = 0

    def blocks(self, start: int, stop: int) -> Iterator[np.ndarray]:
        """The samples from frame `start` to `stop` - 1 of the take's clock, at most 100 ms at a time.

        Yields float64 (frames, tracks), full scale 1.0; frames that a track does not have are 0. The array is used
        again for the next block. Files are closed when the generator is.
        """
        rate = self._rate
        if stop <= start:
            return
        if not self._tracks:
            yield from _silence(start, stop, rate)
            return
        cuts = [range(at, min(at + LANES, len(self._tracks))) for at in range(0, len(self._tracks), LANES)]
        out = np.zeros((longest_hop(rate), len(self._tracks)))
        with Reader(self._tracks, rate) as reader:
            groups = [(reader.group(cut), Block(rate), cut) for cut in cuts]
            for hop in range(hops_of(start + 1, rate) - 1, hops_of(stop, rate)):
                begin, end = hop_start(hop, rate), hop_start(hop + 1, rate)
                first, last = max(start, begin) - begin, min(stop, end) - begin
                for group, block, cut in groups:
                    group.fill(block, hop)
                    self.bad += int(block.bad.sum())
                    out[: last - first, cut.start : cut.stop] = block.samples[HALO + first : HALO + last, : len(cut)]
                yield out[: last - first]
            for number, track in enumerate(self._tracks):
                for frame, _ in reader.lost(number):
                    if frame < stop:
                        self.broken[track.number] = min(frame, self.broken.get(track.number, frame))


def _silence(start: int, stop: int, rate: int) -> Iterator[np.ndarray]:
    length = longest_hop(rate)
    for at in range(start, stop, length):
        yield np.zeros((min(length, stop - at), 0))
