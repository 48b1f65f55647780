"""Linear timecode (SMPTE ST 12-1): 80 bits a frame, biphase mark. Any stretch of it, at any position.

Bit cells start with an edge; a one has another in its middle. The polarity-correction bit makes the number of zeros
even, so every frame begins on the same polarity and any stretch can be made without what came before.
"""

from __future__ import annotations

import numpy as np

SYNC = tuple(int(bit) for bit in "0011111111111101")
"""Bits 64 to 79 of every frame."""

MARGIN_S = 0.1
SOFTENING = np.hanning(9)[1:-1]
"""What cables and line inputs leave of a square edge at 48 kHz: a rise over a few samples."""


def frame_bits(number: int, fps: int, *, drop: bool = False) -> list[int]:
    """The 80 bits of frame `number` since 00:00:00:00 (user bits zero). `drop`: numbers 0 and 1 of every minute but
    each tenth are left out, and bit 10 says so."""
    bits = [0] * 80
    if drop:
        tens, rest = divmod(number, 17982)
        number += 18 * tens + (2 * ((rest - 2) // 1798) if rest >= 1800 else 0)
        bits[10] = 1
    frames, seconds = number % fps, number // fps
    for first, width, value in (
        (0, 4, frames % 10),
        (8, 2, frames // 10),
        (16, 4, seconds % 60 % 10),
        (24, 3, seconds % 60 // 10),
        (32, 4, seconds // 60 % 60 % 10),
        (40, 3, seconds // 60 % 60 // 10),
        (48, 4, seconds // 3600 % 24 % 10),
        (56, 2, seconds // 3600 % 24 // 10),
    ):
        for place in range(width):
            bits[first + place] = value >> place & 1
    bits[64:] = SYNC
    correction = 59 if fps == 25 else 27
    bits[correction] = sum(bits) % 2
    return bits


def ltc(
    rate: float,
    start: int,
    frames: int,
    *,
    fps: float = 25,
    peak: float = 0.25,
    first_s: int = 36000,
    drop: bool = False,
) -> np.ndarray:
    """Samples [start, start + frames) of a track whose sample 0 carries the timecode of second `first_s`.

    float32; the same samples whatever stretch they are asked for in. `fps` may be 30000/1001: frames are numbered by
    the next whole rate.
    """
    margin = round(MARGIN_S * rate)
    low, high = start - margin, start + frames + margin
    cell = rate / (80 * fps)
    fps = round(fps)
    first = int(np.floor(low / (80 * cell)))
    last = int(np.ceil(high / (80 * cell)))
    bits = np.array([frame_bits(number + first_s * fps, fps, drop=drop) for number in range(first, last)]).ravel()
    starts = (np.arange(len(bits)) + first * 80) * cell
    edges = np.sort(np.concatenate([starts, (starts + cell / 2)[bits == 1]]))
    places = np.clip(np.round(edges).astype(np.int64) - low, 0, high - low)
    square = np.zeros(high - low + 1)
    # Each edge turns the level over; the first edge of a frame goes up.
    np.add.at(square, places, np.where(np.arange(len(places)) % 2 == 0, 2.0, -2.0))
    level = np.cumsum(square)[:-1] - 1.0
    soft = np.convolve(level, SOFTENING / SOFTENING.sum(), mode="same")
    return (peak * soft[margin : margin + frames]).astype(np.float32)
