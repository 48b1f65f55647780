"""The desk feeds a channel from another return than the patch says: its bursts were recorded back.

What it is
    A take made by `replay ident` was played to the desk and recorded back, and its bursts say which return is on which
    channel.

Why it matters before a show
    Whatever the recording holds, on playback this channel plays somebody else, and no take can show that.

How it is told
    Every burst carries the number of its return. A fault, certain, where a channel carries another return than the
    patch says: that is what the desk did, not what a list says. A warning where it carries one more than its own, or
    none; one note for the channels that agree.

What can fool it
    A channel that was muted before the point from which it is recorded, or that is not recorded back at all, looks like
    one without a return.

What to do
    Set the return on the desk, or correct the input list; then record the bursts back once more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, slot_name
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.patch.model import Slot
from replay.text import ranges

CODE = "wrong-return"
TITLE = "the desk feeds a channel from another return"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    heard = show.returns_heard
    if heard is None:
        return
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
