"""The words of a job: its head (where, change, was and set, trim, who) and the sentences below it.

Every format that tells what is to be done takes them from here, so that the terminal, the page and the sheet agree. All
text has been made harmless where it came from outside.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

from replay.report import phrases
from replay.report.work import LEVEL_CODES, Job, Place, action_beside
from replay.text import harmless, ranges

if TYPE_CHECKING:
    from replay.desk.model import Advice

_NAMED = 3
"""So many channels of a job are named; more are told by number."""


class Head(NamedTuple):
    """The first line of a job, cell by cell; "" for what does not apply. `who` is "" for what concerns no channel and
    no track."""

    where: str
    change: str
    was_and_set: str
    trim: str
    who: str


def head(job: Job, names: dict[int, str]) -> Head:
    """The head of a job."""
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
        return Head(where, "", "", "", who)
    advice = job.advice[0][1]
    trim = "" if len(job.advice) > 1 or advice.trim_db is None else f"trim {phrases.change(advice.trim_db)}"
    return Head(where, phrases.change(advice.gain_db or None), _was_and_set(advice), trim, who)


def _was_and_set(advice: Advice) -> str:
    parts = []
    if advice.new_gain_db is not None:
        parts.append(f"{phrases.setting(advice.was_db)} -> {phrases.setting(advice.new_gain_db)}")
    if advice.pad:
        parts.append(f"pad {advice.pad}")
    return ", ".join(parts)


def common(place: Place) -> dict[str, list[int]]:
    """What is said of more than one job of the place, and for which channels."""
    told: dict[str, dict[int, list[int]]] = {}
    for number, job in enumerate(place.jobs):
        for channel, advice in job.advice:
            for sentence in [*_may(job, advice), *beside(advice)]:
                told.setdefault(sentence, {}).setdefault(number, []).append(channel)
    several = {s: [n for job in jobs.values() for n in job] for s, jobs in told.items() if len(jobs) > 1}
    # Why, whom to ask, then how to turn, then what becomes of the trims: as within one job, whichever comes first.
    advices = [advice for job in place.jobs for _, advice in job.advice]
    in_order = [{a.may for a in advices}, {a.ask for a in advices}, {a.order for a in advices}]
    return dict(sorted(several.items(), key=lambda one: next((i for i, s in enumerate(in_order) if one[0] in s), 3)))


def _may(job: Job, advice: Advice) -> list[str]:
    """Why a channel may come up, where nothing else is to be done at its socket."""
    return [] if job.findings or not advice.may else [advice.may]


def beside(advice: Advice) -> list[str]:
    """What goes with a change, in the order of work."""
    return [sentence for sentence in (advice.ask, advice.order, *advice.notes) if sentence]


def sentences(job: Job, told_above: Iterable[str] = ()) -> list[str]:
    """The reasons, then what goes with the change, each once, without what is told above the place's jobs. That a
    clipped source is to be recorded again comes after how it is turned, as it is done."""
    told, again = [], []
    levels_told = {channel for finding in job.findings if finding.code in LEVEL_CODES for channel in finding.channels}
    for finding in job.findings:
        told.append(f"{phrases.lead(finding)}: {finding.message}")
        action = action_beside(finding, job)
        if action == phrases.RECORD_AGAIN:
            again.append(action)
        elif action:
            told.append(f"Do: {action}")
    told += [
        phrases.sentence(advice.reason)
        for channel, advice in job.advice
        if advice.reason and channel not in levels_told and not set(_may(job, advice)) & set(told_above)
    ]
    if len(job.advice) > 1:
        trims = [(number, advice.trim_db) for number, advice in job.advice if advice.trim_db is not None]
        each = ", ".join(f"channel {number} to {phrases.change(trim)}" for number, trim in trims)
        told += [f"Trims: {each}."] if trims else []
    turning = [sentence for _, advice in job.advice for sentence in (advice.ask, advice.order) if sentence]
    after = [sentence for _, advice in job.advice for sentence in advice.notes]
    told += [phrases.sentence(sentence) for sentence in turning if sentence not in told_above]
    told += again
    told += [phrases.sentence(sentence) for sentence in after if sentence not in told_above]
    return list(dict.fromkeys(told))
