"""Base takes, rendered once and kept in a folder for temporary files: a line check and four songs of one band."""

from __future__ import annotations

import pickle
import tempfile
from pathlib import Path

import numpy as np

from tests.mapping_rates.bands import Band
from tests.material import cast, stage
from tests.material.recording import Recording

SECONDS = 60.0


def kept_folder() -> Path:
    """Where base takes are kept between runs."""
    return Path(tempfile.gettempdir()) / "mapping-rates"


def base(band: Band) -> Recording:
    """The band's recording: its line check in front, then the songs."""
    folder = kept_folder() / band.name
    if (folder / "tracks.npy").exists() and (folder / "facts.pickle").exists():
        recording = facts(band)
        recording.tracks = np.load(folder / "tracks.npy", mmap_mode="r")
        return recording
    before = dict(cast.SOURCES)
    cast.SOURCES.update(band.sources())
    try:
        recording = stage.record(seed=band.seed, seconds=SECONDS, kit=band.kit, line_check=True, chosen=band.chosen())
    finally:
        cast.SOURCES.update(before)
    folder.mkdir(parents=True, exist_ok=True)
    np.save(folder / "tracks.npy", recording.tracks)
    tracks, recording.tracks = recording.tracks, np.zeros((0, 0), np.float32)
    (folder / "facts.pickle").write_bytes(pickle.dumps(recording))
    recording.tracks = tracks
    return recording


def facts(band: Band) -> Recording:
    """The band's recording without its samples, which may be gone."""
    path = kept_folder() / band.name / "facts.pickle"
    if not path.exists():
        base(band)
    return pickle.loads(path.read_bytes())
