"""The limits that checks go by: each check declares its own, a patch may set them under `[limits]`."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from replay.errors import Place
from replay.patch.problems import Problems
from replay.text import harmless


@dataclass(frozen=True)
class Limit:
    """A limit: its default, unit, what it means (a few words), and the values that make sense (both ends included)."""

    default: float
    unit: str
    what: str
    least: float = 0.0
    most: float = math.inf


def in_force(
    known: Mapping[str, Limit], written: Mapping[str, object], file: str | Mapping[str, str] | None = None
) -> dict[str, float]:
    """All limits by name: the defaults, overridden by what the patch's `[limits]` table says. `file` is where that
    stands, for all of them or by name.

    Raises PatchError with every unknown name (and the nearest known one) and every value that makes no sense.
    """
    problems = Problems()
    limits = {name: limit.default for name, limit in known.items()}
    for name, value in written.items():
        place = Place(file if file is None or isinstance(file, str) else file.get(name), key=f"limits.{name}")
        if name not in known:
            problems.add(
                f"there is no limit '{harmless(name, 60)}'", place, "" if problems.full else nearest(name, known)
            )
            continue
        limit = known[name]
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            problems.add(f"{harmless(repr(value), 60)} is not a number", place, f"{limit.what}; in {limit.unit}")
        elif not limit.least <= value <= limit.most:
            problems.add(f"{value:g} {limit.unit} makes no sense here", place, _range(limit))
        else:
            limits[name] = float(value)
    problems.stop_if_any()
    return limits


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint that names the known word nearest to `name`, or all of them where none is near."""
    near = difflib.get_close_matches(name, list(known), n=1)
    return f"did you mean '{near[0]}'?" if near else "known are: " + ", ".join(known)


def _range(limit: Limit) -> str:
    if math.isinf(limit.most):
        return f"it is at least {limit.least:g}"
    return f"it lies between {limit.least:g} and {limit.most:g}"
