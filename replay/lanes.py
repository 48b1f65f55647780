"""Eight tracks side by side: a value of eight doubles for use inside kernels.

A block is an array (rows, 8): one row a frame, one lane a track. `load(block, row)` gives a row as one value, on
which `+`, `-` and `*` work lane by lane; `store`, `splat`, `maximum` and `magnitude` complete it. The compiler turns
each into one or two vector instructions, whatever the machine has. No lane ever sees another: a figure cannot depend
on which tracks share a group. `codes24`, `codes16` and `codes32` fetch eight integers from eight places in raw bytes,
left-justified to 32 bits; `join` gathers their bits and `as_samples` makes fractions of full scale of them.

Without the compiler (NUMBA_DISABLE_JIT=1) the same names are numpy operations on rows, which do the same arithmetic in
the same order, and so are the kernels' literal twins.
"""

from __future__ import annotations

from typing import Any

from replay.compiled import COMPILED
from replay.lanes_plain import LANES

if COMPILED:
    from replay import lanes_compiled as _lanes
else:
    from replay import lanes_plain as _lanes  # type: ignore[no-redef]

as_samples: Any = _lanes.as_samples
codes16: Any = _lanes.codes16
codes24: Any = _lanes.codes24
codes32: Any = _lanes.codes32
float32_at: Any = _lanes.float32_at
float64_at: Any = _lanes.float64_at
int16_at: Any = _lanes.int16_at
int32_at: Any = _lanes.int32_at
join: Any = _lanes.join
keep_codes: Any = _lanes.keep_codes
load: Any = _lanes.load
magnitude: Any = _lanes.magnitude
maximum: Any = _lanes.maximum
no_codes: Any = _lanes.no_codes
splat: Any = _lanes.splat
store: Any = _lanes.store

__all__ = [
    "LANES",
    "as_samples",
    "codes16",
    "codes24",
    "codes32",
    "float32_at",
    "float64_at",
    "int16_at",
    "int32_at",
    "join",
    "keep_codes",
    "load",
    "magnitude",
    "maximum",
    "no_codes",
    "splat",
    "store",
]
