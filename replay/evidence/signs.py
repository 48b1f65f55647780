"""Signs of the machine room: which tracks carry timecode, and where a gain was moved. Kept like measurements."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from replay.evidence.gain_moves import GainMove, gain_moves
from replay.evidence.timecode import Timecode, find_timecode
from replay.meters.model import Measurement
from replay.meters.store import Store
from replay.take.model import Track

VERSION = 2
"""Counted up when anything here or in the two modules changes what is found."""

_TIMECODE, _MOVE = 1.0, 2.0
COLUMNS = 6


@dataclass(frozen=True)
class Signs:
    """By track number: timecode where there is some; all steps of gain in order of time."""

    timecode: Mapping[int, Timecode] = field(default_factory=dict)
    gain_moves: Mapping[int, tuple[GainMove, ...]] = field(default_factory=dict)


def known(
    tracks: Sequence[Track],
    measurements: Mapping[int, Measurement],
    rate: int,
    store: Store | None,
    keys: Mapping[int, str],
    *,
    fresh: bool = False,
) -> Signs:
    """The signs of these tracks: kept, or looked for now and kept."""
    name = None
    if store is not None and all(track.number in keys for track in tracks):
        facts = ["signs", VERSION, [[track.number, keys[track.number]] for track in tracks]]
        name = hashlib.sha256(json.dumps(facts).encode()).hexdigest()[:40]
        if not fresh and (values := store.extra(name)) is not None and values.size % COLUMNS == 0:
            return _read(values.reshape(-1, COLUMNS))
    timecode = find_timecode(tracks, measurements, rate)
    moves = {
        track.number: found
        for track in tracks
        if track.number not in timecode and (found := gain_moves(measurements[track.number]))
    }
    if store is not None and name is not None:
        rows = [[_TIMECODE, one.track, one.frames_per_second, 0.0, 0.0, 0.0] for one in timecode.values()]
        rows += [
            [_MOVE, one.track, one.at_s, one.db, one.first_s, one.last_s] for found in moves.values() for one in found
        ]
        store.keep_extra(name, np.array(rows, np.float64).reshape(-1))
    return Signs(timecode, moves)


def _read(rows: np.ndarray) -> Signs:
    timecode: dict[int, Timecode] = {}
    moves: dict[int, tuple[GainMove, ...]] = {}
    for kind, track, *values in rows.tolist():
        number = int(track)
        if kind == _TIMECODE:
            timecode[number] = Timecode(number, values[0])
        else:
            moves[number] = (*moves.get(number, ()), GainMove(number, *values))
    return Signs(timecode, moves)
