"""Small takes of plain signals, whole through the program: what is told of a channel that is made sample by sample.

Every signal is worked out from its formula, so that what is in it is known without listening.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from replay.findings.finding import Finding
from replay.simulate import check
from tests.material.recording import Input, Recording
from tests.material.show import write_show

RATE = 48000
SECONDS = 36


def time(seconds: float = SECONDS) -> np.ndarray:
    return np.arange(round(seconds * RATE)) / RATE


def noise(level_db: float, seed: int = 1, seconds: float = SECONDS) -> np.ndarray:
    """White noise of that RMS in dB re 1."""
    return 10 ** (level_db / 20) * np.random.default_rng(seed).standard_normal(round(seconds * RATE))


def music(
    seed: int = 1, peak_db: float = -9.0, rests: tuple[tuple[float, float], ...] = ((11, 14), (23, 26), (34, 36))
):
    """Notes of eight harmonics, 0.15 to 0.6 s long, that swell in 10 ms and die away; none in `rests` (seconds)."""
    rng = np.random.default_rng(seed)
    out = np.zeros(SECONDS * RATE)
    at = 0.3
    while at < SECONDS - 1.5:
        length = float(rng.uniform(0.15, 0.6))
        if not any(a - length - 0.4 < at < b for a, b in rests):
            after = np.arange(round((length + 0.3) * RATE)) / RATE
            hz = 196 * 2 ** (rng.integers(0, 18) / 12) * 1.013
            shape = (
                np.minimum(after / 0.01, 1)
                * np.exp(-after / (0.4 * length))
                * np.clip((length + 0.3 - after) / 0.05, 0, 1)
            )
            note = sum(np.sin(2 * np.pi * hz * k * after + k) / k for k in range(1, 9)) * shape
            first = round(at * RATE)
            out[first : first + len(note)] += note * rng.uniform(0.4, 1.0)
        at += length + float(rng.uniform(0.0, 0.3))
    return out / np.abs(out).max() * 10 ** (peak_db / 20)


def healthy(seed: int = 1, floor_db: float = -78.0) -> np.ndarray:
    """Music on a preamp with noise."""
    return music(seed) + noise(floor_db, seed + 100)


def sines(hz: float, levels_db: dict[int, float], seconds: float = SECONDS) -> np.ndarray:
    """Multiples of a frequency, each at a peak level in dB re 1."""
    t = time(seconds)
    return sum(10 ** (level / 20) * np.sin(2 * np.pi * hz * k * t + k) for k, level in levels_db.items())


def told(
    folder: Path, *channels: np.ndarray | tuple[np.ndarray, str, str], code: str | None = None, rate: int = RATE
) -> list[Finding]:
    """What is said of a take of these channels: samples, or (samples, kind, input); a vocal on a mic by default.
    `code`: only findings of that code."""
    full = [one if isinstance(one, tuple) else (one, "vocal", "mic") for one in channels]
    inputs = [
        Input(number=n, name=f"Channel {n}", source=f"s{n}", kind=kind, box="riser", socket=n, input=way, gain=30)
        for n, (_, kind, way) in enumerate(full, start=1)
    ]
    tracks = np.stack([np.clip(samples, -1, 1 - 2.0**-23).astype(np.float32) for samples, _, _ in full])
    show = write_show(folder / "show", Recording(rate=rate, inputs=inputs, tracks=tracks))
    findings = check(show, keep=False).findings
    return [one for one in findings if code is None or one.code == code]
