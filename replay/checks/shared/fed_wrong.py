"""Channels whose tracks hold another's source, as other findings tell: what their gains should be, nothing says yet.

The level on such a track is of a source that goes elsewhere once the plugs are right, and which preamp it came through
is not known: a plug before the preamp may be wrong, a patch point behind it, or only the input list. So no gain is
advised for them, and it is asked again of the next take.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from replay.checks.shared.copies import copies, natural
from replay.checks.shared.lying import believed
from replay.desk.model import ChannelView, Show
from replay.ear import WRONG
from replay.text import ranges

GAIN_WAITS = "First put right what feeds it, then record again: its gain can be told only then."


def without_their_advice(show: Show) -> Show:
    """The show with no gain advice for channels that another's source is told to feed, nor for those that turn with
    them (`fed_wrong`); `advice_waits` says for which there was some."""
    wrong = together_with(show, _fed_wrong(show))
    if not wrong:
        return show
    views = tuple(
        replace(view, fed_wrong=True, advice=None, advice_waits=view.advice is not None)
        if view.channel.number in wrong
        else view
        for view in show.channels
    )
    return replace(show, channels=views)


def then_gains(show: Show, about: Iterable[int]) -> str:
    """A sentence, with a space before it, for the action of what tells that `about` are fed by another's source; ""
    where no gain waits for that."""
    with_them = together_with(show, set(about))
    waiting = [view.channel.number for view in show.channels if view.advice_waits and view.channel.number in with_them]
    if not waiting:
        return ""
    whose = f"channel{'s' * (len(waiting) > 1)} {ranges(waiting)}"
    return f" Record again after that: what gain {whose} need{'s' * (len(waiting) == 1)} can be told only then."


def together_with(show: Show, numbers: set[int]) -> set[int]:
    """These channels, and those whose gain turns with theirs: on the same sockets, and the other sides of pairs."""
    found = set(numbers)
    for _ in range(2):
        sockets = {view.channel.socket for view in show.channels if view.channel.number in found}
        found |= {view.channel.number for view in show.channels if view.channel.socket in sockets - {None}}
        found |= {
            view.channel.pair
            for view in show.channels
            if view.channel.number in found and view.channel.pairing in ("stereo", "spaced") and view.channel.pair
        }
    return found


def _fed_wrong(show: Show) -> set[int]:
    """As sound and ears tell it. What the engineer's ears deny is left as patched."""
    wrong: set[int] = set()
    for one in believed(show):
        others = set(one.sources.values()) - {None}
        wrong |= {*one.channels, *one.perhaps}
        wrong |= {view.channel.number for view in show.channels if _recorded_on(show, view) in others}
    for one_copy, here, there in copies(show):
        if not natural(show, one_copy, here, there):
            wrong |= {view.channel.number for view in (*here, *there)}
    # Where a crossed return is why it sounds wrong, its own preamp's track may hold its own source.
    wrong |= {
        view.channel.number
        for view in show.channels
        if show.ear.says(view.channel.number) == WRONG and view.playback in show.routes.of(view.channel.number).slots
    }
    return wrong


def _recorded_on(show: Show, view: ChannelView) -> int | None:
    """The track that the channel's own socket was recorded on, whose level its advice goes by."""
    return None if view.slot is None else show.routes.track_of(view.slot)
