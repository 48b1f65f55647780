"""Products added with one rounding, exactly, and whether this processor does it so."""

from __future__ import annotations

import platform
from fractions import Fraction

from tests.need import missing


def rounded_once(a: float, b: float, c: float) -> float:
    """a b + c, worked out exactly and rounded once, to the nearest double."""
    return float(Fraction(a) * Fraction(b) + Fraction(c))


def skip_where_rounded_twice() -> None:
    """Skip the test on a processor of before 2013, whose products are rounded before they are added."""
    from llvmlite import binding

    if platform.machine() in ("x86_64", "AMD64") and not binding.get_host_cpu_features().get("fma"):
        missing("a processor that multiplies and adds at once")
