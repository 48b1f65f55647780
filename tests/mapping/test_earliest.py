"""Who hears a sound first: close microphones before those that stand off."""

from __future__ import annotations

from dataclasses import replace

import pytest

from replay.evidence.model import Likeness
from replay.mapping.earliest import firsts, price, stands
from replay.patch.model import Channel

STANDING = ("close", "close", "close", "open", "open", "")
RIGHT = ((0, 3), (1, 3), (2, 4), (0, 4))
"""(first, later): the close microphones 0 to 2 before the overheads 3 and 4."""


def like(a: int, b: int, lag_s: float, moments: int = 8, height: float = 0.6) -> Likeness:
    return Likeness(a, b, lag_s, 0.0, False, height, None, moments, 10)


def test_a_delay_says_who_hears_first_whichever_track_is_named_first() -> None:
    rows = {11: 0, 12: 1, 13: 2}
    assert firsts({(11, 12): like(11, 12, 0.003)}, rows) == ((0, 1),)
    assert firsts({(11, 12): like(11, 12, -0.003)}, rows) == ((1, 0),)


@pytest.mark.parametrize(
    "one",
    [like(11, 12, 0.0004), like(11, 12, 0.003, moments=4), like(11, 12, 0.003, height=0.1), like(11, 99, 0.003)],
    ids=["less than 17 cm", "too few agree", "hardly alike", "no track of the list"],
)
def test_what_is_not_sure_is_left_out(one: Likeness) -> None:
    assert firsts({(one.a, one.b): one}, {11: 0, 12: 1}) == ()


def test_nothing_costs_as_patched() -> None:
    assert price(RIGHT, STANDING, {}) == 0.0


def test_an_overhead_on_a_close_channel_costs_and_the_exchange_puts_it_right() -> None:
    # Place 0 holds the overhead of place 3 and the other way round.
    wrong = ((3, 0), (1, 0), (2, 4), (3, 4))
    assert price(wrong, STANDING, {}) == 2.0
    assert price(wrong, STANDING, {0: 3, 3: 0}) == 0.0
    # The wrong exchange puts the other close one in the same place.
    assert price(wrong, STANDING, {1: 3, 3: 1}) == 2.0


def test_all_together_cost_no_more_than_two() -> None:
    wrong = tuple((open_one, close) for open_one in (3, 4) for close in (0, 1, 2))
    assert price(wrong, STANDING, {}) == 4.0


def test_what_lies_nowhere_says_nothing() -> None:
    assert price(((3, 0),), STANDING, {0: -1, 1: 0}) == 2.0
    assert price(((3, 0),), STANDING, {0: -1}) == 0.0


def test_where_a_microphone_stands() -> None:
    snare = Channel(number=1, name="Snare", kind="snare")
    assert stands(snare) == "close"
    assert stands(replace(snare, kind="overhead")) == "open"
    assert stands(replace(snare, kind="ambience")) == ""
    assert stands(replace(snare, kind="percussion")) == ""
    assert stands(replace(snare, input="di")) == ""
    assert stands(replace(snare, use="may")) == ""
    assert stands(replace(snare, kind="playback")) == ""
    assert stands(None) == ""
