"""Measurements of a take's tracks: kept ones where they hold, the pass for the rest."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from replay.measuring.history import read_history
from replay.measuring.measure import Measured, Scratch, measure, measurement
from replay.measuring.store import Store
from replay.meters import notes
from replay.meters.again import reader
from replay.meters.model import Measurement
from replay.meters.notes import Notes
from replay.take.model import Track


@dataclass(frozen=True)
class Known:
    """Measurements by track number; `broken` says from which frame a track could not be read; `keys` are the names
    under which the measurements are kept (none without a store, and none of tracks that are broken). `notes` are the
    measurements' notes and, under TAKE, those of the take."""

    measurements: Mapping[int, Measurement]
    broken: Mapping[int, int]
    keys: Mapping[int, str]
    notes: Mapping[int, Notes] = field(default_factory=dict)


TAKE = -1
"""Stands for the take as a whole where notes go by track number."""


def known(
    tracks: Sequence[Track],
    rate: int,
    store: Store | None,
    *,
    fresh: bool = False,
    distrust: bool = False,
    executor: Executor | None = None,
    progress: Callable[[float], None] | None = None,
) -> Known:
    """Measure tracks, or use what is kept of them (with `distrust`, only where every byte of it is sound).

    Raises OSError where histories can be written neither to the store nor to a scratch folder, and DamagedError, later,
    from a column of a kept measurement that has changed under our hands.
    """
    keys: dict[int, str] = {}
    measurements: dict[int, Measurement] = {}
    if store is not None:
        for track in tracks:
            try:
                keys[track.number] = store.key(track, rate)
            except OSError:
                continue
            history = None if fresh else store.find(keys[track.number], read_all=distrust)
            if history is not None:
                measurements[track.number] = measurement(track.number, history)
    left = [track for track in tracks if track.number not in measurements]
    broken: dict[int, int] = {}
    if left:
        scratch, done = _measure(left, rate, store, executor, progress)
        for one in done:
            left_at = path = Path(one.path)
            if one.broken_at is not None:
                # It may be readable again tomorrow: nothing of it is kept.
                broken[one.track] = one.broken_at
                keys.pop(one.track, None)
            elif store is not None and one.track in keys:
                path = store.keep(keys[one.track], path)
            owner = scratch if path == left_at else None
            measurements[one.track] = measurement(one.track, read_history(path), owner)
    name = notes.name_of(keys, len(tracks)) if store is not None else None
    noted = notes.read(store.extra(name)) if store is not None and name is not None and not fresh else {}
    noted = {number: noted.get(number) or Notes() for number in (TAKE, *measurements)}
    return Known(
        {track.number: replace(measurements[track.number], notes=noted[track.number]) for track in tracks},
        broken,
        keys,
        noted,
    )


def finish(store: Store | None, known: Known) -> None:
    """Keep what was noted meanwhile, then bring the store under its limit where it has grown."""
    if store is None:
        return
    name = notes.name_of(known.keys, len(known.measurements))
    if name is not None and any(one.changed for one in known.notes.values()):
        store.keep_extra(name, notes.written(known.notes))
    if store.grown:
        store.prune(spare={store.entry(key) for key in known.keys.values()})


def _measure(
    tracks: Sequence[Track],
    rate: int,
    store: Store | None,
    executor: Executor | None,
    progress: Callable[[float], None] | None,
) -> tuple[Scratch, list[Measured]]:
    folder = store.work_folder() if store is not None else None
    if folder is not None:
        try:
            scratch = Scratch(folder)
            return scratch, measure(tracks, rate, scratch.path, executor=executor, progress=progress)
        except OSError:
            # Full, or gone: the answer does not depend on it. Where the fault lies elsewhere it comes again.
            pass
    scratch = Scratch()
    return scratch, measure(tracks, rate, scratch.path, executor=executor, progress=progress)


def remembering_reader(track: Track, rate: int, store: Store | None, key: str | None):
    """`again.reader`, with what it finds kept beside the track's measurement."""
    read = reader(track, rate)
    if store is None or key is None:
        return read
    name = f"{key}-peaks"
    kept = store.extra(name)
    found = dict(zip(kept[::2].astype(int).tolist(), kept[1::2].tolist(), strict=False)) if kept is not None else {}

    def true_peaks(hops: Sequence[int]) -> np.ndarray:
        missing = [hop for hop in hops if hop not in found]
        if missing:
            found.update(zip(missing, read(missing).tolist(), strict=True))
            store.keep_extra(name, np.array([[hop, peak] for hop, peak in sorted(found.items())]).reshape(-1))
        return np.array([found[hop] for hop in hops])

    return true_peaks


def remembered_sums(
    store: Store | None,
    keys: Sequence[str | None],
    weights: np.ndarray,
    first: int,
    last: int,
    compute: Callable[[], np.ndarray],
) -> np.ndarray:
    """Bus sums of tracks kept under `keys`, with these weights, over these hops: kept ones, or `compute()`."""
    if store is None or any(key is None for key in keys):
        return compute()
    digest = hashlib.sha256(repr((list(keys), weights.shape, first, last)).encode() + weights.tobytes())
    name = f"{digest.hexdigest()[:40]}-sums"
    kept = store.extra(name)
    shape = (last - first, weights.shape[1])
    if kept is not None and kept.size == shape[0] * shape[1]:
        return kept.reshape(shape)
    sums = compute()
    store.keep_extra(name, sums.reshape(-1))
    return sums
