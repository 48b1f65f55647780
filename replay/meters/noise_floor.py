"""Noise floor: the level that the track falls to when nothing plays.

The 5th percentile of 100 ms mean squares that are neither exact zero nor missing (common practice, no source). Unit:
mean square; none where fewer than 20 such hops exist. It is the floor of what was recorded: room, bleed and preamp
together.
"""

from __future__ import annotations

import numpy as np

from replay.ranks import percentiles

FEWEST_HOPS = 20
PERCENTILE = 5.0


def noise_floor(mean_squares: np.ndarray) -> float | None:
    """The floor as a mean square, from mean squares of whole hops; None for fewer than 20 that are not zero."""
    heard = mean_squares[mean_squares > 0]
    if len(heard) < FEWEST_HOPS:
        return None
    return float(percentiles(heard, PERCENTILE)[0])
