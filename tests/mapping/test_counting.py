"""What the table of rates counts as a shift that was told."""

from __future__ import annotations

import pytest

from replay.mapping.model import Misplacement
from tests.mapping_rates.__main__ import _from_where_it_may_begin
from tests.mapping_rates.cases import shift

# From channel 4 to the spare on 12 everything lies one track further back; channel 4 is lost.
TRUE = shift(range(1, 15), 4, 12, -1).wrong
SPARES = [12]


def told(first: int, last: int, *may_begin: int, by: int = -1) -> Misplacement:
    sources: dict[int, int | None] = {channel: channel + by for channel in range(first, last + 1)}
    return Misplacement("shift", tuple(sources), sources, by, {}, 5.0, False, may_begin)


@pytest.mark.parametrize("case", [told(7, 12, 4, 5, 6), told(7, 12, 3, 4, 5, 6), told(8, 11, 4, 5, 6, 7)])
def test_told_with_the_true_beginning_among_those_named(case: Misplacement) -> None:
    assert _from_where_it_may_begin(case, TRUE, SPARES)


@pytest.mark.parametrize(
    "case",
    [
        told(7, 12, 5, 6),
        told(10, 12, *range(4, 10)),
        told(7, 10, 4, 5, 6),
        told(7, 13, 4, 5, 6),
        told(7, 12, 4, 5, 6, by=1),
    ],
    ids=["begins before all named", "less than half is told", "ends too early", "ends too late", "the other way"],
)
def test_not_told(case: Misplacement) -> None:
    assert not _from_where_it_may_begin(case, TRUE, SPARES)
