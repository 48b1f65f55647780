"""The work as text, place by place: a head with the change first, then the reasons and what goes with it.

What goes with several jobs of one place (whom to ask, the order of work, what becomes of trims) stands once above them,
with the channels that it holds for: it is read before the first preamp is turned.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from replay.report import phrases
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.report.work import LEVEL_CODES, Job, Place, action_beside, places
from replay.text import harmless, ranges

if TYPE_CHECKING:
    from replay.checks.result import Report
    from replay.desk.model import Advice

INDENT = "      "
MARKS = {"fault": "BAD", "warning": "LOOK", "note": "turn"}
"""The word at the left edge of a job; a job that comes from advice alone asks for a turn and no more."""

_INK = {"fault": "bad", "warning": "look", "note": "strong"}
_NAMED = 3
"""So many channels of a job are named; more are told by number."""

_LONGEST_SOCKET = 24


def lines(report: Report, *, cells: int, ink: Ink) -> list[str]:
    """All work as lines of at most `cells` cells; none where there is nothing to do."""
    todo = places(report)
    names = phrases.names_of(report)
    shown = [ink("strong", "TO DO")] if todo else []
    for place in todo:
        common = _common(place)
        shown += ["", ink("strong", harmless(place.title))]
        for sentence, channels in common.items():
            shown += _wrapped(f"Channels {ranges(channels)}: {phrases.ended(sentence)}", cells)
        shown += _jobs(place, names, common, cells, ink)
    return shown


def _common(place: Place) -> dict[str, list[int]]:
    """What is said of more than one job of the place, and for which channels."""
    told: dict[str, dict[int, list[int]]] = {}
    for number, job in enumerate(place.jobs):
        for channel, advice in job.advice:
            for sentence in _beside(advice):
                told.setdefault(sentence, {}).setdefault(number, []).append(channel)
    return {sentence: [n for job in jobs.values() for n in job] for sentence, jobs in told.items() if len(jobs) > 1}


def _beside(advice: Advice) -> list[str]:
    """What goes with a change, in the order of work."""
    return [sentence for sentence in (advice.ask, advice.order, *advice.notes) if sentence]


def _jobs(place: Place, names: dict[int, str], common: Iterable[str], cells: int, ink: Ink) -> list[str]:
    heads = [_head(job, names) for job in place.jobs]
    # Columns are as wide as this place needs; a column that nothing in this place uses is left out.
    sizes = [max(width(head[column]) for head in heads) for column in range(4)]
    sizes[0] = min(sizes[0], _LONGEST_SOCKET)
    shown = []
    for job, head in zip(place.jobs, heads, strict=True):
        mark = fit(MARKS[job.severity], len(INDENT) - 1)
        told = [line for sentence in _sentences(job, common) for line in _wrapped(sentence, cells)]
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


def _head(job: Job, names: dict[int, str]) -> tuple[str, str, str, str, str]:
    """Where, change, was and set, trim, who ("" for what concerns no channel and no track)."""
    at_box = job.place.startswith("box ")
    where = harmless(str(job.socket)) if job.socket and (at_box or len(job.channels) == 1) else ""
    if len(job.channels) > _NAMED:
        who = f"channels {ranges(job.channels)}"
    elif job.channels:
        who = "ch " + ", ".join(f"{number} {harmless(names.get(number, ''))}".rstrip() for number in job.channels)
    else:
        tracks = sorted({track for finding in job.findings for track in finding.tracks})
        who = f"track{'' if len(tracks) == 1 else 's'} {ranges(tracks)}" if tracks else ""
    if not job.advice:
        return where, "", "", "", who
    advice = job.advice[0][1]
    trim = "" if len(job.advice) > 1 or advice.trim_db is None else f"trim {phrases.change(advice.trim_db)}"
    return where, phrases.change(advice.gain_db or None), _was_and_set(advice), trim, who


def _was_and_set(advice: Advice) -> str:
    parts = []
    if advice.new_gain_db is not None:
        parts.append(f"{phrases.setting(advice.was_db)} -> {phrases.setting(advice.new_gain_db)}")
    if advice.pad:
        parts.append(f"pad {advice.pad}")
    return ", ".join(parts)


def _sentences(job: Job, common: Iterable[str]) -> list[str]:
    """The reasons, then what goes with the change, each once."""
    told = []
    levels_told = {channel for finding in job.findings if finding.code in LEVEL_CODES for channel in finding.channels}
    for finding in job.findings:
        told.append(f"{phrases.lead(finding)}: {finding.message}")
        action = action_beside(finding, job)
        if action:
            told.append(action if action == phrases.RECORD_AGAIN else f"Do: {action}")
    told += [
        phrases.sentence(advice.reason)
        for channel, advice in job.advice
        if advice.reason and channel not in levels_told
    ]
    if len(job.advice) > 1:
        trims = [(number, advice.trim_db) for number, advice in job.advice if advice.trim_db is not None]
        each = ", ".join(f"channel {number} to {phrases.change(trim)}" for number, trim in trims)
        told += [f"Trims: {each}."] if trims else []
    beside = [sentence for _, advice in job.advice for sentence in _beside(advice)]
    told += [phrases.sentence(sentence) for sentence in beside if sentence not in common]
    return list(dict.fromkeys(told))


def _wrapped(sentence: str, cells: int) -> list[str]:
    return wrap(harmless(sentence, 2000), cells, first=INDENT, rest=INDENT)
