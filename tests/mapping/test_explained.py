"""What the matrices give hypotheses, against sums made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from replay.mapping.explained import Explained
from replay.mapping.hypotheses import LOST, Hypothesis
from replay.mapping.places import Places
from tests.mapping.test_weigh import N, list_of

EXCHANGE = Hypothesis("exchange", {0: 3, 3: 0})
LOST_AT_THE_END = Hypothesis("shift", {4: 5, 5: 6, 6: LOST}, (4,), 1)
CAME_ROUND = Hypothesis("shift", {4: 5, 5: 6, 6: 4}, (), 1)


def figures() -> np.ndarray:
    """Powers of two: every sum of them tells what was added."""
    return np.zeros((N, N + 1)) + 2.0 ** np.arange(N)[:, None] + 2.0 ** -(1.0 + np.arange(N + 1))


def places(**changes: object) -> Places:
    return replace(list_of(), sound=np.zeros((N, N + 1)), **changes)


def test_every_source_counts_against_what_its_channel_has_as_patched() -> None:
    bleed = figures()
    exchanged, shifted, round_ = Explained([EXCHANGE, LOST_AT_THE_END, CAME_ROUND], places(bleed=bleed)).gains("bleed")
    assert exchanged == bleed[3, 0] + bleed[0, 3] - bleed[0, 0] - bleed[3, 3]
    as_patched = bleed[4, 4] + bleed[5, 5] + bleed[6, 6]
    # The track at the head holds nobody's source.
    assert shifted == bleed[5, 4] + bleed[6, 5] + bleed[4, N] - as_patched
    assert round_ == bleed[5, 4] + bleed[6, 5] + bleed[4, 6] - as_patched


def test_a_lost_source_costs_what_its_channel_says_where_silence_is_asked() -> None:
    silence = figures()
    asked = places(silence=silence, lost=tuple(-float(place) for place in range(N)))
    (shifted,) = Explained([LOST_AT_THE_END], asked).gains("silence")
    as_patched = silence[4, 4] + silence[5, 5] + silence[6, 6]
    assert shifted == silence[5, 4] + silence[6, 5] - 6.0 + silence[4, N] - as_patched


def test_an_odd_sound_alone_is_no_reason_for_a_shift() -> None:
    sound = np.zeros((N, N + 1))
    sound[4, 4] = -5.0
    headed, came = Explained([LOST_AT_THE_END, CAME_ROUND], replace(list_of(), sound=sound)).gains("sound")
    assert headed == 0.0
    assert came == 5.0
    anything = replace(list_of(), sound=sound, definite=tuple(place != 6 for place in range(N)))
    assert Explained([CAME_ROUND], anything).gains("sound")[0] == 0.0


def test_what_need_not_play_did_not_come_round() -> None:
    asked = places(lost=tuple(0.0 if place == 6 else -1.0 for place in range(N)))
    made = [EXCHANGE, LOST_AT_THE_END, CAME_ROUND]
    assert Explained(made, asked).came_round_unheard().tolist() == [False, False, True]
    assert not Explained(made, places(lost=(-1.0,) * N)).came_round_unheard().any()


def test_what_the_places_of_the_channels_have_is_added() -> None:
    of_place = (2.0 ** np.arange(N)).tolist()
    assert Explained([EXCHANGE, CAME_ROUND], places()).added(of_place).tolist() == [9.0, 16.0 + 32.0 + 64.0]
    assert Explained([], places()).added(of_place).tolist() == []
