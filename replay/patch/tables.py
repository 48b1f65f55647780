"""The patch files' tables, key by key, from one file or from several that extend each other; problems are collected and
reading goes on.

Keys are named by their path in their own file, tables of a list counting from 1 as the user counts them:
`box[2].sockets`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from replay.errors import Place
from replay.patch.fields import number
from replay.patch.model import Range
from replay.patch.problems import Problems, Unfit, figure, nearest, shown
from replay.text import harmless

T = TypeVar("T")
D = TypeVar("D")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}\Z")


@dataclass(frozen=True)
class Layer:
    """What one file says of a table: `raw` as read, the table's `path` in it, the `file` as it is shown.

    `rank` is 0 for the patch that was asked for, 1 for the one that it extends, and so on.
    """

    raw: dict[str, Any]
    path: str
    file: str
    rank: int = 0

    def key(self, name: str) -> str:
        """The path of a key of this table."""
        part = name if _BARE_KEY.match(name) else f'"{harmless(name, 60)}"'
        return f"{self.path}.{part}" if self.path else part

    def within(self, raw: dict[str, Any], path: str) -> Layer:
        """The same file's layer of a table inside this one."""
        return Layer(raw, path, self.file, self.rank)

    def without(self, names: Iterable[str]) -> Layer:
        """The layer with some of its keys left out."""
        left_out = set(names)
        kept = {name: value for name, value in self.raw.items() if name not in left_out}
        return Layer(kept, self.path, self.file, self.rank)


class Table:
    """One table of the patch, as one file has it or as several do, the nearest first: its keys win.

    Every key asked for becomes known; `done` tells the keys that are left over, whichever file has them. What is
    missing or unfit reads as the default, so that the rest can be checked too; a patch with problems is never handed
    out. `raw` holds the keys of all layers.
    """

    def __init__(self, layers: Sequence[Layer], problems: Problems) -> None:
        self.layers = tuple(layers)
        self.problems = problems
        self.raw = {name: value for layer in reversed(self.layers) for name, value in layer.raw.items()}
        self._known: dict[str, None] = {}

    @property
    def path(self) -> str:
        """The table's path in the nearest file that has it."""
        return self.layers[0].path

    @property
    def rank(self) -> int:
        """The rank of the nearest file that has this table."""
        return self.layers[0].rank

    def holder(self, name: str) -> Layer:
        """The layer whose value counts for a key. A key that none has is missing where the table was first begun: in
        the farthest file that has it (at the top, the nearest)."""
        return next((layer for layer in self.layers if name in layer.raw), self.layers[-1 if self.path else 0])

    def place(self, name: str = "") -> Place:
        """The place of a key of this table, or of the table itself."""
        layer = self.holder(name) if name else self.layers[0]
        return Place(layer.file, key=layer.key(name) if name else layer.path)

    def problem(self, name: str, message: str, hint: str = "") -> None:
        """Note a problem with a key of this table."""
        self.problems.add(message, self.place(name), hint)

    def read(self, name: str, parse: Callable[[Any], T], default: D, *, required: str = "") -> T | D:
        """The value of a key, parsed. `required` says what is wanted where leaving the key out is a problem."""
        self._known[name] = None
        if name not in self.raw:
            if required:
                self.problem(name, "is missing", required)
            return default
        try:
            return parse(self.raw[name])
        except Unfit as unfit:
            self.problems.unfit(unfit, self.place(name))
            return default

    def table(self, name: str) -> Table:
        """A table inside this one, key by key from the nearest file that has it; an empty one where none has."""
        self._known[name] = None
        inner = []
        for layer in self.layers:
            value = layer.raw.get(name, {})
            if not isinstance(value, dict):
                message = f"{shown(value)} is not a table"
                self.problems.add(message, Place(layer.file, key=layer.key(name)), f"write [{layer.key(name)}]")
            elif name in layer.raw:
                inner.append(layer.within(value, layer.key(name)))
        nearest_layer = self.layers[0]
        return Table(inner or [nearest_layer.within({}, nearest_layer.key(name))], self.problems)

    def tables(self, name: str, most: int, *, same: str = "", either: Sequence[str] = ()) -> list[Table]:
        """The tables of a list of tables, at most `most`, those of the farthest file first.

        Tables of several files whose key `same` has the same text are one table, the nearest file's keys winning. Of
        the keys in `either`, a nearer file's stand in place of any of a farther one's.
        """
        self._known[name] = None
        found: list[list[Layer]] = []
        for layer in reversed(self.layers):
            for item in self._items(layer, name, most):
                whose = _folded(item.raw.get(same)) if same else None
                # Two of a name in one file stay two, and are told.
                for group in found:
                    if whose is not None and group[0].rank != layer.rank and _folded(group[0].raw.get(same)) == whose:
                        far = [one.without(either) for one in group] if set(either) & item.raw.keys() else group
                        group[:] = [item, *far]
                        break
                else:
                    found.append([item])
        if len(found) > most:
            self.problem(name, f"{len(found)} of them are too many", f"at most {most}")
        return [Table(group, self.problems) for group in found[:most]]

    def _items(self, layer: Layer, name: str, most: int) -> list[Layer]:
        """What one file has of a list of tables."""
        value = layer.raw.get(name, [])
        here = layer.key(name)
        place = Place(layer.file, key=here)
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.problems.add(f"{shown(value)} is not a list of tables", place, f"write [[{here}]] for each")
            return []
        if len(value) > most:
            self.problems.add(f"{len(value)} of them are too many", place, f"at most {most}")
        return [layer.within(item, f"{here}[{i}]") for i, item in enumerate(value[:most], 1)]

    def inner(self) -> list[tuple[str, Table]]:
        """The tables inside this one by name, whatever the names are (`[bus.NAME]`)."""
        return [(name, self.table(name)) for name in list(self.raw)]

    def range(self, name: str, default: D) -> Range | D:
        """A range of settings, `{ min = 0, max = 60, step = 1 }`."""
        if name not in self.raw:
            self._known[name] = None
            return default
        before = self.problems.count
        right = "a range is written { min = 0, max = 60, step = 1 }"
        if not isinstance(self.raw[name], dict):
            self._known[name] = None
            self.problem(name, f"{shown(self.raw[name])} is not a range", right)
            return default
        self._known[name] = None
        layer = self.holder(name)
        # A range is one value: the nearest file's, whole.
        table = Table([layer.within(self.raw[name], layer.key(name))], self.problems)
        low = table.read("min", number(-200, 200), 0.0, required=right)
        high = table.read("max", number(-200, 200), 0.0, required=right)
        step = table.read("step", number(0.001, 100), 1.0, required=right)
        table.done()
        if self.problems.count > before:
            return default
        if low >= high:
            self.problem(name, f"min {figure(low)} is not below max {figure(high)}", "min < max")
            return default
        if step > high - low:
            self.problem(name, f"step {figure(step)} is wider than the range", f"at most {figure(high - low)}")
            return default
        return Range(min=low, max=high, step=step)

    def done(self) -> None:
        """Tell the keys that nobody asked for."""
        for layer in self.layers:
            for name in layer.raw:
                if name not in self._known:
                    hint = "" if self.problems.full else nearest(name, self._known)
                    self.problems.add("is an unknown key", Place(layer.file, key=layer.key(name)), hint)


def _folded(value: object) -> str | None:
    """A name as names are compared: whatever the case of its letters and the width of its spaces."""
    return " ".join(value.split()).casefold() if isinstance(value, str) else None
