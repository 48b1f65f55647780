"""A draft as the text of its two files, with its guesses beside what they are about."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from replay.drafting.inputs import Input
from replay.drafting.notes import Note, Notes
from replay.drafting.placing import SIZES
from replay.patch.from_table import COLUMNS
from replay.text import harmless

LINK = "main"
GUESSED = "guessed"
"""The column of the input list that says what of its line was guessed; `replay` leaves it alone."""


@dataclass(frozen=True, kw_only=True)
class Head:
    """What the patch says beside boxes and feeds: `below` is the take's folder ("" where it is looked for), `of` what
    was recorded and `of_known` whether the folder's name says so, `sources` in words what the draft was made from."""

    title: str
    rate: int
    below: str
    of: str
    of_known: bool
    slots: int
    sources: str


def patch_text(head: Head, inputs: Sequence[Input], pads: Mapping[str, float], notes: Notes) -> str:
    """patch.toml."""
    out = [
        f"# A first patch, drafted from {head.sources}.",
        "# What is marked GUESSED was told by nothing for certain: correct it where it is wrong.",
        "",
        f"title = {quoted(head.title)}",
        f"rate = {head.rate}",
        'inputs = "inputs.csv"',
        "",
        "[take]",
    ]
    if head.below:
        out.append(f"folder = {quoted(head.below)}")
    how = "by the folder's name; else soundcheck, line-check or show" if head.of_known else "or line-check, or show"
    out.append(f"of = {quoted(head.of)}  # GUESSED: {how}")
    by_name = ", by its folder's name" if head.of_known else ""
    notes.guess_patch(f"the take is of a {head.of}{by_name}: levels are judged by it (of, in [take])")
    out.append('# from = "4:30": where levels are judged from, if a line check comes first')
    sockets: dict[str, list[tuple[int, int]]] = {}
    highest: dict[str, int] = {}
    for one in inputs:
        if one.socket is not None:
            sockets.setdefault(one.box, [])
            highest[one.box] = max(highest.get(one.box, 0), one.socket)
    for box, used in highest.items():
        size = next((size for size in SIZES if size >= used), used)
        notes.guess_patch(f"box {box} has {size} sockets: the highest in use is {used}")
        out += ["", "[[box]]", f"name = {quoted(box)}", f"sockets = {size}  # GUESSED: the highest in use is {used}"]
        if box in pads:
            out.append(f"pad = {pads[box]:g}")
        out.append("# gain = { min = ..., max = ..., step = ... }: the range of its preamps is not known")
    if not highest:
        out += ["", "# No source of the list says where it is plugged.", "[[box]]", 'name = "stage"', "sockets = 32"]
    out += ["", "[[link]]", f"name = {quoted(LINK)}", f"slots = {head.slots}  # as the take has tracks"]
    out += _feeds(inputs, sockets, notes)
    return "\n".join(out) + "\n"


def _feeds(inputs: Sequence[Input], sockets: dict[str, list[tuple[int, int]]], notes: Notes) -> list[str]:
    """A feed for every box that is recorded, and one for channels that no socket is known of."""
    loose: list[tuple[int, int]] = []
    taken: dict[int, object] = {}
    for one in inputs:
        if one.track is None:
            continue
        source = (one.box, one.socket) if one.socket is not None else one.number
        if taken.setdefault(one.track, source) != source:
            notes.guess(f"track {one.track} is another source's already", one.number, short="track taken")
            continue
        if one.socket is None:
            loose.append((one.number, one.track))
        elif (one.socket, one.track) not in sockets[one.box]:
            sockets[one.box].append((one.socket, one.track))
    out: list[str] = []
    for box, pairs in sockets.items():
        if pairs:
            first, second = _side_by_side(sorted(pairs))
            out += ["", "# GUESSED: which socket is recorded on which slot", "[[feed]]", f"box = {quoted(box)}"]
            out += [f'sockets = "{first}"', f'link = "{LINK}"', f'slots = "{second}"']
    if loose:
        first, second = _side_by_side(sorted(loose))
        out += ["", "# GUESSED: channels whose socket is not known", "[[feed]]", f'channels = "{first}"']
        out += [f'link = "{LINK}"', f'slots = "{second}"']
    if not out:
        # No patch is without a feed. One that carries nobody's socket says that nothing is known.
        out = [
            "",
            "# No channel was found on any track.",
            "[[feed]]",
            'channels = "1"',
            f'link = "{LINK}"',
            'slots = "1"',
        ]
    return out


def _side_by_side(pairs: Sequence[tuple[int, int]]) -> tuple[str, str]:
    """Sources and slots as runs that go along with each other.

    >>> _side_by_side([(1, 1), (2, 2), (5, 3), (6, 9)])
    ('1-2, 5, 6', '1-2, 3, 9')
    """
    runs: list[list[int]] = []
    for source, slot in pairs:
        if runs and (source, slot) == (runs[-1][1] + 1, runs[-1][3] + 1):
            runs[-1][1], runs[-1][3] = source, slot
        else:
            runs.append([source, source, slot, slot])
    return ", ".join(_run(a, b) for a, b, _, _ in runs), ", ".join(_run(a, b) for _, _, a, b in runs)


def _run(first: int, last: int) -> str:
    return str(first) if first == last else f"{first}-{last}"


def quoted(text: str) -> str:
    """Text as a TOML string: JSON's escapes are TOML's too, but for DEL, which JSON leaves as it is."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def inputs_text(inputs: Sequence[Input], notes: Notes) -> str:
    """inputs.csv, with every column that `replay` reads and one that says what was guessed."""
    guessed = _guesses_by_channel(notes.inputs)
    out = io.StringIO()
    writer = csv.DictWriter(out, (*COLUMNS, GUESSED), restval="", lineterminator="\n")
    writer.writeheader()
    for one in inputs:
        writer.writerow(
            {
                "channel": one.number,
                "name": one.name,
                "kind": one.kind,
                "use": one.use,
                "input": one.input,
                "mic": one.mic,
                "box": one.box,
                "socket": "" if one.socket is None else one.socket,
                "gain": "" if one.gain is None else f"{one.gain:g}",
                "pad": one.pad,
                "phantom": one.phantom,
                "trim": "" if one.trim is None else f"{one.trim:g}",
                "polarity": one.polarity,
                "pair": one.pair or "",
                "pairing": one.pairing,
                "note": harmless(one.note, 1000),
                GUESSED: "; ".join(guessed.get(one.number, ())),
            }
        )
    return out.getvalue()


def _guesses_by_channel(notes: Iterable[Note]) -> dict[int, list[str]]:
    out: dict[int, list[str]] = {}
    for note in notes:
        if note.short:
            for channel in note.channels:
                out.setdefault(channel, []).append(note.short)
    return out
