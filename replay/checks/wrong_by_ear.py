"""You listened to a channel and said that it is not what the patch says.

What it is
    In `replay confirm` a channel was answered with "wrong", about this very take and patch.

Why it matters before a show
    The engineer would set up one source with another one's sound. Nothing that is measured says more than ears that
    know the band.

How it is told
    From `confirmed.csv` in the show's folder, as long as the take, the channel's name and its track are what they were
    when it was heard. A fault, certain; a warning for channels that need not play. It says what you said it was, and
    when; and where the sound says otherwise, that too. Two channels that were each said to be the other are told as
    `swapped`.

What can fool it
    A slip of a finger, or bleed taken for the source.

What to do
    Look where its plug is, correct the plugs or the input list, then `replay confirm` the channel again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import by_ear
from replay.checks.shared.fed_wrong import then_gains
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import channel_name, of_channels, slot_name, source_name
from replay.desk.model import ChannelView, Show
from replay.ear import RIGHT, WRONG, Answer
from replay.findings.finding import Finding
from replay.mapping.by_ear import voices

CODE = "wrong-by-ear"
TITLE = "by ear it is another source"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    tracks = show.tracks_of_channels()
    told = {
        number for one in show.mapping.misplaced for number in voices(one, show.ear.answers, tracks).agree
    }  # what a misplacement tells, with the ears' support
    for view in show.channels:
        answer = show.ear.answers.get(view.channel.number)
        if answer is None or answer.answer != WRONG or view.channel.number in told:
            continue
        yield Finding(
            code=CODE,
            severity="fault" if view.channel.use == "must" else "warning",
            confidence="certain",
            message=" ".join(_sentences(show, view, answer)),
            action=f"{_action(show, view, answer)}{then_gains(show, [view.channel.number])}",
            **of_channels(show, [view.channel.number]),
        )


def _sentences(show: Show, view: ChannelView, answer: Answer) -> Iterator[str]:
    yield f"{by_ear.you_said(answer)} that it is wrong: {by_ear.what(show, answer)}."
    other = answer.is_channel
    if other is not None and show.ear.says(other) == RIGHT:
        yield (
            f"But of {by_ear.named(show, other)} you said that it is right: one of the two is a slip, or one source is "
            "on both tracks."
        )
    if _is_crossed(show, view):
        assert view.playback is not None
        yield f"It comes back from {slot_name(show, view.playback)}, not from the slot that it is recorded on."
    found = view.mapping.found_on
    if found is not None:
        yield f"The sound has its source on track {found}."
    otherwise = by_ear.sound_says(show, view, answer)
    if otherwise:
        yield otherwise


def _action(show: Show, view: ChannelView, answer: Answer) -> str:
    number, other = view.channel.number, answer.is_channel
    if _is_crossed(show, view):
        slot = show.routes.of(number).slots[0]
        return f"Set its return to {slot_name(show, slot)}, in the input list and on the desk; then confirm it again."
    theirs = next((one for one in show.channels if one.channel.number == other), None)
    if theirs is not None:
        return (
            f"Follow the plugs of {channel_name(view)} at {source_name(view)} and of {channel_name(theirs)} at "
            f"{source_name(theirs)}, put them or the input list right, then confirm both again."
        )
    return f"Follow its plug at {source_name(view)}, put it or the input list right, then confirm it again."


def _is_crossed(show: Show, view: ChannelView) -> bool:
    """Whether the patch itself has the channel come back from another slot than its own."""
    slots = show.routes.of(view.channel.number).slots
    return bool(slots) and view.playback is not None and view.playback not in slots
