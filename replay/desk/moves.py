"""Which steps of gain count: those of tracks behind a preamp that somebody can turn. One rule, for what is told and for
the part that is judged."""

from __future__ import annotations

from collections.abc import Mapping

from replay.evidence.gain_moves import GainMove, own_moves
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes

NO_PREAMP_KINDS = frozenset({"playback", "click", "timecode", "ambience"})
"""Applause is noise itself and steps as it likes; what comes from a machine is turned in the machine."""


def large_moves(
    patch: Patch, routes: Routes, moves: Mapping[int, tuple[GainMove, ...]], least_db: float
) -> dict[int, tuple[GainMove, ...]]:
    """By track number, the moves of `least_db` or more of channels in use that have a preamp.

    A radio that is muted while nobody sings leaves another floor, its receiver's own. So there a step of floors counts
    only where what sounds goes with it, nearer to it than to none.
    """
    large = {}
    for number, found in sorted(moves.items()):
        radio = "rf" in {channel.input for channel in _channels(patch, routes, number)}
        kept = tuple(move for move in found if abs(move.db) >= least_db and (not radio or _is_heard(move)))
        if kept and _has_preamp(patch, routes, number):
            large[number] = kept
    return large


def preamp_moves(
    patch: Patch, routes: Routes, moves: Mapping[int, tuple[GainMove, ...]], tracks: int, least_db: float
) -> dict[int, tuple[GainMove, ...]]:
    """`large_moves` without those that many of the take's `tracks` tracks make at once: these are the gains that
    somebody turned."""
    return own_moves(large_moves(patch, routes, moves, least_db), tracks)


def _is_heard(move: GainMove) -> bool:
    return move.loud_db is not None and abs(move.loud_db - move.db) < abs(move.loud_db)


def _channels(patch: Patch, routes: Routes, track: int) -> list[Channel]:
    """The channels in use that a track belongs to."""
    slot = routes.slot_of(track)
    if slot is None:
        return []
    numbers = routes.fed_by(slot) or routes.recorded_from(slot)
    return [channel for number in numbers if (channel := patch.channel(number)).use != "off"]


def _has_preamp(patch: Patch, routes: Routes, track: int) -> bool:
    channels = _channels(patch, routes, track)
    if not channels or {channel.kind for channel in channels} & NO_PREAMP_KINDS:
        return False
    return {channel.input for channel in channels} != {"digital"}
