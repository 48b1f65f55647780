"""Which track of the take each channel of a list was recorded on: by the list, by numbers, or by names.

The usual ways of recording are tried as a whole: the track has the channel's number; the tracks follow the list's
order; the sockets are recorded box after box. Track names say which of them it was. Only where most of them agree with
none of these, and most with one channel each, are the channels placed name by name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from replay.drafting.inputs import Input
from replay.drafting.notes import Notes
from replay.patch.kinds import kind_from_name

MOST_COMPARED = 40_000
"""Names held against names (200 tracks by 200 channels); beyond, numbers decide."""

FITS = 0.75
"""Share of what names could say for a way that they do say, from which on it is believed (common practice, no
source)."""

CLAIMS = 0.6
FEWEST_BESIDE = 3
"""So many other names must bear a way out before two that do not are an exchange on it."""

SIZES = (8, 16, 24, 32, 40, 48, 56, 64, 96, 128)
"""Inputs that stage boxes have: where the next box begins on the recorder, if boxes are recorded whole."""


@dataclass(frozen=True, kw_only=True)
class TakeTracks:
    """What is needed of a take: track numbers in order, and the names of each, the best first. `left_out` are tracks
    whose files are there and cannot be used: the check tells why."""

    numbers: tuple[int, ...]
    names: Mapping[int, tuple[str, ...]]
    left_out: frozenset[int] = frozenset()


Way = dict[int, int]
"""Channel number -> track number."""


def placed(inputs: Sequence[Input], take: TakeTracks, notes: Notes) -> list[Input]:
    """The channels with the track that each is recorded on; None where there is none."""
    there = set(take.numbers) | take.left_out
    stated: Way = {one.number: one.track for one in inputs if one.track is not None}
    if stated and len(set(stated.values())) == len(stated) and 2 * len(there & set(stated.values())) >= len(stated):
        beyond = [number for number, track in stated.items() if track not in there]
        if beyond:
            notes.guess("the list's track is not in this take", *beyond, short="track not there")
        notes.tell("tracks are those of the list")
        return _with(inputs, stated)
    ways = _ways(inputs, take)
    score = _scorer(inputs, take)
    best, worth = "", -1.0
    for name, way in ways.items():
        fit = score(way) if score else _complete(way, inputs, there)
        if fit > worth + 0.02:
            best, worth = name, fit
    chosen = ways[best]
    if score is None:
        notes.guess_patch(f"{best}: the track names say nothing, so this is by numbers alone")
    else:
        # A few names that were exchanged on the recorder are for the check to tell: where a usual way fits most of
        # them, it stays.
        exchanged = _two_exchanged(chosen, inputs, take)
        by_names = _by_names(inputs, take, chosen)
        if not exchanged and worth < FITS <= (fit := score(by_names)):
            best, chosen, worth = "tracks placed by their names, one by one", by_names, fit
        if worth >= FITS or exchanged:
            notes.guess_patch(f"{best}: {_agreeing(chosen, inputs, take)}")
        else:
            notes.guess_patch(f"{best}, though the track names do not bear it out: look at the [[feed]] tables")
    return _with(inputs, {number: track for number, track in chosen.items() if track in there})


def _with(inputs: Sequence[Input], way: Mapping[int, int]) -> list[Input]:
    return [replace(one, track=way.get(one.number)) for one in inputs]


def _ways(inputs: Sequence[Input], take: TakeTracks) -> dict[str, Way]:
    """The usual ways by what they are called, the commonest first."""
    ways: dict[str, Way] = {"each channel on the track of its number": {one.number: one.number for one in inputs}}
    first = min(take.numbers, default=1) - 1
    if first:
        ways[f"each channel on the track of its number and {first}"] = {
            one.number: one.number + first for one in inputs
        }
    boxes = list(dict.fromkeys(one.box for one in inputs if one.socket is not None))
    if len(boxes) == 1:
        ways["each socket on the track of its number"] = _sockets_from(inputs, {boxes[0]: first})
    elif boxes:
        highest = {box: max(one.socket or 0 for one in inputs if one.box == box) for box in boxes}
        ways["box after box, each with all sockets that are in use"] = _sockets_from(inputs, _begins(boxes, highest))
        whole = {box: next((size for size in SIZES if size >= used), used) for box, used in highest.items()}
        ways["box after box, each recorded whole"] = _sockets_from(inputs, _begins(boxes, whole))
    distinct: dict[object, list[int]] = {}
    for one in inputs:
        distinct.setdefault((one.box, one.socket) if one.socket is not None else one.number, []).append(one.number)
    in_order = zip(distinct.values(), take.numbers, strict=False)
    ways["tracks in the order of the list"] = {number: track for numbers, track in in_order for number in numbers}
    return ways


def _begins(boxes: Sequence[str], sizes: Mapping[str, int]) -> dict[str, int]:
    begins, at = {}, 0
    for box in boxes:
        begins[box] = at
        at += sizes[box]
    return begins


def _sockets_from(inputs: Sequence[Input], begins: Mapping[str, int]) -> Way:
    return {one.number: begins[one.box] + one.socket for one in inputs if one.socket is not None and one.box in begins}


def _complete(way: Way, inputs: Sequence[Input], there: set[int]) -> float:
    """How far a way has a track for every channel, and a channel for every track."""
    used = {track for track in way.values() if track in there}
    return len(used) / max(len(inputs), 1) + 0.5 * len(used) / max(len(there), 1)


def _scorer(inputs: Sequence[Input], take: TakeTracks) -> Callable[[Way], float] | None:
    """How well a way fits the track names, from 0 to 1; None where they say nothing."""
    if len(inputs) * len(take.numbers) > MOST_COMPARED:
        return None
    scores = _scores(inputs, take)
    if not scores.informative or scores.other_show:
        return None

    def score(way: Way) -> float:
        channels: dict[int, int] = {}
        for number, track in way.items():
            channels.setdefault(track, number)
        told = [scores.score(track, channels[track]) if track in channels else 0.0 for track in scores.informative]
        # Tracks beyond the list (a spare, a room microphone) fit no way and count against none.
        most = min(len(told), len(inputs))
        return sum(sorted(told, reverse=True)[:most]) / most if most else 0.0

    return score


def _scores(inputs: Sequence[Input], take: TakeTracks):
    from replay.mapping.names import score_names

    return score_names(
        [(number, take.names.get(number, ())) for number in take.numbers],
        [(one.number, one.name, one.kind or kind_from_name(one.name)) for one in inputs],
    )


def _two_exchanged(way: Way, inputs: Sequence[Input], take: TakeTracks) -> bool:
    """Whether all names that say something bear a way out but two, which are each other's: in a short list, too."""
    scores = _scores(inputs, take)
    named = [(number, track) for number, track in way.items() if track in scores.informative]
    odd = [(number, track) for number, track in named if scores.score(track, number) < CLAIMS]
    if len(odd) != 2 or len(named) - 2 < FEWEST_BESIDE:
        return False
    (one, its), (other, others) = odd
    return min(scores.score(others, one), scores.score(its, other)) >= CLAIMS


def _by_names(inputs: Sequence[Input], take: TakeTracks, usual: Way) -> Way:
    """Each channel on the track whose name fits it best, the clearest first; where none fits, on its usual one if that
    is left and has no name that says otherwise."""
    scores = _scores(inputs, take)
    claims = sorted(
        (-scores.score(track, one.number), abs(track - one.number), one.number, track)
        for track in scores.informative
        for one in inputs
        if scores.score(track, one.number) >= CLAIMS
    )
    way: Way = {}
    taken: set[int] = set()
    for _, _, number, track in claims:
        if number not in way and track not in taken:
            way[number] = track
            taken.add(track)
    for number, track in usual.items():
        if number not in way and track not in taken and track not in scores.informative:
            way[number] = track
            taken.add(track)
    return way


def _agreeing(way: Way, inputs: Sequence[Input], take: TakeTracks) -> str:
    """How many of the names that say something agree, in words."""
    scores = _scores(inputs, take)
    channels = {track: number for number, track in reversed(list(way.items()))}
    named = [track for track in scores.informative if track in channels]
    fit = sum(1 for track in named if scores.score(track, channels[track]) >= CLAIMS)
    return f"{fit} of {len(named)} track names that say something fit"
