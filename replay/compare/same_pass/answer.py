"""From two takes to the answer: aligned, matched, compared, and what each side lacks."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, ThreadPoolExecutor
from pathlib import Path
from threading import Event, Lock

import numpy as np

from replay.compare.same_pass.align import Anchor, align, anchors
from replay.compare.same_pass.compare import Tally, compare
from replay.compare.same_pass.match import ALIKE, SPOT_FRAMES, alike, match, relation, spots, windows
from replay.compare.same_pass.model import Alignment, Answer, Loss, Pair, Piece, Relation
from replay.compare.same_pass.samples import stretch
from replay.compare.same_pass.slips import Two
from replay.errors import CallError, Place, Problem
from replay.lanes import LANES
from replay.take.find import open_take
from replay.take.model import Take, Track
from replay.text import harmless

ENDS_S = 1.0
"""By how much one recording may begin later or stop earlier than the other without that being told as a loss: two
people press two buttons."""

MOST_ANCHORS = 12
"""Places that are looked at before the best of them is taken."""

FITS = 0.9
"""The share of all that both may have at which a lag is right, from which no other is looked for."""

MEET_S = 0.01
"""Partings of several tracks whose ends are this near are one loss."""

Say = Callable[[float, str], None]


def open_side(letter: str, typed: str) -> Take:
    """The take that a name means: a show's folder or patch file (its take), a folder of tracks, or one file.

    Raises CallError, PatchError, TakeError.
    """
    path = Path(typed).expanduser()
    try:
        exists, is_file = path.exists(), path.is_file()
        is_show = path.is_dir() and (path / "patch.toml").is_file()
    except (OSError, ValueError, RuntimeError):
        exists = is_file = is_show = False
    if not exists:
        hint = "give a folder of tracks, a show, or one file"
        raise CallError(Problem(f"{harmless(typed, 4096)} does not exist", Place(key=letter), hint))
    if is_show or (is_file and path.suffix.casefold() == ".toml"):
        from replay.opening import open_show

        return open_show(path).take
    if is_file:
        return open_take(path.parent, path.name, wanted_tracks=1)
    return open_take(path, None, wanted_tracks=1)


def answer(a: Take, b: Take, say: Say) -> Answer:
    """Compare two recordings of one pass. Raises CallError where they are none."""
    if a.rate != b.rate:
        raise CallError(
            Problem(
                f"A is at {a.rate} Hz and B at {b.rate} Hz: their samples cannot be compared",
                hint="compare copies at one rate",
            )
        )
    say(0.0, "looking for the offset")
    anchor, pairs = _anchored(a, b)
    say(0.05, "following the offset")
    alignment = align(a, b, anchor, _spread([anchor.two, *(pair for pair in pairs if pair != anchor.two)]))
    ours, theirs = windows(a, b, alignment, spots(alignment))
    matched = match(a, b, ours, theirs)
    one_clock = alignment.drift_ppm is None
    wanted = [
        (a.tracks[i], b.tracks[j], relation(ours[:, :, i], theirs[:, :, j], one_clock=one_clock)) for i, j, _ in matched
    ]
    tallies = _all(a, b, wanted, alignment, say)
    found = tuple(
        Pair(
            a=one,
            b=other,
            relation=how,
            compared=tally.compared,
            differing=tally.differing,
            partings=tuple(tally.partings),
            parting_count=tally.count,
        )
        for (one, other, how), tally in zip(wanted, tallies, strict=True)
    )
    left = [{i for i, _, _ in matched}, {j for _, j, _ in matched}]
    only = [
        tuple(track for i, track in enumerate(take.tracks) if i not in seen)
        for take, seen in zip((a, b), left, strict=True)
    ]
    heard = [
        {take.tracks[i].number for i in range(len(take.tracks)) if not len(samples) or samples[:, :, i].any()}
        for take, samples in ((a, ours), (b, theirs))
    ]
    return Answer(
        a=a,
        b=b,
        alignment=alignment,
        pairs=found,
        only_a=only[0],
        only_b=only[1],
        losses=tuple(_losses(a, b, alignment, found, only, heard)),
    )


def _anchored(a: Take, b: Take) -> tuple[Anchor, list[Two]]:
    """A place at which B lies on A, and the tracks that are alike there. CallError where there is none.

    The first place at which half of the tracks that are heard are alike, and at which the same lag fits in nearly
    all places; else (frames were lost, clocks drift) the one at which most tracks are, and it fits most.
    """
    best: tuple[tuple[bool, float, int], Anchor, list[Two]] | None = None
    for anchor in itertools.islice(anchors(a, b), MOST_ANCHORS):
        near = Alignment(pieces=(_near(a, b, anchor),))
        ours, theirs = windows(a, b, near, spots(near))
        pairs = [(a.tracks[i], b.tracks[j]) for i, j, by_sound in match(a, b, ours, theirs) if by_sound]
        heard = min(np.count_nonzero(samples.any(axis=(0, 1))) for samples in (ours, theirs))
        fits = _fits(a, b, anchor, _spread([anchor.two, *pairs]))
        score = bool(2 * len(pairs) >= heard), fits, len(pairs)
        if best is None or score > best[0]:
            best = score, anchor, pairs
        if score[0] and fits >= FITS:
            break
    if best is None:
        raise CallError(
            Problem(
                "nothing in B sounds like A: they are not recordings of one pass, or too little is heard",
                hint="give two recorders' takes of one pass",
            )
        )
    return best[1], best[2]


def _fits(a: Take, b: Take, anchor: Anchor, pairs: Sequence[Two]) -> float:
    """The share of places, all along both recordings, at which a lag is right for most of the pairs."""
    start, stop = max(0, -anchor.lag), min(a.frames, b.frames - anchor.lag)
    whole = Alignment(pieces=(Piece(start=start, stop=max(start, stop), lag=anchor.lag),))
    found = []
    for place in spots(whole):
        ours = stretch(a, [one for one, _ in pairs], place, SPOT_FRAMES)
        theirs = stretch(b, [other for _, other in pairs], place + anchor.lag, SPOT_FRAMES)
        likes = [like for like in alike(ours, theirs) if like is not None]
        if likes:
            found.append(2 * sum(like >= ALIKE for like in likes) >= len(likes))
    # What fits for longer is worth more: a loop fits on itself, moved by its length, for less.
    return sum(found) / len(found) * (stop - start) / min(a.frames, b.frames) if found else 0.0


def _near(a: Take, b: Take, anchor: Anchor) -> Piece:
    """What lies within half a minute of a known place: there the lag has hardly moved."""
    around = 30 * a.rate
    start = max(0, -anchor.lag, anchor.frame - around)
    stop = min(a.frames, b.frames - anchor.lag, anchor.frame + around)
    return Piece(start=start, stop=max(start, stop), lag=anchor.lag)


def _spread(pairs: Sequence[Two]) -> list[Two]:
    """A few pairs to follow the offset by: the first, and some from all over the tracks, as what plays at one time does
    not at another."""
    step = max(1, len(pairs) // 8)
    return list(pairs[:1]) + list(pairs[1::step])[:7]


def _all(
    a: Take, b: Take, wanted: Sequence[tuple[Track, Track, Relation]], alignment: Alignment, say: Say
) -> list[Tally]:
    """All pairs compared, several at a time; a polyphonic file is read once for all of its tracks."""
    poly = any(segment.file.channels > 1 for one, other, _ in wanted for t in (one, other) for segment in t.segments)
    size = len(wanted) if poly else LANES
    jobs = [wanted[at : at + size] for at in range(0, len(wanted), max(size, 1))]
    total = max(1, len(wanted) * sum(piece.stop - piece.start for piece in alignment.pieces))
    done, lock, stopped = 0, Lock(), Event()

    def progress(frames: int) -> None:
        nonlocal done
        if stopped.is_set():
            raise CancelledError
        with lock:
            done += frames
            say(0.15 + 0.85 * done / total, "comparing samples")

    pool = ThreadPoolExecutor(max(1, min(os.cpu_count() or 1, len(jobs))))
    try:
        parts = list(pool.map(lambda job: compare(a, b, job, alignment, progress), jobs))
    finally:
        # An interrupt ends every thread at its next second of audio.
        stopped.set()
        pool.shutdown(cancel_futures=True)
    return [tally for part in parts for tally in part]


def _losses(
    a: Take,
    b: Take,
    alignment: Alignment,
    pairs: Sequence[Pair],
    only: Sequence[tuple[Track, ...]],
    heard: Sequence[set[int]],
) -> list[Loss]:
    losses = [
        Loss(side=slip.side, kind="slip", start=slip.frame, frames=slip.frames, tracks=(), unsure=slip.unsure)
        for slip in alignment.slips
    ]
    parted = [
        (parting.side, parting.kind, parting.start, parting.stop, (pair.a if parting.side == "A" else pair.b).number)
        for pair in pairs
        for parting in pair.partings
        if parting.side and pair.relation.kind not in ("other", "quiet")
    ]
    losses += _together(parted, round(MEET_S * a.rate))
    for side, missing, there in (("B", only[0], heard[0]), ("A", only[1], heard[1])):
        numbers = tuple(track.number for track in missing if track.number in there)
        if numbers:
            losses.append(Loss(side=side, kind="tracks", start=None, frames=None, tracks=numbers))
    least = ENDS_S * a.rate
    begin_of_b, end_of_b = -alignment.lag_at(0), b.frames - alignment.lag_at(a.frames)
    for side, begin, earlier in (("B", begin_of_b, 0), ("A", 0, begin_of_b)):
        if begin - earlier > least:
            losses.append(Loss(side=side, kind="head", start=earlier, frames=begin - earlier, tracks=()))
    for side, end, later in (("B", end_of_b, a.frames), ("A", a.frames, end_of_b)):
        if later - end > least:
            losses.append(Loss(side=side, kind="tail", start=end, frames=later - end, tracks=()))
    return sorted(losses, key=lambda loss: (loss.start is not None, loss.start or 0, loss.side))


def _together(parted: list[tuple[str, str, int, int, int]], near: int) -> list[Loss]:
    """Partings of several tracks at one time as one loss each."""
    groups: list[tuple[str, str, int, int, list[int]]] = []
    for side, kind, start, stop, number in sorted(parted, key=lambda one: (one[0], one[1], one[2])):
        for group in reversed(groups[-64:]):
            alike = group[:2] == (side, kind)
            if alike and abs(group[2] - start) <= near and abs(group[3] - stop) <= near and number not in group[4]:
                group[4].append(number)
                break
        else:
            groups.append((side, kind, start, stop, [number]))
    return [
        Loss(side=side, kind=kind, start=start, frames=stop - start, tracks=tuple(sorted(numbers)))
        for side, kind, start, stop, numbers in groups
    ]
