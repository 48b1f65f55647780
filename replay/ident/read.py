"""Reads a recorded-back ident take: which return's burst is on which track."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from replay.ident.signal import EVERY_S, LARGEST_NUMBER, LENGTH_S, numbers_in
from replay.meters.model import Measurement
from replay.take.model import Take, Track

LONGEST_S = LARGEST_NUMBER * EVERY_S + 120.0
"""No ident take is longer, the engineer's time to start and stop the recorder included."""
FEWEST = 3
"""This many tracks that name a return make an ident take; or half of all tracks, where there are fewer."""
_MOST_SAMPLES = 1 << 24
_LEAST = 8
"""Of so many samples at once (128 MB), but of as many tracks as are decoded in one go."""
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
    heard: dict[int, tuple[int, ...]] = {track.number: () for track in take.tracks}
    # Tracks of one file are read together: one by one, a file of a thousand would be read a thousand times.
    longest = max(track.stop - track.start for track in likely)
    together = max(_LEAST, _MOST_SAMPLES // max(longest, 1))
    for at in range(0, len(likely), together):
        heard |= _numbers(likely[at : at + together], take)
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


def _numbers(tracks: Sequence[Track], take: Take) -> dict[int, tuple[int, ...]]:
    """The returns on each of some tracks, by number."""
    from replay.sound.reading import Reading

    first, stop = min(track.start for track in tracks), max(track.stop for track in tracks)
    samples = np.zeros((len(tracks), max(stop - first, 0)))
    at = 0
    for block in Reading(tracks, take.rate).blocks(first, stop):
        samples[:, at : at + len(block)] = block.T
        at += len(block)
    own = (row[track.start - first : track.stop - first] for row, track in zip(samples, tracks, strict=True))
    return {
        track.number: numbers_in(row, take.rate) if len(row) else () for track, row in zip(tracks, own, strict=True)
    }
