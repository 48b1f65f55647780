"""Histories of a band on a stage as plain arrays of levels: sources, bleed, room, preamp noise. No audio.

Levels are in dB re full scale squared, one for 100 ms. Written from what stages are like, not from the checks.
"""

from __future__ import annotations

import numpy as np

SOURCES = ("kick", "snare", "left", "right", "bass", "keys", "vocal", "horn")
MICS = ("kick", "snare", "left", "right", "vocal", "horn")

LOUD = {"kick": -22, "snare": -24, "left": -26, "right": -26, "bass": -24, "keys": -25, "vocal": -22, "horn": -24}

BLEED = {"kick": -24, "snare": -18, "left": -14, "right": -14, "bass": -30, "keys": -34, "vocal": -24, "horn": -22}
"""How far below its own loud level a source arrives at the other microphones, on average."""

ROOM = -72.0
PREAMP = -92.0


def power(levels: np.ndarray | float) -> np.ndarray:
    return 10.0 ** (np.asarray(levels, float) / 10)


def db(powers: np.ndarray) -> np.ndarray:
    return 10 * np.log10(np.maximum(powers, 1e-20))


def songs(seconds: int, rng: np.random.Generator, pause: tuple[float, float] = (6, 15)) -> np.ndarray:
    """bool: where the band plays; songs of 60 to 120 s with pauses between them."""
    playing = np.ones(seconds * 10, bool)
    at = int(rng.uniform(60, 120) * 10)
    while at < playing.size:
        length = int(rng.uniform(*pause) * 10)
        playing[at : at + length] = False
        at += length + int(rng.uniform(60, 120) * 10)
    return playing


def own(source: str, playing: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The source alone, in dB, -200 where it does not sound."""
    hops = playing.size
    loud = LOUD[source]
    if source in ("kick", "snare"):
        hit = rng.random(hops) < (0.45 if source == "kick" else 0.3)
        level = np.where(hit, loud + rng.normal(0, 2, hops), loud - 22 + rng.normal(0, 4, hops))
    elif source in ("left", "right"):
        level = loud - 8 + rng.normal(0, 4, hops)
    elif source == "bass":
        level = loud - 3 + rng.normal(0, 2.5, hops)
    else:
        # Phrases of 2 to 8 s, rests of 1 to 15 s.
        level = np.full(hops, -200.0)
        at = int(rng.uniform(0, 60))
        while at < hops:
            length = int(rng.uniform(20, 80))
            level[at : at + length] = loud - 5 + rng.normal(0, 4, level[at : at + length].size)
            at += length + int(rng.uniform(10, 150))
    return np.where(playing, level, -200.0)


def band(seconds: int, seed: int, *, bleed: bool = True, pause: tuple[float, float] = (6, 15)) -> dict[str, np.ndarray]:
    """The level of every input over time. Without `bleed`, microphones hear their own source and the floor only."""
    rng = np.random.default_rng(seed)
    playing = songs(seconds, rng, pause)
    sounds = {source: own(source, playing, rng) for source in SOURCES}
    inputs = {}
    for name in SOURCES:
        total = power(sounds[name])
        if name in MICS:
            if bleed:
                for other in SOURCES:
                    if other != name:
                        total = total + power(sounds[other] + BLEED[other] + rng.normal(0, 2))
            total = total + power(ROOM + rng.normal(0, 0.8, playing.size)) * (1.0 if bleed else 0.0)
        total = total + power(PREAMP + rng.normal(0, 0.1, playing.size))
        inputs[name] = db(total)
    return inputs


def cut(levels: np.ndarray, start_s: float, length_s: float, seed: int = 0, floor: float = PREAMP) -> np.ndarray:
    """The same with a dead stretch: only the preamp's noise is left (`floor` -200: digital silence)."""
    out = levels.copy()
    a, b = int(start_s * 10), int((start_s + length_s) * 10)
    noise = np.random.default_rng(seed).normal(0, 0.1, max(b - a, 0))
    out[a:b] = floor + (noise[: out[a:b].size] if floor > -200 else 0)
    return out
