"""Which channel of A is which channel of B: by number and name, then by name alone, then by number where it was only
renamed. What is left has no counterpart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from replay.patch.model import Channel


@dataclass(frozen=True, kw_only=True)
class Match:
    """Channels of both sides: pairs that are one and the same, then what only A has and what only B has."""

    same: tuple[tuple[Channel, Channel], ...]
    gone: tuple[Channel, ...]
    added: tuple[Channel, ...]


def match(before: Sequence[Channel], after: Sequence[Channel]) -> Match:
    """Pair the channels of two patches; pairs come in the order of B.

    >>> from replay.patch.model import Channel
    >>> a = [Channel(number=1, name="Kick"), Channel(number=2, name="Fiddle")]
    >>> b = [Channel(number=1, name="Kick"), Channel(number=3, name="Fiddle"), Channel(number=2, name="Banjo")]
    >>> [(x.number, y.number) for x, y in match(a, b).same]
    [(1, 1), (2, 3)]
    """
    found: dict[int, Channel] = {}  # number in B -> channel of A
    left = {channel.number: channel for channel in before}
    waiting = {channel.number: channel for channel in after}

    def pair(one: Channel, other: Channel) -> None:
        found[other.number] = one
        del left[one.number], waiting[other.number]

    for other in list(waiting.values()):
        one = left.get(other.number)
        if one is not None and _word(one) == _word(other):
            pair(one, other)
    names_before, names_after = (Counter(map(_word, side.values())) for side in (left, waiting))
    by_name = {_word(one): one for one in left.values()}
    for other in list(waiting.values()):
        name = _word(other)
        if name and names_after[name] == names_before[name] == 1:
            pair(by_name[name], other)
    for other in list(waiting.values()):
        one = left.get(other.number)
        # Renamed in place: the socket stayed, and so did what kind of source it is.
        if one is not None and one.socket == other.socket and one.kind == other.kind:
            pair(one, other)
    return Match(
        same=tuple((found[channel.number], channel) for channel in after if channel.number in found),
        gone=tuple(left.values()),
        added=tuple(waiting.values()),
    )


def _word(channel: Channel) -> str:
    return " ".join(channel.name.casefold().split())
