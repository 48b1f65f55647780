"""Gains that are turned together: pairs, shared sockets, and gains that are tried out."""

from __future__ import annotations

from typing import Any

import pytest

from replay.desk.gain import together
from replay.patch.model import Socket
from tests.desk.desks import advice_of, made, made_patch, simulated


class TestTogether:
    """Stereo and spaced pairs move by the larger reduction or the smaller raise; one-source pairs move alone."""

    def pair(self, left: float, right: float, pairing: str, kind: str = "overhead", **facts: Any) -> dict[int, float]:
        patch = made_patch(
            {
                1: {"kind": kind, "pair": 2, "pairing": pairing, **facts},
                2: {"kind": kind, "pair": 1, "pairing": pairing, **facts},
            }
        )
        found = advice_of(simulated(patch, {1: made(1, left), 2: made(2, right)}))
        return {number: advice.gain_db for number, advice in found.items()}

    @pytest.mark.parametrize("pairing", ["stereo", "spaced"])
    def test_the_larger_reduction(self, pairing: str) -> None:
        # 8 down on the left, 4 on the right.
        assert self.pair(-2.0, -6.0, pairing) == {1: -8, 2: -8}

    @pytest.mark.parametrize("pairing", ["stereo", "spaced"])
    def test_the_smaller_raise(self, pairing: str) -> None:
        assert self.pair(-20.0, -16.0, pairing) == {1: 6, 2: 6}

    def test_a_side_that_the_other_holds_back_is_not_to_be_raised_again(self) -> None:
        """20 dB between the sides: ten more of both would be too much for the louder one."""
        patch = made_patch({n: {"kind": "overhead", "pair": 3 - n, "pairing": "stereo"} for n in (1, 2)})
        found = advice_of(simulated(patch, {1: made(1, -14.0), 2: made(2, -34.0)}))
        assert {number: advice.gain_db for number, advice in found.items()} == {1: 4, 2: 4}
        held = "20 dB more would be wanted, but what moves with it allows no more: see why they differ"
        assert held in found[2].notes
        assert "more would be wanted" not in " ".join(found[1].notes)

    def test_one_side_is_right_as_it_is(self) -> None:
        assert self.pair(-2.0, -10.0, "stereo") == {1: -8, 2: -8}
        assert self.pair(-20.0, -10.0, "stereo") == {}

    def test_one_side_down_the_other_up(self) -> None:
        assert self.pair(-20.0, -6.0, "stereo") == {1: -4, 2: -4}

    def test_one_source_pairs_move_alone(self) -> None:
        assert self.pair(-2.0, -6.0, "one-source") == {1: -8, 2: -4}
        assert self.pair(-20.0, -10.0, "one-source") == {1: 10}

    def test_a_side_that_was_not_heard_holds_the_raise(self) -> None:
        patch = made_patch({n: {"kind": "overhead", "pair": 3 - n, "pairing": "stereo"} for n in (1, 2)})
        assert advice_of(simulated(patch, {1: made(1, -20.0), 2: made(2, -20.0, heard=False)})) == {}

    def test_a_clip_on_one_side_lowers_both(self) -> None:
        patch = made_patch({n: {"kind": "overhead", "pair": 3 - n, "pairing": "stereo"} for n in (1, 2)})
        found = advice_of(simulated(patch, {1: made(1, -12.0), 2: made(2, -12.0, clip_at=(3.0,))}))
        assert {number: advice.gain_db for number, advice in found.items()} == {1: -6, 2: -6}
        assert found[1].reason == "goes with channel 2"

    def test_every_channel_of_a_socket_gets_its_trim(self) -> None:
        patch = made_patch(
            {
                1: {"kind": "vocal"},
                2: {"kind": "vocal", "socket": patch_socket(1), "trim": -3.0},
                3: {"kind": "vocal", "socket": patch_socket(1), "trim": 18.0},
            }
        )
        found = advice_of(simulated(patch, {1: made(1, -8.0)}))
        assert [found[n].gain_db for n in (1, 2, 3)] == [-7, -7, -7]
        assert [found[n].trim_db for n in (1, 2, 3)] == [7, 4, 20]
        assert [found[n].trim_left_db for n in (1, 2, 3)] == [0, 0, 5]

    def test_a_shared_socket_moves_by_the_channel_that_needs_most(self) -> None:
        # The same preamp as a kick (8 down) and, for the front fill, as a vocal (13 down).
        patch = made_patch({1: {"kind": "kick"}, 2: {"kind": "vocal", "socket": patch_socket(1)}})
        found = advice_of(simulated(patch, {1: made(1, -2.0)}))
        assert [found[n].gain_db for n in (1, 2)] == [-13, -13]

    def test_a_shared_socket_carries_over_to_the_pair(self) -> None:
        """Channels 1 and 2 are a pair; 3 hangs on the right side's socket."""
        patch = made_patch(
            {
                1: {"kind": "overhead", "pair": 2, "pairing": "stereo"},
                2: {"kind": "overhead", "pair": 1, "pairing": "stereo"},
                3: {"kind": "overhead", "socket": patch_socket(2)},
            }
        )
        found = advice_of(simulated(patch, {1: made(1, -2.0), 2: made(2, -10.0)}))
        assert {n: advice.gain_db for n, advice in found.items()} == {1: -8, 2: -8, 3: -8}

    @pytest.mark.parametrize(
        ("changes", "change"),
        [([None, None], None), ([-4.0, -8.0], -8.0), ([4.0, 6.0], 4.0), ([4.0, None], None), ([-4.0, 9.0], -4.0)],
    )
    def test_the_rule_alone(self, changes: list[float | None], change: float | None) -> None:
        assert together(changes) == change


def patch_socket(number: int) -> Socket:
    return Socket("stage", number)


def test_a_gain_tried_out_moves_the_advice() -> None:
    """As if the take had been recorded at 25: five dB lower, nothing left to do."""
    patch = made_patch({1: {"kind": "vocal", "gain": 25.0}})
    assert advice_of(simulated(patch, {1: made(1, -10.0)}, shifts={1: -5.0})) == {}
    found = advice_of(simulated(patch, {1: made(1, -10.0)}, shifts={1: 2.0}))
    assert (found[1].gain_db, found[1].new_gain_db) == (-7, 18)
