"""Where one recording of a pass lies on the other's clock: the offset, lost frames, or two clocks that drift.

First levels of every 10 ms are correlated (which needs no like gains), then samples; from there the lag is followed in
both directions in probes. Digital copies are recognised by equal samples, and nothing else is tried where they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from replay.compare.same_pass.model import Alignment, Piece
from replay.compare.same_pass.samples import FLOOR_DB, envelope, likeness, stretch
from replay.compare.same_pass.slips import EQUAL_FRAMES, Probe, Two, equal_at, search, with_slips
from replay.take.model import Take, Track
from replay.units import levels_db

PIECE_CELLS = 3000
"""Cells of 10 ms of the stretch that is looked for in the other recording."""

LIKE_LEVELS = 0.5
"""Correlation of levels above which a place is looked at."""

REACHES_S = (0.05, 2.0, 15.0)
"""How far the lag is looked for around where it was, one after the other."""

PROBES = 600
"""Probes along a take, at least PROBE_S apart."""
PROBE_S = 2.0
SLIP_FRAMES = 2
"""Changes of the lag up to this are not told from the correlation's own noise where samples are not equal."""

FAR_EVERY = 4
"""Probes lost in a row after which the place is looked for in all of the other recording."""

MOST_REFERENCES = 4


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
            for peak in _peaks(found, 8):
                candidates.append((float(found[peak]), peak, j))
        for like, peak, j in sorted(candidates, reverse=True)[:8]:
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


def align(a: Take, b: Take, anchor: Anchor, pairs: Sequence[Two]) -> Alignment:
    """The alignment of the whole, from a place that is known. `pairs` are a few tracks that both have."""
    probes = _probes(a, b, anchor, pairs)
    drift = _drift(probes)
    if drift is not None:
        ppm, at_zero = drift
        first = round(at_zero)
        start = max(0, -first)
        stop = min(a.frames, round((b.frames - at_zero) / (1 + ppm * 1e-6)))
        return Alignment(pieces=(Piece(start=start, stop=max(stop, start), lag=first),), drift_ppm=ppm)
    return with_slips(a, b, pairs, _steady(probes))


def _probes(a: Take, b: Take, anchor: Anchor, pairs: Sequence[Two]) -> list[Probe]:
    """The lag all along A, in order; at least one."""
    step = max(round(PROBE_S * a.rate), a.frames // PROBES)
    last = a.frames - EQUAL_FRAMES
    far = _Far(a, b, anchor.two)
    probes: list[Probe] = []
    for way in (1, -1):
        now, lost = anchor.lag, 0
        frame = anchor.frame if way == 1 else anchor.frame - step
        while 0 <= frame <= last:
            probe, is_lost = _probe(a, b, pairs, frame, now)
            lost = lost + 1 if is_lost else 0
            if probe is None and lost % FAR_EVERY == FAR_EVERY - 1:
                elsewhere = far.lag(frame)
                if elsewhere is not None:
                    probe, _ = _probe(a, b, pairs, frame, elsewhere)
            if probe is not None:
                probes.append(probe)
                now, lost = probe.lag, 0
            frame += way * step
        # The very ends of what both have: frames may be lost near them too.
        end = min(last, b.frames - EQUAL_FRAMES - now) if way == 1 else max(0, -now)
        probe, _ = _probe(a, b, pairs, end, now, near_an_end=True) if 0 <= end <= last else (None, False)
        if probe is not None and probe.exact:
            probes.append(probe)
    found = {probe.frame: probe for probe in probes}
    return [found[frame] for frame in sorted(found)] or [Probe(anchor.frame, anchor.lag, False)]


class _Far:
    """Looks for a place of A anywhere in B, by the levels of one track: where a recorder was stopped for a while."""

    def __init__(self, a: Take, b: Take, two: Two) -> None:
        self._a, self._b, self._two = a, b, two
        self._levels: list[np.ndarray] = []

    def lag(self, frame: int) -> int | None:
        if not self._levels:
            pairs = ((self._a, self._two[0]), (self._b, self._two[1]))
            self._levels = [envelope(take, [track])[:, 0].astype(np.float64) for take, track in pairs]
        ours, theirs = self._levels
        at = frame * 100 // self._a.rate
        piece = ours[at : at + PIECE_CELLS]
        if len(piece) < 100 or len(piece) > len(theirs) or piece.std() < 1.0:
            return None
        found = likeness(piece, theirs, centred=True)
        peak = int(np.argmax(found))
        if found[peak] < LIKE_LEVELS:
            return None
        confirmed = _confirmed(self._a, self._b, self._two, at, peak - at, piece)
        return None if confirmed is None else confirmed[1]


def _probe(
    a: Take, b: Take, pairs: Sequence[Two], frame: int, lag: int, *, near_an_end: bool = False
) -> tuple[Probe | None, bool]:
    """The lag at a frame, and whether something is heard there that was not found again."""
    inside = 0 <= frame + lag <= b.frames - EQUAL_FRAMES
    equal = equal_at(a, b, pairs, frame, lag) if inside else None
    if equal:
        return Probe(frame, lag, True), False
    if inside and equal is None:
        return None, False
    # Near an end there is little that may be looked at.
    length = EQUAL_FRAMES if near_an_end else a.rate // 2
    for reach_s in REACHES_S[: 1 if near_an_end else None]:
        found = search(a, b, pairs, frame, lag, round(reach_s * a.rate), length)
        if found is not None:
            return Probe(frame, found, bool(equal_at(a, b, pairs, frame, found))), False
    return None, True


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
