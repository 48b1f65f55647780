"""Several faults in one take, on the same tracks and on others: each is told, each once, and nothing besides.

The takes are half a minute of one band, made once; each fault is as large as nobody would miss.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest

from tests.detection.__main__ import findings
from tests.detection.material import TUNING, loud_places, some
from tests.material.band import chance
from tests.material.recording import Recording

RATE = 48000
KINDS = ("guitar", "acoustic", "bass", "strings", "brass", "vocal", "backing", "speech", "kick")
Fault = Callable[[Recording, int, np.random.Generator], None]


def _around(samples: np.ndarray, at: int) -> float:
    return float(np.abs(samples[at - RATE // 40 : at + RATE // 40]).max())


def flat_topped(recording: Recording, number: int, rng: np.random.Generator) -> None:
    samples = recording.track(number)
    level = np.float32(0.5 * np.abs(samples).max())
    samples[:] = np.clip(samples, -0.9 * level, level) * np.float32(0.4)
    samples += rng.standard_normal(len(samples), dtype=np.float32) * np.float32(1e-5)


def clicks(recording: Recording, number: int, rng: np.random.Generator) -> None:
    samples = recording.track(number)
    for at in loud_places(samples, RATE, rng, 4, apart_s=0.5):
        samples[at : at + 2] += np.float32(2 * _around(samples, at))


def gaps(recording: Recording, number: int, rng: np.random.Generator) -> None:
    samples = recording.track(number)
    for at in loud_places(samples, RATE, rng, 3, apart_s=0.5):
        samples[at : at + 1440] = 0


def repeats(recording: Recording, number: int, rng: np.random.Generator) -> None:
    samples = recording.track(number)
    for at in loud_places(samples, RATE, rng, 3, apart_s=0.5):
        samples[at : at + 512] = samples[at - 512 : at]


def hum(recording: Recording, number: int, rng: np.random.Generator) -> None:
    samples = recording.track(number)
    time = np.arange(len(samples)) / RATE
    waves = sum(0.5**k * np.sin(2 * np.pi * 50 * (k + 1) * time + k) for k in range(5))
    samples += (0.03 * np.abs(samples).max() * waves).astype(np.float32)


def offset(recording: Recording, number: int, rng: np.random.Generator) -> None:
    recording.track(number)[:] += np.float32(0.02)


# In the order in which they happen on the way of the signal: at the source, at the preamp, at the recorder.
FAULTS: tuple[tuple[str, Fault], ...] = (
    ("flat-topped", flat_topped), ("hum", hum), ("dc-offset", offset), ("click", clicks), ("dropout", gaps),
)  # fmt: skip


def slip(recording: Recording, rng: np.random.Generator) -> None:
    """Three times all tracks lose a sample at once."""
    for at in rng.permutation(np.arange(3, 20))[:3] * RATE + int(rng.integers(RATE)):
        recording.tracks[:, at:-1] = recording.tracks[:, at + 1 :].copy()


def take(seed: int, count: int) -> Recording:
    """A take of a band, the first `count` of its tracks of instruments that sound long and low enough to show all."""
    whole = some(TUNING, seed, count=32)
    fitting = [one.number for one in whole.inputs if one.kind in KINDS]
    others = [one.number for one in whole.inputs if one.kind not in KINDS]
    return whole.part([*fitting[:count], *others[:2]])


def told(recording: Recording) -> Counter[tuple[str, int]]:
    """How often each code is told of each channel, other than as a note."""
    return Counter((code, number) for code, _, channels, _ in findings(recording) for number in channels)


@pytest.mark.parametrize("seed", [2, 5, 8])
def test_each_two_faults_on_one_track_are_both_told_once(seed):
    recording = take(seed, 10)
    before = told(recording)
    rng = chance(seed, "pairs")
    wanted = Counter()
    for number, pair in zip(rng.permutation(10) + 1, combinations(FAULTS, 2), strict=True):
        for code, plant in pair:
            plant(recording, int(number), rng)
            wanted[code, int(number)] += 1
    assert told(recording) - before == wanted


@pytest.mark.parametrize("seed", [2, 5, 8])
def test_a_slip_of_the_clock_and_a_fault_on_each_of_five_tracks_are_all_told_once(seed):
    recording = take(seed, 10)
    before = told(recording)
    rng = chance(seed, "slip")
    wanted = Counter()
    for number, (code, plant) in zip(rng.permutation(10) + 1, FAULTS, strict=False):
        plant(recording, int(number), rng)
        wanted[code, int(number)] += 1
    slip(recording, rng)
    found = told(recording) - before
    slipped = Counter({one: times for one, times in found.items() if one[0] == "clock-slip"})
    assert found - slipped == wanted
    assert len(slipped) >= 3
    assert set(slipped.values()) == {1}
