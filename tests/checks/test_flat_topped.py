"""Flat tops below full scale: where they must be told, and where they must keep quiet."""

from __future__ import annotations

import numpy as np
import pytest

from replay.checks import click, flat_topped
from tests.checks.factory import Session
from tests.checks.test_breaks import clicked


class TestFlatTopped:
    def flat(self, hops: slice, level: float = 0.2, lower: float = 0.0) -> Session:
        """Channel 5's tops cut off at `level` in some hops; a share `lower` of the other hops is flat too."""
        session = Session()
        plan = session.tracks[5]
        size = plan.levels.size
        rng = np.random.default_rng(4)
        high = rng.uniform(0.2, 0.85, size) * level
        high[hops] = level
        flat = np.zeros(size, np.uint32)
        flat[hops] = 20
        others = np.setdiff1d(np.arange(size), np.arange(size)[hops])
        flat[rng.permutation(others)[: round(lower * len(others))]] = 20
        plan.columns |= {"high": high, "low": -high * 0.9, "flat_high": flat, "energy": (high / 3) ** 2 * 4800}
        return session

    def test_recurring_cut_off_tops_are_a_warning(self):
        (found,) = flat_topped.check(self.flat(slice(100, 110)).show())
        assert (found.severity, found.confidence, found.channels) == ("warning", "likely", (5,))
        assert found.message == (
            "Cut off flat below full scale: positive tops stop at -14.0 dBFS in 10 moments of 100 ms; "
            "the first at 0:10."
        )
        assert found.amount == pytest.approx(-13.98, abs=0.01)

    @pytest.mark.parametrize(
        "session",
        [
            ("few", slice(100, 103), 0.2, 0.0),
            ("full scale", slice(100, 110), 1.0, 0.0),
            ("any", slice(100, 110), 0.2, 0.5),
        ],
        ids=lambda one: one[0],
    )
    def test_quiet(self, session):
        _, hops, level, lower = session
        assert list(flat_topped.check(self.flat(hops, level, lower).show())) == []

    def test_a_square_wave_that_decays_is_built_like_that(self):
        session = self.flat(slice(100, 110))
        columns = session.tracks[5].columns
        # The power of a square wave that falls by a third within 100 ms is 1.6 dB below its peak's.
        columns["energy"][100:110] = columns["high"][100:110] ** 2 * 10**-0.16 * 4800
        assert list(flat_topped.check(session.show())) == []

    def pinned(self, *, times: int, spread: float = 0.0, ties: int = 0) -> Session:
        """Channel 7's tops stop at -14 dBFS in moments 2 s apart, `spread` of it below at most, a sample each; of the
        lower moments `ties` are alike."""
        session = Session()
        plan = session.tracks[7]
        rng = np.random.default_rng(5)
        high = rng.uniform(0.02, 0.19, plan.levels.size)
        high[5 : 5 + ties] = 0.1
        high[20 : 20 + 20 * times : 20] = 0.2 * (1 - spread * rng.random(times))
        nothing = np.zeros(plan.levels.size, np.uint32)
        low = -rng.uniform(0.02, 0.15, plan.levels.size)
        plan.columns |= {"high": high, "low": low, "flat_high": nothing, "energy": (high / 3) ** 2 * 4800}
        return session

    def test_tops_of_one_sample_that_stop_at_one_level_on_a_microphone(self):
        (found,) = flat_topped.check(self.pinned(times=6, spread=2e-4).show())
        assert (found.channels, found.severity) == ((7,), "warning")
        assert found.message == (
            "Cut off flat below full scale: positive tops stop at -14.0 dBFS in 6 moments of 100 ms; the first at 0:02."
        )

    def test_few_or_uneven_tops_or_a_sample_played_over_and_over_are_not_pinned(self):
        assert list(flat_topped.check(self.pinned(times=5).show())) == []
        assert list(flat_topped.check(self.pinned(times=12, spread=0.02).show())) == []
        assert list(flat_topped.check(self.pinned(times=12, ties=200).show())) == []

    @pytest.mark.parametrize("way", ["di", "line", "digital"])
    def test_only_a_microphones_tops_never_tie_by_themselves(self, way):
        session = self.pinned(times=12)
        session.channels[7]["input"] = way
        assert list(flat_topped.check(session.show())) == []

    def test_a_click_beyond_the_tops_hides_neither(self):
        session = self.flat(slice(100, 110))
        session.tracks[5].columns["high"][[300, 400]] = 0.5
        session.tracks[5].columns["k_energy_10ms"] = np.full(session.tracks[5].levels.size * 10, 1e-3)
        session.tracks[5].events = clicked(30.05, 40.05)
        session.tracks[5].levels[:] = -20.0
        assert [one.channels for one in flat_topped.check(session.show())] == [(5,)]
        (found,) = click.check(session.show())
        assert (found.severity, found.amount) == ("warning", 2.0)
        # Where the highest sample is that of the tops, a break of a quarter of their level is their corner.
        session.tracks[5].columns["high"][[300, 400]] = 0.2
        assert list(click.check(session.show())) == []

    def test_two_moments_on_a_microphone_that_tie(self):
        session = self.flat(slice(100, 102))
        session.channels[5]["input"] = "mic"
        assert [one.channels for one in flat_topped.check(session.show())] == [(5,)]
        session.channels[5]["input"] = "di"
        assert list(flat_topped.check(session.show())) == []

    def always(self, spread_db: float) -> Session:
        """Channel 5 is cut off at one level in all moments, whatever its power."""
        session = self.flat(slice(None))
        plan = session.tracks[5]
        power = -10 + spread_db * np.random.default_rng(6).random(plan.levels.size)
        plan.columns["energy"] = 0.2**2 * 10 ** (power / 10) * 4800
        return session

    def test_a_source_that_is_cut_off_all_the_time_gets_louder_and_softer_below_its_tops(self):
        assert [one.channels for one in flat_topped.check(self.always(6.0).show())] == [(5,)]
        assert list(flat_topped.check(self.always(1.0).show())) == []

    def test_tops_beyond_that_level_are_not_cut_off(self):
        session = self.flat(slice(100, 110))
        session.tracks[5].columns["high"][300:320] = 0.25
        assert list(flat_topped.check(session.show())) == []
