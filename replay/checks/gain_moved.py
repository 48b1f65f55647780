"""A preamp was turned during the take.

What it is
    Level and floor of a track step together, in every octave, by whole decibels.

Why it matters before a show
    The patch knows one gain only. Levels and clips before the move say nothing of how the preamp stands now.

How it is told
    The quiet levels of at least seven octaves step alike within 0.7 dB, the loud ones with them, by 3 dB or more, while
    most other tracks stay. A note, likely. Where the patch gives no `from`, the channel's levels are judged from its
    last move on, and clips before it are told apart.

What can fool it
    A player whose whole sound changes at once (another pickup, an effect unit). A source that never rests hides it.

What to do
    Check that the input list has the gain as it stands now. Where nobody turned it, ask who shares the preamp.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks import words
from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import of_tracks, source_name, views_of
from replay.desk.model import Show
from replay.evidence.gain_moves import GainMove, own_moves

CODE = "gain-moved"
TITLE = "the gain was moved"
LIMITS: Mapping[str, Limit] = {
    "gain_moved_db": Limit(3.0, "dB", "smaller moves are not told", least=2.5, most=60),
}


def moved(show: Show) -> dict[int, tuple[GainMove, ...]]:
    """All steps of gain, by track, of what has a preamp and is large enough."""
    by_track: dict[int, tuple[GainMove, ...]] = {}
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        if not views or {view.channel.kind for view in views} & {"playback", "click", "timecode"}:
            continue
        if {view.channel.input for view in views} == {"digital"}:
            continue
        found = [m for m in show.gain_moves.get(track.track.number, ()) if abs(m.db) >= show.limit("gain_moved_db")]
        if found:
            by_track[track.track.number] = tuple(found)
    return by_track


def check(show: Show) -> Iterator[Finding]:
    by_track = own_moves(moved(show), len(show.tracks))
    for track in show.tracks:
        moves = by_track.get(track.track.number)
        if not moves:
            continue
        last = moves[-1]
        steps = words.listed([f"{move.db:+g} dB {words.at(move.at_s)}" for move in moves])
        where = source_name(views_of(show, track)[0])
        yield Finding(
            code=CODE,
            severity="note",
            confidence="likely",
            message=f"The gain stepped by {steps}: level and floor together, in every octave.",
            action=f"Check that the input list has the gain of {where} as it stands now.",
            start_s=moves[0].at_s,
            end_s=last.at_s,
            amount=last.db,
            unit="dB",
            **of_tracks(show, [track.track.number]),
        )
