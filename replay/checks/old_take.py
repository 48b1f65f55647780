"""The soundcheck is old: is it the one that you mean?

What it is
    The take that is looked at was made longer ago than a soundcheck usually lies before its show.

Why it matters before a show
    Last week's take fits last week's patch. Gains, microphones and channels have moved since.

How it is told
    By the start time in the files where that is plausible, else by the date of the newest file, against the clock of
    this computer. A note, certain, for a soundcheck or a line check; a take of a show is meant to be older.

What can fool it
    A recorder's or a computer's clock that is wrong; a copy that set new dates.

What to do
    See whether a newer take lies on the recorder, and name the one that you mean with `--take`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import nowhere
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.text import harmless

CODE = "old-take"
TITLE = "the take is old"
LIMITS: Mapping[str, Limit] = {
    "old_take_hours": Limit(36, "hours", "a soundcheck older than this is told", least=1),
}

_DAY = 24
_WEEK = 7 * _DAY
_MONTH = 30.4 * _DAY


def check(show: Show) -> Iterator[Finding]:
    hours = (show.now - show.take.recorded) / 3600
    if show.patch.take.of == "show" or hours < show.limit("old_take_hours"):
        return
    others = show.take.others
    newer = f" {len(others)} other take{'s lie' if len(others) > 1 else ' lies'} beside it." if others else ""
    yield Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"The take {harmless(show.take.folder.name, 60)} is {age(hours)} old.{newer}",
        action="See whether the recorder holds a newer take, and name the one you mean with --take.",
        amount=round(hours, 1),
        unit="h",
        **nowhere(),
    )


def age(hours: float) -> str:
    """An age in plain words, in the largest unit that still says enough.

    >>> age(40), age(75), age(24 * 30), age(24 * 365)
    ('40 hours', '3 days', '4 weeks', '12 months')
    """
    if hours < 2 * _DAY:
        return f"{int(hours)} hours"
    if hours < 2 * _WEEK:
        return f"{int(hours / _DAY)} days"
    if hours < 2.5 * _MONTH:
        return f"{int(hours / _WEEK)} weeks"
    return f"{int(hours / _MONTH)} months"
