"""Where one recording of a pass lies on the other's clock: the offset, lost frames, or two clocks that drift.

First levels of every 10 ms are correlated (which needs no like gains), then samples; from there the lag is followed in
both directions in probes. Digital copies are recognised by equal samples, and nothing else is tried where they are.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from replay.compare.pass_model import Alignment, Piece, Slip
from replay.compare.pass_samples import FLOOR_DB, envelope, likeness, stretch
from replay.take.model import Take, Track
from replay.units import levels_db

PIECE_CELLS = 3000
"""Cells of 10 ms of the stretch that is looked for in the other recording."""

LIKE_LEVELS = 0.5
LIKE_SAMPLES = 0.8
"""Correlations above which a place is looked at, and believed. Two microphones on one source stay below 0.8 over half a
second but where they are copies; a split that went through two converters is above 0.99."""

REACHES_S = (0.05, 2.0, 15.0)
"""How far the lag is looked for around where it was, one after the other."""

PROBES = 600
"""Probes along a take, at least PROBE_S apart."""
PROBE_S = 2.0
EQUAL_FRAMES = 2048
SLIP_FRAMES = 2
"""Changes of the lag up to this are not told from the correlation's own noise where samples are not equal."""

MOST_REFERENCES = 4


Two = tuple[Track, Track]


@dataclass(frozen=True)
class Probe:
    """The lag found at a frame of A; `exact` where the samples there are equal."""

    frame: int
    lag: int
    exact: bool


@dataclass(frozen=True)
class Anchor:
    """A frame of A, the lag there, and the tracks that showed it."""

    frame: int
    lag: int
    two: Two


def anchors(a: Take, b: Take) -> Iterator[Anchor]:
    """Places at which B may lie on A, the likeliest first. Music repeats itself, and loops to the sample: whoever asks
    looks at the other tracks there."""
    numbers = {track.number for track in b.tracks}
    lively = _lively(a)
    shared = [track for track in lively if track.number in numbers][:MOST_REFERENCES]
    if shared:
        partners = [track for one in shared for track in b.tracks if track.number == one.number]
        yield from _by_levels(a, b, shared, partners, same=True)
    yield from _by_levels(a, b, lively[:MOST_REFERENCES], list(b.tracks), same=False)


def _lively(take: Take) -> list[Track]:
    """The tracks whose levels move most at a few places, first."""
    tracks = list(take.tracks)
    spots = np.linspace(0, max(take.frames - take.rate // 10, 0), 14)[1:-1].astype(int)
    length = take.rate // 10
    levels = np.array([levels_db((stretch(take, tracks, int(at), length) ** 2).mean(axis=0), FLOOR_DB) for at in spots])
    score = levels.std(axis=0) + 0.2 * np.maximum(levels.max(axis=0) + 80.0, 0.0)
    return [tracks[i] for i in np.argsort(-score, kind="stable")]


def _by_levels(a: Take, b: Take, ours: list[Track], theirs: list[Track], *, same: bool) -> Iterator[Anchor]:
    levels_a, levels_b = envelope(a, ours).astype(np.float64), envelope(b, theirs).astype(np.float64)
    count = min(PIECE_CELLS, max(len(levels_a) // 4, 20), len(levels_b) // 2)
    if count < 10:
        return
    places = np.unique(np.linspace(0, len(levels_a) - count, 9).astype(int))
    looked = sorted(
        ((float(levels_a[at : at + count, i].std()), int(at), i) for at in places for i in range(len(ours))),
        reverse=True,
    )
    for moved, at, i in looked[:12]:
        if moved < 1.0:
            break
        piece = levels_a[at : at + count, i]
        candidates = []
        for j in [i] if same else range(len(theirs)):
            found = likeness(piece, levels_b[:, j], centred=True)
            for peak in _peaks(found, 3):
                candidates.append((float(found[peak]), peak, j))
        for like, peak, j in sorted(candidates, reverse=True)[:6]:
            if like < LIKE_LEVELS:
                break
            two = (ours[i], theirs[j])
            confirmed = _confirmed(a, b, two, at, peak - at, piece)
            if confirmed is not None:
                yield Anchor(*confirmed, two)


def _peaks(values: np.ndarray, most: int) -> Iterator[int]:
    left = values.copy()
    for _ in range(most):
        peak = int(np.argmax(left))
        yield peak
        left[max(peak - 5, 0) : peak + 6] = -1.0


def _confirmed(a: Take, b: Take, two: Two, at: int, cells: int, piece: np.ndarray) -> tuple[int, int] | None:
    """The frame and lag where samples at the two loudest places of a piece agree on a lag."""
    cell = a.rate / 100
    length = a.rate // 4
    found: list[tuple[int, int]] = []
    for place in _peaks(piece, 8):
        frame = round((at + max(place - 5, 0)) * cell)
        hit = search(a, b, [two], frame, round(cells * cell), round(0.03 * a.rate), length)
        if hit is not None:
            found.append((frame, hit))
        if len(found) == 2:
            (frame, lag), (_, again) = found
            return (frame, lag) if abs(lag - again) <= 8 else None
    return found[0] if found and len(piece) < 200 else None


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


def align(a: Take, b: Take, anchor: Anchor, pairs: Sequence[Two]) -> Alignment:
    """The alignment of the whole, from a place that is known. `pairs` are a few tracks that both have."""
    step = max(round(PROBE_S * a.rate), a.frames // PROBES)
    probes: list[Probe] = []
    for way in (1, -1):
        now, frame = anchor.lag, anchor.frame if way == 1 else anchor.frame - step
        while frame >= 0 and frame + EQUAL_FRAMES <= a.frames:
            probe = _probe(a, b, pairs, frame, now)
            if probe is not None:
                probes.append(probe)
                now = probe.lag
            frame += way * step
    probes.sort(key=lambda probe: probe.frame)
    if not probes:
        probes = [Probe(anchor.frame, anchor.lag, False)]
    drift = _drift(probes)
    if drift is not None:
        ppm, at_zero = drift
        first = round(at_zero)
        start = max(0, -first)
        stop = min(a.frames, round((b.frames - at_zero) / (1 + ppm * 1e-6)))
        return Alignment(pieces=(Piece(start=start, stop=max(stop, start), lag=first),), drift_ppm=ppm)
    return _with_slips(a, b, pairs, _steady(probes))


def _probe(a: Take, b: Take, pairs: Sequence[Two], frame: int, lag: int) -> Probe | None:
    if not 0 <= frame + lag <= b.frames - EQUAL_FRAMES:
        return None
    equal = equal_at(a, b, pairs, frame, lag)
    if equal is None:
        return None
    if equal:
        return Probe(frame, lag, True)
    for reach_s in REACHES_S:
        found = search(a, b, pairs, frame, lag, round(reach_s * a.rate), a.rate // 2)
        if found is not None:
            return Probe(frame, found, bool(equal_at(a, b, pairs, frame, found)))
    return None


def _drift(probes: Sequence[Probe]) -> tuple[float, float] | None:
    """Millionths, and the lag at frame 0, where the lag moves along a line and samples are not equal."""
    inexact = [probe for probe in probes if not probe.exact]
    if len(inexact) < 5 or len(inexact) < len(probes) // 2:
        return None
    frames = np.array([probe.frame for probe in inexact], float)
    lags = np.array([probe.lag for probe in inexact], float)
    thinned = slice(None, None, max(1, len(frames) // 200))
    f, x = frames[thinned], lags[thinned]
    i, j = np.triu_indices(len(f), max(1, len(f) // 4))
    slope = float(np.median((x[j] - x[i]) / (f[j] - f[i])))
    at_zero = float(np.median(lags - slope * frames))
    off = float(np.median(np.abs(lags - slope * frames - at_zero)))
    if abs(slope) * (frames[-1] - frames[0]) < 3.0 or off > 1.5:
        return None
    return slope * 1e6, at_zero


def _steady(probes: list[Probe]) -> list[Probe]:
    """Probes without changes of the lag that may be the correlation's own."""
    steady: list[Probe] = []
    for place, probe in enumerate(probes):
        before = steady[-1].lag if steady else _usual(probes)
        later = probes[place + 1] if place + 1 < len(probes) else probe
        change = abs(probe.lag - before)
        if not probe.exact and (change <= SLIP_FRAMES or abs(later.lag - probe.lag) > SLIP_FRAMES):
            probe = Probe(probe.frame, before, False)
        steady.append(probe)
    return steady


def _usual(probes: Sequence[Probe]) -> int:
    """The first exact lag, else the middle one of the first few."""
    exact = next((probe.lag for probe in probes if probe.exact), None)
    return exact if exact is not None else int(np.median([probe.lag for probe in probes[:9]]))


def _with_slips(a: Take, b: Take, pairs: Sequence[Two], probes: Sequence[Probe]) -> Alignment:
    pieces: list[Piece] = []
    slips: list[Slip] = []
    start, lag = max(0, -probes[0].lag), probes[0].lag
    for before, after in itertools.pairwise(probes):
        if after.lag == before.lag:
            continue
        frame = max(_split(a, b, pairs, before, after), start)
        lost = after.lag - before.lag
        pieces.append(Piece(start=start, stop=frame, lag=lag))
        slips.append(Slip(frame=frame, side="B" if lost < 0 else "A", frames=abs(lost)))
        start, lag = frame + max(-lost, 0), after.lag
    stop = min(a.frames, b.frames - lag)
    pieces.append(Piece(start=start, stop=max(stop, start), lag=lag))
    return Alignment(pieces=tuple(pieces), slips=tuple(slips))


def _split(a: Take, b: Take, pairs: Sequence[Two], before: Probe, after: Probe) -> int:
    """The frame of A at which the lag changes: where the earlier lag up to it and the later one from it on leave the
    least difference."""
    count = after.frame + EQUAL_FRAMES - before.frame
    errors = [np.zeros(count), np.zeros(count)]
    # One pair at a time: a stretch may be long, and so bounds what is held.
    for ours, theirs in pairs[:MOST_REFERENCES]:
        x = stretch(a, [ours], before.frame, count)[:, 0]
        for error, lag in zip(errors, (before.lag, after.lag), strict=True):
            y = stretch(b, [theirs], before.frame + lag, count)[:, 0]
            error += (x - y) ** 2
    skipped = max(before.lag - after.lag, 0)
    early = np.concatenate(([0.0], np.cumsum(errors[0])))
    late = np.concatenate((np.cumsum(errors[1][::-1])[::-1], [0.0]))
    places = np.arange(count + 1)
    cost = early + late[np.minimum(places + skipped, count)]
    # Where both fit (silence), the last place that does: nothing is known to be lost before it.
    best = float(cost.min())
    return before.frame + int(np.flatnonzero(cost <= best * (1 + 1e-9) + 1e-20)[-1])
