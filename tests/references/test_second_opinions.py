"""One take of sampled instruments, measured by `check` and by four independent tools.

Asked for: integrated loudness within 0.05 LU, loudness range within 0.2 LU of meters with a hop of 100 ms or less,
sample peak within 0.01 dB, true peak within 0.2 dB of ffmpeg's. What was seen is an order of magnitude closer.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.material import faults
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record
from tests.need import need, need_package
from tests.references import opinions
from tests.standards import exact

INTEGRATED_LU = 0.05
RANGE_LU = 0.2
SAMPLE_PEAK_DB = 0.01
TRUE_PEAK_DB = 0.2

FULL_SCALE_SINE_DB = 10 * np.log10(2)
"""The program's RMS is that of AES17 (a full-scale sine reads 0 dBFS); the tools' is 3.01 dB lower."""

NAMES = ("Kick", "Snare Top", "Hi-hat", "OH L", "Bass DI", "Guitar 1", "Keys L", "Keys R", "Trumpet", "Vox Lead")
NAMES += ("Playback L", "Playback R")


@dataclass(frozen=True)
class Measured:
    """A recording, its files in track order, and the program's report on it."""

    recording: Recording
    files: list[Path]
    report: object

    def samples(self, row: int) -> np.ndarray:
        """What stands in the file, float64."""
        return np.rint(self.recording.tracks[row].astype(float) * 2**23) / 2**23

    def levels(self, row: int):
        return self.report.show.channels[row].recorded  # type: ignore[attr-defined]


def measure(folder: Path, recording: Recording) -> Measured:
    from replay.simulate import check

    show = write_show(folder / "show", recording)
    return Measured(recording, sorted((show / "audio").iterdir()), check(show))


@pytest.fixture(scope="module")
def take(shelf) -> Measured:
    def build(folder: Path) -> Measured:
        # One song without a pause: where pauses stand near the 10th percentile, a loudness range hinges on where the
        # windows are cut (0.5 LU between a hop of 100 and of 10 ms, with any meter).
        recording = record(20, seed=21, seconds=60, slot_s=60)
        numbers = [recording.named(name).number for name in NAMES]
        chosen = recording.part(numbers)
        # An offset that a meter can see, as a bad converter adds it.
        chosen.track(5)[:] += np.float32(0.003)
        return measure(folder, chosen)

    return shelf.get("second opinions", build)


rows = pytest.mark.parametrize("row", range(len(NAMES)), ids=NAMES)


@rows
def test_ffmpeg_agrees(take, row):
    need("ffmpeg")  # 5.1.9: I 0.01, LRA 0.14, true peak 0.03 on drums, peak and RMS 1e-6
    theirs, ours = opinions.ffmpeg(take.files[row]), take.levels(row)
    assert ours.integrated_lufs == pytest.approx(theirs.integrated, abs=INTEGRATED_LU)
    assert ours.loudness_range_lu == pytest.approx(theirs.loudness_range, abs=RANGE_LU)
    assert ours.true_peak_dbtp == pytest.approx(theirs.true_peak, abs=TRUE_PEAK_DB)
    assert ours.sample_peak_dbfs == pytest.approx(theirs.sample_peak, abs=1e-5)
    assert ours.rms_dbfs == pytest.approx(theirs.rms + FULL_SCALE_SINE_DB, abs=1e-4)
    assert 10 ** (ours.dc_dbfs / 20) == pytest.approx(abs(theirs.dc), abs=1e-6)
    # Peak over the RMS of the samples: 3.01 dB for a sine.
    assert ours.crest_db == pytest.approx(theirs.crest, abs=1e-3)


@rows
def test_sox_agrees(take, row):
    need("sox")  # 14.4.2: two decimals of a dB, six of the offset
    theirs, ours = opinions.sox(take.files[row]), take.levels(row)
    assert ours.sample_peak_dbfs == pytest.approx(theirs.sample_peak, abs=SAMPLE_PEAK_DB)
    assert ours.rms_dbfs == pytest.approx(theirs.rms + FULL_SCALE_SINE_DB, abs=0.01)
    assert 10 ** (ours.dc_dbfs / 20) == pytest.approx(abs(theirs.dc), abs=1e-6)


@rows
def test_libebur128_agrees(take, row):
    need_package("pyebur128")  # 0.1.1 with libebur128 1.2.6: 0.001 LU; its true peak 0.03 on drums
    theirs, ours = opinions.libebur128(take.samples(row)[:, None], take.recording.rate), take.levels(row)
    assert ours.integrated_lufs == pytest.approx(theirs.integrated, abs=0.005)
    assert ours.momentary_max_lufs == pytest.approx(theirs.momentary_max, abs=0.005)
    assert ours.short_term_max_lufs == pytest.approx(theirs.short_term_max, abs=0.005)
    assert ours.true_peak_dbtp == pytest.approx(theirs.true_peak, abs=TRUE_PEAK_DB)


@rows
def test_pyloudnorm_agrees(take, row):
    need_package("pyloudnorm")  # 0.2.0: 0.001 LU with its DeMan filters; its range has a hop of 90 ms
    theirs, ours = opinions.pyloudnorm(take.samples(row), take.recording.rate), take.levels(row)
    assert ours.integrated_lufs == pytest.approx(theirs.integrated, abs=INTEGRATED_LU)
    assert ours.loudness_range_lu == pytest.approx(theirs.loudness_range, abs=RANGE_LU)


@rows
def test_a_literal_meter_agrees(take, row):
    # Written from BS.1770-5, Tech 3342 and a 32 times oversampling (see tests/standards/exact.py).
    samples, ours = take.samples(row), take.levels(row)
    assert ours.loudness_range_lu == pytest.approx(exact.loudness_range(samples[:, None]), abs=0.02)
    assert ours.integrated_lufs == pytest.approx(exact.integrated(samples[:, None]), abs=0.002)
    assert ours.true_peak_dbtp == pytest.approx(exact.true_peak_db(samples), abs=0.05)


def test_stereo_pairs_agree(take):
    need_package("pyebur128", "pyloudnorm")
    pairs = [pair for pair in take.report.show.pairs if pair.pairing == "stereo"]
    assert [(pair.left, pair.right) for pair in pairs] == [(7, 8), (11, 12)]
    for pair in pairs:
        both = np.stack([take.samples(pair.left - 1), take.samples(pair.right - 1)], axis=1)
        theirs = opinions.libebur128(both, take.recording.rate)
        assert pair.integrated_lufs == pytest.approx(theirs.integrated, abs=0.005)
        assert pair.momentary_max_lufs == pytest.approx(theirs.momentary_max, abs=0.005)
        assert pair.short_term_max_lufs == pytest.approx(theirs.short_term_max, abs=0.005)
        assert pair.true_peak_dbtp == pytest.approx(theirs.true_peak, abs=TRUE_PEAK_DB)
        other = opinions.pyloudnorm(both, take.recording.rate)
        assert pair.integrated_lufs == pytest.approx(other.integrated, abs=INTEGRATED_LU)
        assert pair.loudness_range_lu == pytest.approx(other.loudness_range, abs=RANGE_LU)


@rows
def test_noise_floor_is_the_fifth_percentile_of_what_is_not_zero(take, row):
    samples = take.samples(row)
    hops = np.mean(samples[: len(samples) // 4800 * 4800].reshape(-1, 4800) ** 2, axis=1)
    expected = 10 * np.log10(np.percentile(hops[hops > 0], 5)) + FULL_SCALE_SINE_DB
    # 600 hops: neighbours at the 5th percentile stand close; how a percentile is rounded must not matter.
    assert take.levels(row).noise_floor_dbfs == pytest.approx(expected, abs=0.3)


def longest_runs(samples: np.ndarray, level: float) -> list[int]:
    """Lengths of all runs of samples equal to `level`."""
    at = np.concatenate([[False], samples == level, [False]])
    edges = np.flatnonzero(np.diff(at.astype(np.int8)))
    return (edges[1::2] - edges[0::2]).tolist()


@pytest.mark.parametrize("bits", [16, 24])
def test_clip_runs_are_those_that_numpy_counts(shelf, bits):
    def build(folder: Path) -> Measured:
        recording = record(10, seed=22, seconds=20, extras=False)
        chosen = recording.part([recording.named(name).number for name in ("Snare Top", "Bass DI", "Vox Lead", "Kick")])
        for number, over in ((1, 3.0), (2, 1.0), (3, 6.0)):
            faults.plant_clip(chosen, number, over, bits=bits)
        return measure(folder, chosen)

    take = shelf.get(f"clipped at {bits} bits", build)
    for row, view in enumerate(take.report.show.tracks):
        samples = take.recording.tracks[row]
        runs = longest_runs(samples, np.float32(1 - 2.0 ** (1 - bits))) + longest_runs(samples, -1.0)
        long = [length for length in runs if length >= 3]
        assert view.clipping.count == len(long), take.recording.inputs[row].name
        assert view.clipping.longest_ms == pytest.approx(max(long, default=0) / 48.0)
        assert (len(long) > 0) == (row < 3)


@pytest.mark.parametrize("rate", [44100, 96000])
def test_other_rates_agree(shelf, rate):
    need_package("pyebur128", "pyloudnorm")
    need("ffmpeg")

    def build(folder: Path) -> Measured:
        recording = record(10, seed=23, seconds=30, rate=rate, extras=False)
        return measure(
            folder, recording.part([recording.named(name).number for name in ("Kick", "Hi-hat", "Vox Lead")])
        )

    take = shelf.get(f"at {rate}", build)
    for row in range(3):
        ours, samples = take.levels(row), take.samples(row)
        theirs = opinions.libebur128(samples[:, None], rate)
        assert ours.integrated_lufs == pytest.approx(theirs.integrated, abs=INTEGRATED_LU)
        assert ours.momentary_max_lufs == pytest.approx(theirs.momentary_max, abs=INTEGRATED_LU)
        assert ours.integrated_lufs == pytest.approx(opinions.pyloudnorm(samples, rate).integrated, abs=INTEGRATED_LU)
        assert ours.true_peak_dbtp == pytest.approx(exact.true_peak_db(samples), abs=0.05)
        assert ours.true_peak_dbtp == pytest.approx(opinions.ffmpeg(take.files[row]).true_peak, abs=TRUE_PEAK_DB)
