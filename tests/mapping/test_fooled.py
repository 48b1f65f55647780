"""What fools a line check, in short takes: nothing false is told, what is true is found where order counts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from replay.findings.finding import Finding
from tests.mapping_rates import fools
from tests.mapping_rates.cases import Case, Heard, exchange, found, hear, songs_only, straight
from tests.material.cast import LINES
from tests.material.recording import Recording
from tests.material.stage import record

NAMES = (
    "Kick", "Snare Top", "Hi-hat", "Floor Tom", "Bass DI", "Guitar 1", "Keys L", "Keys R", "Trumpet", "Vox Lead",
    "Caller", "BV Left", "Playback L", "Playback R",
)  # fmt: skip
SEED = 5
GUITAR, VOICE, OTHER_VOICE = 6, 10, 12
Fool = Callable[[Recording, int], Recording]


@pytest.fixture(scope="module")
def band() -> Recording:
    by_name = {line.name: line for line in LINES}
    return record(seed=73, seconds=30, line_check=True, chosen=[by_name[name] for name in NAMES])


def loud(told: list[Finding]) -> list[str]:
    return [f"{one.code}: {one.message}" for one in told if one.severity in ("fault", "warning")]


def heard(recording: Recording) -> Heard:
    return hear(recording, "fooled")


def led(one: Heard) -> list[int]:
    """Who leads the turns of the line check, each once."""
    assert one.evidence.line_check is not None
    return list(dict.fromkeys(turn.tracks[0] for turn in one.evidence.line_check.turns))


@pytest.mark.parametrize(
    "fool",
    [fools.one_voice, fools.fills_between, fools.stems_running, fools.loud_stage],
    ids=lambda fool: fool.__name__,
)
def test_a_line_check_by_the_list_is_one_whatever_lies_over_it(band: Recording, fool: Fool) -> None:
    one = heard(fool(band, SEED))
    leaders = [track for track in led(one) if track <= 12]
    assert leaders == sorted(leaders)
    assert len(leaders) >= 9
    tracks = sorted(one.names)
    for names in ("list", "none"):
        assert loud(found(one, Case("clean", straight(tracks)), names)) == []
    told = found(one, exchange(tracks, GUITAR, VOICE), "none")
    assert [(two.code, two.severity, two.channels) for two in told if two.code == "swapped"] == [
        ("swapped", "fault", (GUITAR, VOICE))
    ]
    # Two voices sound alike: the order alone tells them apart.
    told = found(one, exchange(tracks, VOICE, OTHER_VOICE), "none")
    assert [two.channels for two in told if two.code == "swapped"] == [(VOICE, OTHER_VOICE)]


def test_a_stray_order_says_nothing_and_like_sources_are_not_guessed(band: Recording) -> None:
    one = heard(fools.out_of_order(band, SEED))
    tracks = sorted(one.names)
    for names in ("list", "none"):
        assert loud(found(one, Case("clean", straight(tracks)), names)) == []
    assert [two for two in found(one, exchange(tracks, VOICE, OTHER_VOICE), "none") if two.code == "swapped"] == []
    # What the sound itself tells does not hang on the order.
    told = found(one, exchange(tracks, GUITAR, VOICE), "none")
    assert [two.channels for two in told if two.code == "swapped"] == [(GUITAR, VOICE)]


@pytest.mark.parametrize(
    "fool",
    [
        fools.two_out_of_turn,
        fools.repeats_and_skips,
        lambda recording, seed: fools.dual_mono(songs_only(recording), seed),
        lambda recording, seed: fools.loud_stage(songs_only(recording), seed),
        lambda recording, seed: fools.room_noise(songs_only(recording), seed),
    ],
    ids=["two out of turn", "repeats and skips", "dual mono", "loud stage without line check", "an audience"],
)
def test_nothing_false_is_told(band: Recording, fool: Fool) -> None:
    one = heard(fool(band, SEED))
    for names in ("list", "none"):
        assert loud(found(one, Case("clean", straight(sorted(one.names))), names)) == []


def test_a_pair_of_one_signal_is_a_copy_only_where_it_should_be_two(band: Recording) -> None:
    one = heard(fools.dual_mono(songs_only(band), SEED))
    assert one.evidence.likeness[7, 8].residual_db is not None
    told = found(one, Case("clean", straight(sorted(one.names))), "list")
    assert {two.severity for two in told if two.code == "duplicate"} <= {"note"}


def test_the_material_is_what_it_says(band: Recording) -> None:
    """One voice speaks into every microphone of the take that fools with it: its turns all sound alike."""
    fooled = fools.one_voice(band, SEED)
    rows = [row for row, one in enumerate(fooled.inputs) if one.input == "mic"]
    first = fooled.tracks[rows[0], : round(2.4 * fooled.rate)]
    second = fooled.tracks[rows[1]]
    start = round((2.4 + fools.BETWEEN_S) * fooled.rate)
    assert np.corrcoef(first, second[start : start + len(first)])[0, 1] > 0.99
