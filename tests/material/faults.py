"""Faults to plant, on arrays: each takes samples (or a recording) and returns what the recorder would have got.

Functions on samples return new float32 arrays; functions on a recording change it and say so in `planted`.
"""

from __future__ import annotations

import numpy as np

from tests.material.recording import Recording

PREAMP_NOISE_DBFS = -96.0
"""RMS of an open preamp at about 50 dB of gain."""


def largest_code(bits: int) -> float:
    """The greatest positive value of a converter, as a fraction of full scale."""
    return 1 - 2.0 ** (1 - bits)


def convert(samples: np.ndarray, bits: int) -> np.ndarray:
    """What a converter of `bits` bits makes of samples: rounded to its steps, cut off at -1 and at 1 less a step."""
    steps = 2.0 ** (bits - 1)
    # In float64: 24-bit codes near full scale need every bit of a float32, and the scaling must not round twice.
    codes = np.clip(np.round(samples.astype(np.float64) * steps), -steps, steps - 1)
    return (codes / steps).astype(np.float32)


def clip(samples: np.ndarray, over_db: float, *, bits: int = 24, symmetric: bool = False) -> np.ndarray:
    """Preamp so hot that the highest peak would reach `over_db` above full scale; clipped at the converter.

    `symmetric` converters stop at the same code on both sides and never give the most negative one.
    """
    hot = samples.astype(np.float64) / float(np.abs(samples).max()) * 10 ** (over_db / 20)
    if symmetric:
        hot = np.maximum(hot, -largest_code(bits))
    return convert(hot, bits)


def change_gain(samples: np.ndarray, db: float, *, at: int = 0) -> np.ndarray:
    """A preamp turned by `db` at frame `at`; clips where it must."""
    out = samples.copy()
    out[at:] *= np.float32(10 ** (db / 20))
    return np.clip(out, -1, np.float32(largest_code(24)))


def silence_from(samples: np.ndarray, at: int) -> np.ndarray:
    """Digital silence from frame `at` on: the link or the recorder lost the channel."""
    out = samples.copy()
    out[at:] = 0
    return out


def dead_microphone(frames: int, seed: int, *, rms_dbfs: float = PREAMP_NOISE_DBFS) -> np.ndarray:
    """A preamp with nothing at its input: white noise, no room, no bleed."""
    rng = np.random.default_rng(seed)
    return rng.standard_normal(frames, dtype=np.float32) * np.float32(10 ** (rms_dbfs / 20))


def plant_clip(recording: Recording, number: int, over_db: float, *, bits: int = 24) -> None:
    """Clip one input by `over_db` at the converter; its gain in the input list goes up accordingly."""
    samples = recording.track(number)
    was = float(np.abs(samples).max())
    samples[:] = clip(samples, over_db, bits=bits)
    gain = recording.inputs[recording.index(number)].gain
    if gain is not None:
        recording.change(number, gain=gain + round(over_db - 20 * np.log10(was)))
    recording.planted.append(f"input {number} clips by {over_db:g} dB")


def plant_dead_microphone(recording: Recording, number: int, seed: int = 1) -> None:
    """One input holds nothing but its preamp's noise."""
    recording.track(number)[:] = dead_microphone(recording.frames, seed)
    recording.planted.append(f"input {number} is dead")


def plant_swap(recording: Recording, one: int, other: int) -> None:
    """The sources of two inputs arrive exchanged; the input list does not know."""
    rows = [recording.index(one), recording.index(other)]
    recording.tracks[rows] = recording.tracks[rows[::-1]]
    recording.planted.append(f"inputs {one} and {other} are exchanged")


def plant_silence_from(recording: Recording, number: int, at_s: float) -> None:
    """One input is digital silence from `at_s` on."""
    at = round(at_s * recording.rate)
    recording.track(number)[at:] = 0
    recording.planted.append(f"input {number} is silent from {at_s:g} s")


def plant_gain_change(recording: Recording, number: int, at_s: float, db: float) -> None:
    """The preamp of one input is turned by `db` at `at_s`; the input list has the setting after it."""
    samples = recording.track(number)
    samples[:] = change_gain(samples, db, at=round(at_s * recording.rate))
    gain = recording.inputs[recording.index(number)].gain
    if gain is not None:
        recording.change(number, gain=gain + round(db))
    recording.planted.append(f"input {number} is turned by {db:+g} dB at {at_s:g} s")
