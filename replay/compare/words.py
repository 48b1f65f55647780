"""Sentences that text and page say alike."""

from __future__ import annotations

from replay.compare.model import ChannelChange, Comparison, FindingChange
from replay.report import confirmed, phrases
from replay.text import ranges

MARKS = {"bad": "BAD", "look": "LOOK", "fixed": "fixed", "same": "same", "unjudged": "?"}
"""A channel's mark: a fault is new, something else is worse, something was fixed, neither, not compared."""

HEADINGS = {
    "new": "NEW",
    "fixed": "FIXED",
    "still": "STILL THERE",
    "not-heard": "CANNOT BE TOLD",
}
"""Headings of lists of findings; `grown` stands under NEW, `eased` under STILL THERE."""

FATES_UNDER = {
    "new": ("new", "grown"),
    "fixed": ("fixed",),
    "still": ("still", "eased"),
    "not-heard": ("not-heard",),
}


def verdict(comparison: Comparison) -> str:
    """The first line."""
    faults = sum(
        one.after is not None and one.after.severity == "fault" for one in comparison.with_fate("new", "grown")
    )
    warnings = len(comparison.with_fate("new", "grown")) - faults
    changes = sum(one.worse for one in comparison.told)
    fixed, still = len(comparison.with_fate("fixed")), len(comparison.with_fate("still", "eased"))
    only_in_b = {channel.number for channel in comparison.added}
    compared = phrases.of_channels(len(comparison.channels) + len(only_in_b.intersection(comparison.worse_channels)))
    parts = []
    if comparison.verdict == "worse":
        worse = comparison.worse_channels
        where = f"{len(worse)} of {compared} ({ranges(worse)})" if worse else "the take itself"
        counts = [
            phrase.format(number, "" if number == 1 else "s")
            for number, phrase in (
                (faults, "{} new fault{}"),
                (warnings, "{} new warning{}"),
                (changes, "{} change{} for the worse"),
            )
            if number
        ]
        parts.append(f"WORSE: {where}, {', '.join(counts)}")
    else:
        parts.append(f"NOTHING WORSE in {compared}")
    if fixed:
        parts.append(f"{fixed} fixed")
    if still:
        parts.append(f"{still} still there")
    return "; ".join(parts) + "."


def reference(comparison: Comparison) -> str:
    """At which point levels are compared."""
    unknown = [one.number for one in comparison.channels if one.moved is not None and not one.moved.expected.known]
    measured = [one for one in comparison.channels if one.moved is not None]
    if not measured:
        return "No channel plays in both takes."
    said = "Levels are compared at the sockets: what gains and pads of the patches explain is taken off."
    if comparison.one_patch:
        said = "One patch for both takes: gains and pads are taken to have been the same."
    if len(unknown) == len(measured):
        return "Gains are not stated in both patches: levels are compared as recorded."
    if unknown:
        said += f" As recorded, for want of stated gains: channels {ranges(unknown)}."
    return said


def order(comparison: Comparison) -> str:
    """A word where B is the older take; "" else."""
    a, b = (side.report.show.take.recorded for side in (comparison.a, comparison.b))
    return "B is the older take: what is called new is what A no longer has." if 0 < b < a else ""


def mark(comparison: Comparison, channel: ChannelChange) -> str:
    """A key of MARKS."""
    number = channel.number
    of_it = [one for one in comparison.findings if number in one.finding.channels]
    if any(one.fate in ("new", "grown") and one.finding.severity == "fault" for one in of_it):
        return "bad"
    if number in comparison.worse_channels:
        return "look"
    if any(one.fate == "fixed" and one.weighs for one in of_it):
        return "fixed"
    return "unjudged" if channel.why_not else "same"


def heard(channel: ChannelChange) -> str:
    """Whether the sound confirms the channel's track, then and now: `yes`, or `yes > NO` where that changed."""
    then, now = (confirmed.HEARD[view.mapping.status] for view in (channel.before, channel.after))
    return now if then == now else f"{then} > {now}"


def became(one: FindingChange) -> str:
    """What became of a finding, in a few words; "" where its heading says it."""
    if one.fate == "grown" and one.before is not None:
        return f"was {one.before.code} ({one.before.severity})"
    if one.fate == "eased" and one.before is not None and one.after is not None:
        return f"was {one.before.code} ({one.before.severity})"
    return one.how


def mark_of(one: FindingChange) -> str:
    """The mark of a finding, as a key of MARKS; "" where it asks for nothing."""
    if one.fate in ("new", "grown"):
        return "bad" if one.finding.severity == "fault" else "look"
    return "fixed" if one.fate == "fixed" else ""


def sentences(one: FindingChange) -> list[str]:
    """A finding in sentences: what became of it and what it says, then what to do where it is new."""
    finding, said = one.finding, became(one)
    lead = f"{phrases.lead(finding)}{f', {said}' if said else ''}"
    if one.fate in ("fixed", "not-heard"):
        return [f"{lead}. In A: {finding.message}"]
    told = [f"{lead}: {finding.message}"]
    return [*told, f"Do: {finding.action}"] if one.fate in ("new", "grown") else told


def signed(value: float | None) -> str:
    """A change with its sign and one decimal; "" where there is none.

    >>> signed(-6.04), signed(0.04), signed(None)
    ('-6.0', '0.0', '')
    """
    if value is None:
        return ""
    value = round(value, 1) + 0.0
    return f"{value:+.1f}" if value else "0.0"


def notes(comparison: Comparison) -> str:
    """How many notes came and went; "" for none."""
    new = sum(one.fate == "new" and not one.weighs for one in comparison.findings)
    gone = sum(one.fate == "fixed" and not one.weighs for one in comparison.findings)
    if not new and not gone:
        return ""
    return f"Notes: {new} new, {gone} gone. replay check tells them."


def others(comparison: Comparison) -> list[str]:
    """Channels that only one side has, in sentences."""
    said = []
    for letter, channels in (("A", comparison.gone), ("B", comparison.added)):
        if channels:
            names = ", ".join(f"{one.number} {one.name}" for one in channels[:12])
            more = f" and {len(channels) - 12} more" if len(channels) > 12 else ""
            said.append(f"Only in {letter}: {names}{more}.")
    return said
