"""Eight tracks side by side: a value of eight doubles for use inside kernels.

A block is an array (rows, 8): one row a frame, one lane a track. `load(block, row)` gives a row as one value, on
which `+`, `-`, `*` and `/` work lane by lane; `store`, `splat`, `maximum`, `magnitude`, `choose` and `multiply_add`
complete it. The compiler turns each into one or two vector instructions, whatever the machine has. No lane ever sees
another: a figure cannot depend on which tracks share a group. Where one track alone is worked on, the eight can be
eight places in a row of a plain array (`load_along`, `store_along`), and `largest` is the greatest of them.

`codes24`, `codes16` and `codes32` fetch eight integers from eight places in raw bytes, left-justified to 32 bits;
`join` gathers their bits and `as_samples` makes fractions of full scale of them. Where the eight tracks' samples lie in
a row each, or side by side, `eight_rows24` and `together24` (and their like) do all of it at once.

Without the compiler (NUMBA_DISABLE_JIT=1) the same names are numpy operations on rows, which do the same arithmetic in
the same order, and so are the kernels' literal twins.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from replay.compiled import Operation

LANES = 8
LINE = 64
"""Bytes of a cache line, and of a row of eight doubles: a row that lies across two costs two accesses."""


def rows_of_zeros(*shape: int) -> np.ndarray:
    """float64 zeros of shape (*shape, 8) whose rows lie in one cache line each."""
    count = LANES * 8
    for length in shape:
        count *= length
    raw = np.zeros(count + LINE, np.uint8)
    first = -raw.ctypes.data % LINE
    return raw[first : first + count].view(np.float64).reshape(*shape, LANES)


def _operation(name: str) -> Any:
    return Operation(name, "replay.lanes_compiled", "replay.lanes_plain")


as_samples = _operation("as_samples")
choose = _operation("choose")
codes16 = _operation("codes16")
codes24 = _operation("codes24")
codes32 = _operation("codes32")
eight_rows16 = _operation("eight_rows16")
eight_rows24 = _operation("eight_rows24")
eight_rows32 = _operation("eight_rows32")
float32_at = _operation("float32_at")
float64_at = _operation("float64_at")
int16_at = _operation("int16_at")
int32_at = _operation("int32_at")
join = _operation("join")
keep_codes = _operation("keep_codes")
largest = _operation("largest")
load = _operation("load")
load_along = _operation("load_along")
magnitude = _operation("magnitude")
maximum = _operation("maximum")
multiply_add = _operation("multiply_add")
no_codes = _operation("no_codes")
splat = _operation("splat")
spread = _operation("spread")
store = _operation("store")
store_along = _operation("store_along")
together16 = _operation("together16")
together24 = _operation("together24")
together32 = _operation("together32")
