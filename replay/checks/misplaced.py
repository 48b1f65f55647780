"""What the checks on misplaced sources have in common: severity, sentences, places."""

from __future__ import annotations

from collections.abc import Mapping

from replay.checks import words
from replay.checks.finding import Finding
from replay.checks.limit import Limit
from replay.checks.place import channel_name, of_channels, source_name
from replay.desk.model import Show
from replay.mapping.model import Misplacement
from replay.text import ranges

LIMITS: Mapping[str, Limit] = {}

_SAYS = {
    "line check": "the line check",
    "sound": "the sound",
    "silence": "who plays and who is silent",
    "pairs": "the pairs that belong together",
    "names": "the track names",
}


def finding(show: Show, code: str, one: Misplacement, message: str, action: str) -> Finding:
    """A finding about a misplacement: a fault where the line check proves it or two kinds of evidence agree."""
    sure = one.proven or len(one.agreeing) >= 2
    return Finding(
        code=code,
        severity="fault" if sure else "warning",
        confidence="certain" if sure else "likely",
        message=f"{message}; {why(one)}.",
        action=action,
        amount=round(one.margin, 1),
        unit="log odds",
        **of_channels(show, one.channels),
    )


def why(one: Misplacement) -> str:
    """Which evidence says so."""
    kinds = [_SAYS[kind] for kind in one.agreeing] or ["all evidence taken together"]
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
