"""The comparison as a page: one file to look at and print, with nothing in it that runs.

It is made from the report's style and templates, and as safe: what a name holds becomes text, and the page's own policy
lets nothing run or load.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from replay._version import VERSION
from replay.compare import as_text, words
from replay.compare.model import ChannelChange, Comparison, FindingChange, Told
from replay.compare.sound import Octaves
from replay.report import phrases, whole
from replay.report.page.spectrum import RANGE_DB, place

SPAN_DB = 24.0
"""The drawing of changes reaches so far to either side."""

TICKS = (-20, -10, 0, 10, 20)
SIGNS = {"bad": "✕", "look": "!", "fixed": "✓", "same": "=", "unjudged": "?"}
STATES = {"bad": "bad", "look": "look", "fixed": "good", "same": "unjudged", "unjudged": "unjudged"}
"""Marks of channels as the classes of the report's style."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing told: its mark, where, how much, and sentences."""

    mark: str
    about: str
    amount: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Band:
    """An octave: place and width in percent, height in percent then and now."""

    x: float
    width: float
    then: float
    now: float


@dataclass(frozen=True, kw_only=True)
class Row:
    """A channel: figures as text, and the bar of what the settings do not explain as (from, width) in percent."""

    number: int
    name: str
    socket: str
    mark: str
    level: str
    settings: str
    rest: str
    others: str
    floor: str
    sound: str
    heard: str
    why_not: str
    bar: tuple[float, float] | None
    bands: tuple[Band, ...]


def write(comparison: Comparison, target: Path) -> None:
    """Write the page to a file. OutputError where that is impossible."""
    for side in (comparison.a, comparison.b):
        whole.protect(side.report, target)
    whole.write({target: text(comparison).encode("utf-8")})


def text(comparison: Comparison) -> str:
    """The whole page. Imports jinja2."""
    from markupsafe import Markup

    from replay.report.page import ink

    return (
        ink.environment()
        .get_template("two_takes.html")
        .render(**_context(comparison), policy=ink.policy(), style=Markup(ink.style()))
    )


def _context(comparison: Comparison) -> dict[str, Any]:
    told = comparison.told
    sections = [("Worse", [_told(one, comparison) for one in told if one.worse])]
    for key, fates in words.FATES_UNDER.items():
        found = comparison.with_fate(*fates)
        sections.append((words.HEADINGS[key].capitalize(), [_found(one, comparison) for one in found]))
    sections.append(("Changed, not for the worse", [_told(one, comparison) for one in told if not one.worse]))
    return {
        "version": VERSION,
        "worse": comparison.verdict == "worse",
        "verdict": words.verdict(comparison),
        "title": comparison.b.report.show.patch.title,
        "sides": [
            (side.letter, side.name, side.report.show.patch.title, phrases.take_facts(side.report).split(", ", 1)[-1])
            for side in (comparison.a, comparison.b)
        ],
        "remarks": [
            one for one in (words.reference(comparison), words.order(comparison), *words.others(comparison)) if one
        ],
        "sections": [(heading, items) for heading, items in sections if items],
        "rows": [_row(comparison, one) for one in comparison.channels],
        "notes": words.notes(comparison),
        "ticks": [(f"{tick:+d}" if tick else "0", _place(tick)) for tick in TICKS],
        "middle": _place(0.0),
        "signs": SIGNS,
        "marks": words.MARKS,
        "states": STATES,
    }


def _told(one: Told, comparison: Comparison) -> Item:
    sentences = [f"{phrases.lead(one)}: {one.message}"]
    if one.swallowed:
        sentences.append(f"With it: {', '.join(one.swallowed)}.")
    if one.action:
        sentences.append(f"Do: {one.action}")
    return Item(
        mark="look" if one.worse else "same",
        about=as_text.about(one.channels, comparison),
        amount="" if one.amount is None else f"{one.amount:+.1f} {one.unit}",
        sentences=tuple(sentences),
    )


def _found(one: FindingChange, comparison: Comparison) -> Item:
    return Item(
        mark=words.mark_of(one) or "same",
        about=as_text.about_finding(one, comparison),
        amount="",
        sentences=tuple(words.sentences(one)),
    )


def _row(comparison: Comparison, one: ChannelChange) -> Row:
    channel, moved = one.after.channel, one.moved
    known = moved is not None and (moved.expected.known or moved.expected.advised)
    return Row(
        number=channel.number,
        name=channel.name,
        socket="" if channel.socket is None else str(channel.socket),
        mark=words.mark(comparison, one),
        level="" if moved is None else words.signed(moved.recorded_db),
        settings="" if moved is None else words.signed(moved.expected.change_db) if known else "?",
        rest="" if moved is None else words.signed(moved.own_db),
        others="" if moved is None or moved.bleed is None else words.signed(moved.bleed.change_db),
        floor="" if moved is None else words.signed(moved.floor_db),
        sound="" if one.step is None else one.step.what,
        heard=words.heard(one),
        why_not=one.why_not,
        bar=None if moved is None else _bar(moved.own_db),
        bands=_bands(*one.octaves),
    )


def _bar(change: float) -> tuple[float, float]:
    low, high = sorted((_place(0.0), _place(change)))
    return low, round(high - low, 2)


def _place(change: float) -> float:
    """The place of a change in percent of the drawing's width.

    >>> _place(0.0), _place(-24.0), _place(99.0)
    (50.0, 0.0, 100.0)
    """
    return round(50 + 50 * min(max(change / SPAN_DB, -1.0), 1.0), 2)


def _bands(then: Octaves | None, now: Octaves | None) -> tuple[Band, ...]:
    if then is None or now is None or len(then.shares) != len(now.shares):
        return ()
    bands = []
    for low, high, one, other in zip(then.edges[:-1], then.edges[1:], then.shares, now.shares, strict=True):
        left, right = place(low), place(high)
        if right > left:
            heights = [round(100 * max(0.0, 1 + share / RANGE_DB), 1) for share in (one, other)]
            bands.append(Band(x=left, width=round(right - left, 2), then=heights[0], now=heights[1]))
    return tuple(bands)
