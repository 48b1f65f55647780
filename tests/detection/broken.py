"""Faults of clock, link, recorder and whatever clips before the preamp: one function each.

A function gets a setting and a seed and returns a `Planted`; what it plants is drawn from the seed. Amounts that are
clearly audible and faint ones are planted apart. What counts as clearly audible is said of the sound alone, whatever a
check can find: a clip by 3 dB or more; a gap of 10 ms or more while the source sounds; a click at least as high as the
highest sample of the 50 ms around, which would cover it.
"""

from __future__ import annotations

import math
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


def _cut_off(setting: Setting, seed: int, least_db: float, most_db: float) -> Planted:
    recording = some(setting, seed)
    rng = chance(seed, "flat")
    samples = recording.track(1).astype(np.float64)
    over, lower = float(rng.uniform(least_db, most_db)), float(rng.uniform(6, 20))
    peak = np.abs(samples).max()
    lopsided = float(rng.uniform(0.75, 1.0))
    clipped = np.clip(samples, -peak * _level(-over) * lopsided, peak * _level(-over))
    clipped *= _level(-lower) / np.abs(clipped).max()
    recording.track(1)[:] = clipped + rng.standard_normal(len(clipped)) * _level(float(rng.uniform(-115, -95)))
    return Planted(recording, "flat-topped", (1,), f"{recording.inputs[0].name}: {over:.1f} dB, {lower:.0f} dB lower")


def flat_topped(setting: Setting, seed: int) -> Planted:
    """A source clipped by 3 to 8 dB in its pack, DI or instrument (both sides at levels of their own), 6 to 20 dB lower
    at the converter, with the preamp's noise on top."""
    return _cut_off(setting, seed, 3, 8)


def flat_topped_faintly(setting: Setting, seed: int) -> Planted:
    """The same, clipped by 1 to 3 dB."""
    return _cut_off(setting, seed, 1, 3)


PLAYED = ("playback",)
BY_HAND = (
    "kick", "snare", "tom", "hi-hat", "overhead", "percussion", "bass", "guitar", "acoustic", "keys", "strings",
    "brass", "woodwind", "vocal", "backing", "speech", "choir",
)  # fmt: skip


def _with_gaps(setting: Setting, seed: int, kinds: tuple[str, ...], least_ms: float, most_ms: float) -> Planted:
    recording = some(setting, seed, kinds=kinds)
    rng = chance(seed, "gaps")
    samples = recording.track(1)
    count = int(rng.integers(1, 5))
    words = []
    for at in loud_places(samples, recording.rate, rng, count, apart_s=0.5):
        length = round(math.exp(float(rng.uniform(math.log(least_ms), math.log(most_ms)))) * recording.rate / 1000)
        held = bool(rng.random() < 0.5)
        samples[at : at + length] = samples[at - 1] if held else 0
        words.append(f"{'held' if held else 'zero'} {length} at {at}")
    return Planted(recording, "dropout", (1,), f"{recording.inputs[0].name}: {', '.join(words)}")


def gaps(setting: Setting, seed: int) -> Planted:
    """One to four gaps of zeros or of a held value, 10 to 200 ms, while the source sounds."""
    return _with_gaps(setting, seed, BY_HAND, 10, 200)


def short_gaps(setting: Setting, seed: int) -> Planted:
    """The same, 1 to 10 ms."""
    return _with_gaps(setting, seed, BY_HAND, 1, 10)


def gaps_in_playback(setting: Setting, seed: int) -> Planted:
    """The same, 1 to 200 ms, on a player's track, which rests on exact zero by itself: there gaps of more than 10 ms
    are not told by rule."""
    return _with_gaps(setting, seed, PLAYED, 1, 200)


def gaps_before_dither(setting: Setting, seed: int) -> Planted:
    """One to four gaps of zeros, 5 to 60 ms, before all is brought to 16 bits with triangular dither: they hold a step
    of noise."""
    recording = some(setting, seed - (seed % 5 == 4), kinds=BY_HAND)
    rng = chance(seed, "dithered")
    samples = recording.track(1)
    words = []
    for at in loud_places(samples, recording.rate, rng, int(rng.integers(1, 5)), apart_s=0.5):
        length = round(math.exp(float(rng.uniform(math.log(5), math.log(60)))) * recording.rate / 1000)
        samples[at : at + length] = 0
        words.append(f"{length} at {at}")
    tracks = recording.tracks
    dither = rng.random(tracks.shape) - rng.random(tracks.shape)
    tracks[:] = np.clip(np.rint(tracks * 2.0**15 + dither), -(2**15), 2**15 - 1) / 2.0**15
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


def _with_clicks(setting: Setting, seed: int, height: Callable[[np.ndarray, float], float], most_db: float) -> Planted:
    recording = some(setting, seed)
    rng = chance(seed, "clicks")
    samples = recording.track(1)
    decibels = float(rng.uniform(0, most_db))
    words = []
    for at in loud_places(samples, recording.rate, rng, int(rng.integers(2, 7)), apart_s=0.4):
        width = int(rng.integers(1, 4))
        around = samples[at - recording.rate // 40 : at + recording.rate // 40].astype(np.float64)
        samples[at : at + width] += height(around, decibels) * (1 if rng.random() < 0.5 else -1)
        words.append(f"{width} at {at}")
    np.clip(samples, -1, 1 - 2.0**-23, out=samples)
    return Planted(recording, "click", (1,), f"{recording.inputs[0].name}: {decibels:.0f} dB: {', '.join(words)}")


def clicks(setting: Setting, seed: int) -> Planted:
    """Two to six clicks of one to three samples while a track sounds, 0 to 12 dB above the highest sample of the 50 ms
    around."""
    return _with_clicks(setting, seed, lambda around, decibels: float(np.abs(around).max()) * _level(decibels), 12)


def faint_clicks(setting: Setting, seed: int) -> Planted:
    """The same, from 6 dB above the RMS of the 50 ms around to its highest sample."""

    def height(around: np.ndarray, decibels: float) -> float:
        least, most = 2 * float(np.sqrt(np.mean(around**2))), float(np.abs(around).max())
        return least * (max(most, least) / least) ** (decibels / 12)

    return _with_clicks(setting, seed, height, 12)


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


PLANTERS: tuple[Callable[[Setting, int], Planted], ...] = (
    flat_topped, flat_topped_faintly, gaps, short_gaps, gaps_in_playback, gaps_before_dither, repeated_blocks, clicks,
    faint_clicks, clock_slips,
)  # fmt: skip
