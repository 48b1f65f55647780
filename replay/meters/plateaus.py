"""Plateaus: tops that are cut off flat below full scale.

What clipped before the recorder's preamp (a pack, a DI, an instrument) and came in lower has flat tops at a level of
its own. In every hop the runs of SHORTEST samples or more within FLATNESS of the hop's highest sample are looked at,
for the positive and the negative side apart: a run is a plateau if the signal has fallen by FALL at one run's length
beyond either end. A round top, however low its tone, has by then fallen by 9 times what it falls within the run (a
parabola), a blunt one by 81 times (a fourth power); both stay below FALL. Runs of BRIEF samples count where several
tops of a hop have them.

Unit: `flat_high` and `flat_low` are samples per hop in plateaus at the hop's highest and lowest level (`high` and `low`
of the peak meter), capped where MOST of them have been found. Whether the level recurs, and nothing goes beyond it, is
for checks to say. Hops whose peak lies below LEAST_PEAK are not looked at: there a step of 16 bits is as wide as the
flatness asked for.
"""

from __future__ import annotations

from typing import Any

from replay.compiled import kernel
from replay.lanes import LANES, load, maximum, rows_of_zeros, splat, store
from replay.meters.model import Column
from replay.take.block import HALO, Block

NAME = "plateaus"
COLUMNS = (
    Column("flat_high", "samples", 100, "u4", "same"),
    Column("flat_low", "samples", 100, "u4", "same"),
)

SHORTEST = 4
BRIEF = 2
RECUR = 3
"""Bright sounds come back from a top within a sample or two: runs of two or three samples count where RECUR of them are
found in a hop. Two samples that lie that close at one top are chance, at three tops they are not."""

FLATNESS = 1.0 / 640
FALL = 0.13
NEAR_TOP = 0.985
LEAST_PEAK = 2.0**-6
MOST = 12
STRIDE = 16
REACH = 160
"""Frames beyond a run's ends at which the fall is looked for, at most: the halo holds that much, and a round top has
fallen by less there."""

LONGEST = 1600
"""A thirtieth of a second: a top of the lowest note."""


@kernel
def _tops(samples, first, rows, tops, bottoms):
    """The highest and the negated lowest sample of every stride. The last few frames of a hop that is no multiple of a
    stride are left out: no plateau ends there anyway."""
    zero = splat(0.0)
    strides = rows // STRIDE
    for s in range(strides):
        high = splat(0.0)
        low = splat(0.0)
        start = first + s * STRIDE
        for row in range(start, start + STRIDE):
            here = load(samples, row)
            high = maximum(high, here)
            low = maximum(low, zero - here)
        store(tops, s, high)
        store(bottoms, s, low)


@kernel
def _plateaus(samples, first, rows, tops, side, peaks, flat):
    """Samples in plateaus of every lane at `peaks` (8,), on the positive (`side` 1) or negative (-1) side."""
    last = first + rows
    strides = rows // STRIDE
    for lane in range(LANES):
        flat[lane] = 0.0
        brief = 0
        briefs = 0
        peak = side * peaks[lane]
        if peak < LEAST_PEAK:
            continue
        seen = 0
        done = first
        for s in range(strides):
            if tops[s, lane] < NEAR_TOP * peak:
                continue
            row = max(done, first + s * STRIDE)
            stop = first + (s + 1) * STRIDE
            while row < stop:
                here = side * samples[row, lane]
                if here < NEAR_TOP * peak:
                    row += 1
                    continue
                # The highest sample of this top, then as far to either side as the flatness reaches.
                best = row
                while best + 1 < last and side * samples[best + 1, lane] >= NEAR_TOP * peak and best - row < LONGEST:
                    best += 1
                end = best + 1
                for k in range(row, end):
                    if side * samples[k, lane] > side * samples[best, lane]:
                        best = k
                top = side * samples[best, lane]
                lowest = top - FLATNESS * peak
                begin = best
                while (
                    begin > first - HALO + REACH
                    and side * samples[begin - 1, lane] >= lowest
                    and best - begin < LONGEST
                ):
                    begin -= 1
                stop_run = best + 1
                while stop_run < last and side * samples[stop_run, lane] >= lowest and stop_run - best < LONGEST:
                    stop_run += 1
                length = stop_run - begin
                seen += 1
                away = min(length, REACH)
                if BRIEF <= length <= LONGEST and begin >= away and stop_run - 1 + away < last:
                    before = side * samples[begin - away, lane]
                    after = side * samples[stop_run - 1 + away, lane]
                    if before < top - FALL * peak and after < top - FALL * peak:
                        if length >= SHORTEST:
                            flat[lane] += length
                        elif top > (1.0 - FLATNESS) * peak:
                            brief += length
                            briefs += 1
                row = max(end, stop_run)
            done = max(done, row)
            if seen >= MOST:
                break
        if briefs >= RECUR:
            flat[lane] += brief


@kernel
def _both_sides(samples, first, rows, tops, bottoms, high, low, flat_high, flat_low):
    """One hop: `tops` and `bottoms` are room for the strides."""
    _tops(samples, first, rows, tops, bottoms)
    _plateaus(samples, first, rows, tops, 1.0, high, flat_high)
    _plateaus(samples, first, rows, bottoms, -1.0, low, flat_low)


class Meter:
    """Plateaus of eight tracks."""

    def __init__(self, rate: int) -> None:
        strides = rate // 10 // STRIDE + 2
        self._tops = rows_of_zeros(strides)
        self._bottoms = rows_of_zeros(strides)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        _both_sides(
            block.samples, HALO, block.rows, self._tops, self._bottoms,
            out["high"], out["low"], out["flat_high"], out["flat_low"],
        )  # fmt: skip
