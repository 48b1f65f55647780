"""A channel comes back from another slot than the one that it is recorded on.

What it is
    The `return` in the input list names a slot that records something else, or nothing at all.

Why it matters before a show
    On playback the channel plays somebody else, and the engineer works on the wrong source.

How it is told
    From the patch alone. A warning; a note for talkback, and one note for all channels that are recorded but declared
    `live` or `none` on playback. Certain. A take made by `replay ident`, played to the desk and recorded back, tells
    what the desk really does: a fault where a channel carries another return than the patch says, a warning where it
    carries one more, or none; one note for the channels that agree.

What can fool it
    A return that is crossed on purpose, to try a source on another channel. In a recorded-back take, a channel that was
    muted before the point from which it is recorded, or that is not recorded back at all, looks like one without a
    return.

What to do
    Set the return to the recorded slot, in the input list and on the desk.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import of_channels, slot_name
from replay.desk.model import ChannelView, Show
from replay.patch.model import Slot, Socket
from replay.text import harmless, ranges

CODE = "return-mismatch"
TITLE = "a channel comes back from another slot"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    if show.returns_heard is not None:
        yield from _recorded_back(show, show.returns_heard)
        return
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
            message=_sentence(show, view, route.playback, route.slots, source),
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


def _sentence(
    show: Show, view: ChannelView, playback: Slot, recorded: tuple[Slot, ...], source: Socket | int | None
) -> str:
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


def _recorded_back(show: Show, heard: Mapping[int, tuple[int, ...]]) -> Iterator[Finding]:
    """What the bursts of a recorded-back ident take say against the patch."""
    agreeing = []
    for view in show.channels:
        route = show.routes.of(view.channel.number)
        recorded = [show.routes.track_of(slot) for slot in route.slots]
        tracks = [track for track in recorded if track in heard]
        if not tracks:
            continue
        found = sorted({number for track in tracks for number in heard[track]})
        wanted = show.routes.track_of(route.playback) if isinstance(route.playback, Slot) else None
        wrong = [number for number in found if number != wanted]
        if found == [wanted]:
            agreeing.append(view.channel.number)
            continue
        if not found and wanted is None:
            continue
        says = f"the patch says {_return(show, wanted)}" if wanted is not None else "the patch says that it stays live"
        told = " and ".join(_return(show, number) for number in wrong)
        if wanted in found:
            severity, message = "warning", f"It carries {told} as well as its own return."
            action = "See what else feeds it on the desk, and take that away."
        elif wrong:
            severity, message = "fault", f"It carries {told}; {says}."
            action = "Set its return on the desk, or correct the input list; then record the bursts back once more."
        else:
            severity, message = "warning", f"It carries no return at all; {says}."
            action = "See whether its source is the return, and whether it is recorded back from before its mute."
        yield Finding(
            code=CODE,
            severity=severity,
            confidence="certain" if wrong else "likely",
            message=message,
            action=action,
            key="recorded-back",
            **of_channels(show, [view.channel.number]),
        )
    if agreeing:
        one = len(agreeing) == 1
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"Channel{'' if one else 's'} {ranges(agreeing)} carr{'ies its' if one else 'y their'} own "
            f"return{'' if one else 's'}: the recorded-back bursts say so.",
            action="Nothing.",
            key="agree",
            **of_channels(show, agreeing),
        )


def _return(show: Show, track: int) -> str:
    slot = show.routes.slot_of(track)
    return f"return {track}" if slot is None else f"the return from {slot_name(show, slot)}"
