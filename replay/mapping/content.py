"""What a channel's kind should sound like, against what a track sounds like. Pure.

A kind is nine figures, each with a middle and a spread; a track's sound (`evidence.sound`) is held against them by a
heavy-tailed likelihood (Student's t with four degrees of freedom), so that one odd figure never decides. Middles and
spreads: strongest band, half of the energy, shares under 120 Hz and over 4 kHz, and crest of kicks, snares, toms,
hats, cymbals, bass, guitars, piano, brass, saxophones and speech were measured on open sampled instruments (single
hits and rendered notes) and agree with handbooks' rules of thumb (kick strongest at 40 to 70 Hz, snare at 200, hat
at 10 k); lowest notes are those of the instruments (bass 41.2 Hz, guitar 82.4, violin 196, trumpet 165, flute 262).
They were widened for bleed; spreads of the figures in time (strike, steady, voicing) are chosen on bands that are not
those of the table in docs/mapping.md.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from replay.evidence.sound import Sound

FIGURES = ("half", "low", "lower middle", "upper middle", "high", "crest", "strike", "steady", "voicing")

_TABLE = """
kind        half      low        120-500    500-2k     high       crest     strike    steady     voicing
kick        6.5 0.5    0.8 0.15   0.5 0.15   0.1 0.12   0.05 0.12  17 2.5     4.6 0.8    0.08 0.12  0.3 0.2
snare       8.1 0.6    0.15 0.2   0.85 0.2   0.35 0.2   0.2 0.2    20 2.5     4.8 0.7    0.08 0.12  0.45 0.2
tom         6.9 0.6    0.55 0.4   0.75 0.35  0.12 0.15  0.08 0.12  12.5 3     3.2 1      0.45 0.25  0.75 0.25
hi-hat      10.5 2     0.2 0.25   0.4 0.3    0.5 0.25   0.6 0.3    18 3       4 1        0.2 0.2    0.35 0.25
overhead    8 1.6      0.45 0.35  0.6 0.3    0.35 0.25  0.3 0.3    14 4       3.2 1.2    0.5 0.25   0.5 0.3
percussion  9 2.2      0.4 0.45   0.5 0.45   0.35 0.3   0.4 0.5    17 3       4.2 1.1    0.15 0.2   0.5 0.3
bass        6.7 0.6    0.77 0.25  0.6 0.3    0.15 0.15  0.05 0.1   10.5 2.5   2.5 0.7    0.5 0.25   0.4 0.3
guitar      9.7 0.9    0.15 0.18  0.55 0.25  0.7 0.2    0.45 0.3   12.5 2.5   1.7 0.7    0.9 0.15   0.5 0.25
acoustic    9 0.8      0.1 0.2    0.7 0.2    0.6 0.2    0.3 0.2    13 2.5     2.6 0.8    0.65 0.25  0.65 0.25
keys        8.6 0.7    0.15 0.2   0.8 0.15   0.5 0.25   0.25 0.25  10.7 2.5   1.4 0.8    0.9 0.15   0.75 0.2
strings     8.6 0.9    0.2 0.3    0.75 0.25  0.5 0.25   0.3 0.25   10.5 2     1.6 0.7    0.85 0.15  0.75 0.25
brass       9.8 1      0.05 0.1   0.4 0.35   0.75 0.2   0.5 0.3    11 3       1.2 0.7    0.88 0.15  0.9 0.12
woodwind    9.7 0.9    0.05 0.1   0.35 0.3   0.8 0.2    0.4 0.3    9.5 2.5    1.2 0.7    0.75 0.2   0.92 0.12
vocal       9.4 0.6    0.08 0.12  0.5 0.2    0.8 0.12   0.35 0.2   12.5 2.5   2.8 0.7    0.4 0.2    0.8 0.2
speech      9.3 0.7    0.15 0.15  0.55 0.2   0.75 0.15  0.35 0.2   18 3       4 1        0.2 0.15   0.5 0.2
choir       9 0.7      0.05 0.1   0.6 0.25   0.7 0.25   0.3 0.2    10.5 2.5   1.5 0.7    0.85 0.15  0.8 0.2
mandolin    10 0.6     0.05 0.08  0.45 0.15  0.85 0.12  0.3 0.2    13 2.5     2.8 0.8    0.45 0.25  0.85 0.15
hum         8.3 0.5    0.12 0.2   0.95 0.08  0.3 0.15   0.1 0.12   10.5 2.5   2.5 0.8    0.45 0.25  0.93 0.1
click       10.2 1.2   0 0.15     0.1 0.3    0.8 0.3    0.6 0.4    20 4       6 1.5      0.05 0.1   0.8 0.3
ambience    9.1 1      0.2 0.15   0.6 0.2    0.65 0.2   0.45 0.2   12.5 2.5   1.8 0.8    0.88 0.15  0.55 0.2
"""
"""Middle and spread of each figure by kind, and of two ways of sounding that kinds below include: half in log2 Hz;
shares as square roots, low under 120 Hz and high over 2 kHz; crest in dB; strike in log2 dB; steady and voicing as they
are."""


def _read(table: str) -> dict[str, np.ndarray]:
    """float64 (9, 2) by kind."""
    rows = (line.split() for line in table.strip().splitlines()[1:])
    return {row[0]: np.array(row[1:], np.float64).reshape(9, 2) for row in rows}


_SOUNDS = _read(_TABLE)
_ALIKE = {"backing": "vocal"}

NEUTRAL = -2.0
"""Kinds that may hold anything (playback, timecode, other) fit everything so well."""

WORST = -10.0
FREEDOM = 4.0
TEMPER = 0.6
"""The figures are not independent of each other: together they count for 0.6 of their sum."""

FAMILIES: Mapping[str, str] = {
    "kick": "kick", "snare": "snare", "tom": "tom", "hi-hat": "cymbals", "overhead": "drums from afar",
    "percussion": "percussion", "bass": "bass", "guitar": "guitar", "acoustic": "plucked strings", "keys": "keys",
    "strings": "bowed strings", "brass": "brass or woodwind", "woodwind": "brass or woodwind", "vocal": "a voice",
    "speech": "speech", "choir": "a choir", "click": "a click", "ambience": "the whole stage from afar",
    "timecode": "timecode", "mandolin": "plucked strings", "hum": "a voice",
}  # fmt: skip
"""What a sound is called in sentences, coarser than kinds where kinds cannot be told apart."""


def figures(sound: Sound) -> np.ndarray:
    """The nine figures of a sound, in the order of FIGURES; shares as square roots, so that small ones count."""
    b = sound.bands
    shares = (b[0] + b[1], b[2] + b[3], b[4] + b[5], b[6] + b[7] + b[8])
    return np.array(
        [
            np.log2(max(sound.half_hz, 20.0)),
            *(max(share, 0.0) ** 0.5 for share in shares),
            sound.crest_db,
            np.log2(min(max(sound.strike_db, 1.0), 60.0)),
            sound.steady,
            sound.voicing,
        ]
    )


def fits(sound: Sound) -> dict[str, float]:
    """How well a sound fits each kind, as log likelihood against the kind that fits best (0), not below WORST."""
    machine = "timecode" if sound.timecode else "click" if sound.click else ""
    if machine:
        # Recognised as such: nothing else sounds like that.
        return dict.fromkeys(_SOUNDS, WORST) | {machine: 0.0}
    here = figures(sound)
    found = {}
    for kind, pairs in _SOUNDS.items():
        middle, spread = pairs.T
        z = (here - middle) / spread
        found[kind] = TEMPER * float((-(FREEDOM + 1) / 2 * np.log1p(z * z / FREEDOM) - np.log(spread)).sum())
    best = max(found.values())
    return {kind: max(value - best, WORST) for kind, value in found.items()}


def fit(all_fits: Mapping[str, float], kind: str) -> float:
    """How well a sound with these `fits` fits a kind of the input list; NEUTRAL for kinds that may hold anything."""
    own = all_fits.get(_ALIKE.get(kind, kind), NEUTRAL)
    if kind == "percussion":
        # A cajon is a kick and a snare, congas are toms, shakers are hats, vibes and marimbas are keys.
        return max(own, *(all_fits[like] - 1.0 for like in ("kick", "snare", "tom", "hi-hat", "keys", "acoustic")))
    if kind in ("vocal", "backing"):
        # Who hums, or sings on a dark vowel: hardly anything lies above the first formant.
        return max(own, all_fits["hum"] - 1.0)
    if kind == "choir":
        # Its microphone may hear one singer above all the others.
        return max(own, all_fits["vocal"] - 0.9)
    if kind == "keys":
        # Harpsichords and clavinets are plucked and struck strings.
        return max(own, all_fits["acoustic"] - 1.5)
    if kind == "acoustic":
        # Mandolins, banjos and ukuleles lie an octave above a guitar, and are often played in tremolo.
        return max(own, all_fits["mandolin"])
    if kind == "guitar":
        # Short and muted strokes are struck and decay as those of an acoustic guitar.
        return max(own, all_fits["acoustic"] - 2.5)
    if kind in ("brass", "woodwind"):
        # Tubas, bass clarinets and bassoons play where a bass does.
        return max(own, all_fits["bass"] - 4.0)
    if kind == "talkback":
        return max(NEUTRAL, all_fits["speech"], all_fits["vocal"])
    # Overheads hear the whole kit: what stands out in them may be any piece of it.
    return max(own, NEUTRAL) if kind == "overhead" else own


def best_family(all_fits: Mapping[str, float]) -> str:
    """What the sound is like, in words."""
    return FAMILIES[max(all_fits, key=lambda kind: all_fits[kind])]
