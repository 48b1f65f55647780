"""What the table of rates counts as a shift that was told."""

from __future__ import annotations

import pytest

from replay.mapping.model import Misplacement
from tests.mapping_rates.__main__ import _as_far_as_is_told
from tests.mapping_rates.cases import shift

# From channel 4 to the spare on 12 everything lies one track further back; channel 4 is lost.
TRUE = shift(range(1, 15), 4, 12, -1).wrong
SPARES = [12]


def told(first: int, last: int, *may_begin: int, by: int = -1, may_end: tuple[int, ...] = ()) -> Misplacement:
    sources: dict[int, int | None] = {channel: channel + by for channel in range(first, last + 1)}
    return Misplacement("shift", tuple(sources), sources, by, {}, 5.0, False, may_begin, may_end)


@pytest.mark.parametrize(
    "case",
    [
        told(7, 12, 4, 5, 6),
        told(7, 12, 3, 4, 5, 6),
        told(8, 11, 4, 5, 6, 7),
        told(7, 11, 4, 5, 6, may_end=(13, 14)),
        told(5, 9, 4, may_end=(10, 11, 13)),
    ],
)
def test_told_with_the_true_beginning_and_end_among_those_named(case: Misplacement) -> None:
    assert _as_far_as_is_told(case, TRUE, SPARES)


@pytest.mark.parametrize(
    "case",
    [
        told(7, 12, 5, 6),
        told(10, 12, *range(4, 10)),
        told(7, 10, 4, 5, 6),
        told(7, 13, 4, 5, 6),
        told(7, 12, 4, 5, 6, by=1),
        told(5, 9, 4, may_end=(10,)),
        told(5, 7, 4, may_end=(8, 9, 10, 11)),
    ],
    ids=[
        *("begins before all named", "less than half is told", "ends too early", "ends too late", "the other way"),
        *("ends behind all named", "less than half is told, with an open end"),
    ],
)
def test_not_told(case: Misplacement) -> None:
    assert not _as_far_as_is_told(case, TRUE, SPARES)
