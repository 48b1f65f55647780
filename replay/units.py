"""Decibels and linear values, and the full scale of each sample format.

The only logarithms of the package live here. Level zero is a value, not an error: it is minus infinity in decibels,
and reports show it as "does not exist" (None).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

FULL_SCALE_SINE_RMS_DB = 10 * math.log10(2)
"""RMS levels are in dBFS as in AES17: a full-scale sine reads 0, so 3.01 dB are added to the RMS re 1.0."""

LOUDNESS_OFFSET_DB = -0.691
"""Rec. ITU-R BS.1770-5 Annex 1 eq. (2): cancels the K-weighting's gain at 997 Hz."""


def db(amplitude: float) -> float:
    """20 log10 of a linear amplitude; minus infinity for 0.

    >>> db(1.0), db(0.0)
    (0.0, -inf)
    """
    return 20 * math.log10(amplitude) if amplitude > 0 else -math.inf


def db_power(power: float) -> float:
    """10 log10 of a linear power (a mean square); minus infinity for 0."""
    return 10 * math.log10(power) if power > 0 else -math.inf


def levels_db(powers: np.ndarray, floor: float) -> np.ndarray:
    """10 log10 of many linear powers (mean squares) at once, nothing below `floor` (dB): an array has no infinities."""
    import numpy as np

    return 10 * np.log10(np.maximum(powers, 10 ** (floor / 10)))


def amplitude(decibels: float) -> float:
    """The linear amplitude of a level in dB; 0 for minus infinity.

    >>> amplitude(0.0)
    1.0
    """
    return 10 ** (decibels / 20)


def power(decibels: float) -> float:
    """The linear power of a level in dB."""
    return 10 ** (decibels / 10)


LEAST_TOLD_DB = -140.0
"""Levels below this are only said to be below it: a 24-bit converter's own rounding lies at -146.2 dBFS (6.02 dB a
bit and 1.76 dB under a full-scale sine: Bennett 1948), and what a float file holds further down is what sums leave."""


def finite(value: float | None) -> float | None:
    """The value, or None where it does not exist (infinite, not a number): what reports carry.

    >>> finite(-math.inf) is None
    True
    """
    if value is None or not math.isfinite(value):
        return None
    return value


def largest_code(bits: int) -> float:
    """The greatest positive value that a converter of `bits` bits delivers, as a fraction of full scale."""
    return 1.0 - 2.0 ** -(bits - 1)
