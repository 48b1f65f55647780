"""Reads a recorded-back ident take: which return's burst is on which track."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from replay.ident.signal import EVERY_S, LARGEST_NUMBER, LENGTH_S, numbers_in
from replay.meters.model import Measurement
from replay.take.model import Take, Track

LONGEST_S = LARGEST_NUMBER * EVERY_S + 120.0
"""No ident take is longer, the engineer's time to start and stop the recorder included."""
FEWEST = 3
"""This many tracks that name a return make an ident take; or half of all tracks, where there are fewer."""
_LOUD_DB = 18.0
_MOST_BURSTS = 8


def returns_heard(take: Take, measurements: Mapping[int, Measurement]) -> dict[int, tuple[int, ...]] | None:
    """By track number the returns whose bursts are on it (none: an empty tuple); None for any other take.

    Costs nothing on ordinary takes: their histories show that no track holds just a few short sounds.
    """
    if take.duration_s > LONGEST_S:
        return None
    likely = [track for track in take.tracks if _may_hold_bursts(measurements.get(track.number))]
    enough = min(FEWEST, max(1, (len(take.tracks) + 1) // 2))
    if len(likely) < enough:
        return None
    heard = {track.number: () for track in take.tracks} | {track.number: _numbers(track, take) for track in likely}
    return heard if sum(map(bool, heard.values())) >= enough else None


def _may_hold_bursts(measurement: Measurement | None) -> bool:
    if measurement is None or measurement.hops == 0:
        return False
    energy = measurement.column("energy")
    highest = float(energy.max())
    if highest <= 0:
        return False
    loud = int((energy > highest * 10 ** (-_LOUD_DB / 10)).sum())
    return int(LENGTH_S * 10) - 1 <= loud <= _MOST_BURSTS * (int(LENGTH_S * 10) + 3)


def _numbers(track: Track, take: Take) -> tuple[int, ...]:
    from replay.sound.reading import Reading

    blocks = [block[:, 0].copy() for block in Reading([track], take.rate).blocks(track.start, track.stop)]
    return numbers_in(np.concatenate(blocks), take.rate) if blocks else ()
