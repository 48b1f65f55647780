"""What the checks on misplaced sources have in common: severity, sentences, places."""

from __future__ import annotations

from collections.abc import Mapping

from replay.checks.shared import by_ear, words
from replay.checks.shared.fed_wrong import then_gains
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import channel_name, of_channels, source_name
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.mapping.by_ear import Voices, voices
from replay.mapping.model import Misplacement
from replay.text import ranges

LIMITS: Mapping[str, Limit] = {}

_SAYS = {
    "line check": "the line check",
    "sound": "the sound",
    "bleed": "what the tracks hear of the others",
    "silence": "who plays and who is silent",
    "pairs": "the pairs that belong together",
    "names": "the track names",
}


def finding(show: Show, code: str, one: Misplacement, message: str, action: str) -> Finding:
    """A finding about a misplacement: a fault where the line check proves it, two kinds of evidence agree, or the
    engineer's ears say so too; but a warning where they say otherwise, with both told."""
    heard = voices(one, show.ear.answers, show.tracks_of_channels())
    sure = (one.proven or len(one.agreeing) >= 2 or bool(heard.agree)) and not heard.denied
    said = [show.ear.answers[number] for number in heard.deny]
    against = [
        f"{by_ear.you_said(answer)} of {channel_name(show.view(answer.channel))} that {by_ear.what(show, answer)}."
        for answer in said
    ]
    if not one.agreeing:
        against += [
            text
            for number in one.channels
            if (text := by_ear.sound_says(show, show.view(number), show.ear.answers.get(number)))
        ]
    if heard.agree:
        # Whoever said so has listened already.
        action = action.removeprefix("Listen to them, then ")
        action = f"{action[:1].upper()}{action[1:].removesuffix('.')}; then confirm them again."
    return Finding(
        code=code,
        severity="fault" if sure else "warning",
        confidence="certain" if sure else "likely",
        message=" ".join([f"{message}; {why(show, one, heard)}.", *against]),
        action=f"{action}{then_gains(show, (*one.channels, *one.perhaps))}",
        amount=None if one.margin is None else round(one.margin, 1),
        unit="" if one.margin is None else "log odds",
        **of_channels(show, one.channels),
    )


def why(show: Show, one: Misplacement, heard: Voices) -> str:
    """Which evidence says so."""
    kinds = [_SAYS.get(kind, f"the {kind}") for kind in one.agreeing]
    if heard.agree:
        date = by_ear.on(show.ear.answers[number] for number in heard.agree)
        if not kinds:
            return f"you said so by ear {date}".rstrip()
        kinds.append(f"your ears ({date})" if date else "your ears")
    kinds = kinds or ["all evidence taken together"]
    agree = " agree" if len(kinds) > 1 else f" say{'' if kinds[0].endswith(('s', 'r')) else 's'} so"
    return words.listed(kinds) + agree


def sources(show: Show, one: Misplacement) -> str:
    """Where the sources lie, channel by channel."""
    parts = []
    for number, track in one.sources.items():
        where = "on no track" if track is None else f"on track {track}"
        parts.append(f"{channel_name(show.view(number))} {where}")
    return words.listed(parts, most=4)


def places(show: Show, one: Misplacement) -> str:
    """The sockets (or channels) to walk to."""
    return words.listed([source_name(show.view(number)) for number in one.channels], most=4)


def span(one: Misplacement) -> str:
    """The channels in short: `channels 5-16`."""
    return f"channels {ranges(sorted(one.channels))}"
