"""Which column means what: the headings' candidates, decided by what stands below them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from replay.drafting import marks
from replay.drafting.headings import meanings
from replay.patch.kinds import KINDS, kind_from_name

BESIDE_BOX = 10.5
"""The weight of a socket's column by its place alone: more than any word's."""

_LOOKED_AT = 400
"""Cells of a column by which its meaning is judged."""

Cells = Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Columns:
    """Places (from 0) of the columns that were understood, by field; and the headings of those that were not."""

    places: Mapping[str, int]
    headings: Mapping[str, str]
    unread: tuple[str, ...] = ()

    def has(self, field: str) -> bool:
        """Whether the list has a column of this meaning."""
        return field in self.places


def understood(header: Sequence[str], below: Callable[[int], Cells], *, mistyped: bool = True) -> Columns:
    """The meaning of every column. `below(place)` gives the cells under a heading, blank ones left out."""
    claims: list[tuple[float, int, str]] = []
    for place, heading in enumerate(header):
        cells = below(place)[:_LOOKED_AT] if heading else ()
        for field, weight in meanings(heading, mistyped=mistyped) if heading else ():
            if _fits(field, cells):
                claims.append((weight, -place, field))
        # A number right beside the box counts its sockets, whatever it is called ("Stagebox | Ch").
        if _beside_box(header, place) and cells and _share(cells, marks.numbers) >= 0.5:
            claims.append((BESIDE_BOX, -place, "socket"))
    places: dict[str, int] = {}
    taken: set[int] = set()
    for _, negative, field in sorted(claims, reverse=True):
        if field not in places and -negative not in taken:
            places[field] = -negative
            taken.add(-negative)
    unread = [heading for i, heading in enumerate(header) if heading and i not in taken and below(i)]
    return Columns(
        places=places,
        headings={field: header[place] for field, place in places.items()},
        unread=tuple(dict.fromkeys(unread)),
    )


def _beside_box(header: Sequence[str], place: int) -> bool:
    left = meanings(header[place - 1]) if place and header[place - 1] else ()
    own = {field for field, _ in meanings(header[place])} if header[place] else set()
    return bool(left) and left[0][0] == "box" and bool(own & {"channel", "socket"})


def with_numbers(
    found: Columns, places: Iterable[int], header: Sequence[str], below: Callable[[int], Cells]
) -> Columns:
    """The columns with the channel's number in one that counts up and has no heading, where no other is the channel."""
    for place in places:
        if found.has("channel") or (place < len(header) and header[place]) or place in found.places.values():
            continue
        cells = below(place)[:_LOOKED_AT]
        if len(cells) > 1 and _share(cells, marks.numbers) >= 0.9 and _rises(cells):
            where = f"column {place + 1}"
            return Columns(
                places={**found.places, "channel": place},
                headings={**found.headings, "channel": where},
                unread=found.unread,
            )
    return found


def _share(cells: Cells, holds: Callable[[str], object]) -> float:
    return sum(1 for cell in cells if holds(cell)) / len(cells) if cells else 0.0


def _fits(field: str, cells: Cells) -> bool:
    """Whether the cells under a heading can be what it may mean. An empty column may be anything."""
    if not cells:
        return True
    numeric = _share(cells, marks.numbers)
    if field in ("channel", "track"):
        return numeric >= 0.5
    if field == "name":
        return (
            _share(cells, lambda cell: any(c.isalpha() for c in cell)) >= 0.5 and numeric < 0.5 and not _marked(cells)
        )
    if field == "box":
        # The names of a few boxes, over and over; sockets count up.
        with_socket = _share(cells, lambda cell: (spot := marks.spot(cell, 1)) and spot.box) >= 0.5
        if with_socket and len(set(cells)) > len(cells) / 2:
            return False
        return len(set(cells)) <= max(4, len(cells) / 3) and not _counts_up(cells)
    if field == "socket":
        return _share(cells, lambda cell: marks.spot(cell, 1)) >= 0.5
    if field == "kind":
        return _share(cells, lambda cell: cell.casefold() in KINDS or kind_from_name(cell) != "other") >= 0.5
    if field == "input":
        return _share(cells, marks.input_of) >= 0.5
    if field == "gain":
        return _share(cells, lambda cell: marks.number(cell, -200, 200) is not None) >= 0.5
    if field in ("di", "phantom", "stereo", "pad", "polarity"):
        return len({cell.casefold() for cell in cells}) <= 8 or _marked(cells)
    if field == "mic":
        return not _marked(cells)
    return True


def _marked(cells: Cells) -> bool:
    return _share(cells, lambda cell: marks.mark(cell) is not None) >= 0.8


def _counts_up(cells: Cells) -> bool:
    found = [run[0] for run in map(marks.numbers, cells) if run]
    return len(found) > 3 and len(found) == len(cells) and len(set(found)) > len(found) / 2


def guessed(width: int, below: Callable[[int], Cells]) -> Columns | None:
    """The columns of a list without headings, by what stands in them alone; None where no sources can be seen."""
    places: dict[str, int] = {}
    columns = {place: below(place)[:_LOOKED_AT] for place in range(width)}
    names = {
        place: sum(1 for cell in set(cells) if kind_from_name(cell) != "other")
        for place, cells in columns.items()
        if _fits("name", cells) and cells
    }
    if not names or max(names.values()) < 2:
        return None
    places["name"] = max(names, key=lambda place: names[place])
    for place, cells in columns.items():
        if place in places.values() or not cells:
            continue
        if "channel" not in places and _share(cells, marks.numbers) >= 0.9 and _rises(cells):
            places["channel"] = place
        elif "phantom" not in places and _share(cells, lambda cell: "48" in cell) >= 0.9:
            places["phantom"] = place
        elif "socket" not in places and _share(cells, lambda cell: (spot := marks.spot(cell, 1)) and spot.box) >= 0.6:
            places["socket"] = place
    if not {"channel", "socket"} & places.keys():
        return None
    return Columns(places=places, headings={field: f"column {place + 1}" for field, place in places.items()})


def _rises(cells: Cells) -> bool:
    found = [run[0] for run in map(marks.numbers, cells) if run]
    return all(a < b for a, b in pairwise(found))
