"""What channels are called: `heard` is said of what was told apart, by its sound or in its turn, and of no other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from replay.evidence.model import Evidence
from replay.evidence.sound import Sound
from replay.evidence.speaking import LineCheck, Turn
from replay.mapping.judge import judge
from replay.mapping.rises import on_every_longest_rise
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch
from replay.patch.routes import routes

PATCH = """
title = "Barn dance"
rate = 48000
inputs = "inputs.csv"
[take]
folder = "audio"
[[box]]
name = "deck"
sockets = 8
[[link]]
name = "main"
slots = 8
[[feed]]
box = "deck"
sockets = "1-8"
link = "main"
slots = "1-8"
"""
NAMES = ("Kick", "Bass DI", "Vox Lead", "BV Left", "BV Right", "Trumpet", "Trombone", "Click")
KINDS = ("kick", "bass", "vocal", "backing", "backing", "brass", "brass", "click")

# Sounds as instruments of their kind have: a kick strikes low, a bass holds low notes, a voice and a wind instrument
# hold notes higher up, the voice less steadily.
KICK = Sound(8, 12.0, (0.5, 0.15, 0.15, 0.1, 0.02, 0.02, 0.03, 0.02, 0.01), 70.0, 17.0, 24.0, 0.3, None, 0.08)
BASS = Sound(8, 12.0, (0.3, 0.3, 0.25, 0.1, 0.02, 0.02, 0.01, 0.0, 0.0), 95.0, 10.5, 5.7, 0.6, 80.0, 0.5)
VOICE = Sound(8, 12.0, (0.0, 0.01, 0.05, 0.2, 0.36, 0.25, 0.1, 0.02, 0.01), 680.0, 12.5, 7.0, 0.8, 300.0, 0.4)
WIND = Sound(8, 12.0, (0.0, 0.0, 0.02, 0.13, 0.3, 0.3, 0.2, 0.04, 0.01), 1100.0, 9.5, 1.9, 0.96, 330.0, 0.97)
CLICK = Sound(8, 40.0, (0.0, 0.0, 0.0, 0.0, 0.4, 0.4, 0.2, 0.0, 0.0), 1100.0, 20.0, 64.0, 0.8, None, 0.05, click=True)
SOUNDS = dict(enumerate((KICK, BASS, VOICE, VOICE, VOICE, WIND, WIND, CLICK), start=1))


def written(folder: Path, pairs: Mapping[int, int], kinds: Sequence[str] = KINDS) -> Patch:
    """The patch, with these pairs declared."""
    (folder / "patch.toml").write_text(PATCH)
    rows = (
        f"{at},{name},{kind},deck,{at},{at},{pairs.get(at, '')}"
        for at, (name, kind) in enumerate(zip(NAMES, kinds, strict=True), start=1)
    )
    (folder / "inputs.csv").write_text("\n".join(["channel,name,kind,box,socket,return,pair", *rows]) + "\n")
    return read_patch(folder)


@pytest.fixture
def called(tmp_path: Path):
    """The status by channel, of a take whose line check was led by these tracks one after another."""
    patch = written(tmp_path, {})

    def statuses(
        turns: tuple[int, ...] = (), names: tuple[str, ...] = NAMES, dead: frozenset[int] = frozenset()
    ) -> dict[int, str]:
        check = LineCheck(tuple(Turn(5.0 * at, 5.0 * at + 3, (track,), 20.0) for at, track in enumerate(turns)))
        sounds = {track: sound for track, sound in SOUNDS.items() if track not in dead}
        evidence = Evidence(tuple(range(1, 9)), check if turns else None, sounds, silent=dead)
        labels = {track: (name,) for track, name in enumerate(names, start=1)}
        mapping = judge(patch, routes(patch), labels, evidence)
        assert mapping.misplaced == ()
        statuses.line_check = mapping.line_check
        return {number: one.status for number, one in mapping.channels.items()}

    return statuses


def test_in_a_line_check_by_the_list_all_are_heard(called) -> None:
    assert set(called((1, 2, 3, 4, 5, 6, 7, 8)).values()) == {"heard"}


def test_of_two_like_sources_that_spoke_out_of_turn_neither_is_heard(called) -> None:
    """They may have been asked in the other order, or plugged in the other order: the same tracks, the same turns."""
    assert called((1, 2, 3, 5, 4, 6, 7, 8)) == {
        **dict.fromkeys((1, 2, 3, 6, 7, 8), "heard"),
        **dict.fromkeys((4, 5), "named"),
    }
    said = called((1, 2, 3, 5, 4, 6, 7, 8), tuple(f"Track {track}" for track in range(1, 9)))
    assert (said[4], said[5]) == ("unknown", "unknown")


def test_like_sources_that_spoke_out_of_turn_are_named_with_the_line_check(called) -> None:
    """Two saxophones on each other's sockets: "went by the input list" was all that was said."""
    called((1, 2, 3, 5, 4, 6, 7, 8))
    assert called.line_check.endswith(" went by the input list, but for channels 4-5: asked out of turn, or exchanged")
    for in_order_or_told_by_sound in ((1, 2, 3, 4, 5, 6, 7, 8), (2, 1, 3, 4, 5, 6, 7, 8)):
        called(in_order_or_told_by_sound)
        assert called.line_check.endswith(" went by the input list")


@pytest.mark.parametrize(
    ("kind", "turns", "apart"),
    [
        ("talkback", (1, 2, 3, 8, 4, 5, 6, 7), False),
        ("speech", (1, 2, 3, 8, 4, 5, 6, 7), True),
        # The talkback's track sounds where the second voice was to: they may be exchanged.
        ("talkback", (1, 2, 3, 8, 5, 6, 7), True),
    ],
)
def test_whoever_has_a_talkback_speaks_when_they_like(tmp_path, kind, turns, apart) -> None:
    """A stage manager's call among the singers: "asked out of turn, or exchanged" was said of the talkback."""
    patch = written(tmp_path, {}, (*KINDS[:7], kind))
    check = LineCheck(tuple(Turn(5.0 * at, 5.0 * at + 3, (track,), 20.0) for at, track in enumerate(turns)))
    evidence = Evidence(tuple(range(1, 9)), check, SOUNDS | {8: VOICE})
    mapping = judge(patch, routes(patch), {track: (name,) for track, name in enumerate(NAMES, start=1)}, evidence)
    end = ", but for channel 8: asked out of turn, or exchanged" if apart else ""
    assert mapping.line_check.endswith(" went by the input list" + end)


def test_unlike_sources_that_spoke_out_of_turn_are_heard_by_their_sound(called) -> None:
    assert set(called((2, 1, 3, 4, 5, 6, 7, 8)).values()) == {"heard"}


def test_a_like_source_that_did_not_speak_may_have_spoken_in_its_neighbours_turn(called) -> None:
    said = called((1, 2, 3, 4, 6, 7, 8))
    assert said == {**dict.fromkeys((1, 2, 3, 6, 7, 8), "heard"), 4: "named", 5: "named"}


def test_beside_a_dead_channel_a_row_of_like_sources_may_have_moved_along(called) -> None:
    """The first voice may be dead, or all of them lie one track further on and the last was not recorded: whoever
    speaks does so in order. The trumpet behind them is no voice."""
    said = called((1, 2, 4, 5, 6, 7, 8), dead=frozenset({3}))
    assert said == {**dict.fromkeys((1, 2, 6, 7, 8), "heard"), 3: "unknown", 4: "named", 5: "named"}


def test_beside_a_dead_channel_unlike_sources_are_heard(called) -> None:
    said = called((2, 3, 4, 5, 6, 7, 8), dead=frozenset({1}))
    assert said == {**dict.fromkeys(range(2, 9), "heard"), 1: "unknown"}


@pytest.mark.parametrize("turns", [(), (1, 2, 3, 4, 5, 7, 8)], ids=["songs", "line check"])
def test_the_only_one_left_beside_a_dead_like_one_may_be_the_other(called, turns: tuple[int, ...]) -> None:
    """Nothing else sounds like a wind instrument; but the trumpet may lie on the trombone's track, which was left."""
    assert called(turns, dead=frozenset({6}))[7] == "named"
    # Behind the trombone stands a click: the row ends there.
    assert called(turns, dead=frozenset({6}))[8] == "heard"


def test_the_sides_of_a_pair_are_heard_but_not_told_apart(tmp_path: Path) -> None:
    """Exchanged, they sound the same and speak in the same turn."""
    patch = written(tmp_path, {6: 7})
    evidence = Evidence(tuple(range(1, 9)), None, SOUNDS)
    channels = judge(patch, routes(patch), {}, evidence).channels
    not_told = "which side of the pair it is, nothing tells"
    assert {number for number, one in channels.items() if one.status == "heard"} == {1, 2, 6, 7, 8}
    assert {number for number, one in channels.items() if not_told in one.evidence} == {6, 7}


@pytest.mark.parametrize(
    ("names", "sentence"),
    [
        (dict.fromkeys(range(1, 9), ("", "evening")), "the take has no names for its tracks"),
        ({}, "the take has no names for its tracks"),
        ({track: (f"Audio {track}",) for track in range(1, 9)}, "the track names say nothing about sources"),
        (dict(enumerate(zip(NAMES), start=1)), ""),
    ],
    ids=["one file", "none at all", "numbers", "names"],
)
def test_names_that_are_none_and_names_that_say_nothing(
    tmp_path: Path, names: dict[int, tuple[str, ...]], sentence: str
) -> None:
    patch = written(tmp_path, {})
    assert judge(patch, routes(patch), names, Evidence(tuple(range(1, 9)), None, SOUNDS)).names == sentence


def test_names_tell_no_like_sources_apart(called) -> None:
    """Recorders take them from the desk: with two voices exchanged at the box they are the same."""
    said = called()
    assert {number for number, status in said.items() if status == "heard"} == {1, 2, 8}
    assert {said[number] for number in (3, 4, 5, 6, 7)} == {"named"}


@pytest.mark.parametrize(
    ("sequence", "sure"),
    [
        ([], []),
        ([4], [True]),
        ([1, 2, 3], [True, True, True]),
        ([1, 3, 2, 4], [True, False, False, True]),
        ([1, 9, 2, 3, 4], [True, False, True, True, True]),
        ([2, 1], [False, False]),
    ],
)
def test_on_every_longest_rise(sequence: list[int], sure: list[bool]) -> None:
    assert on_every_longest_rise(sequence) == sure
