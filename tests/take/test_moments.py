"""Moments read from files are the samples that were written, wherever they lie."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from replay.take.find import open_take
from replay.take.moments import Moment, frames_of, read_moments


def write_wav(path: Path, codes: np.ndarray, rate: int) -> None:
    """16-bit WAV of shape (frames, channels)."""
    body = codes.astype("<i2").tobytes()
    align = 2 * codes.shape[1]
    head = struct.pack("<HHIIHH", 1, codes.shape[1], rate, rate * align, align, 16)
    data = b"WAVE" + b"fmt " + struct.pack("<I", 16) + head + b"data" + struct.pack("<I", len(body)) + body
    path.write_bytes(b"RIFF" + struct.pack("<I", len(data)) + data)


@pytest.mark.parametrize("rate", [48000, 22050])
def test_moments_are_the_samples_of_the_files(tmp_path: Path, rate: int) -> None:
    folder = tmp_path / "audio"
    folder.mkdir()
    rng = np.random.default_rng(1)
    codes = rng.integers(-30000, 30000, (10, rate * 4))
    for row in range(10):
        write_wav(folder / f"{row + 1:02d} t.wav", codes[row][:, None], rate)
    take = open_take(tmp_path, "audio", wanted_tracks=10, placed={}, choice=None, rate=rate, now=0.0)
    moments = [Moment(12, 4, tuple(range(10))), Moment(3, 4, (7, 2)), Moment(38, 4, (0,))]
    read = list(read_moments(take.tracks, rate, moments))
    assert [moment.first for moment, _ in read] == [3, 12, 38]
    frames = frames_of(4, rate)
    for moment, samples in read:
        start = (moment.first * rate + 5) // 10 if rate % 10 else moment.first * rate // 10
        for place, row in enumerate(moment.rows):
            true = np.zeros(frames)
            there = codes[row][start : start + frames] / 32768
            true[: len(there)] = there
            assert np.array_equal(samples[place], true.astype(np.float32))


def test_nothing_is_read_for_no_moments() -> None:
    assert list(read_moments([], 48000, [])) == []
