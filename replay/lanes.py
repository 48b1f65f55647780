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

from replay.compiled import Operation

LANES = 8


def _operation(name: str) -> Any:
    return Operation(name, "replay.lanes_compiled", "replay.lanes_plain")


as_samples = _operation("as_samples")
codes16 = _operation("codes16")
codes24 = _operation("codes24")
codes32 = _operation("codes32")
float32_at = _operation("float32_at")
float64_at = _operation("float64_at")
int16_at = _operation("int16_at")
int32_at = _operation("int32_at")
join = _operation("join")
keep_codes = _operation("keep_codes")
load = _operation("load")
magnitude = _operation("magnitude")
maximum = _operation("maximum")
no_codes = _operation("no_codes")
splat = _operation("splat")
store = _operation("store")
