"""What a channel does to the samples that it gets: its trim and its polarity."""

from __future__ import annotations

from replay.patch.model import Channel
from replay.units import amplitude


def trim_of(channel: Channel, point: str) -> float:
    """The trim (dB) that the model applies: a feed taken after the trim has recorded it already."""
    return 0.0 if point == "after-trim" else channel.trim


def factor(channel: Channel, point: str) -> float:
    """The factor from a track's samples to the channel's: exactly 1.0 where trim is 0 dB and polarity normal."""
    return amplitude(trim_of(channel, point)) * (-1.0 if channel.inverted else 1.0)
