"""Drums, cymbals, and the feet and hands of the dancers: short sounds with a peak of 1.

Every function returns float32 frames and depends on nothing but its arguments. `variant` makes another stroke of the
same instrument. Where the sounds lie was set against measured drum hits: kick strongest at 40-88 Hz with most of its
energy under 120, snare at 176-280, toms at about 110 and 80, more than a quarter of a hi-hat's energy above 5 kHz.
"""

from __future__ import annotations

import numpy as np

from replay.demo.sound import RATE, band, decay, done, high, hiss, key, level, low, swell, tone


def kick(variant: int) -> np.ndarray:
    """A bass drum with felt beater and a little of its click."""
    frames = round(0.5 * RATE)
    pitch = 51.0 + variant + 75.0 * decay(frames, 0.09)
    body = tone(pitch, frames) * decay(frames, 0.42)
    click = hiss(key("kick", variant), 1200, low(2800)) * decay(1200, 0.03) * 0.4
    body[:1200] += click
    return done(level(body * swell(frames, 0.0005, 0.02)))


def snare(variant: int) -> np.ndarray:
    """The batter head: two modes and the stick."""
    frames = round(0.4 * RATE)
    first = 186.0 + 2 * variant
    body = tone(first * (1 + 0.12 * decay(frames, 0.03)), frames) * decay(frames, 0.26)
    body += 0.4 * tone(first * 1.78, frames, 0.2) * decay(frames, 0.16)
    body += 0.22 * hiss(key("snare", variant), frames, high(700), low(6500)) * decay(frames, 0.05)
    return done(level(body * swell(frames, 0.0004, 0.02)))


def wires(variant: int) -> np.ndarray:
    """The snare wires under the drum."""
    frames = round(0.4 * RATE)
    rattle = hiss(key("wires", variant), frames, high(900), low(7500)) * decay(frames, 0.3)
    return done(level(rattle * swell(frames, 0.0015, 0.02)))


def hat(variant: int, opened: bool) -> np.ndarray:
    """A hi-hat, closed or half open."""
    t60 = 0.5 if opened else 0.13
    frames = round((0.7 if opened else 0.25) * RATE)
    sound = hiss(key("hat", variant, opened), frames, high(5200), high(3500)) * decay(frames, t60)
    for number, partial in enumerate((3170.0, 4620.0, 6010.0, 8270.0)):
        sound += 0.07 * tone(partial, frames, 0.1 * number) * decay(frames, t60 * 0.7)
    return done(level(sound * swell(frames, 0.0004, 0.02)))


def tom(frequency: float, variant: int) -> np.ndarray:
    """A tom tuned to `frequency`."""
    frames = round(0.8 * RATE)
    body = tone(frequency * (1 + 0.25 * decay(frames, 0.09)), frames) * decay(frames, 0.7)
    body += 0.38 * tone(frequency * 1.59, frames, 0.3) * decay(frames, 0.3)
    body += 0.3 * hiss(key("tom", frequency, variant), frames, high(250), low(3500)) * decay(frames, 0.05)
    return done(level(body * swell(frames, 0.0008, 0.05)))


def cymbal(variant: int, crash: bool) -> np.ndarray:
    """A crash, or the ping of a ride."""
    t60 = 2.6 if crash else 1.5
    frames = round((2.2 if crash else 1.2) * RATE)
    wash = hiss(key("cymbal", variant, crash), frames, high(1400), low(11000)) * decay(frames, t60)
    wash *= 1.0 if crash else 0.3
    for number, partial in enumerate((412.0, 987.0, 1520.0, 2290.0, 3340.0, 4710.0)):
        wash += (0.10 if crash else 0.2) * tone(partial, frames, 0.13 * number) * decay(frames, t60 * 0.8)
    return done(level(wash * swell(frames, 0.004 if crash else 0.0006, 0.2)))


def stomp(variant: int) -> np.ndarray:
    """Boots on a wooden floor, or on a stomp board."""
    frames = round(0.35 * RATE)
    body = tone(74.0 + 5 * (variant % 4), frames) * decay(frames, 0.2)
    body += 0.35 * tone(143.0 + 3 * (variant % 5), frames, 0.4) * decay(frames, 0.12)
    body += 0.3 * hiss(key("stomp", variant), frames, low(1300)) * decay(frames, 0.06)
    return done(level(body * swell(frames, 0.001, 0.02)))


def clap(variant: int) -> np.ndarray:
    """Many hands, not quite together."""
    frames = round(0.3 * RATE)
    sound = np.zeros(frames)
    for hand in range(7):
        start = key("clap", variant, hand) % round(0.03 * RATE)
        rest = frames - start
        sound[start:] += hiss(key("hand", variant, hand), rest, band(1500 + 150 * hand, 1.2)) * decay(rest, 0.05)
    return done(level(sound * swell(frames, 0.0005, 0.02)))


def applause(variant: int, seconds: float) -> np.ndarray:
    """A barn full of people who liked that."""
    frames = round(seconds * RATE)
    sound = hiss(key("applause", variant), frames, high(500), low(5000))
    for hand in range(round(40 * seconds)):
        start = key("applause", variant, hand) % max(1, frames - 2400)
        sound[start : start + 2400] += 0.5 * hiss(key("hands", hand % 16), 2400, band(1700, 1.0)) * decay(2400, 0.04)
    return done(level(sound * swell(frames, 0.4, seconds * 0.6)))


def shaker(variant: int) -> np.ndarray:
    """A shaker of the playback; give every stroke its own variant, so that no stretch of it repeats."""
    frames = round(0.12 * RATE)
    return done(hiss(key("shaker", variant), frames, high(5000)) * swell(frames, 0.02, 0.08))


def beep(frequency: float) -> np.ndarray:
    """A click track's beep: 10 ms of a sine, with edges that do not crack."""
    frames = round(0.01 * RATE)
    return done(tone(frequency, frames) * swell(frames, 0.0005, 0.0005))
