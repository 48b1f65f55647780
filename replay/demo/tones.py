"""Pitched instruments: one note or chord each, float32, peak about 1.

`notes` are note numbers (69 is A4). Every function depends on nothing but its arguments. Spectra are set by the weight
of each harmonic: bowed and blown instruments keep theirs, plucked strings lose theirs with time.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from replay.demo.sound import (
    RATE,
    band,
    decay,
    done,
    hertz,
    high,
    hiss,
    key,
    level,
    low,
    period,
    phase,
    pluck,
    swell,
    through,
    tone,
    wobble,
)

Peak = tuple[float, float, float]
"""A resonance of a body or bell: frequency, width in Hz, height (linear) over the rest."""

BODIES: dict[str, tuple[float, float, tuple[Peak, ...]]] = {
    # name: fall of the harmonics (power of their number), upper end in Hz, resonances
    "fiddle": (1.0, 9000, ((290, 80, 1.2), (470, 100, 1.6), (1050, 250, 0.6), (2600, 800, 2.2))),
    "treble-reed": (0.75, 8000, ((900, 400, 0.8), (2100, 700, 1.0))),
    "bass-reed": (0.8, 4000, ((220, 100, 1.2), (600, 250, 0.8))),
    "whistle": (3.2, 9000, ()),
    "trumpet": (0.7, 9000, ((1250, 450, 3.5), (2300, 700, 1.5))),
    "trombone": (0.8, 5500, ((500, 180, 4.0), (950, 350, 2.0))),
    "pad": (1.5, 3500, ((400, 250, 0.7),)),
}


@lru_cache(maxsize=256)
def shape(body: str, note: int) -> np.ndarray:
    """One period of a note on an instrument of BODIES."""
    power, top, peaks = BODIES[body]
    weights = []
    for number in range(1, max(2, int(min(top, 15000) / hertz(note))) + 1):
        frequency = number * hertz(note)
        weight = number**-power
        weight *= 1 + sum(height / (1 + ((frequency - at) / width) ** 2) for at, width, height in peaks)
        weights.append(round(weight, 8))
    return period(tuple(weights), scatter=body not in ("trumpet", "trombone"))


def _held(
    body: str, note: int, frames: int, cents: float = 0.0, vibrato: float = 0.0, start: float = 0.0
) -> np.ndarray:
    frequency = hertz(note + cents / 100)
    bend = frequency * wobble(frames, 5.4, vibrato) if vibrato else frequency
    return shape(body, note)[phase(bend, frames, start)]


def fiddle(note: int, frames: int, down: bool) -> np.ndarray:
    """A bowed note; down-bows bite a little more than up-bows."""
    sound = _held("fiddle", note, frames, vibrato=0.004)
    bow = hiss(key("bow", note, down), frames, high(1800), low(7000)) * (0.035 + 0.05 * decay(frames, 0.12))
    return done((sound + bow) * swell(frames, 0.02 if down else 0.045, 0.05))


def treble_reeds(notes: tuple[int, ...], frames: int) -> np.ndarray:
    """The right hand of the accordion: two reeds a note, a little apart."""
    sound = np.zeros(frames)
    for number, note in enumerate(notes):
        sound += _held("treble-reed", note, frames, 0.0, 0.0, 0.17 * number)
        sound += _held("treble-reed", note, frames, 11.0, 0.0, 0.4 + 0.23 * number)
    return done(level(sound * swell(frames, 0.035, 0.04)))


def bass_reeds(notes: tuple[int, ...], frames: int) -> np.ndarray:
    """The left hand: bass notes with their octave, and chords."""
    sound = np.zeros(frames)
    for number, note in enumerate(notes):
        sound += _held("bass-reed", note, frames, 0.0, 0.0, 0.19 * number)
        sound += 0.6 * _held("bass-reed", note + 12, frames, 4.0, 0.0, 0.31 * number)
    return done(level(sound * swell(frames, 0.03, 0.05)))


def whistle(note: int, frames: int) -> np.ndarray:
    """A tin whistle with its breath."""
    sound = _held("whistle", note, frames, vibrato=0.003)
    breath = hiss(key("breath", note), frames, band(hertz(note), 2.0)) * (0.05 + 0.1 * decay(frames, 0.08))
    return done((sound + breath) * swell(frames, 0.025, 0.035))


def brass(body: str, note: int, frames: int) -> np.ndarray:
    """A trumpet or trombone: the tone opens within the first moments of a note."""
    sound = _held(body, note, frames, vibrato=0.003)
    soft = tone(hertz(note), frames) * 0.7
    opening = np.minimum(1.0, (np.arange(frames) + 1) / (0.06 * RATE))
    mixed = sound * opening + soft * (1 - opening)
    return done(level(mixed * swell(frames, 0.022, 0.05) * (0.82 + 0.18 * decay(frames, 0.5))))


@lru_cache(maxsize=64)
def _bass_string(note: int) -> np.ndarray:
    frames = round(1.3 * RATE)
    sound = np.zeros(frames)
    # The second partial is often the strongest one of a bass string, and the upper ones die first.
    for number, weight in enumerate((0.62, 1.0, 0.62, 0.4, 0.26, 0.16, 0.1, 0.06), start=1):
        sound += weight * tone(number * hertz(note), frames, 0.11 * number) * decay(frames, 2.6 / number**0.7)
    return sound


def bass_line(note: int, frames: int) -> np.ndarray:
    """A plucked double bass at its pickup."""
    sound = _bass_string(note)[:frames].copy()
    return done(level(sound * swell(len(sound), 0.006, 0.05)))


def bass_amp(note: int, frames: int) -> np.ndarray:
    """The same note from the speaker of the amplifier, with the slap of the finger on the string."""
    sound = _bass_string(note)[:frames].copy()
    sound = through(sound, high(75, 1.1), low(1300), band(160, 0.4))
    slap = hiss(key("slap", note), 1400, band(900, 0.8)) * decay(1400, 0.03)
    sound[:1400] += 0.16 * np.abs(sound).max() * slap[: len(sound)]
    return done(level(sound * swell(len(sound), 0.002, 0.05)))


@lru_cache(maxsize=256)
def _string(note: int, soft: int) -> np.ndarray:
    return pluck(hertz(note), round(1.6 * RATE), 2.4 if note < 62 else 1.6, key("string", note, soft), soft)


def strum(notes: tuple[int, ...], frames: int, up: bool) -> np.ndarray:
    """An acoustic guitar's chord through its pickup: the plectrum takes 9 ms from string to string."""
    sound = np.zeros(frames)
    for number, note in enumerate(reversed(notes) if up else notes):
        start = number * round(0.009 * RATE)
        if start < frames:
            sound[start:] += _string(note, 14)[: frames - start]
    sound += 0.6 * through(sound, band(210, 1.2))
    return done(level(through(sound, low(2600, 0.5)) * swell(frames, 0.001, 0.05)))


def electric(notes: tuple[int, ...], frames: int) -> np.ndarray:
    """An electric guitar through a warm amplifier and its speaker."""
    sound = np.zeros(frames)
    for number, note in enumerate(notes):
        start = number * round(0.006 * RATE)
        sound[start:] += _string(note, 3)[: frames - start]
    sound = level(sound, 2.2)
    sound = sound / (1.0 + np.abs(sound))
    return done(level(through(sound, high(150), band(900, 0.35), low(4200)) * swell(frames, 0.001, 0.05)))


def mandolin(note: int, frames: int) -> np.ndarray:
    """A double course of strings, one a shade sharp."""
    size = min(frames, round(0.8 * RATE))
    sound = pluck(hertz(note), size, 0.8, key("course", note, 1), 3)
    sound += pluck(hertz(note + 0.05), size, 0.8, key("course", note, 2), 3)
    return done(level(sound))


def keys(notes: tuple[int, ...], frames: int, right: bool) -> np.ndarray:
    """A stage piano's chord, one side of it: the sides differ in phase and by a few cents."""
    sound = np.zeros(frames)
    for number, note in enumerate(notes):
        frequency = hertz(note + (0.04 if right else 0.0))
        for partial, weight in ((1, 1.0), (2, 0.42), (3, 0.2), (4, 0.12), (7, 0.05)):
            at = 0.13 * number + (0.21 * partial if right else 0.0)
            sound += weight * tone(partial * frequency, frames, at) * decay(frames, 3.2 / partial**0.8)
    return done(level(sound * swell(frames, 0.003, 0.08)))


def pad(notes: tuple[int, ...], frames: int, right: bool) -> np.ndarray:
    """The drone of the playback, one side of it."""
    sound = np.zeros(frames)
    for number, note in enumerate(notes):
        sound += _held("pad", note, frames, 5.0 if right else -5.0, 0.0, 0.29 * number + (0.37 if right else 0.0))
    return done(level(sound * swell(frames, 0.4, 0.4)))
