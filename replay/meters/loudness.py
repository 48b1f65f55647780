"""Loudness: momentary, short-term, integrated, and loudness range.

Unit: LUFS and LU. Sources: Rec. ITU-R BS.1770-5 Annex 1 (K-weighting, 400 ms gating blocks every 100 ms, gates at -70
and at 10 LU under the ungated level, strict comparison, an incomplete last block dropped); EBU Tech 3341 (momentary
400 ms, short-term 3 s, both ungated); EBU Tech 3342 (loudness range: 3 s windows at 10 Hz with 1.5 s of silence
appended, gates at -70 and 20 LU under, percentiles 10 and 95). Maxima of momentary and short-term are found on a 10 ms
grid (a 100 ms grid misses case 13 of Tech 3341 by 0.45 LU).

The K-weighting comes from pyloudnorm's coefficient design that matches the published 48 kHz table ("DeMan"; its
default does not), and has the same response at other rates. A mono track reads 3.01 LU below the same signal on both
sides of a stereo pair; the figures of a pair add both sides' powers.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from replay.compiled import kernel
from replay.grid import CELLS_PER_HOP
from replay.lanes import LANES, load, multiply_add, rows_of_zeros, splat, store
from replay.meters.model import Column
from replay.take.block import Block
from replay.units import LOUDNESS_OFFSET_DB, db_power, power

NAME = "loudness"
COLUMNS = (
    Column("k_energy_10ms", "summed squares, K-weighted", 10, "f4", "square"),
    Column("k_energy", "summed squares, K-weighted", 100, "f8", "square"),
)


_KNOWN = {
    44100: (
        1.5308412300498355,
        -2.6509799951536985,
        1.1690790799210682,
        -1.6636551132560204,
        0.7125954280732254,
        -1.9891696736297957,
        0.9891990357870394,
    ),
    48000: (
        1.5351248595864504,
        -2.691696189405335,
        1.1983928108523243,
        -1.6906592931824103,
        0.7324807742158501,
        -1.9900474548339802,
        0.9900722503662102,
    ),
    88200: (
        1.5575153755790945,
        -2.905627079925223,
        1.3613339774716493,
        -1.8309199879623321,
        0.8441422610878528,
        -1.9945775154503445,
        0.9945848758780549,
    ),
    96000: (
        1.559714228975233,
        -2.926741578249952,
        1.3782612023152518,
        -1.8446094698901085,
        0.8558433229306414,
        -1.9950175447247156,
        0.9950237590409233,
    ),
}
"""The design's coefficients at the rates that takes have: b0 b1 b2 a1 a2 of the shelf, a1 a2 of the high-pass, whose
b0 b1 b2 are 1 -2 1. Loading the package (and scipy with it) takes longer than a short take does."""


@cache
def k_weighting(rate: int) -> np.ndarray:
    """float64 (2, 6): the two stages' b0 b1 b2 a0 a1 a2 with a0 = 1."""
    if rate in _KNOWN:
        b0, b1, b2, a1, a2, c1, c2 = _KNOWN[rate]
        return np.array([[b0, b1, b2, 1.0, a1, a2], [1.0, -2.0, 1.0, 1.0, c1, c2]])
    return designed(rate)


def designed(rate: int) -> np.ndarray:
    """`k_weighting` as the package makes it, for any rate."""
    import pyloudnorm

    filters = pyloudnorm.Meter(rate, filter_class="DeMan")._filters
    stages = [np.concatenate([filters[name].b, filters[name].a]) for name in ("high_shelf_DeMan", "high_pass_DeMan")]
    return np.array([stage / stage[3] for stage in stages])


@kernel
def _k_energies(samples, cells, stages, state, high, low, energies, whole):
    """Summed squares of the K-weighted signal in each 10 ms cell and in the whole hop.

    `state` (5, 8) carries the filters from hop to hop, and has a row to spare. Where the whole hop is exactly zero
    (`high` and `low` are), a lane's filters start anew, so that no residue outlives the signal.
    """
    for lane in range(LANES):
        state[4, lane] = 1.0 if high[lane] > 0.0 or low[lane] < 0.0 else 0.0
    b0, b1, b2 = splat(stages[0, 0]), splat(stages[0, 1]), splat(stages[0, 2])
    a1, a2 = splat(-stages[0, 4]), splat(-stages[0, 5])
    c0, c1, c2 = splat(stages[1, 0]), splat(stages[1, 1]), splat(stages[1, 2])
    d1, d2 = splat(-stages[1, 4]), splat(-stages[1, 5])
    alive = load(state, 4)
    z1, z2, w1, w2 = load(state, 0) * alive, load(state, 1) * alive, load(state, 2) * alive, load(state, 3) * alive
    together = splat(0.0)
    for cell in range(len(cells) - 1):
        total = splat(0.0)
        for row in range(cells[cell], cells[cell + 1]):
            x = load(samples, row)
            # What waits for the sample before comes last in each line: the less there is of it the better.
            y = multiply_add(b0, x, z1)
            z1 = multiply_add(a1, y, multiply_add(b1, x, z2))
            z2 = multiply_add(a2, y, b2 * x)
            u = multiply_add(c0, y, w1)
            w1 = multiply_add(d1, u, multiply_add(c1, y, w2))
            w2 = multiply_add(d2, u, c2 * y)
            total = multiply_add(u, u, total)
        store(energies, cell, total)
        together = together + total
    store(whole, 0, together)
    store(state, 0, z1)
    store(state, 1, z2)
    store(state, 2, w1)
    store(state, 3, w2)


class Meter:
    """K-weighted power of eight tracks."""

    def __init__(self, rate: int) -> None:
        self._stages = k_weighting(rate)
        self._state = rows_of_zeros(5)

    def feed(self, block: Block, out: dict[str, Any]) -> None:
        """One hop; needs the hop's sample peaks (`high`, `low`) in `out`."""
        _k_energies(
            block.samples, block.cells, self._stages, self._state, out["high"], out["low"],
            out["k_energy_10ms"], out["k_energy"],
        )  # fmt: skip


_ABSOLUTE = power(-70.0 - LOUDNESS_OFFSET_DB)
"""The absolute gate, -70 LUFS, as a K-weighted mean square."""
_RELATIVE_I = 10**-1.0
_RELATIVE_LRA = 10**-2.0

MOMENTARY_CELLS = 40
SHORT_CELLS = 300
BLOCK_HOPS = 4
SHORT_HOPS = 30
TAIL_HOPS = 15
assert MOMENTARY_CELLS == BLOCK_HOPS * CELLS_PER_HOP


def loudness(mean_square: float) -> float:
    """LUFS of a K-weighted mean square; minus infinity for 0.

    >>> round(loudness(0.5 * 10 ** 0.0691), 3)
    -3.01
    """
    return LOUDNESS_OFFSET_DB + db_power(mean_square)


def integrated(block_powers: np.ndarray) -> float:
    """Integrated loudness in LUFS from mean squares of 400 ms gating blocks; minus infinity where all are gated."""
    loud = block_powers[block_powers > _ABSOLUTE]
    if len(loud) == 0:
        return -np.inf
    gated = loud[loud > _RELATIVE_I * loud.mean()]
    return loudness(float(gated.mean()))


def loudness_range(window_powers: np.ndarray) -> float | None:
    """LRA in LU from mean squares of 3 s windows at 10 Hz, the 1.5 s tail included; None where all are gated."""
    loud = window_powers[window_powers >= _ABSOLUTE]
    if len(loud) == 0:
        return None
    kept = np.sort(loud[loud >= _RELATIVE_LRA * loud.mean()])
    # Tech 3342 section 5: the value of rank round((n - 1) p / 100 + 1), no interpolation; halves round up.
    low, high = (kept[int((len(kept) - 1) * share + 0.5)] for share in (0.10, 0.95))
    return loudness(float(high)) - loudness(float(low))
