"""Bus sums against numpy's, pairs as one programme, and gains tried out against audio really recorded at them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from replay.desk.bus import sum_peaks
from replay.desk.model import Levels, Show
from replay.meters.again import reader
from replay.patch.model import Bus, Send
from replay.take.model import Track
from tests.desk.desks import made_patch, simulated
from tests.meters import reference_peak as reference
from tests.tracks import measure_samples, measured, mono, track, write

RATE = 48000
HOP = 4800


def noise(count: int, frames: int = 5 * HOP + 321, seed: int = 1) -> np.ndarray:
    """(count, frames): noise with nothing above 0.4 of the rate, faded at both ends."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal((count, frames)), axis=1)
    spectrum[:, np.arange(spectrum.shape[1]) > 0.4 * frames] = 0
    out = np.fft.irfft(spectrum, frames, axis=1)
    return out / np.abs(out).max() * 0.5 * np.minimum(1, np.minimum(np.arange(frames), np.arange(frames)[::-1]) / 500)


def tracks_of(folder: Path, signals: np.ndarray) -> list[Track]:
    return [mono(folder, n, signal, RATE) for n, signal in enumerate(signals, start=1)]


def db(value: float) -> float:
    return 20 * np.log10(value)


@pytest.mark.parametrize("count", [1, 2, 8, 9, 20])
def test_sums_against_numpy(tmp_path: Path, count: int) -> None:
    signals = noise(count)
    weights = np.random.default_rng(2).uniform(-1, 1, (count, 3))
    peaks = sum_peaks(tracks_of(tmp_path, signals), weights, RATE, 0, 6)
    assert peaks.shape == (6, 3)
    for bus in range(3):
        wanted = reference.true_peak(weights[:, bus] @ signals)
        assert db(peaks[:, bus].max()) == pytest.approx(db(wanted), abs=0.05)


def test_sample_by_sample_in_order_of_the_tracks(tmp_path: Path) -> None:
    """One lone sample in every track at the same place: the sum is that of floating point in the tracks' order."""
    values = np.random.default_rng(3).uniform(0.1, 1, 11)
    weights = np.random.default_rng(4).uniform(0.1, 1, 11)
    signals = np.zeros((11, 3 * HOP))
    signals[:, 7000] = values
    total = 0.0
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        total += value * weight
    peaks = sum_peaks(tracks_of(tmp_path, signals), weights[:, None], RATE, 0, 3)
    assert peaks[:, 0].max() == total


def test_inverted_polarity_cancels_to_nothing(tmp_path: Path) -> None:
    (signal,) = noise(1)
    peaks = sum_peaks(tracks_of(tmp_path, np.array([signal, signal])), np.array([[0.7], [-0.7]]), RATE, 0, 6)
    assert (peaks == 0).all()


def test_the_order_of_tracks_changes_a_sum_by_rounding_alone(tmp_path: Path) -> None:
    signals = noise(12)
    tracks, weights = tracks_of(tmp_path, signals), np.random.default_rng(5).uniform(-1, 1, (12, 2))
    order = np.random.default_rng(6).permutation(12)
    first = sum_peaks(tracks, weights, RATE, 0, 6)
    second = sum_peaks([tracks[i] for i in order], weights[order], RATE, 0, 6)
    assert first.max(axis=0) == pytest.approx(second.max(axis=0), rel=1e-13)


def test_forms_of_files_change_nothing(tmp_path: Path) -> None:
    signals = noise(10)
    weights = np.random.default_rng(5).uniform(-1, 1, (10, 8))
    poly = write(tmp_path / "poly.wav", signals.T.copy(), RATE, "f64")
    together = [track(n + 1, (poly, n, 0)) for n in range(10)]
    first = sum_peaks(tracks_of(tmp_path, signals), weights, RATE, 0, 6)
    assert first.tobytes() == sum_peaks(together, weights, RATE, 0, 6).tobytes()


def test_buses_do_not_see_each_other(tmp_path: Path) -> None:
    signals = noise(3)
    tracks, weights = tracks_of(tmp_path, signals), np.random.default_rng(5).uniform(-1, 1, (3, 8))
    together = sum_peaks(tracks, weights, RATE, 0, 6)
    for bus in range(8):
        assert sum_peaks(tracks, weights[:, bus : bus + 1], RATE, 0, 6)[:, 0].tolist() == together[:, bus].tolist()


def test_a_part_of_the_take(tmp_path: Path) -> None:
    """What lies before the part does not count; the part's highest peak is exact."""
    signals = noise(3, 10 * HOP)
    signals[:, : 4 * HOP] *= 2
    signals[:, 4 * HOP - 200 : 4 * HOP + 200] = 0
    peaks = sum_peaks(tracks_of(tmp_path, signals), np.ones((3, 1)), RATE, 4, 8)
    assert peaks.shape == (4, 1)
    inside = signals.sum(axis=0)
    inside[: 4 * HOP], inside[8 * HOP :] = 0, 0
    whole = sum_peaks(tracks_of(tmp_path, signals), np.ones((3, 1)), RATE, 0, 10)
    assert whole.max() > 1.5 * peaks.max()
    assert db(peaks.max()) == pytest.approx(db(reference.true_peak(inside)), abs=0.05)


def test_a_sum_that_peaks_behind_its_last_sample(tmp_path: Path) -> None:
    signal = np.zeros(2 * HOP)
    signal[-12:] = 0.25 * np.sin(np.pi / 2 * np.arange(12) + np.pi / 4)
    peaks = sum_peaks(tracks_of(tmp_path, np.array([signal, signal])), np.ones((2, 1)), RATE, 0, 2)
    assert db(peaks.max()) == pytest.approx(db(reference.true_peak(2 * signal)), abs=0.05)


def show_of(folder: Path, signals: Sequence[np.ndarray], channels: Mapping[int, Mapping[str, Any]], **how: Any) -> Show:
    """Signals as tracks 1 and on, measured and put through a patch with these channels."""
    patch_how = {name: how.pop(name) for name in ("buses", "point", "box", "of") if name in how}
    tracks = {n: mono(folder, n, signal, RATE) for n, signal in enumerate(signals, start=1)}
    found = dict(zip(tracks, measured(list(tracks.values()), RATE, folder), strict=True))
    return simulated(
        made_patch(channels, **patch_how),
        found,
        tracks=tracks,
        sum_peaks=lambda some, weights, first, last: sum_peaks(some, weights, RATE, first, last),
        read_again=lambda hops: pytest.fail(f"hops {hops} are read again"),
        **how,
    )


MAIN = (Bus(name="main", ceiling=-3.0), Bus(name="wedge"), Bus(name="unused"))


def sends(**levels: float) -> tuple[Send, ...]:
    return tuple(Send(bus=bus, level=level) for bus, level in levels.items())


class TestThroughThePatch:
    def test_trims_levels_and_polarity_are_in_the_sum(self, tmp_path: Path) -> None:
        signals = noise(3)
        show = show_of(
            tmp_path,
            signals,
            {
                1: {"trim": 3.0, "sends": sends(main=-10.0)},
                2: {"trim": -2.0, "inverted": True, "sends": sends(main=-4.0, wedge=-20.0)},
                3: {"sends": sends(wedge=0.0)},
                4: {"sends": sends(main=0.0)},
            },
            buses=MAIN,
        )
        main, wedge = show.buses
        wanted = 10 ** (-7 / 20) * signals[0] - 10 ** (-6 / 20) * signals[1]
        assert main.true_peak_dbtp == pytest.approx(db(reference.true_peak(wanted)), abs=0.05)
        assert main.headroom_db == -3.0 - main.true_peak_dbtp
        assert (main.channels, main.loudest[0]) == ((1, 2), 2)
        wanted = -(10 ** (-22 / 20)) * signals[1] + signals[2]
        assert wedge.true_peak_dbtp == pytest.approx(db(reference.true_peak(wanted)), abs=0.05)
        assert (wedge.channels, wedge.loudest) == ((2, 3), (3, 2))

    def test_a_feed_taken_after_the_trim_has_it_already(self, tmp_path: Path) -> None:
        signals = noise(2)
        channels = {1: {"trim": 6.0, "sends": sends(main=-10.0)}, 2: {"trim": -9.0, "sends": sends(main=-10.0)}}
        show = show_of(tmp_path, signals, channels, buses=MAIN[:1], point="after-trim")
        wanted = 10 ** (-10 / 20) * (signals[0] + signals[1])
        assert show.buses[0].true_peak_dbtp == pytest.approx(db(reference.true_peak(wanted)), abs=0.05)
        for view in show.channels:
            assert view.input == view.recorded

    def test_one_track_on_two_channels_counts_twice(self, tmp_path: Path) -> None:
        (signal,) = noise(1)
        socket = made_patch({1: {}}).channels[0].socket
        channels = {1: {"sends": sends(main=-6.0)}, 2: {"socket": socket, "sends": sends(main=-6.0)}}
        show = show_of(tmp_path, [signal], channels, buses=MAIN[:1])
        assert show.buses[0].true_peak_dbtp == pytest.approx(
            db(reference.true_peak(2 * 10 ** (-6 / 20) * signal)), abs=0.05
        )

    def test_a_bus_of_silence_has_no_level(self, tmp_path: Path) -> None:
        show = show_of(tmp_path, [np.zeros(2 * HOP)], {1: {"sends": sends(main=0.0)}}, buses=MAIN[:1])
        bus = show.buses[0]
        assert (bus.true_peak_dbtp, bus.true_peak_s, bus.headroom_db, bus.channels) == (None, None, None, ())

    def test_no_bus_no_second_pass(self, tmp_path: Path) -> None:
        show = show_of(tmp_path, noise(1), {1: {}}, buses=MAIN)
        assert show.buses == ()

    def test_more_than_eight_buses(self, tmp_path: Path) -> None:
        signals = noise(2)
        buses = tuple(Bus(name=f"wedge{n}") for n in range(11))
        levels = {bus.name: -float(n) for n, bus in enumerate(buses)}
        show = show_of(
            tmp_path, signals, {1: {"sends": sends(**levels)}, 2: {"sends": sends(wedge10=0.0)}}, buses=buses
        )
        one = db(reference.true_peak(signals[0]))
        assert [bus.true_peak_dbtp for bus in show.buses[:10]] == pytest.approx([one - n for n in range(10)], abs=0.05)
        both = db(reference.true_peak(10 ** (-10 / 20) * signals[0] + signals[1]))
        assert show.buses[10].true_peak_dbtp == pytest.approx(both, abs=0.05)


class TestGainsTriedOut:
    """The take as if it had been recorded at other gains."""

    @pytest.mark.parametrize("shift", [-12.0, 3.5])
    def test_levels_pairs_and_buses_are_those_of_the_louder_audio(self, tmp_path: Path, shift: float) -> None:
        signals = noise(3, 45 * HOP)
        channels = {
            1: {"pair": 2, "pairing": "stereo", "sends": sends(main=-3.0)},
            2: {"pair": 1, "pairing": "stereo", "trim": 4.0, "sends": sends(main=-6.0)},
            3: {"sends": sends(main=-1.0)},
        }
        (tmp_path / "a").mkdir()
        (tmp_path / "b").mkdir()
        tried = show_of(tmp_path / "a", signals, channels, buses=MAIN[:1], shifts={1: shift, 3: shift})
        louder = signals * np.array([[10 ** (shift / 20)], [1.0], [10 ** (shift / 20)]])
        true = show_of(tmp_path / "b", louder, channels, buses=MAIN[:1])
        for one, other in zip(tried.channels, true.channels, strict=True):
            near(one.recorded, other.recorded)
            near(one.input, other.input)
            assert one.expected_peak_dbtp == pytest.approx(other.expected_peak_dbtp, abs=1e-6)
        near(tried.pairs[0], true.pairs[0])
        assert tried.buses[0].true_peak_dbtp == pytest.approx(true.buses[0].true_peak_dbtp, abs=1e-6)
        assert tried.buses[0].loudest == true.buses[0].loudest


def near(one: Any, other: Any) -> None:
    """Equal to a millionth of a decibel, and missing where the other is missing."""
    left, right = asdict(one), asdict(other)
    figures = [name for name, value in right.items() if isinstance(value, float)]
    assert [left[name] for name in figures] == pytest.approx([right[name] for name in figures], abs=1e-6, rel=0)
    assert {name for name, value in left.items() if value is None} == {n for n, v in right.items() if v is None}


class TestChannels:
    def test_the_input_is_the_recording_after_the_trim(self, tmp_path: Path) -> None:
        (signal,) = noise(1, 60 * HOP)
        (tmp_path / "a").mkdir()
        (tmp_path / "b").mkdir()
        trimmed = show_of(tmp_path / "a", [signal], {1: {"trim": 7.3, "inverted": True}})
        louder = show_of(tmp_path / "b", [signal * -(10 ** (7.3 / 20))], {1: {}})
        near(trimmed.channels[0].input, louder.channels[0].recorded)
        assert trimmed.channels[0].headroom_db == -trimmed.channels[0].input.true_peak_dbtp

    def test_the_judged_part(self, tmp_path: Path) -> None:
        """Loud up to 4 s, then a rest, then softer: judged from 4.1 s on, only the soft part's levels remain."""
        (signal,) = noise(1, 100 * HOP)
        signal[42 * HOP :] *= 0.1
        signal[40 * HOP : 42 * HOP] = 0.0
        tracks = {1: mono(tmp_path, 1, signal, RATE)}
        (one,) = measured(list(tracks.values()), RATE, tmp_path)
        again = reader(tracks[1], RATE)
        patch = made_patch({1: {}})
        whole = simulated(patch, {1: one}, tracks=tracks, read_again=again)
        part = simulated(patch, {1: one}, tracks=tracks, judged=(4.1, 10.0), read_again=again)
        alone, _ = measure_samples(tmp_path, signal[41 * HOP :])
        fresh = simulated(patch, {1: alone[0]})
        assert (part.judged_from_s, part.judged_to_s) == (4.1, 10.0)
        assert part.tracks[0].whole == whole.tracks[0].recorded
        found, wanted = part.tracks[0].recorded, fresh.tracks[0].recorded
        assert found.true_peak_dbtp == wanted.true_peak_dbtp
        assert found.played_peak_dbtp == wanted.played_peak_dbtp
        assert found.sample_peak_dbfs == wanted.sample_peak_dbfs
        assert found.integrated_lufs == wanted.integrated_lufs
        assert found.true_peak_s == pytest.approx(wanted.true_peak_s + 4.1)
        assert found.true_peak_dbtp < whole.tracks[0].recorded.true_peak_dbtp - 15

    def test_a_track_that_ends_before_the_judged_part(self, tmp_path: Path) -> None:
        signals = [noise(1, 10 * HOP)[0], noise(1, 40 * HOP, seed=2)[0]]
        tracks = {n: mono(tmp_path, n, signal, RATE) for n, signal in enumerate(signals, start=1)}
        found = dict(zip(tracks, measured(list(tracks.values()), RATE, tmp_path), strict=True))
        show = simulated(
            made_patch({1: {"pair": 2, "pairing": "stereo"}, 2: {"pair": 1, "pairing": "stereo"}}),
            found,
            tracks=tracks,
            judged=(2.0, 4.0),
            read_again=reader(tracks[2], RATE),
        )
        assert show.tracks[0].recorded == Levels()
        assert show.tracks[0].whole.sample_peak_dbfs is not None
        assert show.tracks[1].recorded.sample_peak_dbfs is not None
        assert show.pairs[0].integrated_lufs is None


class TestPairs:
    def test_twice_a_mono_is_3_01_louder(self, tmp_path: Path) -> None:
        signal = noise(1, 60 * HOP)[0]
        channels = {1: {"pair": 2, "pairing": "stereo"}, 2: {"pair": 1, "pairing": "stereo"}}
        show = show_of(tmp_path, [signal, signal], channels)
        (pair,) = show.pairs
        alone = show.channels[0].recorded
        for name in ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs"):
            assert getattr(pair, name) - getattr(alone, name) == pytest.approx(3.0103, abs=1e-4)
        assert pair.true_peak_dbtp == alone.true_peak_dbtp

    def test_the_louder_side_gives_the_peak(self, tmp_path: Path) -> None:
        signals = noise(2, 40 * HOP) * np.array([[0.5], [1.0]])
        channels = {1: {"pair": 2, "pairing": "stereo"}, 2: {"pair": 1, "pairing": "stereo"}}
        show = show_of(tmp_path, signals, channels)
        assert show.pairs[0].true_peak_dbtp == max(view.recorded.true_peak_dbtp for view in show.channels)

    @pytest.mark.parametrize("pairing", ["spaced", "one-source"])
    def test_other_pairs_are_no_programme(self, tmp_path: Path, pairing: str) -> None:
        channels = {1: {"pair": 2, "pairing": pairing}, 2: {"pair": 1, "pairing": pairing}}
        (pair,) = show_of(tmp_path, noise(2), channels).pairs
        assert (pair.left, pair.right, pair.pairing, pair.integrated_lufs) == (1, 2, pairing, None)
