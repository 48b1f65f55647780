"""Samples of two takes side by side, and the few sums that alignment needs. Imports the compiled reader."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from replay.grid import cell_start, hop_start
from replay.sound.reading import Reading
from replay.take.model import Take, Track
from replay.units import levels_db

FLOOR_DB = -100.0
"""Levels below this, in dB of full scale, are all the same."""


def stretch(take: Take, tracks: Sequence[Track], start: int, frames: int) -> np.ndarray:
    """float64 (frames, tracks): samples from frame `start` of the take's clock; 0 where there are none."""
    out = np.zeros((max(frames, 0), len(tracks)))
    first, last = max(start, 0), min(start + frames, take.frames)
    at = first - start
    for block in Reading(tracks, take.rate).blocks(first, last):
        out[at : at + len(block)] = block
        at += len(block)
    return out


def chunks(take: Take, tracks: Sequence[Track], start: int, stop: int, length: int) -> Iterator[np.ndarray]:
    """The samples from `start` to `stop` - 1, `length` frames at a time (fewer at the end). Yields float64
    (frames, tracks); the array is used again for the next."""
    out = np.zeros((length, len(tracks)))
    filled = 0
    lead = min(max(-start, 0), stop - start)
    blocks = Reading(tracks, take.rate).blocks(max(start, 0), max(min(stop, take.frames), max(start, 0)))
    silent = (np.zeros((min(length, lead - at), len(tracks))) for at in range(0, lead, length))
    tail = range(max(take.frames, start), stop, length)
    after = (np.zeros((min(length, stop - at), len(tracks))) for at in tail)
    for source in (silent, blocks, after):
        for block in source:
            used = 0
            while used < len(block):
                count = min(length - filled, len(block) - used)
                out[filled : filled + count] = block[used : used + count]
                filled, used = filled + count, used + count
                if filled == length:
                    yield out
                    filled = 0
    if filled:
        yield out[:filled]


def envelope(take: Take, tracks: Sequence[Track]) -> np.ndarray:
    """float32 (cells, tracks): the level in dB of every 10 ms of the take, not below FLOOR_DB."""
    rate = take.rate
    levels = []
    for hop, block in enumerate(Reading(tracks, rate).blocks(0, take.frames)):
        begin = hop_start(hop, rate)
        starts = [cell_start(10 * hop + k, rate) - begin for k in range(10)]
        starts = [start for start in starts if start < len(block)]
        energy = np.add.reduceat(block * block, starts, axis=0) / (rate / 100)
        levels.append(levels_db(energy, FLOOR_DB).astype(np.float32))
    return np.concatenate(levels) if levels else np.zeros((0, len(tracks)), np.float32)


def likeness(x: np.ndarray, y: np.ndarray, *, centred: bool = False) -> np.ndarray:
    """float64 (len(y) - len(x) + 1,): the normalised correlation of `x` with `y` at every shift, -1 to 1; 0 where one
    of them is silent. `centred` takes the means off (for levels)."""
    count = len(x)
    if centred:
        x, y = x - x.mean(), y - y.mean()
    size = 1 << int(np.ceil(np.log2(len(y) + count)))
    product = np.fft.irfft(np.fft.rfft(y, size) * np.conj(np.fft.rfft(x, size)), size)[: len(y) - count + 1]
    sums = np.concatenate(([0.0], np.cumsum(y)))
    squares = np.concatenate(([0.0], np.cumsum(y * y)))
    energy = squares[count:] - squares[:-count]
    if centred:
        energy = energy - (sums[count:] - sums[:-count]) ** 2 / count
    norm = np.sqrt(np.maximum(energy, 0.0) * float(x @ x))
    found = np.zeros(len(product))
    # What is left of a sum after all of it was taken away again is no signal.
    heard = norm > 1e-9 * max(float(squares[-1]), float(x @ x), 1e-30)
    found[heard] = product[heard] / norm[heard]
    return found
