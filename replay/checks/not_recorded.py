"""A channel's source does not reach the recorder.

What it is
    No feed carries the channel's socket, so there is no track of it.

Why it matters before a show
    In the virtual soundcheck this channel is silent, or still hangs on its microphone on an empty stage.

How it is told
    From the patch alone: boxes, feeds and slots. A warning; a note for local inputs (a box that no feed carries),
    talkback, spares and guests, and where the input list itself says `live` or `none` as the return. Sockets of one
    box are told together. Certain.

What can fool it
    A feed that exists but is not in the patch.

What to do
    Move the source to a socket that is recorded, widen the feed, or say `live` as its return.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, source_name
from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding
from replay.text import harmless, ranges

CODE = "not-recorded"
TITLE = "a channel is not recorded"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    groups: dict[tuple[str, str], list[ChannelView]] = {}
    for view in show.channels:
        declared = view.channel.playback in ("live", "none")
        if view.slot is not None or view.channel.socket is None:
            continue
        if view.status == "not-recorded" or (view.status == "live" and declared):
            severity = "note" if declared or _stays(show, view) else "warning"
            groups.setdefault((severity, view.channel.socket.box), []).append(view)
    for (severity, box), views in groups.items():
        numbers = [view.channel.number for view in views]
        sockets = sorted({view.channel.socket.number for view in views if view.channel.socket})
        one = len(views) == 1
        socket = source_name(views[0]) if one else f"{harmless(box)} {ranges(sockets)}"
        yield Finding(
            code=CODE,
            severity=severity,
            confidence="certain",
            message=f"No feed carries {socket}: channel{'' if one else 's'} {ranges(numbers)} "
            f"{'is' if one else 'are'} not on the recorder.",
            action=_action(severity, socket, one),
            **of_channels(show, numbers),
        )


def _action(severity: str, socket: str, one: bool) -> str:
    if severity == "warning":
        move = "the source to a socket that is" if one else "the sources to sockets that are"
        return f"Widen the feed to take in {socket}, or move {move} fed."
    return f"Nothing, if {'the channel is' if one else 'these channels are'} meant to stay with the stage."


def _stays(show: Show, view: ChannelView) -> bool:
    """Local inputs, talkback and what need not play are meant to stay with the stage."""
    carried = {feed.box for feed in show.patch.feeds if feed.box is not None}
    local = bool(carried) and view.channel.socket is not None and view.channel.socket.box not in carried
    return local or view.channel.kind == "talkback" or view.channel.use != "must"
