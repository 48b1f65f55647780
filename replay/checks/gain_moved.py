"""A preamp was turned during the take.

What it is
    Level and floor of a track step together, in every octave, by whole decibels.

Why it matters before a show
    The patch knows one gain only. Levels and clips before the move say nothing of how the preamp stands now.

How it is told
    Rests of 0.6 s or more are held against one another: where at least seven of nine octaves of their noise
    step alike, by 3 dB or more, and the loud moments do not contradict, while most other tracks stay, the gain was
    moved in between. When, is told to the second where the source rests, and as well as the loud levels allow where
    it plays. A note, likely. Where the patch gives no `from`, the channel's levels are judged from its last move on,
    and clips before it are told apart. On radio channels only where what sounds goes with the floor: a receiver that is
    muted in a rest has a floor of its own.

What can fool it
    Applause is noise itself and steps as it likes: ambience microphones are left out. A unit with its own noise between
    source and preamp that is turned itself. A source that never rests on one of both sides, or an audience that never
    does, hides a move.

What to do
    Check that the input list has the gain as it stands now. Where nobody turned it, ask who shares the preamp.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show
from replay.desk.moves import preamp_moves
from replay.evidence.gain_moves import GainMove
from replay.findings.finding import Finding

CODE = "gain-moved"
TITLE = "the gain was moved"
LIMITS: Mapping[str, Limit] = {
    "gain_moved_db": Limit(3.0, "dB", "smaller moves are not told", least=2.5, most=60),
}

SURE_S = 2.0
"""Where the rests about a move lie closer together, its place is known well enough."""


def check(show: Show) -> Iterator[Finding]:
    by_track = moves_of(show)
    for track in show.tracks:
        moves = by_track.get(track.track.number)
        if not moves:
            continue
        last = moves[-1]
        steps = words.listed([f"{move.db:+g} dB {_when(move)}" for move in moves])
        where = source_name(views_of(show, track)[0])
        yield Finding(
            code=CODE,
            severity="note",
            confidence="likely",
            message=f"The gain stepped by {steps}: level and floor together, in every octave.",
            action=f"Check that the input list has the gain of {where} as it stands now.",
            start_s=moves[0].first_s,
            end_s=last.last_s,
            amount=last.db,
            unit="dB",
            **of_tracks(show, [track.track.number]),
        )


def moves_of(show: Show) -> Mapping[int, tuple[GainMove, ...]]:
    """The moves that are told, by track number."""
    return preamp_moves(show.patch, show.routes, show.gain_moves, len(show.tracks), show.limit("gain_moved_db"))


def _when(move: GainMove) -> str:
    """When a move was made, as well as it is known."""
    if move.last_s - move.first_s <= SURE_S:
        return words.at(move.at_s)
    between = f"between the rests {words.at(move.first_s)} and {words.at(move.last_s)}"
    return f"about {words.at(move.at_s)}, {between}"
