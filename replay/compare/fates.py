"""What became of every finding: by code and place, from A to B. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from replay.compare.model import FATES, NO_SUCH_CHANNEL, ChannelChange, FindingChange
from replay.compare.moves import plays
from replay.findings.finding import SEVERITIES, Finding
from replay.report.phrases import setting

NEVER = ("old-take",)
"""Findings that say something of when one asks and nothing of the take."""

OF_LEVEL = frozenset(("hot", "low", "input-over"))
EDGE_DB = 3.0
"""A level that stands on the edge of a limit crosses it with any performance: with less change than this it is neither
fixed nor new. As much as the least change that advice gives."""

NEED_NO_SOUND = frozenset(
    ("unreadable", "truncated", "empty-file", "segment-missing", "track-clash", "not-a-number", "rate-mismatch",
     "depth-mismatch", "length-mismatch", "track-order", "still-recording", "channel-count", "no-track", "extra-track",
     "not-recorded", "return-mismatch", "shared-socket", "unfed-channel", "name-mismatch", "silent", "noise-only",
     "unexpected-signal", "one-side-dead", "cuts-out")
)  # fmt: skip
"""Findings whose absence says by itself that they are gone. Of all others only a channel that plays can tell."""

_HEAVIEST = {severity: place for place, severity in enumerate(SEVERITIES)}


def fates(
    before: Sequence[Finding], after: Sequence[Finding], numbers: Mapping[int, int], changes: Sequence[ChannelChange]
) -> tuple[FindingChange, ...]:
    """Every finding of both sides once, in order of fate, then severity, then channel.

    `numbers` leads from a channel's number in A to that in B (channels that only A has are missing).
    """
    by_number = {change.number: change for change in changes}
    old = [_renumbered(one, numbers) for one in before if one.code not in NEVER]
    new = [one for one in after if one.code not in NEVER]
    found: list[FindingChange] = []
    used: set[int] = set()
    for now in new:
        partners = [place for place, then in enumerate(old) if _same(then, now)]
        if not partners:
            partners = [place for place, then in enumerate(old) if _one_hid_the_other(then, now)]
        fresh = [place for place in partners if place not in used] or partners
        if not fresh:
            found.append(_new(now, by_number))
            continue
        used.update(partners)
        then = min((old[place] for place in fresh), key=lambda one: _HEAVIEST[one.severity])
        found.append(FindingChange(fate=_fate(then, now), before=then, after=now))
    for place, then in enumerate(old):
        if place not in used:
            found.append(_gone(then, by_number))
    return tuple(sorted(found, key=_order))


def _renumbered(finding: Finding, numbers: Mapping[int, int]) -> Finding:
    """A finding of A with the channel numbers of B; what only A has keeps out of the way with a negative number."""
    return replace(finding, channels=tuple(numbers.get(number, -number) for number in finding.channels))


def _same(one: Finding, other: Finding) -> bool:
    return one.code == other.code and _one_place(one, other)


def _one_place(one: Finding, other: Finding) -> bool:
    if one.channels or other.channels:
        return bool(set(one.channels) & set(other.channels))
    if one.tracks or other.tracks:
        return bool(set(one.tracks) & set(other.tracks))
    return True


def _one_hid_the_other(one: Finding, other: Finding) -> bool:
    return (other.code in one.swallowed or one.code in other.swallowed) and _one_place(one, other)


def _fate(then: Finding, now: Finding) -> str:
    a, b = _HEAVIEST[then.severity], _HEAVIEST[now.severity]
    if then.code != now.code and a == b:
        # The one that hid the other was the heavier cause.
        return "eased" if now.code in then.swallowed else "grown"
    return "still" if a == b else "grown" if b < a else "eased"


def _new(now: Finding, changes: Mapping[int, ChannelChange]) -> FindingChange:
    edge = now.code in OF_LEVEL and _on_the_edge(now.channels, changes)
    return FindingChange(fate="still" if edge else "new", after=now)


def _gone(then: Finding, changes: Mapping[int, ChannelChange]) -> FindingChange:
    channels = tuple(abs(number) for number in then.channels)
    if any(number < 0 for number in then.channels) and not any(number > 0 for number in then.channels):
        return FindingChange(fate="not-heard", before=replace(then, channels=channels), how=NO_SUCH_CHANNEL)
    there = tuple(number for number in then.channels if number in changes)
    then = replace(then, channels=there or channels)
    if then.code in OF_LEVEL and _on_the_edge(there, changes):
        return FindingChange(fate="still", before=then)
    if then.code not in NEED_NO_SOUND and there:
        quiet = [number for number in there if not plays(changes[number].after)]
        if len(quiet) == len(there):
            return FindingChange(fate="not-heard", before=then, how="it does not play in B")
    return FindingChange(fate="fixed", before=then, how=_how(there, changes))


def _on_the_edge(channels: Iterable[int], changes: Mapping[int, ChannelChange]) -> bool:
    moves = [changes[n].moved for n in channels if n in changes]
    return bool(moves) and all(move is not None and abs(move.recorded_db) < EDGE_DB for move in moves)


def _how(channels: Iterable[int], changes: Mapping[int, ChannelChange]) -> str:
    """What the patches or the level say was done about it."""
    for number in channels:
        change = changes[number]
        before, after, moved = change.before.channel, change.after.channel, change.moved
        advice = change.before.advice
        if moved is not None and moved.expected.advised:
            said = f"recorded {moved.recorded_db:+.0f} dB, as was advised"
            if advice is not None and advice.new_gain_db is not None:
                said += f" (the patch still says {setting(after.gain)}: write {setting(advice.new_gain_db)})"
            return said
        if before.gain is not None and after.gain is not None and before.gain != after.gain:
            advised = advice is not None and advice.new_gain_db == after.gain
            return f"gain {setting(before.gain)} -> {setting(after.gain)}{', as was advised' if advised else ''}"
        if before.pad != after.pad:
            return f"pad {'in' if after.pad else 'out'}"
        if before.socket != after.socket:
            return "replugged"
    return ""


def _order(one: FindingChange) -> tuple:
    finding = one.finding
    return (
        FATES.index(one.fate),
        _HEAVIEST[finding.severity],
        finding.channels or finding.tracks or (0,),
        finding.code,
    )
