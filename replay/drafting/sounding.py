"""What tracks without names sound like, where that is sure; a track with nothing on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from replay.evidence import kept as kept_evidence
from replay.evidence.signs import known as known_signs
from replay.mapping.content import FAMILIES, fits
from replay.measuring import kept
from replay.measuring.store import Store, default_folder
from replay.take.model import Take


@dataclass(frozen=True, kw_only=True)
class Heard:
    """A track's sound: its `kind` where it can be told ("" where not), and whether it holds nothing."""

    kind: str = ""
    silent: bool = False


def listen(take: Take, progress: Callable[[float, str], None]) -> dict[int, Heard]:
    """What every track sounds like, by number. Measures the take; the measurements are kept for the check."""
    store = Store(default_folder())
    known = kept.known(take.tracks, take.rate, store, progress=lambda share: progress(share, "listening to the tracks"))
    signs = known_signs(take.tracks, known.measurements, take.rate, store, known.keys)
    evidence = kept_evidence.known(take.tracks, known.measurements, take.rate, store, known.keys)
    out = {}
    for track in take.tracks:
        number = track.number
        if number in signs.timecode:
            out[number] = Heard(kind="timecode")
        elif number in evidence.silent:
            out[number] = Heard(silent=True)
        elif number in evidence.sounds:
            out[number] = Heard(kind=sure_kind(fits(evidence.sounds[number])))
    return out


SURE: Mapping[str, float] = {"kick": 6.0, "snare": 4.2, "click": 4.0}
"""Kinds that are told by sound alone, and by how much (log likelihood) the next family must fit worse. Of 3,500 sounds
of rendered bands whose players the table of sounds had not been measured on, nothing else came near (a cajon to 5.5 as
a kick, a floor tom to 2.6 as a snare, nothing as a click); strings, winds, keys and guitars are too like each other for
a name. Timecode is told by its sync words."""


def sure_kind(how_well: Mapping[str, float]) -> str:
    """The kind that a sound is like, where no other family is nearly as like; "" else."""
    order = sorted(how_well, key=lambda kind: how_well[kind], reverse=True)
    best = order[0]
    rival = next((kind for kind in order if FAMILIES[kind] != FAMILIES[best]), best)
    return best if how_well[best] - how_well[rival] >= SURE.get(best, float("inf")) else ""
