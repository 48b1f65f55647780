"""Two aligned recordings compared block by block, to the sample, in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from replay.compare.same_pass.match import DITHER_STEPS, GAIN_STEPS, reduce
from replay.compare.same_pass.model import Alignment, Parting, Relation
from replay.compare.same_pass.samples import chunks
from replay.take.model import Take, Track

MOST_KEPT = 1000
"""Partings kept of a track; beyond, they are counted."""

JOIN_S = 0.02
"""Differing frames nearer than this are one parting: in a gap the other recording crosses zero too."""

PARTED = 0.25
"""Of tracks that are only similar: the share of a cell's energy that may be left, 6 dB down, before they part there."""

HEARD = 1e-8
"""Mean square, -80 dBFS, under which similar tracks do not part: two preamps' noises are never alike."""


STEADY_S = 10
"""Seconds that two clocks are taken to keep one lag: they drift by a few frames, which moves no level."""


@dataclass
class _Open:
    """A parting that may still go on."""

    start: int
    stop: int
    frames: int
    quiet: list[bool]
    held: list[bool]


@dataclass
class Tally:
    """What has been found of one pair so far."""

    relation: Relation
    ends: tuple[int, int]
    compared: int = 0
    differing: int = 0
    count: int = 0
    partings: list[Parting] = field(default_factory=list)
    open: _Open | None = None

    def note(self, start: int, stop: int, frames: int, quiet: list[bool], held: list[bool], join: int) -> None:
        """A run of differing frames, on the clock of A."""
        self.differing += frames
        now = self.open
        if now is not None and start - now.stop <= join:
            now.stop, now.frames = stop, now.frames + frames
            now.quiet = [x and y for x, y in zip(now.quiet, quiet, strict=True)]
            now.held = [x and y for x, y in zip(now.held, held, strict=True)]
            return
        self.close()
        self.open = _Open(start, stop, frames, quiet, held)

    def close(self) -> None:
        """End the open parting."""
        now, self.open = self.open, None
        if now is None:
            return
        self.count += 1
        if len(self.partings) < MOST_KEPT:
            kind, side = self._kind(now)
            self.partings.append(Parting(start=now.start, stop=now.stop, frames=now.frames, kind=kind, side=side))

    def _kind(self, now: _Open) -> tuple[str, str]:
        for side, quiet, end in zip("AB", now.quiet, self.ends, strict=True):
            if quiet:
                return ("ends" if now.start >= end else "silent"), side
        for side, held in zip("AB", now.held, strict=True):
            if held:
                return "held", side
        return "differs", ""


Progress = Callable[[int], None]


def compare(
    a: Take,
    b: Take,
    pairs: Sequence[tuple[Track, Track, Relation]],
    alignment: Alignment,
    progress: Progress = lambda frames: None,
) -> list[Tally]:
    """Compare pairs of tracks over all pieces. `progress` hears of the frames that are done."""
    rate = a.rate
    tallies = []
    for ours, theirs, relation in pairs:
        lag = alignment.lag_at(theirs.stop)
        tallies.append(Tally(relation, (ours.stop, theirs.stop - lag)))
    if not pairs:
        return tallies
    for piece in alignment.steady(STEADY_S * rate):
        left = chunks(a, [one for one, _, _ in pairs], piece.start, piece.stop, rate)
        right = chunks(b, [one for _, one, _ in pairs], piece.start + piece.lag, piece.stop + piece.lag, rate)
        at = piece.start
        for x, y in zip(left, right, strict=True):
            for place in () if np.array_equal(x, y) else np.flatnonzero((x != y).any(axis=0)):
                _columns(tallies[place], at, x[:, place], y[:, place], rate)
            for tally in tallies:
                tally.compared += len(x)
            at += len(x)
            progress(len(x) * len(pairs))
        if alignment.drift_ppm is None:
            for tally in tallies:
                tally.close()
    for tally in tallies:
        tally.close()
    return tallies


def _columns(tally: Tally, at: int, x: np.ndarray, y: np.ndarray, rate: int) -> None:
    """One track's second in which not all samples are equal."""
    bad = np.flatnonzero(_differing(tally.relation, np.ascontiguousarray(x), np.ascontiguousarray(y), rate))
    if not len(bad):
        return
    join = round(JOIN_S * rate)
    cuts = np.flatnonzero(np.diff(bad) > join) + 1
    for first, last in zip((0, *cuts), (*cuts, len(bad)), strict=True):
        start, stop = int(bad[first]), int(bad[last - 1]) + 1
        run = (x[start:stop], y[start:stop])
        quiet = [not one.any() for one in run]
        held = [len(one) > 1 and bool((one == one[0]).all()) for one in run]
        tally.note(at + start, at + stop, int(last - first), quiet, held, join)


def _differing(relation: Relation, x: np.ndarray, y: np.ndarray, rate: int) -> np.ndarray:
    """Which frames differ from what the relation of the two tracks lets one expect."""
    kind, bits = relation.kind, relation.bits
    if kind in ("cut", "rounded", "dithered") and bits is not None:
        fine, coarse = (x, y) if relation.coarser == "B" else (y, x)
        if kind == "dithered":
            return np.abs(fine - coarse) > DITHER_STEPS * 2.0 ** (1 - bits)
        return reduce(fine, kind, bits) != coarse
    if kind == "gain":
        return np.abs(x * relation.gain - y) > GAIN_STEPS * 2.0**-23
    if kind == "similar":
        return _cells(x * relation.gain, y, rate)
    if kind == "quiet":
        return np.zeros(len(x), bool)
    return x != y


def _cells(x: np.ndarray, y: np.ndarray, rate: int) -> np.ndarray:
    """Similar tracks differ where more is left than a part of a frame between two converters explains, in whole cells
    of 10 ms."""
    cell = max(rate // 100, 1)
    starts = np.arange(0, len(x), cell)
    loud = np.maximum(np.add.reduceat(x * x, starts), np.add.reduceat(y * y, starts)) / cell
    # A part of a frame leaves the treble: levels are compared, not samples.
    quieter = np.minimum(np.add.reduceat(x * x, starts), np.add.reduceat(y * y, starts)) / cell
    parted = (loud > HEARD) & (quieter < PARTED * loud)
    return np.repeat(parted, cell)[: len(x)]
