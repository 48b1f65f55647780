"""Faults of clock, link, recorder and whatever clips before the preamp: one function each.

A function gets a setting and a seed and returns a `Planted`; what it plants is drawn from the seed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.detection.material import Setting, loud_places, some
from tests.material.band import chance
from tests.material.recording import Recording


@dataclass(frozen=True)
class Planted:
    """A recording with a fault in it: the finding's code, the inputs that have it, and what was done, in words."""

    recording: Recording
    code: str
    inputs: tuple[int, ...]
    what: str


def _level(decibels: float) -> float:
    return 10 ** (decibels / 20)


def flat_topped(setting: Setting, seed: int) -> Planted:
    """A source clipped by 2 to 8 dB in its pack, DI or instrument (both sides at levels of their own), 6 to 20 dB lower
    at the converter, with the preamp's noise on top."""
    recording = some(setting, seed)
    rng = chance(seed, "flat")
    samples = recording.track(1).astype(np.float64)
    over, lower = float(rng.uniform(2, 8)), float(rng.uniform(6, 20))
    peak = np.abs(samples).max()
    lopsided = float(rng.uniform(0.75, 1.0))
    clipped = np.clip(samples, -peak * _level(-over) * lopsided, peak * _level(-over))
    clipped *= _level(-lower) / np.abs(clipped).max()
    recording.track(1)[:] = clipped + rng.standard_normal(len(clipped)) * _level(float(rng.uniform(-115, -95)))
    return Planted(recording, "flat-topped", (1,), f"{recording.inputs[0].name}: {over:.1f} dB, {lower:.0f} dB lower")


def gaps(setting: Setting, seed: int) -> Planted:
    """One to four gaps of zeros or of a held value, 1 to 200 ms, while the source sounds."""
    recording = some(setting, seed)
    rng = chance(seed, "gaps")
    samples = recording.track(1)
    count = int(rng.integers(1, 5))
    words = []
    for at in loud_places(samples, recording.rate, rng, count, apart_s=0.5):
        length = round(_level(float(rng.uniform(0, 46))) * recording.rate / 1000)
        held = bool(rng.random() < 0.5)
        samples[at : at + length] = samples[at - 1] if held else 0
        words.append(f"{'held' if held else 'zero'} {length} at {at}")
    return Planted(recording, "dropout", (1,), f"{recording.inputs[0].name}: {', '.join(words)}")


def repeated_blocks(setting: Setting, seed: int) -> Planted:
    """One to four buffers of 64 to 2048 frames played twice in place of what came next."""
    recording = some(setting, seed)
    rng = chance(seed, "repeats")
    samples = recording.track(1)
    length = int(rng.choice([64, 96, 128, 192, 240, 256, 480, 512, 1024, 2048]))
    count = int(rng.integers(1, 5))
    places = loud_places(samples, recording.rate, rng, count, apart_s=0.5)
    for at in places:
        samples[at : at + length] = samples[at - length : at]
    what = f"{recording.inputs[0].name}: {length} frames at {places}"
    return Planted(recording, "dropout", (1,), what)


def clicks(setting: Setting, seed: int) -> Planted:
    """Two to six clicks of one to three samples while a track sounds, 6 to 20 dB above the RMS of the 20 ms around."""
    recording = some(setting, seed)
    rng = chance(seed, "clicks")
    samples = recording.track(1)
    size = float(rng.uniform(6, 20))
    words = []
    for at in loud_places(samples, recording.rate, rng, int(rng.integers(2, 7)), apart_s=0.4):
        width = int(rng.integers(1, 4))
        around = samples[at - recording.rate // 100 : at + recording.rate // 100].astype(np.float64)
        level = float(np.sqrt(np.mean(around**2)))
        samples[at : at + width] += level * _level(size) * (1 if rng.random() < 0.5 else -1)
        words.append(f"{width} at {at}")
    return Planted(recording, "click", (1,), f"{recording.inputs[0].name}: {size:.0f} dB: {', '.join(words)}")


def clock_slips(setting: Setting, seed: int) -> Planted:
    """All tracks of 24 lose or repeat one sample at the same instants, two to twelve times."""
    recording = some(setting, seed, count=24)
    rng = chance(seed, "slips")
    count = int(rng.integers(2, 13))
    places = np.sort(rng.integers(2 * recording.rate, recording.frames - 2 * recording.rate, count))
    drop = bool(rng.random() < 0.5)
    tracks = recording.tracks
    for at in places[::-1]:
        if drop:
            tracks[:, at:-1] = tracks[:, at + 1 :].copy()
        else:
            tracks[:, at + 1 :] = tracks[:, at:-1].copy()
    every = tuple(one.number for one in recording.inputs)
    return Planted(recording, "clock-slip", every, f"{'lost' if drop else 'repeated'} {count}: {places.tolist()}")


PLANTERS: tuple[Callable[[Setting, int], Planted], ...] = (flat_topped, gaps, repeated_blocks, clicks, clock_slips)
