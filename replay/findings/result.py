"""The answer to `check`: the simulated show, its findings, and the state of every channel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from replay.desk.model import Show
from replay.findings.finding import Finding

STATES = ("good", "look", "bad", "spare", "unjudged")


@dataclass(frozen=True, kw_only=True)
class Report:
    """The whole answer. `states[channel]` is one of STATES; `verdict` is `ready` or `not-ready` (any fault).

    `findings` are settled (one cause told once), in order of severity, then channel.
    """

    show: Show
    findings: tuple[Finding, ...]
    states: Mapping[int, str]
    verdict: str
