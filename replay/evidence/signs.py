"""Signs of the machine room: which tracks carry timecode, where a gain was moved, mains at a wrong speed. Kept like
measurements."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from replay.evidence.gain_moves import GainMove, gain_moves
from replay.evidence.naming import name_of
from replay.evidence.off_mains import OffMains, find_off_mains
from replay.evidence.timecode import Timecode, find_timecode
from replay.measuring.store import Store
from replay.meters.model import Measurement
from replay.take.model import Track

_TIMECODE, _MOVE, _MAINS = 1.0, 2.0, 3.0
COLUMNS = 7


@dataclass(frozen=True)
class Signs:
    """By track number: timecode where there is some; all steps of gain in order of time; mains at a wrong speed."""

    timecode: Mapping[int, Timecode] = field(default_factory=dict)
    gain_moves: Mapping[int, tuple[GainMove, ...]] = field(default_factory=dict)
    off_mains: Mapping[int, OffMains] = field(default_factory=dict)


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
    name = None if store is None else name_of("signs", tracks, keys)
    if store is not None and name is not None and not fresh:
        values = store.extra(name)
        if values is not None and values.size % COLUMNS == 0:
            return _read(values.reshape(-1, COLUMNS))
    timecode = find_timecode(tracks, measurements, rate)
    others = [track for track in tracks if track.number not in timecode]
    moves = {track.number: found for track in others if (found := gain_moves(measurements[track.number]))}
    off = find_off_mains(others, measurements, rate)
    if store is not None and name is not None:
        rows = [[_TIMECODE, one.track, one.frames_per_second, *[0.0] * 4] for one in timecode.values()]
        rows += [
            [_MOVE, one.track, one.at_s, one.db, one.first_s, one.last_s, _or_nan(one.loud_db)]
            for found in moves.values()
            for one in found
        ]
        rows += [[_MAINS, one.track, one.hz, one.nominal, one.ratio, *[0.0] * 2] for one in off.values()]
        store.keep_extra(name, np.array(rows, np.float64).reshape(-1))
    return Signs(timecode, moves, off)


def _read(rows: np.ndarray) -> Signs:
    timecode: dict[int, Timecode] = {}
    moves: dict[int, tuple[GainMove, ...]] = {}
    off: dict[int, OffMains] = {}
    for kind, track, *values in rows.tolist():
        number = int(track)
        if kind == _TIMECODE:
            timecode[number] = Timecode(number, values[0])
        elif kind == _MAINS:
            off[number] = OffMains(number, *values[:3])
        else:
            at, db, first, last, loud = values
            move = GainMove(number, at, db, first, last, None if np.isnan(loud) else loud)
            moves[number] = (*moves.get(number, ()), move)
    return Signs(timecode, moves, off)


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value
