"""What is to be done, by the place where it is done: each box in socket order, the patch, the recorder, the sources.

Whoever walks to a stage box takes one list for that box. A job is everything that is to be done at one socket (or for
one channel or track elsewhere), so that nobody goes twice. Every fault and every warning is in exactly one job, and so
is every advice; notes without advice are kept apart.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from replay.findings.finding import SEVERITIES, Finding
from replay.report.phrases import RECORD_AGAIN

if TYPE_CHECKING:
    from replay.desk.model import Advice
    from replay.findings.result import Report
    from replay.patch.model import Box, Socket

PATCH = "The patch and the desk"
RECORDER = "The recorder and its files"
SOURCES = "At the sources"

_PLACES = {
    PATCH: (
        "bus-over duplicate extra-track input-over moved-block name-mismatch not-recorded polarity return-mismatch "
        "shared-socket shifted swapped unfed-channel wrong-by-ear wrong-return"
    ),
    RECORDER: (
        "channel-count clock-slip depth-mismatch dropout empty-file length-mismatch no-track not-a-number old-take "
        "rate-mismatch segment-missing silent still-recording track-clash track-order truncated unreadable wrong-speed"
    ),
    SOURCES: "flat-topped",
}
_PLACE_OF_CODE = {code: place for place, codes in _PLACES.items() for code in codes.split()}
"""Where a finding is put right. Codes that are not here are put right at the socket of their channel."""

LEVEL_CODES = frozenset({"clipped", "hot", "low", "over-full-scale"})
"""Findings whose cure is the channel's gain: they go where the gain is turned, and say why."""

TURNED_CODES = frozenset({"hot", "low"})
"""Those of them of which nothing is left to do once the gain is turned as advised."""


@dataclass(frozen=True, kw_only=True)
class Job:
    """Everything to be done at one socket, or about one set of channels or tracks elsewhere.

    `severity` is the worst of its findings, "note" where there is only advice. `advice` goes with its channel, in
    channel order; all channels fed from one socket are in one job.
    """

    place: str
    socket: Socket | None
    channels: tuple[int, ...]
    severity: str
    advice: tuple[tuple[int, Advice], ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, kw_only=True)
class Place:
    """One place with its jobs in working order. `box` is None for places that are not stage boxes."""

    title: str
    box: Box | None
    jobs: tuple[Job, ...]


@dataclass
class _Draft:
    place: str
    socket: Socket | None
    channels: list[int] = field(default_factory=list)
    advice: list[tuple[int, Advice]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def places(report: Report) -> tuple[Place, ...]:
    """All work by place: boxes in the patch's order, then patch, recorder, sources; places without work left out."""
    drafts: dict[tuple, _Draft] = {}
    sockets = {view.channel.number: view.channel.socket for view in report.show.channels}
    advised: dict[int, str] = {}

    for view in report.show.channels:
        channel = view.channel
        if view.advice is None:
            continue
        place = SOURCES if view.advice.at_source else _box_place(channel.socket)
        advised[channel.number] = place
        draft = _draft(drafts, place, channel.socket, (channel.number,))
        draft.advice.append((channel.number, view.advice))

    for finding in report.findings:
        if is_work(finding, advised):
            socket = _socket_of(finding, sockets)
            _draft(
                drafts, _place_of(finding, socket, advised), socket, finding.channels or finding.tracks
            ).findings.append(finding)
    return tuple(_in_order(report, drafts.values()))


def at_sockets(report: Report) -> dict[Socket, tuple[str, ...]]:
    """What else is to be done at a socket beside turning its gain: the actions of its faults and warnings."""
    return {
        job.socket: tuple(action for finding in job.findings if (action := action_beside(finding, job)))
        for place in places(report)
        for job in place.jobs
        if place.box is not None and job.socket is not None
    }


def action_beside(finding: Finding, job: Job) -> str:
    """What a finding asks for beside the job's advice; "" where the turn is all of it."""
    if not any(channel in finding.channels for channel, _ in job.advice):
        return finding.action
    if finding.code == "clipped":
        return RECORD_AGAIN
    return "" if finding.code in TURNED_CODES else finding.action


def notes(report: Report) -> tuple[Finding, ...]:
    """The findings that are good to know and ask for no work, in the report's order."""
    advised = {view.channel.number: "" for view in report.show.channels if view.advice is not None}
    return tuple(finding for finding in report.findings if not is_work(finding, advised))


def is_work(finding: Finding, advised: Iterable[int]) -> bool:
    """Whether a finding belongs to the work: faults, warnings, and notes about a level that advice goes with."""
    if finding.severity != "note":
        return True
    return finding.code in TURNED_CODES and any(channel in advised for channel in finding.channels)


def _box_place(socket: Socket | None) -> str:
    return PATCH if socket is None else f"box {socket.box}"


def _socket_of(finding: Finding, sockets: dict[int, Socket | None]) -> Socket | None:
    if finding.sockets:
        return finding.sockets[0]
    return next((sockets[channel] for channel in finding.channels if sockets.get(channel) is not None), None)


def _place_of(finding: Finding, socket: Socket | None, advised: dict[int, str]) -> str:
    if finding.code in LEVEL_CODES:
        with_advice = next((advised[channel] for channel in finding.channels if channel in advised), None)
        if with_advice is not None:
            return with_advice
    if finding.code in _PLACE_OF_CODE:
        return _PLACE_OF_CODE[finding.code]
    if socket is not None:
        return _box_place(socket)
    return RECORDER if finding.tracks or not finding.channels else PATCH


def _draft(drafts: dict[tuple, _Draft], place: str, socket: Socket | None, about: tuple[int, ...]) -> _Draft:
    """The draft for a socket at a box; elsewhere for a set of channels or tracks, so that each is one job."""
    key = (place, socket) if place.startswith("box ") else (place, socket, about)
    return drafts.setdefault(key, _Draft(place, socket))


def _in_order(report: Report, drafts: Iterable[_Draft]) -> Iterable[Place]:
    by_place: dict[str, list[Job]] = {}
    for draft in drafts:
        by_place.setdefault(draft.place, []).append(_finished(draft))
    for box in report.show.patch.boxes:
        jobs = by_place.pop(f"box {box.name}", None)
        if jobs:
            jobs.sort(key=lambda job: job.socket.number if job.socket else 0)
            yield Place(title=box.name, box=box, jobs=tuple(jobs))
    for title in (PATCH, RECORDER, SOURCES):
        jobs = by_place.pop(title, None)
        if jobs:
            # Python's sort is stable: within a severity, findings keep the report's order.
            jobs.sort(key=lambda job: SEVERITIES.index(job.severity))
            yield Place(title=title, box=None, jobs=tuple(jobs))


def _finished(draft: _Draft) -> Job:
    channels = [number for number, _ in draft.advice]
    for finding in draft.findings:
        channels += [number for number in finding.channels if number not in channels]
    severity = min((finding.severity for finding in draft.findings), key=SEVERITIES.index, default="note")
    return Job(
        place=draft.place,
        socket=draft.socket,
        channels=tuple(channels),
        severity=severity,
        advice=tuple(draft.advice),
        findings=tuple(draft.findings),
    )
