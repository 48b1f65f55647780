"""What the one pass leaves of a track: totals, histories and events. It knows no patch.

Conventions: linear units (amplitudes as fractions of full scale, powers as mean or summed squares); frames and hops
on the take's clock (replay.grid: a hop is 100 ms, a cell 10 ms).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from replay.grid import CELLS_PER_HOP, cell_starts, hop_starts
from replay.meters.notes import Notes

EVENTS_KEPT = 4096
"""Events of one kind kept for a track; counts go on beyond."""


@dataclass(frozen=True)
class Column:
    """One history of a track.

    `period_ms` is 10 or 100. `law` says how the values move when the gain moves by g (linear): `shift` by g, `square`
    by g squared, `same` not at all, `none` when that cannot be told.
    """

    name: str
    unit: str
    period_ms: int
    dtype: str
    law: str


EVENT = np.dtype([("kind", "u1"), ("start", "i8"), ("length", "i4"), ("value", "f8"), ("against", "f8")])
"""An event: kind (EVENT_KINDS), first frame on the take's clock, length in frames, value (its meter says of what), and
what the value is to be held against (its meter says what that is; 0 where it is nothing)."""

EVENT_KINDS = {"clip-run": 1, "click": 2, "held": 3, "repeat": 4, "rest": 5, "faint": 6}


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What is known of a track when all of it has been read, for meters that note events.

    `effective_bits` is the word length that the samples really use (None where they are finer than 32-bit integers),
    `coverage` the stretches of frames that exist.
    """

    rate: int
    effective_bits: int | None
    is_float: bool
    coverage: tuple[tuple[int, int], ...]


def no_events() -> np.ndarray:
    """Events of which there are none."""
    return np.zeros(0, EVENT)


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One track, measured.

    `hops` counts the 100 ms hops from the start of the take's clock to the track's end; every column has `hops` (or
    ten times as many) values. `coverage` are the stretches of frames that exist. `effective_bits` is the word length
    that the samples really use (None where the samples are finer than 32-bit integers), `peak_code` the greatest
    positive value of that word length. `totals` holds figures over the whole track by name.
    """

    track: int
    rate: int
    hops: int
    coverage: tuple[tuple[int, int], ...]
    is_float: bool
    container_bits: int
    effective_bits: int | None
    totals: Mapping[str, float]
    events: np.ndarray
    event_counts: Mapping[str, int]
    read_column: Callable[[str], np.ndarray] = field(compare=False, repr=False)
    notes: Notes = field(default_factory=Notes, compare=False, repr=False)

    def column(self, name: str) -> np.ndarray:
        """One history, read when asked for; a fresh array each time. KeyError where no meter writes it."""
        return self.read_column(name)

    def once(self, question: str, find: Callable[[], Any]) -> Any:
        """What `find()` answers, kept between runs; it may depend on this measurement and on what `question` names, and
        on nothing else. Plain values only (see `replay.meters.notes`); tuples come back as lists.

        >>> silent = Measurement(track=1, rate=48000, hops=0, coverage=(), is_float=False, container_bits=24,
        ...     effective_bits=0, totals={}, events=no_events(), event_counts={}, read_column=lambda name: np.zeros(0))
        >>> silent.once("two", lambda: 2), silent.once("two", lambda: 3)
        (2, 2)
        """
        return self.notes.once(question, find)

    def events_of(self, kind: str) -> np.ndarray:
        """The kept events of a kind, in order of time."""
        return self.events[self.events["kind"] == EVENT_KINDS[kind]]

    def present(self) -> np.ndarray:
        """int64, one a hop: how many of its frames exist on the track."""
        return _present(hop_starts(self.hops, self.rate), self.coverage)

    def whole_hops(self) -> np.ndarray:
        """bool, one a hop: true where the whole hop exists on the track."""
        starts = hop_starts(self.hops, self.rate)
        return _present(starts, self.coverage) == np.diff(starts)

    def whole_cells(self) -> np.ndarray:
        """bool, one a 10 ms cell: true where the whole cell exists on the track."""
        starts = cell_starts(CELLS_PER_HOP * self.hops, self.rate)
        return _present(starts, self.coverage) == np.diff(starts)


def _present(starts: np.ndarray, coverage: tuple[tuple[int, int], ...]) -> np.ndarray:
    """How many frames of each part of the grid lie in the stretches: all but for the parts at their ends."""
    frames = np.zeros(len(starts) - 1, np.int64)
    for start, stop in coverage:
        first = max(int(np.searchsorted(starts, start, "right")) - 1, 0)
        last = min(int(np.searchsorted(starts, stop, "left")), len(frames))
        if first < last:
            frames[first:last] += np.diff(starts[first : last + 1])
            frames[first] -= max(0, start - int(starts[first]))
            frames[last - 1] -= max(0, int(starts[last]) - stop)
    return frames
