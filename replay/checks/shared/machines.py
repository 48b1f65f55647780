"""Timecode and click tracks: by the input list, or by their own sound where the list does not say so."""

from __future__ import annotations

from replay.checks.shared.place import views_of
from replay.desk.model import Show, TrackView

KINDS = frozenset({"timecode", "click"})


def heard_as_machine(show: Show, track: TrackView) -> bool:
    """Whether the sound itself is timecode's or a click track's, whatever the input list has."""
    number = track.track.number
    return number in show.timecode or number in show.evidence.clicks


def is_machine(show: Show, track: TrackView) -> bool:
    """Whether a track carries timecode or a click: made by a machine, with edges, levels and rests of its own."""
    return heard_as_machine(show, track) or any(view.channel.kind in KINDS for view in views_of(show, track))
