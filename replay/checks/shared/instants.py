"""The same instant on many tracks: what the clock, the link or the recorder did, and no single source.

Sound takes time from one microphone to the next, so that one hit shows at different samples; what shows at the same one
on tracks that have nothing to do with each other happened behind the microphones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from replay.checks.shared.place import views_of
from replay.desk.model import Show

LEAST_SOURCES = 3

PLAYER = frozenset({"playback", "click", "timecode"})
"""Kinds that come from one machine: whatever they share may be in the programme."""

BY_CHANCE = 0.01
"""Coincidences are believed where fewer than this many are expected by chance in the whole take."""


@dataclass(frozen=True)
class Instant:
    """A moment (frame on the take's clock) and the tracks on which it shows."""

    frame: int
    tracks: tuple[int, ...]


def sources(show: Show) -> dict[int, object]:
    """What each track's sound comes from, as far as the patch says: both sides of a pair are one source, and so are all
    tracks of the player."""
    found: dict[int, object] = {}
    for track in show.tracks:
        found[track.track.number] = ("track", track.track.number)
        for view in views_of(show, track):
            channel = view.channel
            if channel.kind in PLAYER:
                found[track.track.number] = "player"
            elif channel.pair is not None:
                found[track.track.number] = ("pair", min(channel.number, channel.pair))
    return found


def together(frames: Mapping[int, np.ndarray], source: Mapping[int, object], within: int, length: int) -> list[Instant]:
    """Instants at which tracks of at least LEAST_SOURCES sources have an event, `within` frames of the first one.

    Where there are so many events that chance alone would make such instants, more sources are asked for.

    Parameters
    ----------
    frames : events by track, in order of time
    length : frames of the take
    """
    tracks = np.concatenate([np.full(len(events), number) for number, events in frames.items()] or [np.zeros(0, int)])
    times = np.concatenate([np.asarray(events, np.int64) for events in frames.values()] or [np.zeros(0, np.int64)])
    order = np.argsort(times, kind="stable")
    times, tracks = times[order], tracks[order]
    least = _least_sources(len(times), within, length)
    found = []
    first = 0
    while first < len(times):
        stop = int(np.searchsorted(times, times[first] + within, "right"))
        here = sorted({int(track) for track in tracks[first:stop]})
        if len({source[track] for track in here}) >= least:
            found.append(Instant(int(times[first]), tuple(here)))
            first = stop
        else:
            first += 1
    return found


def _least_sources(events: int, within: int, length: int) -> int:
    """How many sources an instant must show on, so that BY_CHANCE instants are expected among scattered events."""
    density = events * (within + 1) / max(length, 1)
    least = LEAST_SOURCES
    while events * density ** (least - 1) / math.factorial(least - 1) > BY_CHANCE and least < 64:
        least += 1
    return least


def apart(events: np.ndarray, moments: Sequence[int] | np.ndarray, within: int) -> np.ndarray:
    """bool (events,): true where no moment lies within so many frames of an event's position."""
    moments = np.sort(np.asarray(moments, np.int64))
    if len(moments) == 0:
        return np.ones(len(events), bool)
    place = np.searchsorted(moments, events)
    before = np.abs(events - moments[np.maximum(place - 1, 0)])
    after = np.abs(events - moments[np.minimum(place, len(moments) - 1)])
    return np.minimum(before, after) > within
