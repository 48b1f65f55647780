"""Signals with breaks, gaps and repeats at known places, at and beside the borders of hops; and how to cut them up."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np

from replay.meters.model import Measurement
from replay.take.model import Track
from tests.tracks import as_samples, codes, measured, track, write

RATE = 48000
HOP = RATE // 10


def music(frames: int, seed: int) -> np.ndarray:
    """A chord with a noise floor, on the steps of 24 bits: smooth between neighbouring samples, never twice the
    same."""
    rng = np.random.default_rng(seed)
    time = np.arange(frames) / RATE
    tones = sum(np.sin(2 * np.pi * hz * time + rng.uniform(0, 6)) for hz in (110.3, 197.1, 331.7))
    return as_samples(codes(0.1 * tones + 1e-5 * rng.standard_normal(frames), 24))


def noise(frames: int, seed: int, level: float = 0.1) -> np.ndarray:
    """White noise on the steps of 24 bits."""
    return as_samples(codes(level * np.random.default_rng(seed).standard_normal(frames).clip(-4, 4), 24))


def pieces(folder: Path, number: int, samples: np.ndarray, cuts: list[int]) -> Track:
    """A track of segments in a row, cut before these frames."""
    folder.mkdir(exist_ok=True)
    edges = [0, *cuts, len(samples)]
    files = []
    for place, (start, stop) in enumerate(pairwise(edges)):
        path = folder / f"{number:02d}-{place:02d}.wav"
        files.append((write(path, samples[start:stop], RATE, "f64"), 0, start))
    return track(number, *files)


def events(one: Measurement, kind: str) -> list[tuple[int, int, float, float]]:
    """Events of a kind as plain numbers: start, length, value, against."""
    return [(int(e["start"]), int(e["length"]), float(e["value"]), float(e["against"])) for e in one.events_of(kind)]


def one_by_one(folder: Path, signals: list[np.ndarray], cuts: list[int]) -> list[Measurement]:
    """Each signal measured in a group of its own, cut into segments."""
    return [
        measured([pieces(folder, number, signal, cuts)], RATE, folder)[0]
        for number, signal in enumerate(signals, start=1)
    ]
