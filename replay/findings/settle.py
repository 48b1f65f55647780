"""One cause is told once: which finding swallows which, and the order in which the rest is told.

A finding is swallowed where another one, of a code that explains it, covers all of its place and is no less severe.
Its code then stands in the other's `swallowed`. What is only partly covered stays, so that no second cause is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from replay.findings.finding import SEVERITIES, Finding

SCOPES = ("channel", "track", "take")
"""Where the swallowing finding must lie: on all of the other's channels, on all of its tracks, or anywhere."""


def always(cause: Finding, effect: Finding) -> bool:
    """The usual case: the place alone decides."""
    return True


def same_length(cause: Finding, effect: Finding) -> bool:
    """A file that lost n seconds explains a track that is n seconds short, and no other."""
    if cause.amount is None or effect.amount is None or cause.unit != "s":
        return True
    return abs(cause.amount - effect.amount) <= 1.0


def same_start(cause: Finding, effect: Finding) -> bool:
    """What begins at the same moment is the same event; a second one later on is not."""
    if cause.start_s is None or effect.start_s is None:
        return True
    return abs(cause.start_s - effect.start_s) <= 1.0


def within(cause: Finding, effect: Finding) -> bool:
    """What is seen only while the other lasts, give or take a second, belongs to it."""
    if cause.start_s is None or cause.end_s is None or effect.start_s is None or effect.end_s is None:
        return True
    return cause.start_s - 1.0 <= effect.start_s and effect.end_s <= cause.end_s + 1.0


DEAD_TOO = "dead too"
"""The key of a dead track on which, as told, the source of a channel that must play should lie."""


def nobodys(cause: Finding, effect: Finding) -> bool:
    """Sources that moved leave a dead track behind where nobody's came to lie; where somebody's did, that is dead too,
    and stays so when the plugs are right."""
    return effect.key != DEAD_TOO


@dataclass(frozen=True)
class Rule:
    """`cause` swallows `effect` on the same `scope`, where `when(cause, effect)` holds."""

    cause: str
    effect: str
    scope: str
    when: Callable[[Finding, Finding], bool] = always


SWALLOWS = (
    # A file that cannot be used is why the track is missing, empty or short.
    Rule("unreadable", "no-track", "track"),
    Rule("unreadable", "length-mismatch", "track"),
    Rule("unreadable", "channel-count", "take"),
    Rule("empty-file", "no-track", "track"),
    Rule("empty-file", "silent", "track"),
    Rule("empty-file", "length-mismatch", "track"),
    Rule("empty-file", "channel-count", "take"),
    Rule("track-clash", "no-track", "track"),
    Rule("track-clash", "length-mismatch", "track"),
    Rule("track-clash", "channel-count", "take"),
    Rule("truncated", "length-mismatch", "track", same_length),
    Rule("segment-missing", "length-mismatch", "track", same_length),
    Rule("rate-mismatch", "no-track", "track"),
    Rule("rate-mismatch", "length-mismatch", "track"),
    Rule("still-recording", "length-mismatch", "take"),
    # Single tracks say more than their number.
    Rule("no-track", "channel-count", "take"),
    Rule("extra-track", "channel-count", "take"),
    # The missing track's sentence tells of the return that led to it.
    Rule("no-track", "return-mismatch", "channel"),
    Rule("not-a-number", "silent", "track"),
    # A dead source is low, and the dead side of its pair.
    Rule("silent", "low", "channel"),
    Rule("silent", "one-side-dead", "channel"),
    Rule("noise-only", "low", "channel"),
    Rule("noise-only", "one-side-dead", "channel"),
    Rule("cuts-out", "one-side-dead", "channel"),
    Rule("one-side-dead", "low", "channel"),
    # One preamp too hot: the same turn cures them all.
    Rule("clipped", "hot", "channel"),
    Rule("clipped", "over-full-scale", "channel"),
    Rule("clipped", "input-over", "channel"),
    Rule("over-full-scale", "hot", "channel"),
    Rule("over-full-scale", "input-over", "channel"),
    # Which clicks are edges of a crackle's bursts, of a radio's dropouts, of cut-off tops and of slips is sorted out
    # one by one (see `click`, `breaks` and `flat_topped`), so that others on the same track are told beside them.
    Rule("dropout", "cuts-out", "track", same_start),
    # The even tops of a low tone that holds, and what it drives into clipping.
    Rule("ringing", "flat-topped", "track", within),
    # Sources on the wrong tracks explain what is odd about each of them.
    Rule("swapped", "name-mismatch", "channel"),
    Rule("swapped", "unlikely-source", "channel"),
    Rule("swapped", "one-side-dead", "channel"),
    Rule("swapped", "silent", "channel"),
    Rule("swapped", "noise-only", "channel", nobodys),
    Rule("swapped", "unexpected-signal", "channel"),
    Rule("shifted", "name-mismatch", "channel"),
    Rule("shifted", "unlikely-source", "channel"),
    Rule("shifted", "one-side-dead", "channel"),
    Rule("shifted", "silent", "channel"),
    Rule("shifted", "noise-only", "channel", nobodys),
    Rule("shifted", "unexpected-signal", "channel"),
    Rule("moved-block", "name-mismatch", "channel"),
    Rule("moved-block", "unlikely-source", "channel"),
    Rule("moved-block", "one-side-dead", "channel"),
    Rule("moved-block", "silent", "channel"),
    Rule("moved-block", "noise-only", "channel", nobodys),
    Rule("moved-block", "unexpected-signal", "channel"),
    # Ears that called a channel wrong explain what is odd about it; the sentence tells of a crossed return.
    Rule("wrong-by-ear", "name-mismatch", "channel"),
    Rule("wrong-by-ear", "unlikely-source", "channel"),
    Rule("wrong-by-ear", "return-mismatch", "channel"),
    Rule("duplicate", "unlikely-source", "channel"),
    Rule("duplicate", "name-mismatch", "channel"),
    Rule("silent", "unlikely-source", "channel"),
    Rule("noise-only", "unlikely-source", "channel"),
    # One sickness is told by its nearest name.
    Rule("crackle", "thump", "channel"),
    Rule("crackle", "noise", "channel"),
    Rule("buzz", "noise", "channel"),
    Rule("not-raw", "gain-moved", "channel"),
    Rule("not-raw", "cuts-out", "channel"),
    Rule("rf-mute", "cuts-out", "channel"),
)


_RULES: dict[tuple[str, str], tuple[Rule, ...]] = {}
for _rule in SWALLOWS:
    _RULES[_rule.effect, _rule.scope] = (*_RULES.get((_rule.effect, _rule.scope), ()), _rule)


def settle(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings with those that others explain left out, in order of severity, then channel, then track."""
    findings = list(findings)
    by_code: dict[str, list[int]] = {}
    for index, finding in enumerate(findings):
        by_code.setdefault(finding.code, []).append(index)
    causes = [_causes(effect, findings, by_code) for effect in range(len(findings))]
    swallowed: dict[int, set[str]] = {index: set() for index in range(len(findings))}
    for effect in range(len(findings)):
        if causes[effect]:
            for root in _roots(effect, causes):
                swallowed[root].update({findings[effect].code, *findings[effect].swallowed})
    kept = [
        replace(finding, swallowed=tuple(sorted({*finding.swallowed, *swallowed[index]})))
        for index, finding in enumerate(findings)
        if not causes[index]
    ]
    return tuple(sorted(kept, key=_order))


def _causes(effect: int, findings: list[Finding], by_code: Mapping[str, list[int]]) -> list[int]:
    """Indices of the findings that together cover all of the place of this one; none where they do not."""
    finding = findings[effect]
    for scope in SCOPES:
        causes = sorted(
            {
                index
                for rule in _RULES.get((finding.code, scope), ())
                for index in by_code.get(rule.cause, ())
                if index != effect
                and SEVERITIES.index(findings[index].severity) <= SEVERITIES.index(finding.severity)
                and rule.when(findings[index], finding)
            }
        )
        if scope != "take":
            place = set(_place(finding, scope))
            causes = [index for index in causes if place & set(_place(findings[index], scope))]
            covered = {part for index in causes for part in _place(findings[index], scope)}
            if not place or not place <= covered:
                continue
        if causes:
            return causes
    return []


def _place(finding: Finding, scope: str) -> tuple[int, ...]:
    return finding.channels if scope == "channel" else finding.tracks


def _roots(effect: int, causes: list[list[int]]) -> set[int]:
    """What is told in the end: a cause that is itself explained passes on what it explains. The table has no rings."""
    roots: set[int] = set()
    waiting = list(causes[effect])
    while waiting:
        index = waiting.pop()
        if causes[index]:
            waiting.extend(causes[index])
        else:
            roots.add(index)
    return roots


def _order(finding: Finding) -> tuple:
    """What concerns the whole take comes first within its severity."""
    return (
        SEVERITIES.index(finding.severity),
        finding.channels[0] if finding.channels else 0,
        finding.tracks[0] if finding.tracks else 0,
        finding.code,
        finding.key,
    )
