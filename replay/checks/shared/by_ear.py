"""The engineer's answers in the checks' sentences: what was said, when, and what the sound says to it."""

from __future__ import annotations

from collections.abc import Iterable

from replay.checks.shared import words
from replay.checks.shared.place import channel_name
from replay.desk.model import ChannelView, Show
from replay.ear import RIGHT, Answer
from replay.text import harmless


def what(show: Show, answer: Answer) -> str:
    """What a channel was said to be, for a sentence: `it is right`, `it is 7 Vocal`, `it is something else`."""
    if answer.answer == RIGHT:
        return "it is right"
    other = answer.is_channel
    if other is not None:
        return f"it is {named(show, other)}"
    return f'it is "{harmless(answer.is_really, 80)}"' if answer.is_really else "it is something else"


def named(show: Show, number: int) -> str:
    """A channel by number and name, also one that the patch has not."""
    view = next((view for view in show.channels if view.channel.number == number), None)
    return f"channel {number}, which the patch does not have" if view is None else channel_name(view)


def on(answers: Iterable[Answer]) -> str:
    """When the last of some answers was given: `on 2026-06-20 17:30`; "" where no date was kept."""
    dates = [answer.when for answer in answers if answer.when]
    return f"on {max(dates)}" if dates else ""


def you_said(answer: Answer) -> str:
    """`By ear you said (2026-06-20 17:30)`."""
    return f"By ear you said ({answer.when})" if answer.when else "By ear you said"


def sound_says(show: Show, view: ChannelView, answer: Answer | None) -> str:
    """What the sound says against ears that call a channel wrong: a sentence, "" where it says nothing against it.

    That it sounds like its kind says nothing where it was said to be another channel of that kind, and names are no
    sound.
    """
    if view.mapping.status != "heard":
        return ""
    other = answer.is_channel if answer is not None else None
    theirs = next((one.channel.kind for one in show.channels if one.channel.number == other), None)
    counts = (_IN_TURN,) if theirs == view.channel.kind else (_IN_TURN, _OF_ITS_KIND)
    why = words.listed([piece for piece in view.mapping.evidence if piece.startswith(counts)])
    return f"The sound says otherwise of {channel_name(view)}: {why}." if why else ""


_IN_TURN, _OF_ITS_KIND = "it sounded alone", "it sounds like"
"""How the pieces of evidence begin that come from the sound."""
