"""The lag at one place, and the place at which it changes."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from replay.compare.same_pass.model import Alignment, Piece, Slip
from replay.compare.same_pass.samples import likeness, stretch
from replay.take.model import Take, Track

LIKE_SAMPLES = 0.8
"""Correlation of samples above which a lag is believed. Two microphones on one source stay below it over half a second
but where they are copies; a split that went through two converters is above 0.99."""

EQUAL_FRAMES = 2048
LEAST_BETWEEN = 256
"""Frames that are compared to call two places equal, and from which a stretch between two slips is looked at."""

MOST_BETWEEN = 16
"""Slips told apart between two probes."""

MOST_TRACKS = 4

Two = tuple[Track, Track]


@dataclass(frozen=True)
class Probe:
    """The lag found at a frame of A; `exact` where the samples there are equal."""

    frame: int
    lag: int
    exact: bool


def search(a: Take, b: Take, pairs: Sequence[Two], frame: int, lag: int, reach: int, length: int) -> int | None:
    """The lag at a frame, `reach` frames around `lag`: where the samples of the loudest pair are most alike. None where
    none is alike enough, or nothing is heard."""
    ours = stretch(a, [one for one, _ in pairs], frame, length)
    energy = (ours * ours).sum(axis=0)
    loudest = int(np.argmax(energy))
    if energy[loudest] < length * 1e-9:
        return None
    theirs = stretch(b, [pairs[loudest][1]], frame + lag - reach, length + 2 * reach)[:, 0]
    found = likeness(ours[:, loudest], theirs)
    best = int(np.argmax(np.abs(found)))
    return lag - reach + best if abs(found[best]) >= LIKE_SAMPLES else None


def equal_at(a: Take, b: Take, pairs: Sequence[Two], frame: int, lag: int) -> bool | None:
    """Whether the samples at a frame are equal in most of the pairs; None where all are digital silence."""
    ours = stretch(a, [one for one, _ in pairs], frame, EQUAL_FRAMES)
    theirs = stretch(b, [other for _, other in pairs], frame + lag, EQUAL_FRAMES)
    heard = ours.any(axis=0) | theirs.any(axis=0)
    if not heard.any():
        return None
    equal = (ours == theirs).all(axis=0)[heard]
    return bool(2 * equal.sum() > len(equal))


def with_slips(a: Take, b: Take, pairs: Sequence[Two], probes: Sequence[Probe]) -> Alignment:
    """The pieces between which the lag of the probes changes."""
    pieces: list[Piece] = []
    slips: list[Slip] = []
    start, lag = max(0, -probes[0].lag), probes[0].lag
    for before, after in itertools.pairwise(probes):
        for one, other, first, last in _changes(a, b, pairs, before, after, MOST_BETWEEN):
            frame = max(last, start)
            lost = other.lag - one.lag
            pieces.append(Piece(start=start, stop=frame, lag=lag))
            slips.append(
                Slip(
                    frame=frame,
                    side="B" if lost < 0 else "A",
                    frames=abs(lost),
                    unsure=max(0, frame - max(first, start)),
                )
            )
            start, lag = frame + max(-lost, 0), other.lag
    stop = min(a.frames, b.frames - lag)
    pieces.append(Piece(start=start, stop=max(stop, start), lag=lag))
    return Alignment(pieces=tuple(pieces), slips=tuple(slips))


def _changes(
    a: Take, b: Take, pairs: Sequence[Two], before: Probe, after: Probe, left: int
) -> list[tuple[Probe, Probe, int, int]]:
    """The changes of the lag between two probes, each with the first and the last frame of A at which it may lie."""
    if before.lag == after.lag:
        return []
    first, last, unlike = _split(a, b, pairs, before, after)
    between = None
    if unlike is not None and before.exact and after.exact and left > 0:
        between = _between(a, b, pairs, before, after, unlike)
    if between is None:
        return [(before, after, first, last)]
    return [
        *_changes(a, b, pairs, before, between, left // 2),
        *_changes(a, b, pairs, between, after, left // 2),
    ]


def _between(
    a: Take, b: Take, pairs: Sequence[Two], before: Probe, after: Probe, unlike: tuple[int, int]
) -> Probe | None:
    """A lag of its own between two slips, in a stretch that fits neither side's."""
    start, stop = unlike
    length = (stop - start) // 2
    if length < LEAST_BETWEEN:
        return None
    frame = start + length // 2
    low, high = sorted((before.lag, after.lag))
    found = search(a, b, pairs, frame, (low + high) // 2, (high - low) // 2 + length, length)
    if found is None or found in (before.lag, after.lag):
        return None
    return Probe(frame, found, True)


def _split(
    a: Take, b: Take, pairs: Sequence[Two], before: Probe, after: Probe
) -> tuple[int, int, tuple[int, int] | None]:
    """The first and the last frame of A at which the lag may change: where the earlier lag up to it and the later one
    from it on leave the least difference. And the stretch that fits neither, if there is one."""
    count = after.frame + EQUAL_FRAMES - before.frame
    errors = [np.zeros(count), np.zeros(count)]
    # One pair at a time: a stretch may be long, and so bounds what is held.
    for ours, theirs in pairs[:MOST_TRACKS]:
        x = stretch(a, [ours], before.frame, count)[:, 0]
        for error, lag in zip(errors, (before.lag, after.lag), strict=True):
            y = stretch(b, [theirs], before.frame + lag, count)[:, 0]
            error += (x - y) ** 2
    skipped = max(before.lag - after.lag, 0)
    early = np.concatenate(([0.0], np.cumsum(errors[0])))
    late = np.concatenate((np.cumsum(errors[1][::-1])[::-1], [0.0]))
    places = np.arange(count + 1)
    cost = early + late[np.minimum(places + skipped, count)]
    least = float(cost.min())
    fits = np.flatnonzero(cost <= least * (1 + 1e-9) + 1e-20)
    first, last = before.frame + int(fits[0]), before.frame + int(fits[-1])
    if least <= 1e-20:
        return first, last, None
    start, stop = np.flatnonzero(errors[0])[0], np.flatnonzero(errors[1])[-1]
    return first, last, (before.frame + int(start), before.frame + int(stop)) if stop > start else None
