"""The uncertainty of a share that was counted."""

from __future__ import annotations

import math

Z95 = 1.959964


def wilson(hits: int, tries: int) -> tuple[float, float]:
    """The Wilson 95 % interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927).

    >>> [round(end, 3) for end in wilson(19, 20)]
    [0.764, 0.991]
    """
    if tries == 0:
        return 0.0, 1.0
    share = hits / tries
    middle = share + Z95 * Z95 / (2 * tries)
    half = Z95 * math.sqrt(share * (1 - share) / tries + Z95 * Z95 / (4 * tries * tries))
    scale = 1 + Z95 * Z95 / tries
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)
