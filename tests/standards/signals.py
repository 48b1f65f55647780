"""Test signals of EBU Tech 3341, EBU Tech 3342 and Report ITU-R BS.2217, from their recipes.

A signal is float64 of shape (frames, 2): stereo, both channels in phase. Levels are dBFS peak of each channel.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

Level = float | None
"""dBFS, or None for digital silence."""


def sine(*parts: tuple[float, Level], rate: int = 48000, hertz: float = 1000.0) -> np.ndarray:
    """Stretches of (seconds, level) of one stereo sine whose phase runs on from the first to the last sample."""
    ends = np.round(np.cumsum([0.0] + [seconds for seconds, _ in parts]) * rate).astype(int)
    phase = 2 * np.pi * hertz * np.arange(ends[-1]) / rate
    gain = np.zeros(ends[-1])
    for (start, stop), (_, level) in zip(pairwise(ends), parts, strict=True):
        gain[start:stop] = 0.0 if level is None else 10 ** (level / 20)
    return np.repeat((gain * np.sin(phase))[:, None], 2, axis=1)


def fades(frames: int, rate: int, seconds: float = 0.01) -> np.ndarray:
    """A gain of 1 with raised-cosine fades of 10 ms at both ends."""
    length = round(seconds * rate)
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(length) / length)
    out = np.ones(frames)
    out[:length] *= ramp
    out[frames - length :] *= ramp[::-1]
    return out


def faded_tone(
    divisor: int, amplitude: float, degrees: float, *, rate: int = 48000, seconds: float = 1.0
) -> np.ndarray:
    """Stereo sine at rate / `divisor`, phase in degrees at sample 0, with 10 ms fades (cases 15 to 19)."""
    frames = round(seconds * rate)
    tone = amplitude * np.sin(2 * np.pi * np.arange(frames) / divisor + np.radians(degrees))
    return np.repeat((tone * fades(frames, rate))[:, None], 2, axis=1)


def burst_in_tone(offset: int, *, rate: int = 48000, seconds: float = 1.0) -> np.ndarray:
    """One period of rate/4 at full scale inside rate/6 at half of it, phase-continuous (cases 20 to 23).

    Made at four times the rate, where rate/6 has 24 samples a period and rate/4 has 16; low-passed at half the rate
    (1025 taps, Kaiser 12) and decimated from `offset`.
    """
    from scipy.signal import fftconvolve, firwin

    periods = round(seconds * rate / 6 / 2)
    slow = 0.5 * np.sin(2 * np.pi * np.arange(24 * periods) / 24)
    fast = np.sin(2 * np.pi * np.arange(16) / 16)
    tone = np.concatenate([slow, fast, slow])
    tone *= fades(len(tone), 4 * rate)
    low = fftconvolve(tone, firwin(1025, 0.25, window=("kaiser", 12.0)), mode="same")
    return np.repeat(low[offset::4, None], 2, axis=1)


def case_3341(case: int) -> np.ndarray:
    """EBU Tech 3341 V4 (November 2023) Table 1: the cases that are one stereo signal."""
    simple: dict[int, list[tuple[float, Level]]] = {
        1: [(20, -23.0)],
        2: [(20, -33.0)],
        3: [(10, -36.0), (60, -23.0), (10, -36.0)],
        4: [(10, -72.0), (10, -36.0), (60, -23.0), (10, -36.0), (10, -72.0)],
        5: [(20, -26.0), (20.1, -20.0), (20, -26.0)],
        9: [(1.34, -20.0), (1.66, -30.0)] * 5,
        11: [part for i in range(20) for part in ((i * 0.15, None), (3.0, -38.0 + i), (3 - i * 0.15, None))],
        12: [(0.18, -20.0), (0.22, -30.0)] * 25,
        14: [part for i in range(20) for part in ((i * 0.02, None), (0.4, -38.0 + i), (0.4 - i * 0.02, None))],
    }
    if case in simple:
        return sine(*simple[case])
    tones = {15: (4, 0.50, 0.0), 16: (4, 0.50, 45.0), 17: (6, 0.50, 60.0), 18: (8, 0.50, 67.5), 19: (4, 1.41, 45.0)}
    if case in tones:
        return faded_tone(*tones[case])
    return burst_in_tone({20: 0, 21: 1, 22: 2, 23: 3}[case])


def cases_3341(case: int) -> list[np.ndarray]:
    """EBU Tech 3341 V4 (November 2023) Table 1: cases 10 and 13, twenty files each."""
    if case == 10:
        return [sine((i * 0.15, None), (3.0, -23.0), (1.0, None)) for i in range(20)]
    return [sine((i * 0.02, None), (0.4, -23.0), (1.0, None)) for i in range(20)]


CASES_3342: dict[int, tuple[tuple[float, ...], float]] = {
    1: ((-20.0, -30.0), 10.0),
    2: ((-20.0, -15.0), 5.0),
    3: ((-40.0, -20.0), 20.0),
    4: ((-50.0, -35.0, -20.0, -35.0, -50.0), 15.0),
}
"""EBU Tech 3342 V4 (November 2023) Table 1: levels of 20 s each, and the loudness range in LU."""


def case_3342(case: int) -> np.ndarray:
    return sine(*((20.0, level) for level in CASES_3342[case][0]))


def relative_gate() -> np.ndarray:
    """Report ITU-R BS.2217-2 (10/2016), RelGateTest: tells the gate at -10 LU from the former one at -8 LU."""
    return sine((0.5, -90.3), (0.9, -19.9), (1.3, -7.1), (0.8, -19.9), (0.5, -90.3))


def absolute_gate() -> np.ndarray:
    """Report ITU-R BS.2217-2 (10/2016), AbsGateTest."""
    return sine((0.8, -90.3), *((0.5, -69.5), (0.5, -90.3)) * 2, (0.5, -69.5), (0.7, -90.3))
