"""A channel comes back from another slot than the one that it is recorded on.

What it is
    The `return` in the input list names a slot that records something else, or nothing at all.

Why it matters before a show
    On playback the channel plays somebody else, and the engineer works on the wrong source.

How it is told
    From the patch alone. A warning; a note for talkback, and one note for all channels that are recorded but declared
    `live` or `none` on playback. Certain. What the desk really does is another question: see `wrong-return`.

What can fool it
    A return that is crossed on purpose, to try a source on another channel.

What to do
    Set the return to the recorded slot, in the input list and on the desk.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, slot_name
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.patch.model import Slot, Socket
from replay.text import harmless, ranges

CODE = "return-mismatch"
TITLE = "a channel comes back from another slot"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    kept = []
    for view in show.channels:
        route = show.routes.of(view.channel.number)
        if route.slots and view.channel.playback in ("live", "none"):
            kept.append(view.channel.number)
            continue
        if not isinstance(route.playback, Slot) or route.playback in route.slots:
            continue
        source = show.routes.sources.get(route.playback)
        if view.channel.socket is None and not route.slots and source is None:
            # A channel that only the recorder feeds (a player's tracks): nothing is crossed.
            continue
        yield Finding(
            code=CODE,
            severity="note" if view.channel.kind == "talkback" else "warning",
            confidence="certain",
            message=_sentence(show, route.playback, route.slots, source),
            action=f"Set its return to {slot_name(show, route.slots[0])}, in the input list and on the desk."
            if route.slots
            else "Correct its return in the input list, or record its source.",
            **of_channels(show, [view.channel.number]),
        )
    if kept:
        one = len(kept) == 1
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"Channel{'' if one else 's'} {ranges(kept)} {'is' if one else 'are'} recorded but "
            f"stay{'s' if one else ''} with the stage on playback, as the input list says.",
            action="Nothing, if that is meant.",
            key="declared",
            **of_channels(show, kept),
        )


def _sentence(show: Show, playback: Slot, recorded: tuple[Slot, ...], source: Socket | int | None) -> str:
    if source is None:
        holds = "which no feed records onto"
    elif isinstance(source, Socket):
        holds = f"which records {harmless(str(source), 60)}"
    else:
        holds = f"which records channel {source}"
    text = f"It returns from {slot_name(show, playback)}, {holds}"
    if recorded:
        return f"{text}; its own source is on {slot_name(show, recorded[0])}."
    return f"{text}; its own source is not recorded."
