"""From findings to the answer: the state of every channel, and whether the take can be relied on."""

from __future__ import annotations

from collections.abc import Iterable

from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding
from replay.findings.result import Report
from replay.findings.settle import settle


def report(show: Show, findings: Iterable[Finding]) -> Report:
    """Settle the findings (settling twice changes nothing) and judge every channel.

    The verdict is `not-ready` with any fault, also one that belongs to no channel.
    """
    settled = settle(findings)
    worst: dict[int, str] = {}
    for finding in settled:  # in order of severity: the first is the worst
        for number in finding.channels:
            worst.setdefault(number, finding.severity)
    states = {view.channel.number: _state(view, worst.get(view.channel.number)) for view in show.channels}
    faulty = any(finding.severity == "fault" for finding in settled)
    return Report(show=show, findings=settled, states=states, verdict="not-ready" if faulty else "ready")


def _state(view: ChannelView, severity: str | None) -> str:
    """`bad` and `look` come from findings; then a channel that need not play is `spare`, and one that no track feeds
    is `unjudged`: nothing of it was measured."""
    if severity == "fault":
        return "bad"
    if severity == "warning":
        return "look"
    if view.channel.use != "must":
        return "spare"
    if view.track is None:
        return "unjudged"
    return "good"
