"""Two checked takes held against each other: the whole comparison, from kept measurements alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from replay.compare import fates, judge_band, judge_level, judge_rest, moves, sound
from replay.compare.hops import hops_of
from replay.compare.model import ChannelChange, Comparison, FindingChange, Told
from replay.compare.pairing import match
from replay.compare.sides import Side
from replay.desk.model import Show
from replay.patch.model import Channel

EXPLAINED_BY_FINDINGS = frozenset(
    ("unreadable", "truncated", "empty-file", "not-a-number", "rate-mismatch", "wrong-speed", "swapped", "shifted",
     "moved-block", "duplicate", "silent", "noise-only", "no-track", "cuts-out", "not-raw", "dropout")
)  # fmt: skip
"""New findings that say more of a channel than that it got quieter or duller."""

LOUDER_IS_TOLD = frozenset(("clipped", "hot", "over-full-scale", "input-over", "flat-topped"))
NOISE_IS_TOLD = frozenset(("hum", "buzz", "noise", "crackle", "ringing"))

SWALLOWS = {
    "quieter": frozenset(("low", "noise", "one-side-dead")),
    "thinner": frozenset(("low",)),
    "duller": frozenset(("low",)),
    "polarity": frozenset(("polarity",)),
}
"""New findings that are told with the change that explains them."""

TONE_DB = 9.0
"""A change of sound takes some level along; a larger change of level is told by itself."""


def compare(a: Side, b: Side) -> Comparison:
    """Hold two checked takes against each other."""
    before, after = a.report.show, b.report.show
    matched = match(before.patch.channels, after.patch.channels)
    numbers = {one.number: other.number for one, other in matched.same}
    changes = _channels(before, after, matched.same)
    found = fates.fates(a.report.findings, b.report.findings, numbers, changes)
    pairs = judge_rest.pairs(before, after, numbers)
    told = _told(changes, found, after)
    told += [one for pair in pairs if (one := judge_rest.polarity(pair, after)) is not None]
    told, found = _once(told, found)
    of_level = {number for one in told if one.code in ("quieter", "louder", "source") for number in one.channels}
    told += judge_band.band(changes, of_level)
    return Comparison(
        a=a,
        b=b,
        channels=tuple(changes),
        gone=matched.gone,
        added=matched.added,
        pairs=tuple(pairs),
        told=tuple(sorted(told, key=lambda one: (not one.worse, one.channels, one.code))),
        findings=found,
        one_patch=before.patch.path == after.patch.path,
    )


def _channels(a: Show, b: Show, same: Sequence[tuple[Channel, Channel]]) -> list[ChannelChange]:
    hops = hops_of(a), hops_of(b)
    changes = []
    for one, other in same:
        change = ChannelChange(before=a.view(one.number), after=b.view(other.number))
        change = replace(change, why_not=_why_not_at_all(a, b) or moves.why_not(change.before, change.after))
        then, now = change.before.track, change.after.track
        if not change.why_not and then is not None and now is not None:
            octaves = (sound.octaves_of(a, then), sound.octaves_of(b, now))
            settings = moves.expected(a, b, change.before, change.after)
            sides = (hops[0][then.track.number], hops[1][now.track.number])
            change = replace(
                change, octaves=octaves, step=sound.step(*octaves), moved=moves.moved(change, sides, settings)
            )
        changes.append(change)
    return moves.with_others([moves.as_advised(change) for change in moves.with_bleed(changes, hops)])


def _why_not_at_all(a: Show, b: Show) -> str:
    """A line check says nothing of levels, unless it is held against another one."""
    of = (a.patch.take.of, b.patch.take.of)
    if of[0] == of[1] or "line-check" not in of:
        return ""
    return f"a line check in {'A' if of[0] == 'line-check' else 'B'}"


def _told(changes: Sequence[ChannelChange], found: Sequence[FindingChange], b: Show) -> list[Told]:
    new: dict[int, set[str]] = {}
    for one in found:
        if one.fate in ("new", "grown"):
            for number in one.finding.channels:
                new.setdefault(number, set()).add(one.finding.code)
    noisy = {number: one for one in judge_rest.noisier(changes) for number in one.channels}
    told = []
    for change in changes:
        codes = new.get(change.number, set())
        told += [one for one in (judge_rest.replugged(change),) if one is not None]
        if codes & EXPLAINED_BY_FINDINGS:
            continue
        level, tone = judge_level.level(change, b), judge_rest.sound(change)
        if tone is not None and level is not None and abs(level.amount or 0.0) < TONE_DB:
            level = None
        if level is not None and level.code == "louder" and codes & LOUDER_IS_TOLD:
            level = None
        noise = noisy.get(change.number)
        if noise is not None and codes & NOISE_IS_TOLD:
            noise = None
        told += [one for one in (level, tone, noise) if one is not None]
    return told


def _once(told: Sequence[Told], found: Sequence[FindingChange]) -> tuple[list[Told], tuple[FindingChange, ...]]:
    """One cause told once: new findings go with the change that explains them, and what a finding that is gone tells
    is not told again as a change."""
    kept = list(found)
    out = []
    for one in told:
        of_it = [each for each in kept if each.finding.code in SWALLOWS.get(one.code, ()) and _within(each, one)]
        if one.worse:
            eaten = [each for each in of_it if each.fate in ("new", "grown")]
            kept = [each for each in kept if not any(each is gone for gone in eaten)]
            out.append(replace(one, swallowed=tuple(each.finding.code for each in eaten)))
        elif not any(each.fate == "fixed" and each.weighs for each in of_it):
            out.append(one)
    return out, tuple(kept)


def _within(finding: FindingChange, told: Told) -> bool:
    channels = finding.finding.channels
    return bool(channels) and set(channels) <= set(told.channels)
