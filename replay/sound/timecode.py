"""Tells timecode from what one wants to hear, so that it never reaches ears at level.

Longitudinal timecode (SMPTE ST 12-1) is a square wave that changes 1920 to 4800 times a second at 24 to 30 frames, of
constant level: ideally its peak equals its RMS. Voices and instruments peak well above theirs in any 25 ms. A steady
test tone of 1 or 2 kHz is taken for timecode too, and ears do not mind.
"""

from __future__ import annotations

import numpy as np

from replay.units import amplitude

CREST_DB = 4.0
"""A filtered and recorded timecode stays below this, a sine has 3.0; common practice, no source."""
CHANGES_PER_S = (1500.0, 5500.0)
QUIETEST_DBFS = -60.0
"""RMS re 1.0 below which nothing hurts."""
PART_S = 0.025


def sounds_like_timecode(samples: np.ndarray, rate: int) -> bool:
    """Whether any 25 ms of a track's samples (one dimension) look like timecode."""
    length = max(8, int(PART_S * rate))
    parts = len(samples) // length
    if parts == 0:
        return False
    rows = samples[: parts * length].reshape(parts, length)
    power = (rows**2).mean(axis=1)
    peaks = np.abs(rows).max(axis=1)
    flat = (power > amplitude(QUIETEST_DBFS) ** 2) & (peaks**2 <= power * 10 ** (CREST_DB / 10))
    if not flat.any():
        return False
    changes = (np.diff(np.signbit(rows), axis=1) != 0).sum(axis=1) / (length / rate)
    return bool((flat & (changes >= CHANGES_PER_S[0]) & (changes <= CHANGES_PER_S[1])).any())
