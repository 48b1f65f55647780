"""What the engineer's own ears said of a take's channels: answers that hold, and answers that do not any more.

`replay confirm` asks; `replay.confirm` keeps the answers and says which of them hold; checks and reports look at them.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from replay.errors import Problem
from replay.text import harmless

RIGHT, WRONG, UNSURE = "right", "wrong", "unsure"
ANSWERS = (RIGHT, WRONG, UNSURE)

CHANGED, MOVED, RENAMED, GONE = "changed", "moved", "renamed", "gone"
REASONS = (CHANGED, MOVED, RENAMED, GONE)
"""Why an answer does not hold any more: the take has changed, the channel comes from another track now, it has another
name in the patch, the patch has no such channel."""


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the engineer heard on a channel.

    `is_really` is what it is instead, where the answer is wrong: words, or the number of the channel it belongs to.
    `date` is the time of the answer, as ISO 8601. `take` is the take's name, `fingerprint` tells it from every other;
    `track` is the number of the track that was heard (None where that was not written down), `track_fingerprint` tells
    what was on it.
    """

    channel: int
    name: str
    answer: str
    is_really: str = ""
    date: str = ""
    take: str = ""
    fingerprint: str = ""
    track: int | None = None
    track_fingerprint: str = ""

    @property
    def is_channel(self) -> int | None:
        """The channel that it was said to be instead; None where it was none, or only words."""
        if self.answer != WRONG or not (self.is_really.isascii() and self.is_really.isdecimal()):
            return None
        if len(self.is_really) > 6:
            return None
        number = int(self.is_really)
        return None if number == self.channel else number

    @property
    def when(self) -> str:
        """The time of the answer for a sentence, as the engineer's clock showed it: `2026-06-20 17:30`; without a
        time of day, or as it is, where it was written by hand."""
        try:
            when = datetime.datetime.fromisoformat(self.date)
            return when.strftime("%Y-%m-%d" if len(self.date) <= 10 else "%Y-%m-%d %H:%M")
        except ValueError:
            return harmless(self.date, 40)


@dataclass(frozen=True)
class Stale:
    """An answer that does not hold any more: `why` is one of REASONS, `same_track` whether the channel's own track is
    as it was when it was heard."""

    answer: Answer
    why: str
    same_track: bool


@dataclass(frozen=True, kw_only=True)
class Ear:
    """All answers about one take under one patch, by channel: those that hold, and those that do not any more.

    `problems` is what is wrong with the list that they are kept in; what could be read of it counts all the same.
    """

    answers: Mapping[int, Answer] = field(default_factory=dict)
    stale: tuple[Stale, ...] = ()
    problems: tuple[Problem, ...] = ()

    def says(self, channel: int) -> str:
        """One of ANSWERS; "" where the channel has no answer that holds."""
        answer = self.answers.get(channel)
        return "" if answer is None else answer.answer


NOTHING_SAID = Ear()


def rings(answers: Mapping[int, Answer]) -> list[tuple[int, ...]]:
    """Channels that were said to be each other: pairs, and rings of more, each from its lowest channel on.

    In (1, 2, 3), what is heard on 1 is the source of 2, on 2 that of 3, and on 3 that of 1.
    """
    said = {number: other for number, answer in answers.items() if (other := answer.is_channel) is not None}
    found = []
    seen: set[int] = set()
    for first in sorted(said):
        ring = [first]
        while (following := said.get(ring[-1])) is not None and following not in ring:
            ring.append(following)
        if following == first and not seen & set(ring):
            found.append(tuple(ring))
            seen.update(ring)
    return found
