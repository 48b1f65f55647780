"""The work as the page lists it: places, jobs with a stable id for their tick boxes, and the printed sheets' foot."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.report import phrases, telling
from replay.report.page.channels import SEVERITY_STATE
from replay.report.work import Job, places
from replay.text import ranges

if TYPE_CHECKING:
    from replay.findings.result import Report
    from replay.patch.model import Box
    from replay.report.sheet import BoxSheet

MARKS = {"fault": ("✕", "BAD"), "warning": ("!", "LOOK"), "note": ("↻", "turn")}


@dataclass(frozen=True, kw_only=True)
class Task:
    """A job to tick off. `key` stays the same for the same take and patch."""

    key: str
    mark: str
    word: str
    state: str
    where: str
    change: str
    was_and_set: str
    trim: str
    channels: tuple[tuple[int, str], ...]
    who: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Stop:
    """A place with what is said once for several of its tasks."""

    title: str
    box: Box | None
    common: tuple[str, ...]
    tasks: tuple[Task, ...]


def work_list(report: Report) -> tuple[Stop, ...]:
    """All work, place by place in working order."""
    names = phrases.names_of(report)
    found = []
    for place in places(report):
        common = telling.common(place)
        found.append(
            Stop(
                title=place.title,
                box=place.box,
                common=tuple(
                    f"Channels {ranges(channels)}: {phrases.ended(sentence)}" for sentence, channels in common.items()
                ),
                tasks=tuple(_task(job, names, common) for job in place.jobs),
            )
        )
    return tuple(found)


def _task(job: Job, names: dict[int, str], common: dict[str, list[int]]) -> Task:
    head = telling.head(job, names)
    mark, word = MARKS[job.severity]
    return Task(
        key=key_of(job),
        mark=mark,
        word=word,
        state=SEVERITY_STATE[job.severity],
        where=head.where,
        change=head.change,
        was_and_set=head.was_and_set.replace("->", "→"),
        trim=head.trim,
        channels=tuple((number, names.get(number, "")) for number in job.channels),
        who="" if job.channels else head.who,
        sentences=tuple(telling.sentences(job, common)),
    )


def key_of(job: Job) -> str:
    """A short name for a job: its place, socket, channels and findings; another change asked for is another job."""
    about = [job.place, str(job.socket), *map(str, job.channels), *(finding.id for finding in job.findings)]
    about += [f"{number}:{advice.gain_db}:{advice.pad}" for number, advice in job.advice]
    return hashlib.sha256("\n".join(about).encode("utf-8", "replace")).hexdigest()[:12]


def fingerprint(report: Report) -> str:
    """What tells this take from every other: its files' names, sizes and lengths, in order."""
    take = report.show.take
    parts = [take.folder.name, str(take.rate)]
    for track in take.tracks:
        for segment in track.segments:
            file = segment.file
            parts.append(f"{track.number} {file.path.name} {file.size} {file.frames} {segment.channel} {segment.start}")
    return hashlib.sha256("\n".join(parts).encode("utf-8", "replace")).hexdigest()[:16]


def foot(sheet: BoxSheet) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Who must be told, and the order of work, for one box's sheet: each sentence once, with its sockets."""
    return _gathered((line.tell, line.socket.number) for line in sheet.lines), _gathered(
        (line.order, line.socket.number) for line in sheet.lines
    )


def _gathered(pairs) -> tuple[str, ...]:
    said: dict[str, list[int]] = {}
    for sentence, socket in pairs:
        if sentence:
            said.setdefault(sentence, []).append(socket)
    return tuple(f"{ranges(sockets)}: {sentence}" for sentence, sockets in said.items())
