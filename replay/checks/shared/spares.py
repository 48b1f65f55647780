"""What need not play: spares, guests and talkback, whose silence is a note and never a fault."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from replay.checks.shared.place import of_tracks, views_of
from replay.desk.model import ChannelView, Show, TrackView
from replay.findings.finding import Finding
from replay.text import ranges


def must_play(views: Iterable[ChannelView]) -> bool:
    """True where one of the channels must play."""
    return any(view.channel.use == "must" and view.channel.kind != "talkback" for view in views)


def one_note(show: Show, code: str, tracks: list[TrackView], what: str) -> Iterator[Finding]:
    """One note for all of these tracks that belong to channels that may play; what is `off` is silent by right."""
    views = [view for track in tracks for view in views_of(show, track)]
    channels = sorted({view.channel.number for view in views if view.channel.use != "off"})
    if not channels:
        return
    numbers = [
        track.track.number for track in tracks if any(v.channel.number in channels for v in views_of(show, track))
    ]
    one = len(channels) == 1
    yield Finding(
        code=code,
        severity="note",
        confidence="certain",
        message=f"Channel{'' if one else 's'} {ranges(channels)} (spare, guest or talkback) "
        f"hold{'s' if one else ''} nothing but {what}.",
        action="Nothing, unless one of them is to play tonight.",
        key="spare",
        **of_tracks(show, numbers),
    )
