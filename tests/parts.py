"""Parts of a show that no file holds: files, tracks, measurements and patches as records, with the usual values where a
test says nothing. 48 kHz, 24 bit, mono.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from replay.meters.model import Measurement, no_events
from replay.patch.model import Channel, Desk, Headroom, Patch, TakeChoice
from replay.take.model import AudioFile, Segment, Track

RATE = 48000


def file(path: Path | str, frames: int, **other: Any) -> AudioFile:
    """A mono WAV that does not exist."""
    usual = {
        "rate": RATE, "channels": 1, "encoding": "s24", "data_offset": 44, "bits": 24, "is_float": False,
        "names": ("",), "numbers": (None,), "start_frame": None, "description": "", "modified": 0.0,
        "size": 44 + 3 * frames,
    }  # fmt: skip
    return AudioFile(path=Path(path), frames=frames, **{**usual, **other})


def track(number: int, pieces: Iterable[tuple[AudioFile, int]] | AudioFile, name: str = "") -> Track:
    """A track of mono files, each with the frame at which it lies; a single one lies at 0."""
    pieces = ((pieces, 0),) if isinstance(pieces, AudioFile) else pieces
    segments = tuple(Segment(file=piece, channel=0, start=start) for piece, start in pieces)
    return Track(number=number, name=name, file_name=segments[0].file.path.name, segments=segments)


def measurement(number: int, hops: int, columns: Mapping[str, np.ndarray] | None = None, **other: Any) -> Measurement:
    """A measurement of whole hops with these histories; KeyError for others."""
    held = columns or {}

    def read_column(name: str) -> np.ndarray:
        if name not in held:
            raise KeyError(
                f"this made show has no history '{name}': it gets one where it is made (tests/checks/factory.py)"
            )
        return held[name].copy()

    usual = {
        "rate": RATE, "is_float": False, "container_bits": 24, "effective_bits": 24, "totals": {},
        "events": no_events(), "event_counts": {}, "coverage": ((0, hops * other.get("rate", RATE) // 10),),
        "read_column": read_column,
    }  # fmt: skip
    return Measurement(track=number, hops=hops, **{**usual, **other})


def patch(folder: Path | str, channels: Iterable[Channel], **other: Any) -> Patch:
    """A patch that was read from patch.toml and inputs.csv of a folder; its boxes, links and feeds are in `other`."""
    folder = Path(folder)
    usual = {
        "title": "Mill Yard", "path": folder / "patch.toml", "inputs_path": folder / "inputs.csv", "rate": RATE,
        "take": TakeChoice(), "headroom": Headroom(), "desk": Desk(), "buses": (),
    }  # fmt: skip
    return Patch(folder=folder, channels=tuple(channels), **{**usual, **other})
