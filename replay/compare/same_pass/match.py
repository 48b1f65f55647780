"""Which track of one recording is which of the other, and how the two are related where they do not part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from replay.compare.same_pass.model import Alignment, Relation
from replay.compare.same_pass.samples import stretch
from replay.take.model import Take
from replay.units import db_power

SPOTS = 24
SPOT_FRAMES = 2048
"""Places at which all tracks of both takes are held against each other, and the frames of each."""

ALIKE = 0.9
"""Correlation from which two tracks are taken for one; two microphones on one source that are no copies stay below."""

SAME_NUMBER = 1e-3
"""By how much the track of the same number is preferred: the two sides of a stereo pair may be all but equal."""

SILENT = 1e-5
"""The greatest sample, -100 dBFS, of a track that is taken for silent."""

QUIET = 1e-3
"""The greatest sample, -60 dBFS, of a track that may hold a preamp's noise and nothing else."""

DEPTHS = (16, 24)
GAIN_STEPS = 1.01
"""By how many 24-bit steps a sample may be off behind a gain, which ends in rounding or cutting off."""
DITHER_STEPS = 1.501
"""By how many steps of the coarser format triangular dither of one step and rounding move a sample at most."""


def spots(alignment: Alignment) -> list[int]:
    """Frames of A, spread over all that both recordings have."""
    found = []
    total = sum(piece.stop - piece.start for piece in alignment.pieces)
    for piece in alignment.pieces:
        length = piece.stop - piece.start - SPOT_FRAMES
        if length >= 0:
            count = max(1, round(SPOTS * (length + SPOT_FRAMES) / max(total, 1)))
            found += [piece.start + round(length * (k + 0.5) / count) for k in range(count)]
    return found


def windows(a: Take, b: Take, alignment: Alignment, places: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """float64 (spots, SPOT_FRAMES, tracks) of each take, aligned."""
    if not places:
        return np.zeros((0, SPOT_FRAMES, len(a.tracks))), np.zeros((0, SPOT_FRAMES, len(b.tracks)))
    ours = [stretch(a, a.tracks, at, SPOT_FRAMES) for at in places]
    theirs = [stretch(b, b.tracks, at + alignment.lag_at(at), SPOT_FRAMES) for at in places]
    return np.array(ours), np.array(theirs)


def match(a: Take, b: Take, ours: np.ndarray, theirs: np.ndarray) -> list[tuple[int, int, bool]]:
    """Pairs as places in the takes' lists of tracks, and whether the sound says so. Tracks whose sound is found nowhere
    are paired with the one of their number, if that is left over too."""
    x, y = ours.reshape(-1, ours.shape[2]), theirs.reshape(-1, theirs.shape[2])
    like = np.abs(_unit(x).T @ _unit(y))
    numbers_a = np.array([track.number for track in a.tracks])
    numbers_b = np.array([track.number for track in b.tracks])
    score = like + SAME_NUMBER * (numbers_a[:, None] == numbers_b[None, :])
    pairs: list[tuple[int, int, bool]] = []
    left_a, left_b = set(range(len(numbers_a))), set(range(len(numbers_b)))
    # The nearest two first: a copy is nearer than any neighbour.
    for flat in np.argsort(-score, axis=None, kind="stable"):
        i, j = divmod(int(flat), len(numbers_b))
        if like[i, j] < ALIKE:
            break
        if i in left_a and j in left_b:
            pairs.append((i, j, True))
            left_a.discard(i)
            left_b.discard(j)
    by_number = {int(numbers_b[j]): j for j in left_b}
    for i in sorted(left_a):
        j = by_number.get(int(numbers_a[i]), -1)
        if j >= 0:
            pairs.append((i, j, False))
    return sorted(pairs)


def alike(x: np.ndarray, y: np.ndarray) -> list[float | None]:
    """The correlation of each column of `x` with the one of `y`, without its sign; None where both are silent."""
    energy = (x * x).sum(axis=0) * (y * y).sum(axis=0)
    heard = (x != 0).any(axis=0) | (y != 0).any(axis=0)
    products = np.abs((x * y).sum(axis=0))
    likes = products / np.sqrt(np.where(energy > 0, energy, 1.0))
    return [float(like) if there else None for like, there in zip(likes, np.atleast_1d(heard), strict=True)]


def _unit(samples: np.ndarray) -> np.ndarray:
    norm = np.sqrt((samples * samples).sum(axis=0))
    return samples / np.where(norm > 0, norm, 1.0)


def relation(x: np.ndarray, y: np.ndarray, *, one_clock: bool) -> Relation:
    """How two tracks are related, by their samples at the spots: float64 (spots, frames) each.

    What most of the spots say where anything is heard: a recording may part from the other anywhere.
    """
    heard = [(one, other) for one, other in zip(x, y, strict=True) if one.any() or other.any()]
    if not heard:
        return Relation(kind="silent")
    if one_clock:
        said = Counter(_exact(one, other) for one, other in heard)
        exact = {one: times for one, times in said.items() if one is not None}
        best = max(exact, key=lambda one: exact[one], default=None)
        if best is not None and 2 * exact[best] >= len(heard):
            if best.kind != "gain":
                return best
            alike = [(one, other) for one, other in heard if _exact(one, other) == best]
            gain = sum(float(one @ other) for one, other in alike) / sum(float(one @ one) for one, _ in alike)
            return replace(best, gain=gain)
    return _similar(heard)


def _exact(x: np.ndarray, y: np.ndarray) -> Relation | None:
    """The relation of two stretches that are copies (a gain to four digits); None where they are not."""
    if (x == y).all():
        return Relation(kind="identical")
    for bits in DEPTHS:
        for coarser, fine, coarse in (("B", x, y), ("A", y, x)):
            kind = _reduced(fine, coarse, bits)
            if kind is not None:
                return Relation(kind=kind, bits=bits, coarser=coarser)
    if not x.any() or not y.any():
        return None
    gain = float(x @ y) / float(x @ x)
    if np.abs(x * gain - y).max() <= GAIN_STEPS * 2.0**-23 and np.abs(y).max() > 2.0**-15:
        return Relation(kind="gain", gain=float(f"{gain:.4g}"))
    return None


def _reduced(fine: np.ndarray, coarse: np.ndarray, bits: int) -> str | None:
    """How `coarse` became a copy of `fine` of fewer bits; None where it is none."""
    steps = coarse * 2.0 ** (bits - 1)
    if (steps != np.floor(steps)).any() or not coarse.any():
        return None
    for kind in ("cut", "rounded"):
        if (reduce(fine, kind, bits) == coarse).all():
            return kind
    return "dithered" if np.abs(fine - coarse).max() <= DITHER_STEPS * 2.0 ** (1 - bits) else None


def reduce(fine: np.ndarray, kind: str, bits: int) -> np.ndarray:
    """Samples at fewer bits, `cut` off or `rounded`."""
    scale = 2.0 ** (bits - 1)
    if kind == "cut":
        return np.floor(fine * scale) / scale
    return np.minimum(np.floor(fine * scale + 0.5), scale - 1.0) / scale


def _similar(heard: Sequence[tuple[np.ndarray, np.ndarray]]) -> Relation:
    """Gain, polarity and what is left, by the middle one of the spots."""
    found = []
    for x, y in heard:
        energy, theirs = float(x @ x), float(y @ y)
        if energy <= len(x) * SILENT**2 or theirs <= len(y) * SILENT**2:
            continue
        gain, rest = fitted(x, y)
        found.append((rest / theirs, gain))
    loudest = max(max(float(np.abs(x).max()), float(np.abs(y).max())) for x, y in heard)
    rest, gain = sorted(found)[len(found) // 2] if found else (1.0, 1.0)
    if rest > 1 - ALIKE**2:
        return Relation(kind="quiet" if loudest < QUIET else "other")
    return Relation(kind="similar", gain=gain, residual_db=db_power(rest) if rest > 0 else None)


def fitted(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """The gain that makes `x` most like `y`, moved by up to a frame, and the energy of what is left.

    Two converters never sample at the same instant: a part of a frame would leave most of the treble as difference.
    """
    taper = np.hanning(len(x))
    fx, fy = np.fft.rfft(x * taper), np.fft.rfft(y * taper)
    cross = fx.conj() * fy
    turn = 2j * np.pi * np.arange(len(cross)) / len(x)
    power = float((np.abs(fx) ** 2).sum())
    scale = float((y * y).sum()) / max(float((np.abs(fy) ** 2).sum()), 1e-30)
    best = (0.0, float((y * y).sum()))
    low, high = -1.5, 1.5
    for _ in range(4):
        delays = np.linspace(low, high, 13)
        gains = [float((cross * np.exp(turn * delay)).real.sum()) / power for delay in delays]
        at = int(np.argmax(np.abs(gains)))
        rest = float((np.abs(fy - gains[at] * fx * np.exp(-turn * delays[at])) ** 2).sum()) * scale
        best = min(best, (gains[at], rest), key=lambda item: item[1])
        width = (high - low) / 12
        low, high = delays[at] - width, delays[at] + width
    return best
