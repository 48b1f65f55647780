"""The table of rates: rows that count, with the Wilson 95 % interval."""

from __future__ import annotations

import math
from dataclasses import dataclass


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson's 95 % interval of a share.

    >>> [round(end, 3) for end in wilson(95, 100)]
    [0.888, 0.978]
    """
    if n == 0:
        return 0.0, 1.0
    share = hits / n
    middle = share + z * z / (2 * n)
    spread = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return max((middle - spread) / (1 + z * z / n), 0.0), min((middle + spread) / (1 + z * z / n), 1.0)


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
