from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from replay.checks import CHECKS, find_all
from replay.findings.finding import Finding
from replay.findings.settle import SCOPES, SWALLOWS, settle
from replay.patch.model import Slot, Socket
from replay.take.model import FileTrouble
from tests.checks.factory import Session, bus, runs

CODES = [check.CODE for check in CHECKS]
IDS = [f"{rule.cause}>{rule.effect}" for rule in SWALLOWS]


def finding(code: str, severity: str = "fault", channel: int | None = 7, **more) -> Finding:
    places = {} if channel is None else {"channels": (channel,), "tracks": (channel,)}
    return Finding(code=code, severity=severity, confidence="certain", message="m.", action="a.", **{**places, **more})


class TestTheTable:
    def test_names_codes_and_scopes_that_exist(self):
        for rule in SWALLOWS:
            assert rule.cause in CODES
            assert rule.effect in CODES
            assert rule.scope in SCOPES

    def test_holds_each_pair_once(self):
        assert len({(rule.cause, rule.effect) for rule in SWALLOWS}) == len(SWALLOWS)

    def test_has_no_rings(self):
        """Follow the arrows: a code reached from itself would let two findings swallow each other."""
        after = {code: {rule.effect for rule in SWALLOWS if rule.cause == code} for code in CODES}
        for code in CODES:
            reached, waiting = set(), set(after[code])
            while waiting:
                one = waiting.pop()
                reached.add(one)
                waiting |= after[one] - reached
            assert code not in reached


@pytest.mark.parametrize("rule", SWALLOWS, ids=IDS)
class TestEveryRule:
    def test_swallows_on_the_same_place(self, rule):
        (kept,) = settle([finding(rule.effect), finding(rule.cause)])
        assert (kept.code, kept.swallowed) == (rule.cause, (rule.effect,))

    def test_keeps_what_is_elsewhere(self, rule):
        kept = settle([finding(rule.effect, channel=3), finding(rule.cause)])
        assert len(kept) == (1 if rule.scope == "take" else 2)

    def test_keeps_what_is_more_severe(self, rule):
        kept = settle([finding(rule.effect, "fault"), finding(rule.cause, "warning")])
        assert {one.code for one in kept} == {rule.cause, rule.effect}

    def test_keeps_what_is_covered_in_part_only(self, rule):
        wide = finding(rule.effect, channels=(7, 9), tracks=(7, 9))
        kept = settle([wide, finding(rule.cause)])
        assert len(kept) == (1 if rule.scope == "take" else 2)

    def test_several_causes_cover_together(self, rule):
        wide = finding(rule.effect, channels=(7, 9), tracks=(7, 9))
        kept = settle([wide, finding(rule.cause), finding(rule.cause, channel=9)])
        assert [(one.code, one.swallowed) for one in kept] == [(rule.cause, (rule.effect,))] * 2


def test_pairs_that_the_table_does_not_hold_stay():
    known = {(rule.cause, rule.effect) for rule in SWALLOWS}
    for one, other in combinations(CODES, 2):
        if (one, other) not in known and (other, one) not in known:
            assert {kept.code for kept in settle([finding(one), finding(other)])} == {one, other}


def test_a_cause_that_is_explained_itself_passes_on_what_it_explains():
    kept = settle([finding("low", "note"), finding("one-side-dead", "warning"), finding("silent")])
    assert [(one.code, one.swallowed) for one in kept] == [("silent", ("low", "one-side-dead"))]


def test_another_length_than_the_cut_is_another_cause():
    short = finding("length-mismatch", "warning", amount=30.0, unit="s")
    assert len(settle([finding("truncated", amount=2.0, unit="s"), short])) == 2
    assert len(settle([finding("truncated", amount=29.5, unit="s"), short])) == 1
    assert len(settle([finding("truncated"), short])) == 1


def test_settling_twice_changes_nothing():
    findings = [finding(code) for code in CODES]
    once = settle(findings)
    assert settle(once) == once


def test_order_is_severity_then_the_take_then_channel():
    kept = settle(
        [
            finding("hot", "warning", 2),
            finding("silent", "fault", 5),
            finding("clipped", "fault", 3),
            finding("old-take", "note", None),
            finding("unreadable", "fault", None),
            finding("shared-socket", "note", 1),
        ]
    )
    assert [one.code for one in kept] == ["unreadable", "clipped", "silent", "hot", "old-take", "shared-socket"]


def _trouble(code):
    def plant(session: Session, number: int) -> None:
        session.troubles.append(FileTrouble(code=code, detail=f"{code}.", files=(f"{number}.wav",), tracks=(number,)))

    return plant


def _clip(session, number):
    session.tracks[number].clipping = runs((1, 2.0))


def _over(session, number):
    plan = session.tracks[number]
    plan.totals, plan.peak = {"over_full_scale": 1.0}, 1.0
    plan.columns = {"over": (np.arange(600) == 5).astype(np.uint32)}


def _drop(session, number):
    del session.tracks[number]


def _crossed(session, number):
    session.channels[number]["playback"] = Slot("main", 8)


def _shared(session, number):
    session.channels[20 + number] = {"name": "Split", "socket": Socket("riser", number)}


def _set(**facts):
    def plant(session: Session, number: int) -> None:
        for name, value in facts.items():
            setattr(session.tracks[number], name, value)

    return plant


def _bus(session, number):
    session.buses = [bus("main", -3.0, 1.0, (1,), (1,))]


def _cut(session, number):
    session.tracks[number].levels = session.tracks[number].levels.copy()
    session.tracks[number].levels[300:350] = -200


def _side(session, number):
    """Channel 3 or 4 only: the pair."""
    session.tracks[number].levels = session.tracks[number].levels - 35


PLANTS = {
    "unreadable": _trouble("unreadable"),
    "truncated": _trouble("truncated"),
    "segment-missing": _trouble("segment-missing"),
    "clipped": _clip,
    "over-full-scale": _over,
    "input-over": lambda session, number: session.channels[number].update(trim=12.0),
    "bus-over": _bus,
    "hot": _set(played=1.0),
    "low": _set(played=-45.0 + 1),
    "silent": Session.silence,
    "noise-only": Session.noise,
    "cuts-out": _cut,
    "no-track": _drop,
    "return-mismatch": _crossed,
    "shared-socket": _shared,
    "old-take": lambda session, number: setattr(session, "age_h", 100.0),
    "rate-mismatch": lambda session, number: setattr(session, "patch_rate", 96000),
}
ON_THE_TAKE = {"bus-over", "old-take", "rate-mismatch"}


@pytest.mark.parametrize(("one", "other"), list(product(PLANTS, PLANTS)))
def test_no_planted_fault_hides_another_on_another_channel(one, other):
    session = Session()
    PLANTS[one](session, 1)
    PLANTS[other](session, 7)
    told = {(found.code, number) for found in settle(find_all(session.show())) for number in found.channels or (0,)}
    assert (one, 0 if one in ON_THE_TAKE else 1) in told
    assert (other, 0 if other in ON_THE_TAKE else 7) in told


@pytest.mark.parametrize("other", ["clipped", "hot", "cuts-out", "input-over", "shared-socket", "return-mismatch"])
def test_a_dead_side_hides_nothing_on_its_partner(other):
    session = Session()
    _side(session, 4)
    PLANTS[other](session, 3)
    told = {(found.code, number) for found in settle(find_all(session.show())) for number in found.channels}
    assert {("one-side-dead", 4), (other, 3)} <= told


def test_every_finding_of_every_plant_is_whole():
    """Message, action, a stable id of its own: for all plants at once, and the same when asked again."""
    session = Session()
    for place, (code, plant) in enumerate(PLANTS.items()):
        if code != "no-track":
            plant(session, (1, 2, 3, 5, 6, 7)[place % 6])
    findings = find_all(session.show())
    assert len({found.id for found in findings}) == len(findings)
    assert [found.id for found in findings] == [found.id for found in find_all(session.show())]
    for found in findings:
        assert found.message.endswith(".")
        assert found.action.endswith(".")
        assert found.code in CODES


def test_swallowing_keeps_the_finding_otherwise_as_it_was():
    cause = finding("clipped", amount=14.0, unit="runs")
    (kept,) = settle([cause, finding("hot", "warning")])
    assert kept == replace(cause, swallowed=("hot",))


def test_flat_tops_of_a_tone_that_rings_are_its_own_and_others_are_not():
    ring = finding("ringing", "warning", start_s=11.0, end_s=13.6)
    during = finding("flat-topped", "warning", start_s=13.0, end_s=13.7)
    before = finding("flat-topped", "warning", start_s=4.0, end_s=13.7)
    assert [one.code for one in settle([ring, during])] == ["ringing"]
    assert {one.code for one in settle([ring, before])} == {"ringing", "flat-topped"}
