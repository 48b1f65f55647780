"""Rates with their uncertainty."""

from __future__ import annotations

import math


def wilson(hits: int, tries: int, z: float = 1.959964) -> tuple[float, float]:
    """The Wilson 95 % interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927).

    >>> [round(x, 3) for x in wilson(19, 20)]
    [0.764, 0.991]
    """
    if tries == 0:
        return 0.0, 1.0
    share = hits / tries
    middle = share + z * z / (2 * tries)
    half = z * math.sqrt(share * (1 - share) / tries + z * z / (4 * tries * tries))
    scale = 1 + z * z / tries
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


def as_text(hits: int, tries: int) -> str:
    """`58/60 97 % (89-99)`."""
    low, high = wilson(hits, tries)
    return f"{hits}/{tries}, {100 * hits / max(tries, 1):.0f} % ({100 * low:.0f} to {100 * high:.0f})"
