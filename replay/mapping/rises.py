"""Rising subsequences: of turns that were to go by a list, the most that did. Pure."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence


def longest_rise(sequence: Sequence[int]) -> int:
    """The length of the longest strictly rising subsequence."""
    ends: list[int] = []
    for value in sequence:
        at = bisect_left(ends, value)
        ends[at : at + 1] = [value]
    return len(ends)


def on_every_longest_rise(sequence: Sequence[int]) -> list[bool]:
    """Which places of a sequence are on every strictly rising subsequence of the greatest length.

    >>> on_every_longest_rise([1, 3, 2, 4])
    [True, False, False, True]
    """
    count = len(sequence)
    up_to, onward = [1] * count, [1] * count
    for here in range(count):
        up_to[here] += max((up_to[one] for one in range(here) if sequence[one] < sequence[here]), default=0)
    for here in reversed(range(count)):
        onward[here] += max(
            (onward[one] for one in range(here + 1, count) if sequence[one] > sequence[here]), default=0
        )
    longest = max(up_to, default=0)
    at = [up_to[here] if up_to[here] + onward[here] - 1 == longest else 0 for here in range(count)]
    return [step > 0 and at.count(step) == 1 for step in at]
