"""What a channel's kind should sound like, against what a track sounds like. Pure, but for a table that is read once.

A kind is a middle and a spread of each figure (`mapping.figures`) and how the figures go together (bright sounds have
little below 120 Hz). A track's sound is held against that by a heavy-tailed likelihood (Student's t with four degrees
of freedom, in as many dimensions as there are figures), so that what is like nothing known speaks for no kind much. The
table (`mapping.sounds`) is measured by `python -m tests.mapping_rates.sounds` on bands of sampled instruments and
synthetic voices that are not those of the rates in docs/mapping.md. It agrees with handbooks' rules of thumb: kick
strongest at 40 to 70 Hz, snare at 200, hat at 10 k.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from replay.evidence.sound import Sound
from replay.mapping.figures import PITCH, figures
from replay.mapping.sounds import known_sounds

_ALIKE = {"backing": "vocal"}

NEUTRAL = -2.0
"""Kinds that may hold anything (playback, timecode, other) fit everything so well."""

WORST = -10.0
FREEDOM = 4.0
TEMPER = 0.6
"""Moments of one track are no independent witnesses, and the table is no law: its odds count for 0.6."""

FAMILIAR = 14.0
"""A sound that lies further (squared, in a kind's own spreads) from what it is most like is one of something that the
table does not know, and its odds count for less in proportion. Of rendered players that the table had not been measured
on, 95 in 100 lay nearer; a xylophone lay at 26, a tuba at 19."""

FAMILIES: Mapping[str, str] = {
    "kick": "kick", "snare": "snare", "tom": "tom", "hi-hat": "cymbals", "overhead": "drums from afar",
    "percussion": "percussion", "bass": "bass", "guitar": "guitar", "acoustic": "plucked strings", "keys": "keys",
    "strings": "bowed strings", "brass": "brass or woodwind", "woodwind": "brass or woodwind", "vocal": "a voice",
    "speech": "speech", "choir": "a choir", "click": "a click", "ambience": "the whole stage from afar",
    "timecode": "timecode", "mandolin": "plucked strings",
}  # fmt: skip
"""What a sound is called in sentences, coarser than kinds where kinds cannot be told apart."""


def fits(sound: Sound) -> dict[str, float]:
    """How well a sound fits each kind, as log likelihood against the kind that fits best (0), not below WORST."""
    sounds = known_sounds()
    machine = "timecode" if sound.timecode else "click" if sound.click else ""
    if machine:
        # Recognised as such: nothing else sounds like that.
        return dict.fromkeys(sounds.kinds, WORST) | {machine: 0.0}
    here = figures(sound)
    unpitched = bool(np.isnan(here[PITCH]))
    model, here = (sounds.unpitched, here[:PITCH]) if unpitched else (sounds.pitched, here)
    tail = (FREEDOM + len(here)) / 2
    squares = model.squares(here)
    found = -tail * np.log1p(squares / FREEDOM) - model.extents / 2
    known = TEMPER * min(FAMILIAR / max(float(squares.min()), FAMILIAR), 1.0)
    nearness = np.maximum(known * (found - found.max()), WORST)
    return {kind: float(value) for kind, value in zip(sounds.kinds, nearness, strict=True)}


def fit(all_fits: Mapping[str, float], kind: str) -> float:
    """How well a sound with these `fits` fits a kind of the input list; NEUTRAL for kinds that may hold anything."""
    own = all_fits.get(_ALIKE.get(kind, kind), NEUTRAL)
    if kind == "percussion":
        # A cajon is a kick and a snare, congas are toms, shakers are hats, vibes and marimbas are keys.
        return max(own, *(all_fits[like] - 1.0 for like in ("kick", "snare", "tom", "hi-hat", "keys", "acoustic")))
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
