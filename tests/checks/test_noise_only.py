"""Tracks of nothing but noise: where they must be told, and where they must keep quiet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.checks import low, noise_only, unexpected_signal
from replay.evidence.bleed import Bleed
from replay.evidence.model import Evidence
from replay.evidence.others import Mix, mixes
from tests.checks.factory import FRAMES, Session
from tests.checks.sick import noise, sines, told
from tests.checks.test_dead_checks import found


class TestNoiseOnly:
    def test_fault_for_must(self):
        session = Session()
        session.noise(7)
        (finding,) = found(noise_only, session)
        assert (finding.severity, finding.confidence, finding.channels) == ("fault", "likely", (7,))
        assert "phantom" in finding.action

    def test_all_spares_in_one_note(self):
        session = Session()
        session.channels[1]["use"] = "may"
        session.noise(1)
        session.noise(8)
        assert [(f.severity, f.channels) for f in found(noise_only, session)] == [("note", (1, 8))]

    def test_what_is_played_is_not_noise(self):
        session = Session()
        session.noise(7)
        session.tracks[7].active_s = 5.0
        assert found(noise_only, session) == []

    def test_a_loud_hiss_is_not_told_as_a_dead_source(self):
        session = Session()
        session.noise(7, level=-50)
        assert found(noise_only, session) == []

    def test_bleed_that_moves_is_not_noise(self):
        session = Session()
        plan = session.tracks[7]
        plan.levels = -75 + np.random.default_rng(1).normal(0, 5, plan.levels.size)
        plan.played, plan.peak, plan.active_s = -55.0, -52.0, 0.0
        assert found(noise_only, session) == []

    def test_a_thump_in_the_noise_changes_nothing(self):
        session = Session()
        session.noise(7)
        session.tracks[7].levels[300:303] = -30
        session.tracks[7].peak = -15.0
        assert [finding.channels for finding in found(noise_only, session)] == [(7,)]

    def test_too_short_to_say(self):
        session = Session()
        session.noise(7)
        session.tracks[7].levels = session.tracks[7].levels[:19]
        assert found(noise_only, session) == []

    @pytest.mark.parametrize(("entry", "word"), [("rf", "receiver"), ("di", "DI"), ("line", "output")])
    def test_the_action_fits_the_input(self, entry, word):
        session = Session()
        session.channels[7]["input"] = entry
        session.noise(7)
        (finding,) = found(noise_only, session)
        assert word in finding.action

    @pytest.mark.parametrize(
        ("entry", "mic", "what"),
        [
            ("mic", "small capacitor", "A capacitor microphone"),
            ("mic", "Large-diaphragm condenser", "A capacitor microphone"),
            ("di", "active DI", "An active DI"),
        ],
    )
    def test_phantom_power_that_is_off_is_told_where_the_list_has_what_needs_it(self, entry, mic, what):
        session = Session()
        session.channels[7].update(input=entry, mic=mic, phantom="no")
        session.noise(7)
        (finding,) = found(noise_only, session)
        assert finding.message.endswith(f"{what} needs phantom power, which the input list has off.")
        assert finding.action.startswith("Mute, give riser 7 phantom power; if it stays dead, check ")

    @pytest.mark.parametrize(
        "facts",
        [
            {"mic": "small capacitor", "phantom": "yes"},
            {"mic": "small capacitor", "phantom": "elsewhere"},
            {"mic": "small capacitor", "phantom": "unknown"},
            {"mic": "moving coil"},
            {"mic": "ribbon"},
            {"mic": "valve capacitor"},
            {"mic": ""},
            {"input": "di", "mic": "passive DI"},
            {"input": "di", "mic": ""},
            {"input": "line", "mic": "active monitor out"},
        ],
    )
    def test_phantom_power_is_not_blamed_where_nothing_says_so(self, facts):
        session = Session()
        session.channels[7].update(facts)
        session.noise(7)
        (finding,) = found(noise_only, session)
        assert "needs phantom power, which" not in finding.message
        assert finding.message.endswith("the preamp is alive, the source is not.")

    def test_a_microphone_that_hears_nothing_of_a_loud_stage_is_told_as_deaf(self):
        session = Session()
        session.noise(7)
        hears = {number: Bleed(20.0, 0.8) for number in (1, 2, 3, 4)}
        (finding,) = noise_only.check(replace(session.show(), evidence=Evidence((), None, {}, bleed=hears)))
        assert finding.message.endswith("and hears nothing of the stage that 4 other microphones hear.")

    @pytest.mark.parametrize(
        ("entry", "hears"),
        [("mic", {1: 20.0, 2: 20.0}), ("mic", {1: 2.0, 2: 2.0, 3: 1.0, 4: 3.0}), ("di", {1: 20.0, 2: 20.0, 3: 20.0})],
        ids=["too few hear", "a quiet stage", "a DI"],
    )
    def test_nothing_is_made_of_a_stage_that_few_hear_nor_of_a_direct_line(self, entry, hears):
        session = Session()
        session.channels[7]["input"] = entry
        session.noise(7)
        evidence = Evidence((), None, {}, bleed={number: Bleed(floor, 0.8) for number, floor in hears.items()})
        (finding,) = noise_only.check(replace(session.show(), evidence=evidence))
        assert finding.message.endswith("the preamp is alive, the source is not.")


def active_noise(session: Session, number: int, octaves: tuple[float, ...]) -> None:
    """Steady at -61 dB, which is above -60 dBFS and so counts as active; `octaves` share its energy out."""
    session.noise(number, level=-61.0)
    plan = session.tracks[number]
    plan.active_s, plan.played, plan.peak = 60.0, -47.5, -47.0
    energy = 10 ** (plan.levels / 10) * FRAMES
    plan.columns = {f"band_{band}": energy * share / sum(octaves) for band, share in enumerate(octaves)}


WHITE = (1.0, *(2.0**band for band in range(10)))
"""White noise: every octave has twice the energy of the one below it."""


HELD = (0.0, 1.0, 3.0, 5.0, 3.0, 1.0, *(1e-4 * 2.0**band for band in range(5)))
"""A held chord between 90 Hz and 1.5 kHz over the preamp's white noise."""


class TestNoiseThatIsLoudEnoughToCountAsActive:
    def test_white_noise_is_told(self):
        session = Session()
        active_noise(session, 7, WHITE)
        assert [finding.channels for finding in found(noise_only, session)] == [(7,)]
        assert found(low, session) == []

    def test_a_quiet_drone_is_not_but_it_is_low(self):
        session = Session()
        active_noise(session, 7, HELD)
        assert found(noise_only, session) == []
        (finding,) = found(low, session)
        # -47.5 dBTP and 9 dB of rise for a vocal.
        assert (finding.severity, finding.amount) == ("note", -38.5)

    def test_hiss_and_hum_from_samples_and_a_drone_as_quiet(self, tmp_path):
        hiss = noise(-60.5)
        dead = noise(-70) + sines(50, {1: -58, 2: -60, 3: -60, 4: -66})
        drone = noise(-95) + sines(146.8, {1: -56, 2: -57, 3: -58, 5: -62, 7: -66})
        findings = told(tmp_path, hiss, (dead, "bass", "di"), (drone, "strings", "mic"), code="noise-only")
        assert sorted(finding.channels for finding in findings) == [(1,), (2,)]


def with_bleed_on(session: Session, number: int, *sources: int):
    """The show with a microphone that hears these tracks 25 dB down and more, and nothing of its own."""
    rng = np.random.default_rng(5)
    plan = session.tracks[number]
    heard = sum(
        10 ** ((session.tracks[one].levels - 25 - 2 * place + rng.normal(0, 0.5, plan.levels.size)) / 10)
        for place, one in enumerate(sources)
    )
    plan.levels = 10 * np.log10(heard + 10**-7.4)
    plan.peak, plan.played = -36.0, -38.0
    show = session.show()
    rows = sorted(session.tracks)
    levels = np.array([session.tracks[one].levels for one in rows])
    return replace(show, evidence=Evidence(tuple(rows), None, {}, mixes=mixes(tuple(rows), levels)))


class TestOnlyTheOthers:
    def test_a_microphone_that_nobody_used_is_a_warning_where_somebody_must(self):
        show = with_bleed_on(Session(), 7, 1, 2, 6)
        (finding,) = noise_only.check(show)
        assert (finding.severity, finding.confidence, finding.channels) == ("warning", "likely", (7,))
        assert (
            finding.message == "Track 7 hears the others on the stage and no source of its own (peaks at -38.0 dBTP)."
        )
        assert list(low.check(show)) == []

    @pytest.mark.parametrize("use", ["may", "off"])
    def test_for_others_it_is_no_signal_at_all(self, use):
        session = Session()
        session.channels[7]["use"] = use
        show = with_bleed_on(session, 7, 1, 2, 6)
        assert list(noise_only.check(show)) == []
        assert list(unexpected_signal.check(show)) == []

    def test_a_source_of_its_own_on_a_channel_that_is_off_is_a_signal(self):
        session = Session()
        session.channels[7]["use"] = "off"
        show = with_bleed_on(session, 8, 1, 2, 6)
        assert [finding.channels for finding in unexpected_signal.check(show)] == [(7,)]

    @pytest.mark.parametrize(
        "facts",
        [{"kind": kind} for kind in ("overhead", "ambience", "snare", "guitar", "other")] + [{"input": "di"}],
        ids=str,
    )
    def test_what_hears_the_others_by_nature_and_what_hears_nothing_is_left_out(self, facts):
        session = Session()
        session.channels[7].update(facts)
        assert list(noise_only.check(with_bleed_on(session, 7, 1, 2, 6))) == []

    @pytest.mark.parametrize(
        "of",
        [((6, 0.9), (1, 0.1)), ((6, 1.0),), ((8, 0.6), (1, 0.4))],
        ids=["nearly one source", "one source", "a choir"],
    )
    def test_a_mix_of_its_own_kind_or_of_one_source_is_no_bleed(self, of):
        session = Session()
        session.channels[8].update(kind="backing", use="must")
        show = replace(session.show(), evidence=Evidence((), None, {}, mixes={7: Mix(0.5, 1.0, of)}))
        assert list(noise_only.check(show)) == []

    @pytest.mark.parametrize(("spread", "upper"), [(2.1, 1.0), (1.0, 5.1)])
    def test_what_lies_above_the_mix_now_and_then_is_a_source(self, spread, upper):
        of = ((1, 0.5), (2, 0.5))
        show = replace(Session().show(), evidence=Evidence((), None, {}, mixes={7: Mix(spread, upper, of)}))
        assert list(noise_only.check(show)) == []
