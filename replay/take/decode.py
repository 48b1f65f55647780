"""Bytes of plain PCM and float to samples, compiled.

Integers become `code / 2^(bits-1)`, which a double holds exactly, so that full scale is -1.0 and the greatest code of
n bits is 1 - 2^-(n-1). Imports the compiler: load this module only where audio is read.

Raw bytes lie in one array whose first bytes are spare (SPARE), since three-byte codes are read as four with the byte
before them masked off, or eight at once with eight bytes behind them.
"""

from __future__ import annotations

import numpy as np

from replay.compiled import kernel
from replay.lanes import (
    as_samples,
    codes16,
    codes24,
    codes32,
    eight_rows16,
    eight_rows24,
    eight_rows32,
    float32_at,
    float64_at,
    int16_at,
    int32_at,
    join,
    keep_codes,
    no_codes,
    store,
    together16,
    together24,
    together32,
)

KINDS = {"u8": 0, "s16": 1, "s24": 2, "s32": 3, "f32": 4, "f64": 5}
SPARE = 8
LARGEST = 1e15
"""Floats beyond this, 300 dB over full scale, are no audio but bytes of something else; squares could overflow."""
FINER = 1 << 40
"""Bit set in the accumulated codes of a float track whose samples are finer than 32-bit integers."""

_SCALE = 2.0**-31


@kernel
def decode_lane(raw, offset, stride, count, kind, samples, row, lane, codes, bad):
    """Decode one track's stretch into one lane of a block.

    Parameters
    ----------
    raw : uint8 (n,)
        Bytes; the first sample begins at `offset`, the next ones every `stride` bytes.
    count, kind : int
        How many samples, and their encoding (KINDS).
    samples : float64 (rows, 8)
        Written at rows `row` to `row + count - 1` of `lane`.
    codes : int64 (8,)
        The codes' bits, left-justified to 32, or-ed into `codes[lane]`; FINER where a float has finer bits.
    bad : int64 (8,)
        Samples that are not numbers (or infinite, or beyond LARGEST) are counted in `bad[lane]` and become 0.
    """
    seen = np.int64(0)
    at = np.int64(offset)
    for i in range(count):
        if kind <= 3:
            if kind == 2:
                code = np.int64(int32_at(raw, at - 1)) & -256
            elif kind == 1:
                code = np.int64(int16_at(raw, at)) << 16
            elif kind == 3:
                code = np.int64(int32_at(raw, at))
            else:
                code = (np.int64(raw[at]) - 128) << 24
            seen |= code & 0xFFFFFFFF
            samples[row + i, lane] = code * _SCALE
        else:
            value = np.float64(float32_at(raw, at)) if kind == 4 else float64_at(raw, at)
            if not abs(value) <= LARGEST:
                bad[lane] += 1
                value = 0.0
            scaled = value * 2147483648.0
            if abs(scaled) < 9e15 and scaled == np.floor(scaled):
                seen |= np.int64(scaled) & 0xFFFFFFFF
            else:
                seen |= FINER
            samples[row + i, lane] = value
        at += stride
    codes[lane] |= seen


@kernel
def decode_group(raw, offsets, stride, count, kind, samples, row, codes):
    """Decode eight tracks of one integer encoding (s16, s24, s32) and stride at once.

    `offsets` is int64 (8,): where each lane's first sample lies; otherwise as `decode_lane`.
    """
    seen = no_codes()
    width = 3 if kind == 2 else 2 if kind == 1 else 4
    together = True
    for lane in range(1, len(offsets)):
        together = together and offsets[lane] == offsets[0] + lane * width
    done = 0
    if stride == width:
        # Every track in a row of its own: eight rows at a time.
        while done + 8 <= count:
            step = np.int64(done * stride)
            if kind == 2:
                seen = join(seen, eight_rows24(raw, offsets, step, samples, row + done))
            elif kind == 1:
                seen = join(seen, eight_rows16(raw, offsets, step, samples, row + done))
            else:
                seen = join(seen, eight_rows32(raw, offsets, step, samples, row + done))
            done += 8
    elif together:
        # Neighbours in one polyphonic file.
        for i in range(count):
            at = np.int64(offsets[0] + i * stride)
            if kind == 2:
                seen = join(seen, together24(raw, at, samples, row + i))
            elif kind == 1:
                seen = join(seen, together16(raw, at, samples, row + i))
            else:
                seen = join(seen, together32(raw, at, samples, row + i))
        done = count
    for i in range(done, count):
        step = np.int64(i * stride)
        if kind == 2:
            found = codes24(raw, offsets, step)
        elif kind == 1:
            found = codes16(raw, offsets, step)
        else:
            found = codes32(raw, offsets, step)
        seen = join(seen, found)
        store(samples, row + i, as_samples(found))
    keep_codes(codes, seen)
