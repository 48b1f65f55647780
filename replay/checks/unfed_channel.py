"""Channels that no socket feeds.

What it is
    The input list names the channel and no socket for it.

Why it matters before a show
    Nothing will come on it, from the stage or from the recorder, unless the desk is patched otherwise.

How it is told
    From the patch alone. One note for all of them, certain. Channels whose use is `off` are left out.

What can fool it
    Channels that are fed inside the desk (effects returns, a player).

What to do
    Nothing, if it is meant; else give them their sockets in the input list.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "unfed-channel"
TITLE = "a channel without a socket"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    unfed = [view.channel.number for view in show.channels if view.status == "unfed" and view.channel.use != "off"]
    if not unfed:
        return
    one = len(unfed) == 1
    yield Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"No socket feeds channel{'' if one else 's'} {ranges(unfed)}.",
        action=f"Nothing, if it is meant; else name {'its socket' if one else 'their sockets'} in the input list.",
        **of_channels(show, unfed),
    )
