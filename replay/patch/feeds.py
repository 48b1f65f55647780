"""Who has a slot: feeds of several patches on one link, the nearest patch first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from replay.patch.model import Feed, Slot
from replay.patch.problems import shown
from replay.patch.tables import Table
from replay.text import harmless, ranges


def settled(read: Sequence[tuple[Table, Feed]]) -> tuple[list[Feed], list[str]]:
    """The feeds in their order, those of a farther file without the slots that a nearer file feeds, and what is told
    of that; two of one file on one slot are a problem."""
    fed: dict[Slot, Table] = {}
    told: list[str] = []
    settled: dict[int, Feed] = {}
    # The nearest file chooses first; the order of the feeds stays.
    for place, (table, feed) in sorted(enumerate(read), key=lambda item: item[1][0].rank):
        left = [
            source for source in zip(feed.sources, feed.slots, strict=True) if not _given(source[1], table, feed, fed)
        ]
        gone = [number for number in feed.slots if _given(number, table, feed, fed)]
        if gone:
            names = dict.fromkeys(f"{at.file}, {at.key}" for n in gone for at in [fed[Slot(feed.link, n)].place()])
            verb = "is" if len(gone) == 1 else "are"
            slots = f"{numbered('slot', gone)} of link {harmless(feed.link)}"
            told.append(f"{table.place()}: {slots} {verb} fed by {' and '.join(names)} instead.")
        _claim(table, feed, fed)
        if left:
            sources, slots_left = zip(*left, strict=True)
            settled[place] = replace(feed, sources=sources, slots=slots_left)
    return [settled[place] for place in sorted(settled)], told


def _given(number: int, table: Table, feed: Feed, fed: Mapping[Slot, Table]) -> bool:
    """Whether a nearer file feeds the slot."""
    owner = fed.get(Slot(feed.link, number))
    return owner is not None and owner.rank < table.rank


def _claim(table: Table, feed: Feed, fed: dict[Slot, Table]) -> None:
    """Take the feed's slots; told where another feed of the same file has them already."""
    clashes: dict[str, list[int]] = {}
    for slot_number in feed.slots:
        owner = fed.setdefault(Slot(feed.link, slot_number), table)
        if owner is not table and owner.rank == table.rank:
            clashes.setdefault(owner.path, []).append(slot_number)
    for other, numbers in clashes.items():
        verb = "is" if len(numbers) == 1 else "are"
        message = f"{numbered('slot', numbers)} of link {shown(feed.link)} {verb} already fed by {other}"
        table.problem("slots", message, "each slot records one source")


def numbered(what: str, numbers: Iterable[int]) -> str:
    """Numbers with what they are: `slots 1-3, 7`."""
    different = sorted(set(numbers))
    return f"{what}{'s' if len(different) > 1 else ''} {ranges(different)}"
