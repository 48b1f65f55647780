"""The channels of a draft: lines of a list made whole, box and socket by socket, two channels for a stereo line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from replay.drafting import marks
from replay.drafting.lines import Line, box_of_title
from replay.drafting.marks import HIGHEST
from replay.drafting.notes import Notes
from replay.patch.kinds import KINDS, kind_from_name
from replay.text import harmless

STAGE = "stage"
"""The name of a box that the list does not name."""


@dataclass(frozen=True, kw_only=True)
class Input:
    """One channel of a draft. What is None or "" is not known; `track` is the take's track that the list states, or
    that was found for it. `pad` is what the list's cell says, `line` the list's line (None for a track without one)."""

    number: int
    name: str
    line: int | None = None
    box: str = ""
    socket: int | None = None
    track: int | None = None
    kind: str = ""
    use: str = ""
    input: str = ""
    mic: str = ""
    gain: float | None = None
    pad: str = ""
    phantom: str = ""
    trim: float | None = None
    polarity: str = ""
    pair: int | None = None
    pairing: str = ""
    note: str = ""
    alike: str = field(default="", compare=False)
    """What the channels of one line share: its name before sides were added."""


def from_lines(lines: Sequence[Line], columns: frozenset[str], notes: Notes) -> list[Input]:
    """The channels of a list's lines, in its order, with sockets; what belongs to a preamp is read in `settings`."""
    lines = _merged_twins(lines)
    numbers = _numbers(lines, notes)
    found: list[Input] = []
    above = ""
    placed = "socket" in columns or any(line.spot for line in lines)
    counted: dict[str, int] = {}
    for line, own in zip(lines, numbers, strict=True):
        box, how = _box(line, above, "box" in columns)
        above = line.box or (line.spot.box if line.spot else "") or above
        sockets = _sockets(line, own, notes)
        if sockets and not box:
            box, how = STAGE, "unnamed"
        elif not placed and not box:
            box, sockets, how = STAGE, list(own), "by channel"
        elif not placed:
            first = counted.get(box.casefold(), 0) + 1
            counted[box.casefold()] = first + len(own) - 1
            sockets, how = list(range(first, first + len(own))), "by order"
        _tell_box(how, box, own, sockets, notes)
        found.extend(_channels(line, own, box if sockets else "", sockets, notes))
    return _one_spelling(found)


def _one_spelling(inputs: list[Input]) -> list[Input]:
    """A box is called as it was first, whatever the case of its letters."""
    names: dict[str, str] = {}
    return [replace(one, box=names.setdefault(one.box.casefold(), one.box)) for one in inputs]


def _merged_twins(lines: Sequence[Line]) -> list[Line]:
    """Lines whose name is merged with the line above are that source's other side."""
    out: list[Line] = []
    for line in lines:
        before = out[-1] if out else None
        joined = "name" in line.merged and before is not None and before.name == line.name
        if joined and before is not None and len(before.channels) == len(line.channels) == 1:
            bare = _without_side(line.name)
            out[-1] = replace(before, name=f"{bare} L", cells={**before.cells, "stereo": "yes"})
            line = replace(line, name=f"{bare} R", cells={**line.cells, "stereo": "yes"})
        out.append(line)
    return out


def _numbers(lines: Sequence[Line], notes: Notes) -> list[tuple[int, ...]]:
    """Channel numbers for every line: its own, or the next free ones in the order of the list."""
    taken = {number for line in lines for number in line.channels}
    counted: list[int] = []
    out: list[tuple[int, ...]] = []
    following = 1
    for line in lines:
        if line.channels:
            out.append(line.channels)
            if len(line.channels) == 1 and line.spot and len(line.spot.sockets) == 2:
                beside = line.channels[0] + 1
                beside = beside if beside not in taken else max(taken) + 1
                taken.add(beside)
                out[-1] = (line.channels[0], beside)
                notes.guess("a channel of its own for the second socket of its line", beside, short="channel by socket")
            continue
        own: list[int] = []
        for _ in range(len(line.spot.sockets) if line.spot else max(1, len(_track_numbers(line)))):
            while following in taken:
                following += 1
            taken.add(following)
            own.append(following)
        counted += own
        out.append(tuple(own))
    if counted:
        notes.guess("no channel in the list, numbered in its order", *counted, short="channel by order")
    return [tuple(number for number in own if number <= HIGHEST) for own in out]


def _track_numbers(line: Line) -> tuple[int, ...]:
    return marks.numbers(line.cells.get("track", ""))


def _box(line: Line, above: str, has_column: bool) -> tuple[str, str]:
    """A line's box, and how it is known: "" (the line says it), above, section."""
    if line.spot and line.spot.box:
        if line.box and line.box.casefold() != line.spot.box.casefold():
            return marks.box_name(line.box), ""
        return line.spot.box, ""
    if line.box:
        return marks.box_name(line.box), ""
    if has_column and above and line.spot:
        return marks.box_name(above), "above"
    title = box_of_title(line.section)
    title = marks.box_name(title)
    return title, "section" if title else ""


def _tell_box(how: str, box: str, own: Sequence[int], sockets: Sequence[int], notes: Notes) -> None:
    if how == "above":
        notes.guess(f"box {box} from the line above", *own, short="box from above")
    elif how == "section":
        notes.guess(f"box {box} from the title above", *own, short="box from title")
    elif how == "unnamed":
        notes.guess(f"the list names no box: called {STAGE}", *own, short="box's name")
    elif how == "by channel":
        notes.guess(f"no socket in the list: the channel's number, on a box called {box}", *own, short="socket")
    elif how == "by order":
        notes.guess(f"no socket in the list: counted on box {box} in the list's order", *own, short="socket by order")


def _sockets(line: Line, own: Sequence[int], notes: Notes) -> list[int]:
    """As many sockets as channels; none where the line says no place."""
    if line.spot is None:
        if line.no_spot:
            notes.guess(f"“{line.no_spot[:20]}” is no socket: left without one", *own, short="no socket")
        return []
    sockets = list(line.spot.sockets)
    if len(sockets) < len(own):
        sockets = list(range(sockets[0], sockets[0] + len(own)))
        notes.guess(
            f"one socket stated for {len(own)} channels: {sockets[0]} to {sockets[-1]}",
            *own,
            short="sockets counted on",
        )
    return sockets


def _channels(line: Line, own: Sequence[int], box: str, sockets: Sequence[int], notes: Notes) -> list[Input]:
    names = _names(line.name, len(own))
    if len(own) == 2:
        notes.guess("one line for two channels: taken as left and right", *own, short="two channels of one line")
    elif len(own) > 2:
        notes.guess(f"one line for {len(own)} channels", *own, short="channels of one line")
    tracks = _track_numbers(line)
    out = []
    for i, number in enumerate(own):
        track = tracks[i] if i < len(tracks) else None
        if track is None and len(tracks) == 1 and len(own) > 1:
            track = tracks[0] + i
        out.append(
            Input(
                number=number,
                name=names[i],
                line=line.line,
                box=box,
                socket=sockets[i] if i < len(sockets) and sockets[i] <= HIGHEST else None,
                track=track,
                alike=line.name,
            )
        )
    if len(own) == 2:
        out = [replace(out[0], pair=own[1], pairing="stereo"), replace(out[1], pair=own[0], pairing="stereo")]
    return [one if one.socket is not None else replace(one, box="") for one in out]


_SIDES = re.compile(
    r"[\s(\[-]*\b(?:l\s*[/+&-]\s*r|lr|stereo|st|left\s*[/+&-]\s*right|stereo\s+pair|pair|li\s*/\s*re|l/r)\b\.?[)\]]*\s*$",
    re.IGNORECASE,
)


def _without_side(name: str) -> str:
    return _SIDES.sub("", name).strip() or name


def _names(name: str, count: int) -> list[str]:
    """Names for the channels of one line.

    >>> _names("Keys (stereo)", 2), _names("Keys L/R", 2), _names("Choir", 3)
    (['Keys L', 'Keys R'], ['Keys L', 'Keys R'], ['Choir 1', 'Choir 2', 'Choir 3'])
    """
    if count == 1:
        return [written(name)]
    bare = written(_without_side(name))[:96]
    halves = [half.strip() for half in re.split(r"\s*[/+&]\s*", bare)]
    if count == 2:
        if len(halves) == 2 and all(len(half) > 1 for half in halves):
            return halves
        return [f"{bare} L", f"{bare} R"]
    return [f"{bare} {i}" for i in range(1, count + 1)]


def written(text: str, longest: int = 100) -> str:
    """Text as it goes into the list: short enough, on one line, without characters that nobody sees, and nothing that a
    spreadsheet would run as a formula.

    >>> written("=1+1 Kick"), written("-"), written("+1 guest")
    ('1+1 Kick', '', '1 guest')
    """
    return harmless(" ".join(text.split()), 1000).lstrip("=+-@＝＋－＠\t ")[:longest].rstrip()


def kind_of(cell: str) -> str:
    """The kind that a cell of a kind column means; "" where it means none."""
    folded = cell.strip().casefold().replace(" ", "-")
    if folded in KINDS:
        return folded
    told = kind_from_name(cell)
    return "" if told == "other" else told
