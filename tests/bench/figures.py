"""Costs as numbers and tables. Pure: nothing here runs or reads anything but one text file at the end."""

from __future__ import annotations

import os
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"
NOTHING = "–"


@dataclass(frozen=True)
class Cost:
    """Seconds of processor time (all processes and threads), seconds by the clock, and bytes of memory at most (of all
    processes that ran side by side)."""

    cpu_s: float
    wall_s: float
    peak_bytes: int

    def without(self, start: Cost) -> Cost:
        """What is left after a fixed cost; memory stays."""
        return Cost(max(0.0, self.cpu_s - start.cpu_s), max(0.0, self.wall_s - start.wall_s), self.peak_bytes)


def middle(costs: Sequence[Cost]) -> Cost:
    """The run in the middle by the clock (of an even number, the quicker one)."""
    wanted = statistics.median_low([cost.wall_s for cost in costs])
    return next(cost for cost in costs if cost.wall_s == wanted)


def ns_a_sample(seconds: float, samples: int) -> float:
    """Nanoseconds for each sample of each track."""
    return seconds * 1e9 / samples


def number(value: float | None, digits: int = 2) -> str:
    """A figure for a table: `digits` decimals below ten, one below a hundred, none above."""
    if value is None:
        return NOTHING
    size = abs(value)
    return f"{value:.{digits if size < 10 else 1 if size < 100 else 0}f}"


def megabytes(count: int) -> str:
    """Millions of bytes, as a whole number."""
    return f"{count / 1e6:.0f}"


def markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table that reads well as text too: first column to the left, all others to the right."""
    for row in rows:
        if len(row) != len(head):
            raise ValueError(f"{len(row)} cells under {len(head)} heads: {row}")
    widths = [max(len(line[column]) for line in (head, *rows)) for column in range(len(head))]

    def line(cells: Sequence[str]) -> str:
        first, *rest = zip(cells, widths, strict=True)
        return "| " + " | ".join([first[0].ljust(first[1]), *(cell.rjust(width) for cell, width in rest)]) + " |"

    rule = "| " + " | ".join(["-" * widths[0], *("-" * (width - 1) + ":" for width in widths[1:])]) + " |"
    return "\n".join([line(head), rule, *(line(row) for row in rows)]) + "\n"


COST_HEAD = ("", "CPU s", "wall s", "CPU ns/sample", "wall ns/sample", "peak MB", "CPU of ffmpeg ebur128")


def cost_row(name: str, cost: Cost, samples: int | None, yardstick: Cost | None) -> list[str]:
    """A row under COST_HEAD. `samples` None: the cost does not grow with them."""
    return [
        name,
        number(cost.cpu_s),
        number(cost.wall_s),
        number(None if samples is None else ns_a_sample(cost.cpu_s, samples)),
        number(None if samples is None else ns_a_sample(cost.wall_s, samples)),
        megabytes(cost.peak_bytes),
        number(None if yardstick is None or samples is None else cost.cpu_s / yardstick.cpu_s, 3),
    ]


def splice(page: str, block: str) -> str:
    """A page with the text between its two markers replaced. ValueError where it has not both, once and in order."""
    if page.count(BEGIN) != 1 or page.count(END) != 1 or page.index(BEGIN) > page.index(END):
        raise ValueError(f"the page needs one line {BEGIN} and, behind it, one line {END}")
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n\n{block.strip()}\n\n{END}{after}"


def write_into(path: Path, block: str) -> None:
    """Put the block between the markers of a page on disk; the page appears whole or stays as it was."""
    page = splice(path.read_text(encoding="utf-8"), block)
    new = path.with_name(path.name + ".new")
    new.write_text(page, encoding="utf-8")
    os.replace(new, path)
