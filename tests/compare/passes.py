"""Recordings of one pass, made so that every sample is known: bursts of noise that move in level, over a low noise."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np

RATE = 48000


def sound(seconds: float, tracks: int, *, seed: int = 1, rate: int = RATE) -> np.ndarray:
    """int64 (frames, tracks): 24-bit codes. Nothing above a third of the rate, so that another clock can carry it."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * rate)
    step = rate // 20
    loud = np.where(rng.random((frames // step + 1, tracks)) < 0.4, rng.random((frames // step + 1, tracks)), 0.01)
    moving = rng.standard_normal((frames, tracks)) * np.repeat(loud, step, axis=0)[:frames]
    spectrum = np.fft.rfft(moving, axis=0)
    spectrum[len(spectrum) * 2 // 3 :] = 0
    moving = np.fft.irfft(spectrum, frames, axis=0) * 0.1 + rng.standard_normal((frames, tracks)) * 3e-6
    return np.clip(np.round(moving * 2**23), -(2**23), 2**23 - 1).astype(np.int64)


def write(folder: Path, codes: np.ndarray, *, bits: int = 24, rate: int = RATE) -> Path:
    """A take of mono files, one a track, an hour old; `codes` are those of `bits` bits."""
    import soundfile

    folder.mkdir(parents=True)
    for number in range(codes.shape[1]):
        path = folder / f"{number + 1:02d} take.wav"
        soundfile.write(path, (codes[:, number] << (32 - bits)).astype(np.int32), rate, subtype=f"PCM_{bits}")
        then = time.time() - 3600
        os.utime(path, (then, then))
    return folder
