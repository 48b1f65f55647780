"""Bus sums: channels at given levels added up, sample by sample, by a second pass over their tracks.

Unit: true peak of the sum, linear, per 100 ms hop. Trim and polarity are in the weights. The order of adding is the
order of the tracks, so that a figure does not depend on how the work is cut. Up to eight buses go through at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from replay.compiled import kernel
from replay.grid import hops_of
from replay.lanes import LANES
from replay.take.block import HALO, Block
from replay.take.model import Track


@kernel
def _add(samples, weights, sums, first, rows, lanes):
    """Add the lanes of a block, weighted, to the lanes of another: one lane a bus."""
    for row in range(first, first + rows):
        for bus in range(sums.shape[1]):
            total = sums[row, bus]
            for lane in range(lanes):
                total += samples[row, lane] * weights[lane, bus]
            sums[row, bus] = total


def sum_peaks(
    tracks: Sequence[Track],
    weights: np.ndarray,
    rate: int,
    first: int,
    last: int,
    progress: Callable[[float], None] | None = None,
) -> np.ndarray:
    """True peaks of up to eight sums over hops `first` to `last` - 1, from which each sum's highest can be read.

    Parameters
    ----------
    weights : float64 (tracks, buses)
        Linear gains; negative for inverted polarity, 0 where a track does not go to a bus.

    Returns
    -------
    float64 (last - first, buses)
    """
    from replay.meters import peak, true_peak
    from replay.take.stream import Reader

    buses = weights.shape[1]
    padded = np.zeros((len(tracks) + LANES, LANES))
    padded[: len(tracks), :buses] = weights
    cuts = [range(at, min(at + LANES, len(tracks))) for at in range(0, len(tracks), LANES)]
    total = Block(rate)
    meters = (peak.Meter(rate), true_peak.Meter(rate))
    end = max((hops_of(track.stop, rate) for track in tracks), default=0)
    out = {name: np.zeros(LANES) for name in ("high", "low", "true_peak", "true_peak_limit")}
    found = np.zeros((last - first, buses))
    with Reader(tracks, rate) as reader:
        groups = [reader.group(cut) for cut in cuts]
        blocks = [Block(rate) for _ in cuts]
        # One hop earlier than asked for: interpolation looks back.
        for hop in range(max(0, first - 1), last):
            for group, block in zip(groups, blocks, strict=True):
                group.fill(block, hop)
            total.samples[:HALO] = total.samples[total.rows : total.rows + HALO]
            total.rows, total.start = blocks[0].rows, blocks[0].start
            total.samples[HALO : HALO + total.rows] = 0.0
            for cut, block in zip(cuts, blocks, strict=True):
                _add(block.samples, padded[cut.start :], total.samples, HALO, total.rows, len(cut))
            if hop < first:
                continue
            for meter in meters:
                meter.feed(total, out)
            if hop == end - 1:
                meters[1].end(total, out, np.ones(LANES, bool))
            found[hop - first] = out["true_peak"][:buses]
            if progress is not None and hop % 50 == 0:
                progress((hop - first) / max(1, last - first))
    return found
