"""The table of rates: rows that count, with the Wilson 95 % interval."""

from __future__ import annotations

from dataclasses import dataclass

from tests.wilson import wilson


@dataclass
class Row:
    """One line of the table."""

    what: str
    wanted: str
    hits: int = 0
    n: int = 0

    def count(self, hit: bool) -> None:
        self.hits += bool(hit)
        self.n += 1


def markdown(rows: list[Row]) -> str:
    lines = ["| case | n | told | rate | 95 % interval | wanted |", "| --- | ---: | ---: | ---: | --- | --- |"]
    for row in rows:
        low, high = wilson(row.hits, row.n)
        rate = f"{100 * row.hits / row.n:.1f} %" if row.n else "-"
        span = f"{100 * low:.1f} to {100 * high:.1f} %"
        lines.append(f"| {row.what} | {row.n} | {row.hits} | {rate} | {span} | {row.wanted} |")
    return "\n".join(lines)
