"""What `draft` says when it is done: what was read, guessed, left unknown and left out, and what to type next."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Iterable
from pathlib import Path

from replay.drafting.draft import Draft
from replay.drafting.notes import Note
from replay.text import clock, harmless


def answer(made: Draft, shown: Path, *, cells: int) -> str:
    """The whole answer. `shown` is the show's folder as the user would type it; `cells` the width of the terminal."""
    take = made.take
    count = len(made.channels)
    recorded = sum(1 for one in made.channels if one.track is not None)
    sections: list[str] = []
    head = [
        f"Written  {harmless(str(shown / 'patch.toml'), 4096)}",
        f"         {harmless(str(shown / 'inputs.csv'), 4096)}",
        f"Show     {count} channel{'' if count == 1 else 's'}, {recorded} of them recorded",
        f"Take     {harmless(take.folder.name, 100)}: {len(take.tracks)} track{'' if len(take.tracks) == 1 else 's'}, "
        f"{take.rate / 1000:g} kHz, {clock(take.duration_s)} long",
    ]
    head += _wrapped("List     ", (note.text for note in made.notes.read), cells)
    sections.append("\n".join(head))
    for title, notes in (
        ("GUESSED IN patch.toml (marked there)", made.notes.patch),
        ("GUESSED IN inputs.csv (in its last column)", made.notes.inputs),
        ("NOT KNOWN, AND LEFT SO", made.notes.unknown),
        ("LEFT OUT OF THE LIST", made.notes.left_out),
    ):
        if notes:
            sections.append("\n".join([title, *_listed(notes, cells)]))
    sections.append(f"Correct what is wrong in these two files. Now: replay check {typed(shown)}")
    return "\n\n".join(sections) + "\n"


def _listed(notes: Iterable[Note], cells: int) -> list[str]:
    return _wrapped("- ", (_sentence(str(note)) for note in notes), cells, again="- ")


def _sentence(text: str) -> str:
    return harmless(text[:1].upper() + text[1:], 2000) + "."


def _wrapped(first: str, texts: Iterable[str], cells: int, *, again: str | None = None) -> list[str]:
    out: list[str] = []
    blank = " " * len(first)
    for i, text in enumerate(texts):
        lead = first if i == 0 else again if again is not None else blank
        out += textwrap.wrap(
            text, max(cells, 40), initial_indent=lead, subsequent_indent=blank, break_on_hyphens=False
        ) or [lead.rstrip()]
    return out


def typed(path: Path) -> str:
    """A path as it is typed into a shell."""
    return harmless(shlex.quote(str(path)), 4096)
