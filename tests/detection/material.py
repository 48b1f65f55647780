"""What faults are planted into: takes of sampled instruments, kept between runs in a folder for temporary files."""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.material.band import chance
from tests.material.cast import EXTRAS
from tests.material.recording import Recording
from tests.material.stage import record


@dataclass(frozen=True)
class Setting:
    """What a run draws from: drum kits, and seeds of recordings (`recordings`) and of faults (from `first` on)."""

    kits: tuple[str, ...]
    recordings: tuple[int, ...]
    first: int


TUNING = Setting(kits=("forzee",), recordings=(101, 102, 103), first=1)
TABLE = Setting(kits=("pearl", "pacific"), recordings=(901, 902, 903, 904), first=7001)

SECONDS = 24.0
INPUTS = 32
LONG_SECONDS = 45.0
LONG_INPUTS = 20
TRACKS = 8


def kept(name: str, make: Callable[[], Recording]) -> Recording:
    """A recording, made when first asked for. Its samples are read as they are used; changes stay in memory."""
    folder = Path(tempfile.gettempdir()) / "replay-detection"
    folder.mkdir(exist_ok=True)
    path, samples = folder / f"{name}.pickle", folder / f"{name}.npy"
    if not path.exists():
        recording = make()
        np.save(samples, recording.tracks)
        recording.tracks = recording.tracks[:, :0]
        part = path.with_suffix(".part")
        part.write_bytes(pickle.dumps(recording))
        part.replace(path)
    recording = pickle.loads(path.read_bytes())
    recording.tracks = np.load(samples, mmap_mode="c")
    return recording


def band(setting: Setting, seed: int) -> Recording:
    """A band of 32 inputs with bleed and noise, 24 s in two songs."""
    number = setting.recordings[seed % len(setting.recordings)]
    kit = setting.kits[seed % len(setting.kits)]
    return kept(
        f"band-{kit}-{number}", lambda: record(INPUTS, seed=number, seconds=SECONDS, kit=kit, slot_s=SECONDS / 2)
    )


def long_band(setting: Setting, seed: int) -> Recording:
    """A band of 20 inputs with bleed and noise, 45 s in three songs: what lasts needs longer takes to be told."""
    number = setting.recordings[seed % len(setting.recordings)] + 20 * (seed // len(setting.recordings) % 2)
    kit = setting.kits[seed % len(setting.kits)]
    return kept(f"long-{kit}-{number}", lambda: record(LONG_INPUTS, seed=number, seconds=LONG_SECONDS, kit=kit))


def some(setting: Setting, seed: int, *, kinds: tuple[str, ...] = (), count: int = TRACKS) -> Recording:
    """A few inputs of a band, drawn by the seed; the first one is of `kinds` (any that makes music, if empty)."""
    whole = band(setting, seed)
    rng = chance(seed, "inputs")
    music = [one for one in whole.inputs if one.kind not in EXTRAS and one.source != "nobody"]
    fitting = [one.number for one in music if not kinds or one.kind in kinds]
    first = int(rng.choice(fitting))
    rest = [one.number for one in music if one.number != first]
    part = whole.part([first, *(int(number) for number in rng.permutation(rest)[: count - 1])])
    if seed % 5 == 4:
        # A 16-bit converter, dithered, before anything is lost behind it.
        dither = rng.random(part.tracks.shape) - rng.random(part.tracks.shape)
        part.tracks[:] = np.rint(part.tracks * 2.0**15 + dither) / 2.0**15
    return part


def loud_places(samples: np.ndarray, rate: int, rng: np.random.Generator, count: int, *, apart_s: float) -> list[int]:
    """Frames at which a track sounds (its 50 ms level within 30 dB of its loudest), at least `apart_s` apart."""
    size = rate // 20
    levels = np.sqrt(np.mean(samples[: len(samples) // size * size].reshape(-1, size) ** 2, axis=1))
    candidates = np.flatnonzero(levels > levels.max() * 10 ** (-30 / 20))
    candidates = candidates[(candidates > 20) & (candidates < len(levels) - 20)]
    places: list[int] = []
    for block in rng.permutation(candidates):
        frame = int(block) * size + int(rng.integers(size))
        if all(abs(frame - other) > apart_s * rate for other in places):
            places.append(frame)
        if len(places) == count:
            break
    return sorted(places)
