"""The gain rule, case by case: played peak + rise = expected show peak, and advice brings that to the target.

Target -6 dBTP unless a case says otherwise; a preamp of 0 to 60 dB in steps of 1, recorded at 30; a pad of 20 dB. Every
expected figure is worked out by hand from the rule as the documentation states it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest

from replay.desk.gain import Source, expected_peak, wanted_change
from replay.desk.model import Advice, Clipping, ClipRun
from replay.patch.kinds import KINDS
from replay.patch.model import Box, Channel, Kind, Range
from tests.desk.desks import advice_of, made, made_patch, simulated


@dataclass(frozen=True)
class Case:
    """One channel: its kind, the recorded played peak, what else is said, and what is advised."""

    name: str
    kind: str
    played: float
    wanted: dict[str, Any] | None
    channel: dict[str, Any] = field(default_factory=dict)
    box: dict[str, Any] = field(default_factory=dict)
    patch: dict[str, Any] = field(default_factory=dict)
    heard: bool = True
    clipped: bool = False
    note: str = ""


def want(**advice: Any) -> dict[str, Any]:
    """What the advice must say; what is not named may be anything."""
    return advice


def steps(step: float) -> dict[str, Any]:
    return {"gain": Range(min=0, max=60, step=step)}


UP, DOWN = "trim down first, then gain up", "gain down first, then trim up"

CASES = [
    # A vocal rises by 9: at -20 it will be at -11, so 5 dB are to be gained.
    Case("up", "vocal", -20.0, want(gain_db=5, was_db=30, new_gain_db=35, trim_db=-5, order=UP, pad=None, ask="")),
    Case("up rounds toward zero", "vocal", -20.9, want(gain_db=5, new_gain_db=35)),
    Case("just three up", "vocal", -18.0, want(gain_db=3, new_gain_db=33)),
    Case("under three up", "vocal", -17.9, None),
    Case("at most ten up", "vocal", -40.0, want(gain_db=10, new_gain_db=40, trim_db=-10)),
    Case("on target", "vocal", -15.0, None),
    Case("under three down", "vocal", -12.1, None),
    Case("well under three down, which rounding would make three", "vocal", -12.9, None),
    Case("just three down", "vocal", -12.0, want(gain_db=-3, new_gain_db=27)),
    Case("down", "vocal", -8.0, want(gain_db=-7, was_db=30, new_gain_db=23, trim_db=7, order=DOWN, pad=None)),
    Case("down rounds away from full scale", "vocal", -11.9, want(gain_db=-4, new_gain_db=26)),
    Case("down without bound", "vocal", 3.0, want(gain_db=-18, new_gain_db=12)),
    # Rises by kind.
    Case("a kick rises by 4", "kick", -2.0, want(gain_db=-8)),
    Case("keys rise by 8", "keys", -10.0, want(gain_db=-4)),
    Case("brass rises by 9", "brass", -10.0, want(gain_db=-5)),
    Case("ambience rises by 15", "ambience", -15.0, want(gain_db=-6)),
    Case("playback does not rise", "playback", -1.0, want(gain_db=-5)),
    # Steps of the preamp.
    Case("half steps down", "vocal", -11.9, want(gain_db=-3.5, new_gain_db=26.5), box=steps(0.5)),
    Case("half steps up", "vocal", -18.9, want(gain_db=3.5, new_gain_db=33.5), box=steps(0.5)),
    Case("steps of 3 down", "vocal", -11.9, want(gain_db=-6, new_gain_db=24), box=steps(3)),
    Case("steps of 3 up", "vocal", -20.9, want(gain_db=3, new_gain_db=33), box=steps(3)),
    Case("steps of 3, at most ten up", "vocal", -40.0, want(gain_db=9, new_gain_db=39), box=steps(3)),
    Case("steps of 3, a decibel too loud", "vocal", -14.0, None, box=steps(3)),
    Case("steps of 6, under one step up", "vocal", -20.9, None, box=steps(6)),
    # Another target.
    Case("a lower target", "vocal", -12.0, want(gain_db=-7), patch={"show_peak": -10.0}),
    # Raising is the dangerous direction.
    Case("no radio up", "vocal", -30.0, None, channel={"input": "rf"}),
    Case("no playback up", "playback", -30.0, None),
    Case("no click up", "click", -30.0, None),
    Case("no timecode up", "timecode", -30.0, None),
    Case("no talkback up", "talkback", -30.0, None),
    Case("no ambience up", "ambience", -40.0, None),
    Case("no spare up", "vocal", -30.0, None, channel={"use": "may"}),
    # A source of which nobody says the kind may be a singer, who rises by 9: at -14 he will be at -5.
    Case("no unknown kind up that a singer would fill", "other", -14.0, None),
    Case("an unknown kind up as far as a singer may", "other", -20.0, want(gain_db=5)),
    Case("an unknown kind far down, at most ten up", "other", -40.0, want(gain_db=10), note="15 dB more would be"),
    Case("an unknown kind down, by its rise of 4", "other", -2.0, want(gain_db=-8)),
    Case("an unknown kind in a show, whose players are loud", "other", -14.0, want(gain_db=6), patch={"of": "show"}),
    Case(
        "an unknown kind whose rise the patch states",
        "other",
        -14.0,
        want(gain_db=4),
        patch={"kinds": {**KINDS, "other": Kind(name="other", rise=4.0)}},
    ),
    Case("nothing that is off up", "vocal", -30.0, None, channel={"use": "off"}),
    Case("nothing up whose source was not heard", "vocal", -30.0, None, heard=False),
    # Lowering is allowed for all of them that are in use.
    Case("radio down", "vocal", -8.0, want(gain_db=-7), channel={"input": "rf"}, note="transmitter or receiver first"),
    Case("a spare down", "vocal", -8.0, want(gain_db=-7), channel={"use": "may"}),
    Case("bleed down", "vocal", -8.0, want(gain_db=-7), heard=False),
    Case(
        "line down",
        "keys",
        -9.0,
        want(gain_db=-5),
        channel={"input": "line"},
        note="instrument's or player's output first",
    ),
    # Clips.
    Case(
        "a clip is at least six down",
        "kick",
        -20.0,
        want(gain_db=-6, new_gain_db=24, trim_db=6, order=DOWN),
        clipped=True,
    ),
    Case("a clip, hotter than six", "kick", -0.5, want(gain_db=-10, new_gain_db=20), clipped=True),
    Case("a clip in steps of 4", "kick", -20.0, want(gain_db=-8), clipped=True, box=steps(4)),
    Case("a clip of what was not heard", "vocal", -30.0, want(gain_db=-6), clipped=True, heard=False),
    Case("a clip of a spare", "vocal", -30.0, want(gain_db=-6), clipped=True, channel={"use": "may"}),
    Case("a clip on radio", "vocal", -30.0, want(gain_db=-6), clipped=True, channel={"input": "rf"}),
    Case("a clip of the room", "ambience", -40.0, want(gain_db=-6), clipped=True),
    Case("a clip of playback", "playback", -20.0, want(gain_db=-6, at_source=True), clipped=True),
    Case("a clip of talkback", "talkback", -20.0, want(gain_db=-6), clipped=True),
    Case("timecode is square", "timecode", -6.0, None, clipped=True),
    # What the take is of.
    Case("a show rises by 2, a vocal", "vocal", -4.0, want(gain_db=-4), patch={"of": "show"}),
    Case("a show rises by 2, a kick", "kick", -4.0, want(gain_db=-4), patch={"of": "show"}),
    Case("a show rises by 2, the room", "ambience", -4.0, want(gain_db=-4), patch={"of": "show"}),
    Case("a show may be raised", "vocal", -14.0, want(gain_db=6), patch={"of": "show"}),
    Case("a line check says nothing of levels, hot", "vocal", -1.0, None, patch={"of": "line-check"}),
    Case("a line check says nothing of levels, low", "vocal", -30.0, None, patch={"of": "line-check"}),
    Case("a clip in a line check", "vocal", -1.0, want(gain_db=-6), clipped=True, patch={"of": "line-check"}),
    # Pads and the preamp's ends.
    Case(
        "pad in: old + change + pad",
        "vocal",
        -8.0,
        want(gain_db=-7, was_db=2, new_gain_db=15, pad="in", trim_db=7),
        channel={"gain": 2.0},
        note="mute first",
    ),
    Case("pad in from minimum gain", "vocal", -8.0, want(gain_db=-7, new_gain_db=13, pad="in"), channel={"gain": 0.0}),
    Case(
        "no pad where minimum gain is enough",
        "vocal",
        -8.0,
        want(gain_db=-7, new_gain_db=0, pad=None),
        channel={"gain": 7.0},
    ),
    Case(
        "no pad to put in",
        "vocal",
        -8.0,
        want(gain_db=-2, new_gain_db=0, pad=None, trim_db=2),
        channel={"gain": 2.0},
        box={"pad": None},
        note="5 dB more than the preamp can give",
    ),
    Case(
        "a pad that is in already",
        "vocal",
        -8.0,
        want(gain_db=-2, new_gain_db=0, pad=None, trim_db=2),
        channel={"gain": 2.0, "pad": True},
        note="5 dB more than the preamp can give",
    ),
    Case(
        "a pad that is not enough",
        "vocal",
        0.0,
        want(gain_db=-12, new_gain_db=0, pad="in", trim_db=12),
        channel={"gain": 2.0},
        box={"pad": 10.0},
        note="3 dB more than the preamp can give",
    ),
    Case(
        "a pad that fits no step",
        "vocal",
        -8.0,
        want(gain_db=-11, new_gain_db=12, pad="in", trim_db=11),
        channel={"gain": 3.0},
        box={**steps(3), "pad": 20.0},
    ),
    Case(
        "pad out where there is much gain, down",
        "vocal",
        -10.0,
        want(gain_db=-5, new_gain_db=15, pad="out", trim_db=5),
        channel={"gain": 40.0, "pad": True},
        note="mute first",
    ),
    Case(
        "pad out where there is much gain, up",
        "vocal",
        -20.0,
        want(gain_db=5, new_gain_db=5, pad="out", trim_db=-5),
        channel={"gain": 20.0, "pad": True},
    ),
    Case(
        "the pad stays where gain would go under its minimum",
        "vocal",
        -10.0,
        want(gain_db=-5, new_gain_db=14, pad=None),
        channel={"gain": 19.0, "pad": True},
    ),
    Case(
        "the preamp's upper end",
        "vocal",
        -20.0,
        want(gain_db=3, new_gain_db=60, trim_db=-3),
        channel={"gain": 57.0},
        note="the preamp ends at 60 dB",
    ),
    Case(
        "gain not known",
        "vocal",
        -8.0,
        want(gain_db=-7, was_db=None, new_gain_db=None, trim_db=7),
        channel={"gain": None},
    ),
    # Trims.
    Case(
        "a trim goes on from where it is",
        "vocal",
        -10.0,
        want(gain_db=-5, trim_db=7.5, trim_left_db=0),
        channel={"trim": 2.5},
        note="put it back to +2.5 for playback",
    ),
    Case("a trim belongs to the new gain", "vocal", -10.0, want(trim_db=5), note="put it back to 0 for playback"),
    Case(
        "the trim's upper end",
        "vocal",
        -5.0,
        want(gain_db=-10, trim_db=20, trim_left_db=8),
        channel={"trim": 18.0},
        note="8 dB short",
    ),
    Case(
        "the trim's lower end",
        "vocal",
        -20.0,
        want(gain_db=5, trim_db=-40, trim_left_db=-3),
        channel={"trim": -38.0},
        note="3 dB short",
    ),
    Case(
        "a system that compensates",
        "vocal",
        -10.0,
        want(gain_db=-5, trim_db=None, order="gain down"),
        box={"compensated": True},
    ),
    Case(
        "a system that compensates, up",
        "vocal",
        -20.0,
        want(gain_db=5, trim_db=None, order="gain up"),
        box={"compensated": True},
    ),
    # Whose gains.
    Case(
        "gains of the monitor desk",
        "vocal",
        -10.0,
        want(gain_db=-5, ask="ask the monitor desk, whose gains these are"),
        box={"gains": "monitors"},
    ),
    Case(
        "shared gains", "vocal", -10.0, want(gain_db=-5, ask="tell all who share the preamp"), box={"gains": "shared"}
    ),
    # No preamp to turn.
    Case(
        "a digital source",
        "vocal",
        -8.0,
        want(gain_db=-7, at_source=True, trim_db=None, new_gain_db=None),
        channel={"input": "digital"},
    ),
    Case(
        "a line into a box without preamps",
        "vocal",
        -8.0,
        want(gain_db=-7, at_source=True, trim_db=None),
        channel={"input": "line"},
        box={"gain": None},
    ),
    # A microphone has a preamp, even where the patch states neither its range nor its gain.
    Case(
        "a preamp that is not stated",
        "vocal",
        -8.0,
        want(gain_db=-7, at_source=False, was_db=None, new_gain_db=None, trim_db=7, order=DOWN),
        channel={"gain": None},
        box={"gain": None},
    ),
]


def advised(case: Case) -> Advice | None:
    patch = made_patch({1: {"kind": case.kind, **case.channel}}, box=case.box, **case.patch)
    one = made(1, case.played, heard=case.heard, clip_at=(3.0, 4.0) if case.clipped else ())
    return advice_of(simulated(patch, {1: one})).get(1)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_channel(case: Case) -> None:
    found = advised(case)
    if case.wanted is None:
        assert found is None
        return
    assert found is not None
    # Levels go through linear units: a hair of rounding is none of the rule's business.
    assert {name: getattr(found, name) for name in case.wanted} == pytest.approx(case.wanted)
    assert case.note in "; ".join(found.notes)


def test_there_are_many_cases() -> None:
    assert len({case.name for case in CASES}) == len(CASES) >= 40


RISES = {
    4: "kick snare tom hi-hat overhead percussion bass guitar",
    8: "keys acoustic strings woodwind backing",
    9: "vocal speech brass choir",
    15: "ambience",
    0: "playback click timecode",
}


@pytest.mark.parametrize(("kind", "rise"), [(kind, rise) for rise, kinds in RISES.items() for kind in kinds.split()])
def test_rises(kind: str, rise: float) -> None:
    patch = made_patch({1: {"kind": kind}})
    (view,) = simulated(patch, {1: made(1, -30.0)}).channels
    assert view.expected_peak_dbtp == pytest.approx(-30.0 + rise)


def source(kind: str, played: float | None, clipping: Clipping) -> Source:
    return Source(
        channel=Channel(number=1, name="", kind=kind),
        kind=KINDS[kind],
        box=Box(name="stage", sockets=8, gain=Range(min=0, max=60, step=1)),
        played_peak_dbtp=played,
        noise_floor_dbfs=-90.0,
        active_s=10.0,
        clipping=clipping,
    )


@pytest.mark.parametrize(
    ("overshoot", "played", "change"),
    [
        # A kick at -0.5 is expected at +3.5: 9.5 down, and what was lost above full scale comes on top.
        (None, -0.5, -10),
        ((0.5, 1.5), -0.5, -11),
        ((1.0, 3.0), -0.5, -13),
        ((4.0, 6.0), -0.5, -16),
        ((4.0, 20.0), -0.5, -16),
        # At -6 it is expected at -2: 4 down, 5.5 with the overshoot, yet never less than 6.
        ((1.0, 1.5), -6.0, -6),
        ((1.0, 3.0), -6.0, -7),
        # Nothing recurs: one clip and no more.
        ((1.0, 3.0), None, -6),
    ],
)
def test_overshoot_counts_up_to_six(overshoot: tuple[float, float] | None, played: float | None, change: float) -> None:
    clipping = Clipping(
        runs=(ClipRun(start_s=1.0, length=9, length_ms=0.2, positive=True),), count=1, overshoot_db=overshoot
    )
    assert wanted_change(source("kick", played, clipping), "soundcheck", -6.0) == change


def test_nothing_that_recurs_is_nothing_to_go_by() -> None:
    silent = source("vocal", None, Clipping())
    assert expected_peak(silent, "soundcheck") is None
    assert wanted_change(silent, "soundcheck", -6.0) is None
