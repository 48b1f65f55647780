"""The work as text, place by place: a head with the change first, then the reasons and what goes with it.

What goes with several jobs of one place (whom to ask, the order of work, what becomes of trims) stands once above them,
with the channels that it holds for: it is read before the first preamp is turned.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from replay.report import phrases, telling
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.report.work import Place, places
from replay.text import harmless, ranges

if TYPE_CHECKING:
    from replay.findings.result import Report

INDENT = "      "
MARKS = {"fault": "BAD", "warning": "LOOK", "note": "turn"}
"""The word at the left edge of a job; a job that comes from advice alone asks for a turn and no more."""

_INK = {"fault": "bad", "warning": "look", "note": "strong"}
_LONGEST_SOCKET = 24


def lines(report: Report, *, cells: int, ink: Ink) -> list[str]:
    """All work as lines of at most `cells` cells; none where there is nothing to do."""
    todo = places(report)
    names = phrases.names_of(report)
    shown = [ink("strong", "TO DO")] if todo else []
    for place in todo:
        common = telling.common(place)
        shown += ["", ink("strong", harmless(place.title))]
        for sentence, channels in common.items():
            shown += wrapped(f"Channels {ranges(channels)}: {phrases.ended(sentence)}", cells)
        shown += _jobs(place, names, common, cells, ink)
    return shown


def _jobs(place: Place, names: dict[int, str], common: Iterable[str], cells: int, ink: Ink) -> list[str]:
    heads = [telling.head(job, names) for job in place.jobs]
    # Columns are as wide as this place needs; a column that nothing in this place uses is left out.
    sizes = [max(width(head[column]) for head in heads) for column in range(4)]
    sizes[0] = min(sizes[0], _LONGEST_SOCKET)
    shown = []
    for job, head in zip(place.jobs, heads, strict=True):
        mark = fit(MARKS[job.severity], len(INDENT) - 1)
        told = [line for sentence in telling.sentences(job, common) for line in wrapped(sentence, cells)]
        if head[4]:
            before = "".join(
                fit(cell, size, right=column == 1) + "  "
                for column, (cell, size) in enumerate(zip(head[:4], sizes, strict=True))
                if size
            )
            line = f"{mark} {before}"
            told.insert(0, (line + fit(head[4], max(cells - width(line), 4))).rstrip())
        else:
            told[0] = f"{mark} {told[0][len(INDENT) :]}"
        shown += [ink(_INK[job.severity], told[0][: len(mark)]) + told[0][len(mark) :], *told[1:]]
    return shown


def wrapped(sentence: str, cells: int) -> list[str]:
    """A sentence below a head, as lines of at most `cells` cells."""
    return wrap(harmless(sentence, 2000), cells, first=INDENT, rest=INDENT)
