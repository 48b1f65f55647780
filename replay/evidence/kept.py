"""Evidence kept between runs, like measurements and beside them.

Its name covers the tracks' keys and the sources of all that gathers it: nothing is counted up by hand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields

import numpy as np

from replay.evidence.bleed import Bleed
from replay.evidence.click_track import ClickTrack
from replay.evidence.gather import gather
from replay.evidence.model import Evidence, Likeness
from replay.evidence.naming import name_of
from replay.evidence.others import Mix
from replay.evidence.sound import Sound
from replay.evidence.speaking import LineCheck, Turn
from replay.measuring.store import Store
from replay.meters.model import Measurement
from replay.take.model import Track


def known(
    tracks: Sequence[Track],
    measurements: Mapping[int, Measurement],
    rate: int,
    store: Store | None,
    keys: Mapping[int, str],
    *,
    within_s: tuple[float, float] | None = None,
    fresh: bool = False,
) -> Evidence:
    """The evidence of these tracks: kept, or gathered now and kept."""
    name = name_of("evidence", tracks, keys, within_s) if store is not None else None
    if store is not None and name is not None and not fresh:
        found = _read(store.extra(name))
        if found is not None:
            return found
    evidence = gather(tracks, measurements, rate, within_s)
    if store is not None and name is not None:
        store.keep_extra(name, _written(evidence))
    return evidence


def kept(tracks: Sequence[Track], rate: int, store: Store, within_s: tuple[float, float] | None) -> Evidence | None:
    """The evidence that is kept of these tracks; None where there is none. Reads no audio but the files' edges."""
    try:
        keys = {track.number: store.key(track, rate) for track in tracks}
    except OSError:
        return None
    name = name_of("evidence", tracks, keys, within_s)
    return None if name is None else _read(store.extra(name))


def _written(evidence: Evidence) -> np.ndarray:
    """The evidence as JSON in an array of doubles, which is what the store keeps."""
    check = evidence.line_check
    text = json.dumps(
        {
            "tracks": evidence.tracks,
            "turns": None if check is None else [_values(turn) for turn in check.turns],
            "sounds": {number: _values(sound) for number, sound in evidence.sounds.items()},
            "together": [[a, b, value] for (a, b), value in evidence.together.items()],
            "likeness": [_values(one) for one in evidence.likeness.values()],
            "silent": sorted(evidence.silent),
            "bleed": {number: _values(one) for number, one in evidence.bleed.items()},
            "mixes": {number: _values(one) for number, one in evidence.mixes.items()},
            "clicks": {number: _values(one) for number, one in evidence.clicks.items()},
        }
    ).encode()
    return np.frombuffer(text + b" " * (-len(text) % 8), np.float64)


def _values(record: Turn | Sound | Likeness | Bleed | Mix | ClickTrack) -> list:
    return list(asdict(record).values())


def _read(kept: np.ndarray | None) -> Evidence | None:
    """None for what is not there, or cannot be what was written."""
    if kept is None:
        return None
    try:
        raw = json.loads(kept.tobytes())
        turns = raw["turns"]
        likeness = [Likeness(*one) for one in raw["likeness"]]
        return Evidence(
            tracks=tuple(raw["tracks"]),
            line_check=None if turns is None else LineCheck(tuple(Turn(a, b, tuple(t), m) for a, b, t, m in turns)),
            sounds={int(number): _sound(values) for number, values in raw["sounds"].items()},
            together={(a, b): value for a, b, value in raw["together"]},
            likeness={(one.a, one.b): one for one in likeness},
            silent=frozenset(raw["silent"]),
            bleed={int(number): Bleed(*values) for number, values in raw["bleed"].items()},
            mixes={
                int(number): Mix(spread, upper, tuple((int(track), share) for track, share in of))
                for number, (spread, upper, of) in raw["mixes"].items()
            },
            clicks={
                int(number): ClickTrack(tuple(pitches), per_minute)
                for number, (pitches, per_minute) in raw["clicks"].items()
            },
        )
    except (ValueError, TypeError, KeyError):
        return None


def _sound(values: list) -> Sound:
    named = dict(zip((one.name for one in fields(Sound)), values, strict=True))
    return Sound(**{**named, "bands": tuple(named["bands"])})
