"""The first line of every report: whether the take can be relied on, and what was counted for it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from replay.report.confirmed import not_confirmed
from replay.report.phrases import of_channels
from replay.text import ranges

if TYPE_CHECKING:
    from replay.findings.result import Report


def counts(report: Report) -> dict[str, int]:
    """Channels by state and findings by severity."""
    states = Counter(report.states.values())
    severities = Counter(finding.severity for finding in report.findings)
    return {
        "channels": len(report.show.channels),
        **{state: states[state] for state in ("good", "look", "bad", "spare", "unjudged")},
        "unconfirmed": len(not_confirmed(report)),
        "faults": severities["fault"],
        "warnings": severities["warning"],
        "notes": severities["note"],
    }


def verdict(report: Report) -> str:
    """The first line: whether the take can be relied on, by channel."""
    number = counts(report)
    parts = []
    bad = [channel for channel, state in report.states.items() if state == "bad"]
    look = [channel for channel, state in report.states.items() if state == "look"]
    if bad:
        parts.append(f"{len(bad)} of {of_channels(number['channels'])} not to be relied on ({ranges(bad)})")
    elif report.verdict != "ready":
        several = number["faults"] != 1
        parts.append(f"{number['faults']} fault{'s' * several} of the take itself")
    if look:
        parts.append(f"{len(look)} to look at ({ranges(look)})")
    parts.append(f"{number['good']} good")
    if number["spare"]:
        parts.append(f"{number['spare']} spare")
    if number["unjudged"]:
        parts.append(f"{number['unjudged']} not judged")
    if not bad:
        parts[-1] += f", of {of_channels(number['channels'])}"
    unheard = not_confirmed(report)
    by = "by sound or by ear" if report.show.ear.answers else "by sound"
    rest = f"; {len(unheard)} not confirmed {by}" if unheard else ""
    return ("READY: " if report.verdict == "ready" else "NOT READY: ") + ", ".join(parts) + rest + "."
