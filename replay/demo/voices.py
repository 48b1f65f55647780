"""Singers and the caller: a pulse with the resonances of a mouth, syllable by syllable.

The resonances of the vowels are the averages that Peterson and Barney measured in 1952 (men; women's lie about 15 %
higher). Nobody's voice is imitated and no words are said.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from replay.demo.sound import RATE, Noise, band, decay, done, hertz, high, hiss, key, level, period, phase, swell
from replay.demo.sound import wobble as vibrato

VOWELS: dict[str, tuple[float, float, float]] = {
    "a": (730, 1090, 2440),
    "e": (530, 1840, 2480),
    "i": (270, 2290, 3010),
    "o": (570, 840, 2410),
    "u": (300, 870, 2240),
}
WIDTHS = (80.0, 100.0, 150.0)

VOICES: dict[str, tuple[float, float]] = {
    # name: size of the mouth (a factor on the resonances), fall of the pulse's harmonics (power)
    "lead": (1.0, 1.0),
    "second": (1.16, 1.1),
    "low": (0.95, 1.15),
    "high": (1.12, 1.05),
    "caller": (1.03, 0.85),
}

CONSONANTS = ("", "s", "t", "m", "sh", "d")


@lru_cache(maxsize=256)
def mouth(voice: str, note: int, vowel: str) -> np.ndarray:
    """One period of a vowel at a pitch."""
    size, fall = VOICES[voice]
    weights = []
    for number in range(1, int(6500 / hertz(note)) + 1):
        frequency = number * hertz(note)
        weight = number**-fall
        for formant, width in zip(VOWELS[vowel], WIDTHS, strict=True):
            at = formant * size
            weight *= at**2 / math.hypot(at**2 - frequency**2, width * frequency) * 0.6 + 0.02
        weights.append(round(weight, 8))
    return period(tuple(weights))


def _consonant(sound: str, seed: int) -> np.ndarray:
    frames = round({"s": 0.09, "sh": 0.09, "t": 0.025, "d": 0.02}.get(sound, 0.0) * RATE)
    if not frames:
        return np.zeros(0)
    if sound in ("s", "sh"):
        shape = (high(4500),) if sound == "s" else (band(2800, 1.0), high(1800))
        return 0.16 * hiss(seed, frames, *shape) * swell(frames, 0.03, 0.03)
    shape = (high(2500),) if sound == "t" else (band(1500, 0.7),)
    return 0.3 * hiss(seed, frames, *shape) * decay(frames, 0.02)


def _syllable(
    voice: str, note: int, pitch: np.ndarray, vowels: str, consonant: str, edges: tuple[float, float]
) -> np.ndarray:
    frames = len(pitch)
    position = phase(pitch, frames)
    glide = np.clip((np.arange(frames) / max(1, frames) - 0.3) / 0.4, 0.0, 1.0)
    sound = mouth(voice, note, vowels[0])[position] * (1 - glide) + mouth(voice, note, vowels[-1])[position] * glide
    breath = Noise(key("air", voice, note, frames)).take(frames) * 0.004
    sound = level((sound + breath) * swell(frames, *edges))
    first = _consonant(consonant, key(voice, consonant))[:frames]
    if len(first):
        hold = np.minimum(1.0, np.arange(frames) / len(first)) ** 2
        sound *= hold
        sound[: len(first)] += first
    return done(sound)


def sung(voice: str, note: int, frames: int, vowels: str, consonant: str) -> np.ndarray:
    """A sung syllable, from the first of `vowels` to the last."""
    pitch = hertz(note) * vibrato(frames, 5.3, 0.009, after=0.2)
    return _syllable(voice, note, pitch, vowels, consonant, (0.04, 0.07))


def spoken(voice: str, first: float, last: float, frames: int, vowels: str, consonant: str) -> np.ndarray:
    """A spoken syllable whose pitch falls from `first` to `last`, in Hz."""
    pitch = first + (last - first) * np.arange(frames) / max(1, frames)
    note = round(69 + 12 * math.log2((first + last) / 2 / 440))
    return _syllable(voice, note, pitch, vowels, consonant, (0.018, 0.05))
