"""Evidence of a take as a whole: it follows the tracks wherever they lie, and comes back from the store as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from replay.evidence import naming
from replay.evidence.click_track import ClickTrack
from replay.evidence.gather import gather, hop_levels
from replay.evidence.kept import known
from replay.evidence.model import Evidence
from replay.measuring.store import Store
from replay.meters.model import Measurement
from replay.take.model import Track
from replay.take.moments import Moment
from tests import parts

RATE = 8000
SECONDS = 90
SOURCES = 9


def audio() -> np.ndarray:
    """Nine sources that check their line in turn and then play; the last two are one source on two tracks."""
    rng = np.random.default_rng(5)
    out = 1e-4 * rng.standard_normal((SOURCES, SECONDS * RATE))
    time = np.arange(SECONDS * RATE) / RATE
    for row in range(SOURCES):
        gate = np.zeros(SECONDS * RATE)
        turn = min(row, SOURCES - 2)
        gate[int((1 + 3.5 * turn) * RATE) : int((3.5 + 3.5 * turn) * RATE)] = 1
        chance = np.random.default_rng(100 + turn)
        for start in np.arange(40, SECONDS - 2, 0.5):
            if chance.random() < 0.6:
                gate[int(start * RATE) : int((start + 0.4) * RATE)] = chance.uniform(0.5, 1)
        wave = np.sin(2 * np.pi * 110 * (turn + 2) * time) + 0.3 * np.random.default_rng(turn).standard_normal(
            len(time)
        )
        out[row] += 0.2 * gate * wave
    out[-1] = -0.5 * out[-2]
    return (out + 0.002 * out.sum(axis=0)).astype(np.float32)


def heard(samples: np.ndarray, numbers: Sequence[int]) -> Evidence:
    tracks = [track(number) for number in numbers]
    frames = RATE // 10

    def read(_: object, rate: int, moments: Sequence[Moment]):
        for moment in sorted(moments):
            start = moment.first * frames
            yield moment, samples[list(moment.rows), start : start + moment.hops * frames]

    return gather(tracks, {n: measured(samples[row], n) for row, n in enumerate(numbers)}, RATE, read=read)


def track(number: int) -> Track:
    return parts.track(number, parts.file(f"/t/{number}.wav", SECONDS * RATE, rate=RATE))


def measured(samples: np.ndarray, number: int) -> Measurement:
    hops = samples.reshape(-1, RATE // 10)
    energy = np.square(hops.astype(np.float64)).sum(axis=1)
    sums = hops.astype(np.float64).sum(axis=1)
    columns = {"energy": energy, "sum": sums, "high": hops.max(axis=1), "low": hops.min(axis=1)}
    return parts.measurement(number, len(energy), columns, rate=RATE, coverage=((0, len(samples)),))


@pytest.fixture(scope="module")
def samples() -> np.ndarray:
    return audio()


def test_it_finds_the_line_check_the_sounds_and_the_copy(samples: np.ndarray) -> None:
    evidence = heard(samples, range(1, SOURCES + 1))
    assert evidence.line_check is not None
    assert [turn.tracks[0] for turn in evidence.line_check.turns][:7] == [1, 2, 3, 4, 5, 6, 7]
    assert set(evidence.line_check.turns[-1].tracks) == {8, 9}
    assert set(evidence.sounds) == set(range(1, SOURCES + 1))
    copy = evidence.likeness[8, 9]
    assert copy.inverted
    assert copy.residual_db is not None
    assert evidence.silent == frozenset()


def test_what_never_rests_is_listened_to_and_compared(samples: np.ndarray) -> None:
    """A bass that plays all through, on two tracks: levels that move by 10 dB and no pause."""
    chance = np.random.default_rng(77)
    notes = np.repeat(10 ** (-chance.uniform(0, 10, SECONDS * 4) / 20), RATE // 4)
    one = 0.1 * notes * np.random.default_rng(78).standard_normal(SECONDS * RATE)
    noise = 0.01 * np.random.default_rng(79).standard_normal((2, SECONDS * RATE))
    evidence = heard(np.vstack([samples, one, -0.5 * one, noise]).astype(np.float32), range(1, SOURCES + 5))
    copy = evidence.likeness[10, 11]
    assert copy.inverted
    assert copy.residual_db is not None
    assert copy.residual_db < -100
    # Noise that never moves is compared with nothing.
    assert not {12, 13} & {number for pair in evidence.likeness for number in pair}
    # It sounds like something, and what the others say is not touched.
    plain = heard(samples, range(1, SOURCES + 1))
    assert set(evidence.sounds) == {*plain.sounds, 10, 11}
    assert plain.sounds.items() <= evidence.sounds.items()
    assert evidence.line_check == plain.line_check
    assert evidence.together == plain.together


def test_evidence_follows_the_tracks_wherever_they_lie(samples: np.ndarray) -> None:
    straight = heard(samples, range(1, SOURCES + 1))
    order = [int(one) for one in np.random.default_rng(3).permutation(SOURCES - 1)] + [SOURCES - 1]
    moved = heard(samples[order], range(1, SOURCES + 1))
    new_of = {old + 1: new + 1 for new, old in enumerate(order)}
    assert moved.sounds == {new_of[old]: sound for old, sound in straight.sounds.items()}
    for (a, b), value in straight.together.items():
        assert moved.alike(new_of[a], new_of[b]) == pytest.approx(value, abs=1e-12)
    assert straight.line_check is not None
    assert moved.line_check is not None
    assert [new_of[turn.tracks[0]] for turn in straight.line_check.turns[:-1]] == [
        turn.tracks[0] for turn in moved.line_check.turns[:-1]
    ]


def test_what_is_kept_comes_back_as_it_was(
    samples: np.ndarray, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    evidence = heard(samples, range(1, SOURCES + 1))
    assert evidence.mixes
    clicks = {2: ClickTrack((1000.0, 1500.0), 119.5)}
    evidence = replace(evidence, clicks=clicks, sounds={**evidence.sounds, 2: replace(evidence.sounds[2], click=True)})
    monkeypatch.setattr("replay.evidence.kept.gather", lambda *_: evidence)
    tracks = [track(number) for number in range(1, SOURCES + 1)]
    keys = dict.fromkeys(range(1, SOURCES + 1), "0" * 40)
    store = Store(tmp_path)
    assert known(tracks, {}, RATE, store, keys) == evidence
    monkeypatch.setattr("replay.evidence.kept.gather", lambda *_: pytest.fail("measured again"))
    assert known(tracks, {}, RATE, store, keys) == evidence


def test_what_is_damaged_is_gathered_again(
    samples: np.ndarray, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    evidence = heard(samples, range(1, SOURCES + 1))
    monkeypatch.setattr("replay.evidence.kept.gather", lambda *_: evidence)
    tracks, store = [track(1)], Store(tmp_path)
    known(tracks, {}, RATE, store, {1: "0" * 40})
    (entry,) = tmp_path.iterdir()
    store.keep_extra(entry.name.removesuffix(".extra"), np.zeros(9))
    assert known(tracks, {}, RATE, store, {1: "0" * 40}) == evidence


def test_an_offset_is_no_sound_and_changes_nothing(samples: np.ndarray) -> None:
    numbers = list(range(1, SOURCES + 1))
    swinging = samples.copy()
    swinging[3] += np.float32(0.1)
    one, other = heard(samples, numbers), heard(swinging, numbers)
    assert other.silent == one.silent == frozenset()
    assert one.line_check is not None
    assert other.line_check is not None
    assert [turn.tracks for turn in other.line_check.turns] == [turn.tracks for turn in one.line_check.turns]
    assert other.sounds[4].moments == one.sounds[4].moments
    assert other.sounds[4].bands == pytest.approx(one.sounds[4].bands, abs=0.01)
    assert other.bleed[4].floor_db == pytest.approx(one.bleed[4].floor_db, abs=0.1)


def test_digital_silence_beside_an_offset_stays_silence(samples: np.ndarray) -> None:
    swinging = samples[:1, : 40 * RATE] + np.float32(0.1)
    swinging[:, 10 * RATE : 20 * RATE] = 0
    levels = hop_levels([measured(swinging[0], 1)])[0]
    assert np.isneginf(levels[100:200]).all()
    assert np.isfinite(levels[:100]).all()
    # What is left of the offset where nothing else sounds: the noise.
    assert levels[-5:] == pytest.approx(hop_levels([measured(samples[0, : 40 * RATE], 1)])[0, -5:], abs=1.0)


def test_no_tracks_and_no_time() -> None:
    assert heard(np.zeros((0, 0), np.float32), []).tracks == ()
    silent = heard(np.zeros((2, SECONDS * RATE), np.float32), [1, 2])
    assert silent.silent == {1, 2}
    assert silent.line_check is None


def test_evidence_of_other_sources_is_not_found_again(monkeypatch):
    """What was gathered by another version of the program is gathered anew."""
    keys = {1: "a", 2: "b"}
    tracks = [track(1), track(2)]
    name = naming.name_of("evidence", tracks, keys, None)
    assert name == naming.name_of("evidence", tracks, keys, None)
    assert name != naming.name_of("signs", tracks, keys, None)
    assert naming.name_of("evidence", tracks, {1: "a"}, None) is None
    monkeypatch.setattr(naming, "sources", lambda: "other")
    assert naming.name_of("evidence", tracks, keys, None) not in (None, name)
