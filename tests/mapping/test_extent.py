"""How far a shift reaches, on lists made by hand: what is told, and of which channels it is left open."""

from __future__ import annotations

from dataclasses import replace

from replay.mapping.extent import Extent, Weighed, perhaps, reach, sources
from replay.mapping.hypotheses import LOST, MOST_SHIFTED, Hypothesis, all_hypotheses
from replay.mapping.places import Places
from replay.mapping.weigh import Weighing
from tests.mapping.test_weigh import N, list_of

SPARE = 10
"""In these lists a spare stands at place 10, and behind it what may hold anything."""


def places() -> Places:
    return replace(
        list_of(),
        definite=tuple(place < SPARE for place in range(N)),
        lost=tuple(0.0 if place == SPARE else -1.0 for place in range(N)),
    )


def shift(first: int, last: int, by: int, margin: float, round_again: bool = False) -> Weighed:
    every = all_hypotheses(N, (last,), (0,), ())
    (one,) = (
        one
        for one in every
        if one.shape == "shift"
        and (min(one.places), max(one.places), one.by) == (first, last, by)
        and (LOST not in one.source.values()) == round_again
    )
    return Weighed(one, {}, margin)


def told(*able: Weighed) -> tuple[dict[int, int | None], tuple[int, ...], tuple[int, ...]]:
    best = max(able, key=lambda one: one.margin)
    least, extent = reach(able, best, places())
    assert isinstance(extent, Extent)
    return (
        sources(least.hypothesis, extent, places()),
        *perhaps(least.hypothesis, extent, places()),
    )


def test_where_a_shift_ends_behind_a_spare_is_left_open() -> None:
    # Back by one from place 4 (channel 5, which is lost) up to the spare, or on to the end: both explain the same.
    moved, before, behind = told(shift(4, SPARE, -1, 10.0), shift(4, 13, -1, 10.5))
    assert moved == {5: None} | {channel: 100 + channel - 1 for channel in range(6, 12)}
    assert before == ()
    assert behind == (12, 13, 14)


def test_what_falls_off_an_open_end_is_not_told() -> None:
    moved, before, behind = told(shift(4, SPARE - 1, 1, 10.0), shift(4, 13, 1, 10.5))
    # Channel 10 is on no track, or on the next one, as those behind it.
    assert moved == {channel: 100 + channel + 1 for channel in range(5, 10)}
    assert before == ()
    assert behind == (10, 12, 13, 14)


def test_an_end_that_explains_clearly_more_is_told() -> None:
    moved, _, behind = told(shift(4, SPARE, -1, 10.0), shift(4, 13, -1, 12.5))
    assert max(moved) == 14
    assert behind == ()


def test_a_spare_that_holds_nothing_makes_no_end_of_its_own() -> None:
    moved, _, behind = told(shift(4, SPARE - 1, 1, 10.0), shift(4, SPARE, 1, 10.0))
    assert moved == {channel: 100 + channel + 1 for channel in range(5, 10)} | {10: None}
    assert behind == ()


def test_beginning_and_end_are_open_at_once() -> None:
    able = shift(3, 13, 1, 10.0), shift(4, 13, 1, 9.5), shift(3, SPARE, 1, 9.0)
    moved, before, behind = told(*able)
    assert moved == {channel: 100 + channel + 1 for channel in range(5, 11)}
    assert before == (4,)
    assert behind == (12, 13, 14)


def test_half_of_what_explains_most_is_told_in_any_case() -> None:
    moved, before, _ = told(shift(0, 9, 1, 10.0), shift(3, 9, 1, 9.9), shift(7, 9, 1, 9.8))
    assert moved == {channel: 100 + channel + 1 for channel in range(4, 10)} | {10: None}
    assert before == (1, 2, 3)


def test_what_comes_round_to_an_open_end_is_told_of_no_track() -> None:
    moved, _, _ = told(shift(4, SPARE, -1, 10.0, round_again=True), shift(4, 13, -1, 10.0, round_again=True))
    assert moved[5] is None


def test_an_odd_sound_at_the_head_of_a_shift_is_no_reason_to_begin_it_there() -> None:
    # One too many before the guitars, whose track is empty; the bass sounds like nothing on the list.
    odd = list_of([*range(6), -1, *range(6, 13)])
    odd.sound[5, :N] = -9.0
    (one,) = Weighing(odd).told()
    assert (min(one.channels), one.may_begin) == (7, ())


def test_that_what_may_hold_anything_came_round_is_no_reason_for_a_shift() -> None:
    # The bass sounds like nothing on the list; whatever may hold anything, at the end of the box, would fit it better.
    odd = list_of([*range(6), -1, *range(6, 13)])
    odd.sound[5, :N] = -9.0
    odd.sound[5, N - 1] = 0.0
    (one,) = Weighing(odd).told()
    assert (min(one.channels), one.may_begin) == (7, ())


def test_hypotheses_say_which_places_move_along() -> None:
    assert Hypothesis("shift", {4: 5, 5: 6, 6: LOST}, (4,), 1).moved_along == {4, 5}


def test_no_shift_is_longer_than_a_box_and_a_link() -> None:
    every = [one for one in all_hypotheses(300, (299,), (0,), ()) if one.shape == "shift"]
    assert max(max(one.places) - min(one.places) + 1 for one in every) == MOST_SHIFTED
    whole = [one for one in all_hypotheses(MOST_SHIFTED, (MOST_SHIFTED - 1,), (0,), ()) if one.shape == "shift"]
    assert max(len(one.places) for one in whole) == MOST_SHIFTED
