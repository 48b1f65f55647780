"""Samples put into files, files made into tracks, tracks measured: what the tests of the pass, the meters and the desk
share.

Files are written by libsndfile, headers read by the program's own reader, and the pass is the one that `check` runs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from itertools import count
from pathlib import Path

import numpy as np
import soundfile

from replay.measuring.group_pass import columns
from replay.measuring.history import read_history
from replay.measuring.measure import measure, measurement
from replay.meters.again import reader
from replay.meters.model import Measurement
from replay.meters.true_peak import played
from replay.take.header import read_header
from replay.take.model import AudioFile, Segment, Track

SUBTYPES = {"u8": "PCM_U8", "s16": "PCM_16", "s24": "PCM_24", "s32": "PCM_32", "f32": "FLOAT", "f64": "DOUBLE"}
BITS = {"u8": 8, "s16": 16, "s24": 24, "s32": 32}

_folders = count()


def codes(samples: np.ndarray, bits: int) -> np.ndarray:
    """Samples (any shape) as a converter of `bits` bits delivers them, left-justified in int32."""
    steps = 2.0 ** (bits - 1)
    rounded = np.clip(np.rint(samples * steps), -steps, steps - 1).astype(np.int64)
    return (rounded << (32 - bits)).astype(np.int32)


def as_samples(left_justified: np.ndarray) -> np.ndarray:
    """Left-justified codes as fractions of full scale, float64: exact."""
    return left_justified.astype(np.float64) * 2.0**-31


def write(path: Path, samples: np.ndarray, rate: int = 48000, encoding: str = "s24", **more: str) -> AudioFile:
    """Write samples, (frames,) or (frames, channels): int32 codes, left-justified, or floats. The file as opened."""
    subtype = more.pop("subtype", SUBTYPES[encoding])
    if samples.dtype.kind == "f" and subtype.startswith("PCM"):
        samples = codes(samples, BITS[encoding])
    soundfile.write(path, samples, rate, subtype=subtype, **more)
    opened = read_header(path)
    assert opened.file is not None
    return opened.file


def track(number: int, *pieces: tuple[AudioFile, int, int]) -> Track:
    """A track of pieces (file, channel, start frame)."""
    segments = tuple(Segment(file=file, channel=channel, start=start) for file, channel, start in pieces)
    return Track(number=number, name=f"track {number}", file_name=segments[0].file.path.name, segments=segments)


def mono(folder: Path, number: int, samples: np.ndarray, rate: int = 48000, encoding: str = "f64") -> Track:
    """A track of one mono file that starts with the take."""
    return track(number, (write(folder / f"{number:03d}.wav", samples, rate, encoding), 0, 0))


def measured(
    tracks: Sequence[Track],
    rate: int,
    folder: Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
) -> list[Measurement]:
    """Measure tracks as `check` does; histories go below `folder`."""
    place = folder / f"histories-{next(_folders)}"
    place.mkdir()
    done = measure(tracks, rate, place, executor=executor, workers=workers)
    assert [one.track for one in done] == [one.number for one in tracks]
    return [measurement(one.track, read_history(Path(one.path))) for one in done]


def measure_samples(
    folder: Path, *signals: np.ndarray, rate: int = 48000, encoding: str = "f64"
) -> tuple[list[Measurement], list[Track]]:
    """Signals (frames,) as mono files, and what the pass makes of them."""
    place = folder / f"files-{next(_folders)}"
    place.mkdir()
    tracks = [mono(place, number, signal, rate, encoding) for number, signal in enumerate(signals, start=1)]
    return measured(tracks, rate, place), tracks


def everything(one: Measurement) -> dict[str, object]:
    """All that a measurement says, as plain values and bytes: equal only where every figure is equal to the bit."""
    events = [(int(e["kind"]), int(e["start"]), int(e["length"]), float(e["value"])) for e in one.events]
    return {
        "hops": one.hops,
        "coverage": one.coverage,
        "effective_bits": one.effective_bits,
        "totals": dict(one.totals),
        "events": events,
        "counts": dict(one.event_counts),
        # Minus zero is zero: adding 0 makes them one.
        **{column.name: (one.column(column.name) + 0).tobytes() for column in columns()},
    }


def true_peaks(one: Measurement, take_track: Track) -> np.ndarray:
    """Every hop's true peak, exactly: each hop read again."""
    return reader(take_track, one.rate)(list(range(one.hops)))


def refuse(hops: Sequence[int]) -> np.ndarray:
    """A `read_again` for figures that must need no hop again."""
    raise AssertionError(f"hops {list(hops)} are read again")


def recurring(peaks: np.ndarray) -> float:
    """The played peak, which must exist."""
    found = played(peaks)
    assert found is not None
    return found


ReadAgain = Callable[[Sequence[int]], np.ndarray]
