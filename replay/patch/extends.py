"""A patch that extends another: an act's patch and the house's that it stands on, as layers of one definition.

What one show alone can say is never taken from a house patch: NOT_TAKEN lists it. The channels that every act of a
house has (talkback, spares) stand in a list of their own, which the key `house_inputs` names: the list of `inputs` is
one show's, and the patch that an act extends may well be another show's.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from replay.errors import Place
from replay.patch import cells
from replay.patch.fields import text
from replay.patch.files import read_toml
from replay.patch.from_table import MOST_CHANNELS, InputList, Row, read_list
from replay.patch.model import House
from replay.patch.problems import Problems, Unfit
from replay.patch.tables import Layer
from replay.text import harmless, ranges

PATCH_FILE = "patch.toml"

MOST_EXTENDED = 8
"""House patches behind one another: a hire firm's rack, a festival, a stage, a day are four."""

NOT_TAKEN = ("title", "inputs", "house_inputs", "extends", "line_check")
NOT_TAKEN_OF_TAKE = ("folder", "from", "to")


@dataclass(frozen=True, kw_only=True)
class Chain:
    """The patch that was asked for and those that it extends, the nearest first.

    `lists` are the files that their `house_inputs` name, and how those are shown. `whole` is false where one of the
    patches could not be read: names that nothing declares may be declared there.
    """

    layers: tuple[Layer, ...]
    houses: tuple[House, ...] = ()
    lists: tuple[tuple[Path, str], ...] = ()
    whole: bool = True


def read_chain(file: Path, problems: Problems) -> Chain:
    """A patch file and all that it extends. Where `file` itself cannot be read there are no layers, and problems."""
    called, path, named_at = harmless(file.name), file, None
    seen: dict[str, str] = {}
    layers: list[Layer] = []
    houses: list[House] = []
    lists: list[tuple[Path, str]] = []

    def chain(whole: bool) -> Chain:
        return Chain(layers=tuple(layers), houses=tuple(houses), lists=tuple(lists), whole=whole)

    while True:
        seen[_real(path)] = called
        raw = read_toml(path, problems, called, named_at)
        if raw is None:
            return chain(whole=False)
        lists += _lists(raw, path, called, problems)
        if layers:
            houses.append(House(path=path, called=called))
        layers.append(Layer(_taken(raw) if layers else raw, "", called, len(layers)))
        if "extends" not in raw:
            return chain(whole=True)
        named_at = Place(called, key="extends")
        try:
            name = text(1000)(raw["extends"])
            path, called = _follow(path, called, name)
            if len(layers) > MOST_EXTENDED:
                raise Unfit("is one patch too many behind each other", f"at most {MOST_EXTENDED}")
            if _real(path) in seen:
                begins = list(seen).index(_real(path))
                way = " > ".join([*list(seen.values())[begins:], seen[_real(path)]])
                raise Unfit(f"leads round in a circle: {way}", "a house patch extends none of its acts")
        except Unfit as unfit:
            problems.unfit(unfit, named_at)
            return chain(whole=False)


def _follow(path: Path, called: str, name: str) -> tuple[Path, str]:
    """The patch that `name` in the patch at `path` means, and how it is shown: as the files say, one after the other.

    Nothing is tidied away (`a/../b`): where `a` is a link that is another place than `b`.
    """
    target = path.parent / name
    # Shown as from the folder of the patch that was asked for.
    shown = PurePath(called).parent / name
    try:
        if target.is_dir():
            return target / PATCH_FILE, harmless((shown / PATCH_FILE).as_posix())
    except (OSError, ValueError):
        pass  # reading it tells why
    return target, harmless(shown.as_posix())


def _real(path: Path) -> str:
    try:
        return os.path.realpath(path)
    except (OSError, ValueError):
        return str(path)


def _lists(raw: dict[str, Any], path: Path, called: str, problems: Problems) -> list[tuple[Path, str]]:
    """The list that a patch's `house_inputs` names, if it names one, and how that is shown."""
    if "house_inputs" not in raw:
        return []
    try:
        name = text(1000)(raw["house_inputs"])
    except Unfit as unfit:
        problems.unfit(unfit, Place(called, key="house_inputs"))
        return []
    return [(path.parent / name, harmless((PurePath(called).parent / name).as_posix()))]


def _taken(raw: dict[str, Any]) -> dict[str, Any]:
    """What others take from a house patch."""
    taken = {name: value for name, value in raw.items() if name not in NOT_TAKEN}
    take = taken.get("take")
    if isinstance(take, dict):
        taken["take"] = {name: value for name, value in take.items() if name not in NOT_TAKEN_OF_TAKE}
    return taken


def house_lists(chain: Chain, problems: Problems) -> list[InputList]:
    """The lists of channels that the house has in every act, the nearest patch's first."""
    lists = (read_list(path, problems, called) for path, called in chain.lists)
    return [one for one in lists if one is not None]


def joined(lists: Sequence[InputList]) -> InputList:
    """One list of several, the nearest first.

    A channel of a farther list gives way to a nearer list's of the same number; and where it need not be there (use
    `may` or `off`: a spare), to whatever a nearer list plugs into its socket. What gave way is told.
    """
    if len(lists) == 1:
        return lists[0]
    rows = list(lists[0].rows)
    told = list(lists[0].told)
    ordered = [number for row in rows if (number := _number(row)) is not None]
    in_order = ordered == sorted(ordered)
    for one in lists[1:]:
        numbers = {_number(row) for row in rows}
        sockets = {_socket(row): row for row in rows if _socket(row) is not None}
        kept, replaced, spared = [], [], []
        for row in one.rows:
            if (number := _number(row)) is not None and number in numbers:
                replaced.append(row)
            elif _need_not_be(row) and _socket(row) in sockets:
                spared.append(row)
            else:
                kept.append(row)
        gone = {_number(row) for row in (*replaced, *spared)}
        rows += [_unpaired(row) if _partner(row) in gone else row for row in kept]
        told += [*one.told, *_told(replaced, spared, lists[0])]
    if in_order:
        rows.sort(key=lambda row: _number(row) or MOST_CHANNELS)
    return InputList(rows=tuple(rows), told=tuple(told))


def _told(replaced: Sequence[Row], spared: Sequence[Row], nearest: InputList) -> list[str]:
    sentences = []
    own = nearest.rows[0].file if nearest.rows else "the act's list"
    if replaced:
        numbers = sorted(number for row in replaced if (number := _number(row)) is not None)
        several = "s" * (len(numbers) > 1)
        sentences.append(f"{replaced[0].file}: channel{several} {ranges(numbers)} replaced by {own}.")
    for row in spared:
        socket = f"{row.cells.get('box')} {row.cells.get('socket')}"
        who = f"channel {row.cells.get('channel')} {row.cells.get('name', '')}".strip()
        sentences.append(f"{row.file}: {who} left out, as {own} plugs something else into {socket}.")
    return sentences


def _number(row: Row) -> int | None:
    return _whole(row, "channel")


def _partner(row: Row) -> int | None:
    return _whole(row, "pair")


def _whole(row: Row, column: str) -> int | None:
    try:
        return cells.whole(1, MOST_CHANNELS)(row.cells[column])
    except (KeyError, Unfit):
        return None  # told, or blank: where the channel is read


def _socket(row: Row) -> tuple[str, int] | None:
    number = _whole(row, "socket")
    box = row.cells.get("box")
    return None if number is None or box is None else (box.casefold(), number)


def _need_not_be(row: Row) -> bool:
    return row.cells.get("use", "").strip().casefold() in ("may", "off") and _socket(row) is not None


def _unpaired(row: Row) -> Row:
    rest = {name: cell for name, cell in row.cells.items() if name not in ("pair", "pairing")}
    return Row(file=row.file, line=row.line, cells=rest, problems=row.problems)
