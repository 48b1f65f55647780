"""The parts of the comparison by themselves, on figures that are made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.compare import fates, judge_band, judge_level, words
from replay.compare.bleed import FEWEST_MOMENTS, bleed
from replay.compare.hops import Hops
from replay.compare.model import ChannelChange, Expected, Moved
from replay.compare.moves import as_advised, expected, with_others
from replay.compare.pairing import match
from replay.compare.sound import Octaves, step
from replay.desk.model import Advice, Show
from replay.findings.finding import Finding
from replay.patch.model import Channel, Socket
from tests.checks.factory import Session

EDGES = tuple(23.4375 * 2**band if band else 0.0 for band in range(11)) + (24000.0,)


def moved(own: float, *, recorded: float | None = None, **more: object) -> Moved:
    recorded = own if recorded is None else recorded
    known = Expected(change_db=recorded - own, known=True)
    figures = dict.fromkeys(("integrated_lufs", "played_peak_dbtp", "loud_hops_dbfs", "loud_mean_dbfs"), recorded)
    return Moved(**{"recorded_db": recorded, "own_db": own, "figures": figures, "expected": known, **more})  # type: ignore[arg-type]


def change(show: Show, number: int, move: Moved | None, *, after: Show | None = None) -> ChannelChange:
    return ChannelChange(before=show.view(number), after=(after or show).view(number), moved=move)


@pytest.fixture(scope="module")
def show() -> Show:
    return Session().show()


# What a microphone hears of the others


def takes(
    way_db: float = 0.0, player_db: float = 0.0, others_db: float = 0.0, seed: int = 0, hops: int = 600
) -> tuple[dict[int, Hops], dict[int, Hops]]:
    """Two takes of six sources that play now and then. Channel 1 hears its own source in every third second and the
    others 20 dB below their own tracks at all times; in the second take its way, its player and the others moved."""
    found = []
    for take in (0, 1):
        rng = np.random.default_rng(seed + take)
        playing = rng.random((6, hops // 10)).repeat(10, axis=1) < 0.5
        levels = np.where(playing, -20.0 + rng.normal(0, 3, (6, hops)), -90.0)
        levels[1:] += take * others_db
        powers = 10 ** (levels / 10)
        own = np.where(np.arange(hops) // 10 % 3 == 0, 10 ** ((-10 + take * player_db) / 10), 0.0)
        microphone = 10 * np.log10(own + 0.01 * powers[1:].sum(axis=0) + 1e-9) + take * way_db
        found.append({1: Hops(microphone), **{number: Hops(levels[number - 1]) for number in range(2, 7)}})
    return found[0], found[1]


NOTHING = ({}, {})


@pytest.mark.parametrize("way", [-20.0, -6.0, 0.0, 6.0])
@pytest.mark.parametrize("player", [-8.0, 0.0, 8.0])
def test_bleed_follows_the_way_and_not_the_player(way, player):
    found = bleed(1, takes(way, player), NOTHING, (-90.0, -90.0 + way))
    assert found is not None
    assert found.change_db == pytest.approx(way, abs=0.5)


def test_others_that_play_louder_are_no_change_of_the_way():
    found = bleed(1, takes(others_db=6.0), NOTHING, (-90.0, -90.0))
    assert found is not None
    assert found.change_db == pytest.approx(0.0, abs=0.5)


def test_gains_are_taken_off_before_bleed_is_compared():
    found = bleed(1, takes(way_db=10.0), ({}, {1: 10.0}), (-90.0, -80.0))
    assert found is not None
    assert found.change_db == pytest.approx(0.0, abs=0.5)


def test_bleed_is_not_told_from_too_little():
    short = takes(hops=10 * (FEWEST_MOMENTS // 10))
    assert bleed(1, short, NOTHING, (-90.0, -90.0)) is None
    a, b = takes()
    few = [{number: side[number] for number in (1, 2, 3)} for side in (a, b)]
    assert bleed(1, (few[0], few[1]), NOTHING, (-90.0, -90.0)) is None
    assert bleed(1, (a, b), NOTHING, (None, -90.0)) is None
    assert bleed(1, (a, b), NOTHING, (-20.0, -20.0)) is None


# Octaves


def octaves(*falls: tuple[int, float], tilt: float = -3.0) -> Octaves:
    """Eleven bands (the last one empty) that fall by `tilt` each; `falls` as (band, dB) come on top."""
    levels = np.array([tilt * abs(band - 4) for band in range(11)], float)
    levels[10] = -120.0
    for band, fall in falls:
        levels[band] += fall
    shares = levels - 10 * np.log10((10 ** (levels / 10)).sum())
    return Octaves(tuple(float(share) for share in shares), EDGES)


def test_a_low_pass_is_dull_and_back_is_bright():
    dull = octaves((7, -9.0), (8, -20.0), (9, -30.0))
    found = step(octaves(), dull)
    assert found is not None
    assert (found.what, found.edge_hz, found.bands) == ("dull", 3000.0, 3)
    assert found.change_db == pytest.approx(-(9 + 20 + 30) / 3, abs=0.5)
    back = step(dull, octaves())
    assert back is not None
    assert back.what == "bright"


def test_a_low_cut_is_thin():
    found = step(octaves(), octaves((0, -30.0), (1, -22.0), (2, -14.0)))
    assert found is not None
    assert (found.what, found.edge_hz) == ("thin", 187.5)
    back = step(octaves((0, -30.0), (1, -22.0), (2, -14.0)), octaves())
    assert back is None or back.what == "full"


@pytest.mark.parametrize(
    "after",
    [
        octaves(),
        octaves((8, -7.0), (9, -7.0)),  # less than anyone would hear as another sound
        octaves((5, -12.0)),  # a hole in the middle: another tune
        octaves((8, -12.0)),  # a hole below the top
        octaves(tilt=-3.8),  # a little less of everything outside the middle
    ],
)
def test_other_changes_of_octaves_are_not_told(after):
    assert step(octaves(), after) is None


def test_octaves_at_rates_that_lie_apart_are_not_compared():
    other = replace(octaves((7, -20.0), (8, -20.0), (9, -20.0)), edges=tuple(edge * 0.7 for edge in EDGES))
    assert step(octaves(), other) is None
    assert step(None, octaves()) is None


# Levels


def bled(change_db: float):
    from replay.compare.bleed import Bleed

    return Bleed(change_db=change_db, spread_db=0.5, moments=200)


@pytest.mark.parametrize(
    ("number", "move", "code", "worse", "confidence"),
    [
        # The vocal microphone (7).
        (7, moved(-6.0, bleed=bled(-6.0)), "quieter", True, "likely"),
        (7, moved(-3.5, bleed=bled(-6.0), floor_db=-6.0), "quieter", True, "likely"),
        (7, moved(-3.5, bleed=bled(-6.0)), None, None, None),
        (7, moved(0.5, bleed=bled(-6.0), floor_db=-5.5), "quieter", True, "likely"),
        (7, moved(0.5, bleed=bled(-6.0), floor_db=-1.0), None, None, None),
        (7, moved(-8.0, bleed=bled(0.5)), "source", False, "possible"),
        (7, moved(-5.0, bleed=bled(0.5)), None, None, None),
        (7, moved(-8.0), "quieter", False, "possible"),
        (7, moved(-10.0), "quieter", True, "likely"),
        (7, moved(-10.0, group="voices", others_db=-9.0), None, None, None),
        (7, moved(-10.0, group="voices", others_db=-9.0, bleed=bled(-10.0)), "quieter", True, "likely"),
        (7, moved(20.0, bleed=bled(20.0), floor_db=19.0), "louder", False, "likely"),
        (7, moved(6.0, bleed=bled(5.0), floor_db=0.0), None, None, None),
        # The bass DI (5) hears no others.
        (5, moved(-5.0), None, None, None),
        (5, moved(-7.0), "quieter", False, "possible"),
        (5, moved(-10.0), "quieter", True, "likely"),
    ],
)
def test_what_is_told_of_a_level(show, number, move, code, worse, confidence):
    found = judge_level.level(change(show, number, move), show)
    assert (found and found.code) == code
    if found is not None:
        assert (found.worse, found.confidence) == (worse, confidence)


def test_a_loss_that_the_player_makes_up_for_is_told_with_what_was_lost(show):
    found = judge_level.level(change(show, 7, moved(0.5, bleed=bled(-6.0), floor_db=-5.5)), show)
    assert found is not None
    assert found.amount == -6.0
    assert found.message.startswith(
        "What it hears of the others is 6.0 dB quieter; its player makes up for it today (+0.5 dB in all). A lost leg"
    )


def test_figures_that_disagree_say_nothing(show):
    figures = {"integrated_lufs": -12.0, "played_peak_dbtp": -1.0, "loud_hops_dbfs": -11.0, "loud_mean_dbfs": -12.0}
    assert judge_level.level(change(show, 5, moved(-11.5, figures=figures)), show) is None


def test_without_stated_gains_nothing_is_called_worse(show):
    unknown = Expected(change_db=0.0, known=False)
    found = judge_level.level(change(show, 7, moved(-20.0, expected=unknown, bleed=bled(-20.0))), show)
    assert found is not None
    assert (found.worse, found.confidence) == (False, "possible")
    assert found.message.endswith("Its gain is not stated on both sides: a turned preamp looks the same.")


@pytest.mark.parametrize(("own", "pad"), [(-19.0, 20), (-10.5, 10), (-15.0, 15), (-6.0, None), (-25.0, None)])
def test_a_change_as_large_as_a_pad_is_said_to_be(show, own, pad):
    found = judge_level.level(change(show, 7, moved(own, bleed=bled(own))), show)
    assert found is not None
    assert (f"As a pad of {pad} dB left in would." in found.message) is (pad is not None)
    assert ("A lost leg of a balanced line" in found.message) is (own == -6.0)


def test_a_gain_that_is_stated_and_was_not_turned(show):
    session = Session()
    session.channels[7]["gain"] = 20.0
    after = session.show()
    settings = expected(show, after, show.view(7), after.view(7))
    assert (settings.change_db, settings.known) == (-10.0, True)
    move = moved(10.0, recorded=0.0, expected=settings)
    found = judge_level.level(change(show, 7, move, after=after), after)
    assert found is not None
    assert (found.code, found.worse) == ("not-turned", False)
    assert found.message == "The patch says gain 30 -> 20, but it is recorded as loud as before (+0.0 dB)."
    assert found.action == "Read the gain off riser 7 and write it into the patch, or turn it."


def test_a_higher_gain_that_was_not_turned_is_no_loss(show):
    session = Session()
    session.channels[7]["gain"] = 40.0
    after = session.show()
    settings = expected(show, after, show.view(7), after.view(7))
    move = moved(-10.0, recorded=0.0, expected=settings, bleed=bled(-10.0), floor_db=-10.0)
    found = judge_level.level(change(show, 7, move, after=after), after)
    assert found is not None
    assert (found.code, found.worse) == ("not-turned", False)


def test_a_pad_and_a_gain_are_taken_off_together(show):
    session = Session()
    session.channels[7].update(gain=35.0, pad=True)
    after = session.show()
    assert expected(show, after, show.view(7), after.view(7)).change_db == 5.0 - 20.0


def test_a_soundcheck_held_against_a_show_leaves_room_for_the_rise(show):
    session = Session()
    session.of = "show"
    after = session.show()
    # A vocal's rise is 9 dB from a soundcheck, 2 from a show: 7 dB louder is what was expected.
    settings = expected(show, after, show.view(7), after.view(7))
    assert (settings.low, settings.high) == (0.0, 7.0)
    back = expected(after, show, after.view(7), show.view(7))
    assert (back.low, back.high) == (-7.0, 0.0)


@pytest.mark.parametrize(
    ("level", "witness", "advised", "followed"),
    [
        (-11.0, -10.5, -11.0, True),
        (-9.0, -11.0, -11.0, True),
        (-11.0, -1.0, -11.0, False),  # the player, and not the preamp
        (1.2, 0.0, 3.0, False),  # little was advised, and as little happened as on any evening
        (0.0, 0.0, -11.0, False),
    ],
)
def test_advice_counts_as_followed_only_where_level_and_witness_say_so(show, level, witness, advised, followed):
    before = replace(show.view(7), advice=Advice(gain_db=advised))
    settings = Expected(change_db=0.0, known=True)
    for seen in ({"bleed": bled(witness), "floor_db": 0.0}, {"floor_db": witness}):
        one = ChannelChange(before=before, after=show.view(7), moved=moved(level, expected=settings, **seen))
        found = as_advised(one).moved
        assert found is not None
        assert found.expected.advised is followed
        assert found.own_db == pytest.approx(level - advised if followed else level)


def test_the_others_are_those_of_a_kind_a_family_or_the_band(show):
    changes = [change(show, number, moved(own)) for number, own in ((1, 6.0), (2, 6.0), (3, 6.5), (4, 5.5), (7, 0.0))]
    found = {one.number: one.moved for one in with_others(changes)}
    assert (found[1].group, found[1].others_db) == ("drums", 6.0)
    # Nobody else sings: the band is what is left.
    assert (found[7].group, found[7].others_db) == ("band", 6.0)
    # The overheads are a pair: each leaves the other out.
    assert (found[3].group, found[3].others_db) == ("drums", 6.0)


def test_a_family_that_moved_is_told_once(show):
    changes = [change(show, number, moved(own)) for number, own in ((1, 6.0), (2, 6.0), (3, 6.5), (4, 5.5), (7, 0.0))]
    told = list(judge_band.band(changes, told=[2]))
    assert [(one.code, one.channels, one.worse) for one in told] == [("band", (1, 3, 4), False)]
    assert list(judge_band.band(changes, told=[1, 2])) == []


# Channels and findings


def test_channels_that_are_renamed_in_place_stay_the_same():
    def at(number: int, name: str, socket: int, kind: str = "vocal") -> Channel:
        return Channel(number=number, name=name, kind=kind, socket=Socket("deck", socket))

    before = [at(1, "Vox", 1), at(2, "Spare", 2, "other"), at(3, "Guest", 3)]
    after = [at(1, "Lead vocal", 1), at(2, "Banjo", 2, "acoustic"), at(4, "Guest", 4)]
    found = match(before, after)
    assert [(one.number, other.number) for one, other in found.same] == [(1, 1), (3, 4)]
    assert [one.number for one in found.gone] == [2]
    assert [one.number for one in found.added] == [2]


def finding(code: str, severity: str, *channels: int, swallowed: tuple[str, ...] = ()) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        confidence="certain",
        message="Seen.",
        action="Do it.",
        channels=channels,
        swallowed=swallowed,
    )


def became(before: list[Finding], after: list[Finding], changes: list[ChannelChange]) -> list[tuple[str, str]]:
    numbers = {number: number for number in range(1, 9)}
    return [(one.fate, one.finding.code) for one in fates.fates(before, after, numbers, changes)]


def test_findings_are_compared_by_code_and_place(show):
    changes = [change(show, number, moved(0.0)) for number in range(1, 8)]
    hum = finding("hum", "warning", 7)
    assert became([hum], [], changes) == [("fixed", "hum")]
    assert became([], [hum], changes) == [("new", "hum")]
    assert became([hum], [finding("hum", "warning", 6, 7)], changes) == [("still", "hum")]
    assert became([hum], [finding("hum", "warning", 6)], changes) == [("fixed", "hum"), ("new", "hum")]
    assert became([hum], [finding("hum", "fault", 7)], changes) == [("grown", "hum")]
    assert became([finding("clipped", "fault", 7)], [finding("clipped", "warning", 7)], changes) == [
        ("eased", "clipped")
    ]
    assert became([finding("old-take", "note")], [], changes) == []


def test_what_a_heavier_finding_hid_is_no_news(show):
    changes = [change(show, 7, moved(-8.0))]
    clipped = finding("clipped", "fault", 7, swallowed=("hot",))
    assert became([clipped], [finding("hot", "warning", 7)], changes) == [("eased", "hot")]
    assert became([finding("hot", "warning", 7)], [clipped], changes) == [("grown", "clipped")]


def test_a_level_on_the_edge_of_a_limit_is_neither_new_nor_fixed(show):
    hot = finding("hot", "warning", 7)
    assert became([], [hot], [change(show, 7, moved(1.0))]) == [("still", "hot")]
    assert became([hot], [], [change(show, 7, moved(-1.0))]) == [("still", "hot")]
    assert became([], [hot], [change(show, 7, moved(4.0))]) == [("new", "hot")]


def test_a_channel_that_does_not_play_cannot_tell_that_something_is_fixed(show):
    session = Session()
    session.silence(7)
    after = session.show()
    changes = [change(show, 7, None, after=after)]
    assert became([finding("crackle", "warning", 7)], [], changes) == [("not-heard", "crackle")]
    # That a track is no longer silent needs no sound of it.
    assert became([finding("silent", "fault", 7)], [], changes) == [("fixed", "silent")]


def test_how_something_was_fixed_is_read_from_the_patches(show):
    session = Session()
    session.channels[7]["gain"] = 24.0
    after = session.show()
    before = replace(show.view(7), advice=Advice(gain_db=-6.0, was_db=30.0, new_gain_db=24.0))
    one = ChannelChange(before=before, after=after.view(7), moved=moved(0.0, recorded=-6.0))
    found = fates.fates([finding("hot", "warning", 7)], [], {7: 7}, [one])
    assert [(each.fate, each.how) for each in found] == [("fixed", "gain 30 -> 24, as was advised")]


def test_marks_and_figures_are_words():
    assert [words.signed(value) for value in (-6.04, 0.04, -0.04, None, 12.0)] == ["-6.0", "0.0", "0.0", "", "+12.0"]
    assert list(words.MARKS.values()) == ["BAD", "LOOK", "fixed", "same", "?"]
