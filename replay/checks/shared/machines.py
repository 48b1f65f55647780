"""Timecode and click tracks: by the input list, or by their own sound where the list does not say so."""

from __future__ import annotations

from replay.checks.shared.place import views_of
from replay.desk.model import ChannelView, Show, TrackView
from replay.patch.kinds import words_of

KINDS = frozenset({"timecode", "click"})

DRUMS = frozenset({"kick", "snare", "tom", "hi-hat"})
SAMPLES = frozenset(("pad", "pads", "trigger", "triggers", "trig", "trigs", "sampler", "samples", "machine"))
"""Kinds (where no microphone hears them) and words of names of what a sequencer may play as evenly as a click track,
and with as few sounds."""


def heard_as_machine(show: Show, track: TrackView) -> bool:
    """Whether the sound itself is timecode's or a click track's, whatever the input list has."""
    number = track.track.number
    return number in show.timecode or number in show.evidence.clicks


def is_machine(show: Show, track: TrackView) -> bool:
    """Whether a track carries timecode or a click: made by a machine, with edges, levels and rests of its own."""
    return heard_as_machine(show, track) or any(view.channel.kind in KINDS for view in views_of(show, track))


def may_be_pad(view: ChannelView) -> bool:
    """Whether a channel is to hold percussion, drums without a microphone, or what triggers samples: what sounds like a
    click there may be that."""
    channel = view.channel
    if channel.kind in KINDS:
        return False
    by_line = channel.kind in DRUMS and channel.input != "mic"
    return by_line or channel.kind == "percussion" or not SAMPLES.isdisjoint(words_of(channel.name))
