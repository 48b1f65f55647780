"""What of a track's sound (`evidence.sound`) is held against the kinds, as figures that spread about evenly. Pure."""

from __future__ import annotations

import numpy as np

from replay.evidence.sound import Sound

FIGURES = (
    *("to 60", "to 120", "to 250", "to 500", "to 1000", "to 2000", "to 4000", "to 8000", "above"),
    *("half", "crest", "strike", "steady", "voicing", "pitch"),
)
"""Shares of the energy by band (to so many Hz) as square roots, so that small ones count; half of the energy in log2
Hz; crest in dB; strike in log2 dB; steady and voicing as they are; pitch in log2 Hz."""

PITCH = FIGURES.index("pitch")
"""The one that may be missing: what is not periodic has no pitch."""


def figures(sound: Sound) -> np.ndarray:
    """The figures of a sound, float64 in the order of FIGURES; the pitch NaN where there is none."""
    return np.array(
        [
            *np.sqrt(np.maximum(sound.bands, 0.0)),
            np.log2(max(sound.half_hz, 20.0)),
            sound.crest_db,
            np.log2(min(max(sound.strike_db, 1.0), 60.0)),
            sound.steady,
            sound.voicing,
            np.log2(sound.pitch_hz) if sound.pitch_hz else np.nan,
        ]
    )
