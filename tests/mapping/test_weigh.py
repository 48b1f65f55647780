"""The rule on lists made by hand: what is told, what is not, and by what margin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.mapping.hypotheses import PRICES
from replay.mapping.places import Places
from replay.mapping.weigh import BY_SOUND_ALONE, MARGIN, Weighing

KINDS = ["kick", "snare", "tom", "tom", "hat", "bass", "gtr", "gtr", "keys", "keys", "vox", "bvox", "bvox", "spare"]
N = len(KINDS)


def list_of(
    layout: list[int] | None = None, *, sound: bool = True, turns: list[int] | None = None, stated: bool = False
) -> Places:
    """A list whose track p holds the source of place layout[p] (-1: nobody's)."""
    layout = list(range(N)) if layout is None else layout
    matrix = np.zeros((N, N + 1))
    silence = np.zeros((N, N + 1))
    for row, source in enumerate(layout):
        quiet = source == -1 or KINDS[source] == "spare"
        for column in range(N + 1):
            kind = KINDS[column] if column < N else None
            if quiet:
                silence[row, column] = 0.0 if kind in (None, "spare") else -2.5
            elif kind is None or kind == "spare":
                silence[row, column] = -1.0
                matrix[row, column] = -2.0
            elif sound and kind != KINDS[source]:
                matrix[row, column] = -5.0
    together = np.full((N, N), 0.1)
    for a, b in ((8, 9),):
        if a in layout and b in layout:
            here, there = layout.index(a), layout.index(b)
            together[here, there] = together[there, here] = 0.95
    return Places(
        channels=tuple(range(1, N + 1)),
        tracks=tuple(range(101, 101 + N)),
        sound=matrix,
        silence=silence,
        bleed=np.zeros((N, N + 1)),
        names=np.zeros((N, N + 1)),
        turns=tuple((layout.index(source),) for source in turns or [] if source in layout),
        rank=tuple(range(N)),
        pairs=((8, 9, 1.0),),
        together=together,
        ends=(N - 1,),
        starts=(0,),
        definite=tuple(kind != "spare" for kind in KINDS),
        lost=tuple(0.0 if kind == "spare" else min(-1.0, silence[p, p]) for p, kind in enumerate(KINDS)),
        order_stated=stated,
    )


def swapped(a: int, b: int) -> list[int]:
    layout = list(range(N))
    layout[a], layout[b] = b, a
    return layout


def test_a_right_list_tells_nothing() -> None:
    assert Weighing(list_of()).told() == []
    assert Weighing(list_of(turns=list(range(13)))).told() == []


def test_an_exchange_of_unlike_sources_is_heard() -> None:
    (one,) = Weighing(list_of(swapped(0, 10))).told()
    assert one.shape == "exchange"
    assert one.sources == {1: 111, 11: 101}
    assert one.gains["sound"] == pytest.approx(10.0)
    assert one.margin == pytest.approx(8.0)
    assert one.agreeing == ("sound",)
    assert not one.proven


def test_one_odd_sound_exchanges_nothing_with_a_track_that_fits_the_other_s_channel_worse() -> None:
    places = list_of(swapped(0, 10))
    sound = places.sound.copy()
    # The kick's channel holds what is no kick; the voice's track is none too well at home, and worse as a kick.
    sound[10, 10], sound[10, 0] = -1.0, -1.5
    assert sound[0, 10] - sound[0, 0] + sound[10, 0] - sound[10, 10] > 4.0
    assert Weighing(replace(places, sound=sound)).told() == []


def test_an_exchange_of_pairs_with_what_may_hold_anything_needs_more_than_sound() -> None:
    """A celesta on a pair of keys sounds odd on both sides; a pair of playback may hold anything, and so held it."""
    places = replace(list_of(), pairs=((8, 9, 1.0), (11, 12, 1.0)))
    sound = places.sound.copy()
    sound[11:13, :] = -2.0
    sound[8:10, 8:10] = -5.0
    sound[8:10, 11:13] = -2.0
    together = places.together.copy()
    together[11, 12] = together[12, 11] = 0.95
    odd = replace(places, sound=sound, together=together)
    open_to_all = replace(
        odd, definite=tuple(place not in (11, 12) and flag for place, flag in enumerate(odd.definite))
    )
    assert Weighing(open_to_all).told() == []
    # Where both pairs sound as the other should, it is told.
    exchanged = list(range(N))
    exchanged[8:10], exchanged[11:13] = exchanged[11:13], exchanged[8:10]
    heard = replace(list_of(exchanged), pairs=places.pairs, together=together)
    assert [(one.shape, one.channels) for one in Weighing(heard).told()] == [("pairs", (9, 12, 10, 13))]


def test_an_exchange_with_what_may_hold_anything_needs_more_than_sound() -> None:
    """A church organ's right hand sounded like brass, the main microphones like the organ."""
    places = list_of(swapped(9, 10))
    open_to_all = tuple(place != 10 and flag for place, flag in enumerate(places.definite))
    sound = places.sound.copy()
    sound[:, 10] = -2.0
    flat = replace(places, sound=sound, definite=open_to_all, together=np.full((N, N), np.nan))
    assert Weighing(flat).told() == []
    # Half of a pair that does not go with the other half, as its new partner would, is more.
    (one,) = Weighing(replace(flat, together=places.together)).told()
    assert one.sources == {10: 111, 11: 110}
    little = np.where(np.isnan(places.together), np.nan, 0.85 - (0.95 - places.together) * 0.05)
    assert Weighing(replace(flat, together=little)).told() == []


@pytest.mark.parametrize(("a", "b"), [(2, 3), (6, 7), (11, 12)])
def test_like_sources_are_never_guessed(a: int, b: int) -> None:
    assert Weighing(list_of(swapped(a, b))).told() == []


def test_the_line_check_proves_an_exchange_of_like_sources_that_are_no_neighbours() -> None:
    places = list_of(swapped(10, 12), turns=list(range(13)))
    (one,) = Weighing(places).told()
    assert one.sources == {11: 113, 13: 111}
    assert one.proven
    assert "line check" in one.agreeing


def test_neighbours_checked_in_the_other_order_prove_nothing() -> None:
    order = list(range(13))
    order[6], order[7] = 7, 6
    assert Weighing(list_of(turns=order)).told() == []
    order[11], order[12] = 12, 11
    assert Weighing(list_of(turns=order)).told() == []


def test_a_line_check_in_order_is_not_overruled_by_what_sources_sound_like() -> None:
    layout = [*range(5), *range(7, 13), 5, 6, 13]
    sounds = replace(list_of(layout), ends=(12,))
    (one,) = Weighing(sounds).told()
    assert (one.shape, one.by) == ("shift", -2)
    # The same tracks, each in its turn as the list has it: they sound odd and are where they belong.
    in_order = list_of(turns=list(range(13)))
    assert Weighing(replace(sounds, turns=in_order.turns)).told() == []


def test_a_stray_order_says_nothing() -> None:
    order = [7, 2, 11, 0, 9, 4, 12, 6, 1, 10, 3, 8, 5]
    weighing = Weighing(list_of(turns=order))
    assert not weighing.order_counts
    assert weighing.told() == []


def test_a_stated_order_counts_though_it_is_far_from_the_list() -> None:
    order = [7, 2, 11, 0, 9, 4, 12, 6, 1, 10, 3, 8, 5]
    assert Weighing(list_of(turns=order, stated=True)).order_counts


def test_a_shift_up_to_the_spare_at_the_end() -> None:
    layout = [0, 1, 2, 3, -1, *range(4, 13)]
    (one,) = Weighing(list_of(layout)).told()
    assert one.shape == "shift"
    assert one.by == 1
    assert one.sources[5] == 106
    assert one.sources[13] == 114
    assert {"sound", "silence"} <= set(one.agreeing)


def test_two_blocks_of_four() -> None:
    layout = [4, 5, 6, 7, 0, 1, 2, 3, *range(8, N)]
    (one,) = Weighing(list_of(layout)).told()
    assert one.shape == "block"
    assert one.sources == {1: 105, 2: 106, 3: 107, 4: 108, 5: 101, 6: 102, 7: 103, 8: 104}


def test_a_pair_torn_apart_is_noticed_among_like_sources() -> None:
    layout = list(range(N))
    layout[9], layout[12] = 12, 9
    (one,) = Weighing(list_of(layout)).told()
    assert one.sources == {10: 113, 13: 110}
    assert {"sound", "pairs"} <= set(one.agreeing)


def test_dead_tracks_and_no_evidence_are_flat() -> None:
    layout: list[int] = [-1] * N
    assert Weighing(list_of(layout, sound=False)).told() == []


def test_two_exchanges_are_two_findings() -> None:
    layout = list(range(N))
    layout[0], layout[10] = 10, 0
    layout[1], layout[5] = 5, 1
    told = Weighing(list_of(layout)).told()
    assert sorted(one.channels for one in told) == [(1, 11), (2, 6)]


def test_names_count_little_against_what_is_heard_and_only_so_much_for_it() -> None:
    places = list_of(swapped(0, 10))
    places.names[:] = -4.0
    for place in range(N):
        places.names[place, place] = 0.0
    (one,) = Weighing(places).told()
    assert one.gains["names"] == -0.75


def test_a_ring_needs_every_track_to_misfit() -> None:
    places = list_of([10, 1, 2, 3, 4, 0, 6, 7, 8, 9, 5, 11, 12, 13])
    (one,) = Weighing(places).told()
    assert one.shape == "cycle"
    assert one.sources == {1: 106, 6: 111, 11: 101}
    places.sound[10, 10] = 0.0
    assert all(two.shape != "cycle" for two in Weighing(places).told())


def test_what_tracks_hear_of_the_others_tells_a_microphone_from_a_line() -> None:
    places = list_of(swapped(6, 8))
    places.sound[:] *= 0.5
    places = replace(places, pairs=())
    # Half as sure, and nothing but the sound speaks for it: that is too little.
    assert Weighing(places).told() == []
    places.bleed[6, 6] = places.bleed[8, 8] = -2.5
    (one,) = Weighing(places).told()
    assert one.sources == {7: 109, 9: 107}
    assert one.gains["bleed"] == pytest.approx(5.0)
    assert {"sound", "bleed"} <= set(one.agreeing)
    assert one.margin == pytest.approx(one.gains["sound"] + 5.0 - PRICES["exchange"])
    assert BY_SOUND_ALONE > one.gains["sound"] - PRICES["exchange"] > MARGIN


def test_a_pair_that_is_apart_proves_no_exchange_that_leaves_it_apart() -> None:
    """An accordion whose treble side sounds like a wind, and rises and falls unlike its bass side, on a demo show: a
    trombone that fitted its own channel nearly as well was told as exchanged with it."""
    places = list_of()
    places.together[8, 9] = places.together[9, 8] = 0.1
    # The left side of the keys sounds like a voice and nothing else; the voice a little more like keys than a voice.
    places.sound[8, 8], places.sound[8, 10] = -9.0, 0.0
    places.sound[10, 10], places.sound[10, 8] = -0.6, 0.0
    assert Weighing(places).told() == []
    # Where the voice fits its own channel badly too, it is seen on both tracks.
    places.sound[10, 10] = -6.0
    assert [one.channels for one in Weighing(places).told()] == [(9, 11)]


def test_a_row_of_like_sources_neither_helps_nor_hurts_a_shift() -> None:
    # One too many before the guitars; the two keys, and the voices behind them, sound alike.
    layout = [*range(6), -1, *range(6, 13)]
    (one,) = Weighing(list_of(layout)).told()
    assert (one.shape, one.by) == ("shift", 1)
    assert one.sources[7] == 108
    assert one.sources[13] == 114


def test_where_a_shift_begins_among_like_sources_is_left_open() -> None:
    # One plug too few at one of the two toms, which sound alike: everything behind them lies one track further back.
    (one,) = Weighing(list_of([0, 1, *range(3, 13), -1, -1])).told()
    assert (one.shape, one.by) == ("shift", -1)
    assert one.may_begin == (3, 4)
    assert one.sources == {place + 1: 100 + place for place in range(4, 13)} | {14: 113}


def test_where_a_shift_begins_is_told_where_it_is_heard() -> None:
    # The same at the hat, of which there is one: it is lost.
    (one,) = Weighing(list_of([*range(4), *range(5, 13), -1, -1])).told()
    assert one.may_begin == ()
    assert one.sources == {5: None} | {place + 1: 100 + place for place in range(5, 13)} | {14: 113}


def _a_row_of_voices(layout: list[int]) -> Places:
    """As `list_of`, with voices that all sound alike behind the keys."""
    places = list_of(layout)
    voices = [row for row, source in enumerate(layout) if source in (10, 11, 12)]
    for row in voices:
        places.sound[row, 10:13] = 0.0
    return places


def test_a_voice_that_was_plugged_into_the_spare_is_no_shift() -> None:
    # The first voice's line is dead, and the spare sounds: it may be the first voice, or all of them one further on.
    for layout in ([*range(10), -1, 11, 12, 10], [*range(10), -1, 10, 11, 12]):
        assert Weighing(_a_row_of_voices(layout)).told() == []


def test_an_empty_head_and_a_spare_that_sounds_speak_for_a_shift() -> None:
    # Between them the keys and the voices are told apart by one track alone.
    places = _a_row_of_voices([*range(8), -1, 8, 9, 10, 11, 12])
    places.sound[9:11, 8:10] = 0.0
    places.sound[11:14, 8:10] = -1.8
    (one,) = Weighing(replace(places, pairs=())).told()
    assert (one.shape, one.by, one.channels) == ("shift", 1, tuple(range(9, 15)))


def test_losing_a_source_explains_no_silence() -> None:
    layout = [*range(10), -1, -1, -1, -1]
    assert Weighing(list_of(layout)).told() == []
