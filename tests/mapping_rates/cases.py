"""Cases from base takes: the same audio measured once, its tracks then laid out otherwise.

`answer` runs the program on a base take that was written to files; `Case` says which track then lies in which slot.
Laying out is exact: what is measured and seen of a track does not depend on its number (a test holds that), so four
hundred cases cost no more rendering than the handful of takes behind them.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from replay.evidence.gather import gather
from replay.evidence.model import Evidence
from replay.evidence.speaking import LineCheck
from replay.meters import kept
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch
from replay.patch.routes import routes
from replay.take.find import open_take
from tests.material.recording import Recording
from tests.material.show import write_show

NOBODY = 0
"""In a layout: a track that holds nothing but its preamp's noise."""


@dataclass(frozen=True)
class Heard:
    """A take as the program heard it: the patch that it was recorded under, and the evidence."""

    name: str
    patch: Patch
    evidence: Evidence
    names: Mapping[int, str]
    frames: int


@dataclass(frozen=True)
class Case:
    """`layout[t]` is the recorded track that lies on track t (NOBODY: noise). `wrong` are the channels whose sources
    then lie elsewhere, with the track that they lie on (None: on none)."""

    what: str
    layout: Mapping[int, int]
    wrong: Mapping[int, int | None] = field(default_factory=dict)


def hear(recording: Recording, name: str) -> Heard:
    """Write the recording as a show, let the program measure it and gather its evidence, and clear up."""
    with tempfile.TemporaryDirectory(prefix="mapping-rates-") as folder:
        show = write_show(Path(folder), recording)
        patch = read_patch(show)
        take = open_take(show, "audio", wanted_tracks=len(recording.inputs), placed={}, choice=None, rate=None, now=0.0)
        known = kept.known(take.tracks, take.rate, None)
        evidence = gather(take.tracks, known.measurements, take.rate)
        names = {track.number: track.name for track in take.tracks}
        shutil.rmtree(show / "audio")
    return Heard(name, patch, evidence, names, take.frames)


def laid_out(evidence: Evidence, layout: Mapping[int, int]) -> Evidence:
    """The evidence of the same tracks lying elsewhere; a recorded track that no slot has any more is gone."""
    places: dict[int, list[int]] = {}
    for new, old in layout.items():
        places.setdefault(old, []).append(new)
    new_of = {old: news[0] for old, news in places.items() if old != NOBODY}

    def pair(a: int, b: int) -> tuple[int, int] | None:
        if a not in new_of or b not in new_of:
            return None
        return min(new_of[a], new_of[b]), max(new_of[a], new_of[b])

    alike = {}
    for (a, b), one in evidence.likeness.items():
        key = pair(a, b)
        if key is None:
            continue
        turned = key != (new_of[a], new_of[b])
        alike[key] = replace(
            one,
            a=key[0],
            b=key[1],
            lag_s=-one.lag_s if turned else one.lag_s,
            gain_db=-one.gain_db if turned else one.gain_db,
        )
    check = evidence.line_check
    if check is not None:
        turns = tuple(
            replace(turn, tracks=tuple(new_of[track] for track in turn.tracks if track in new_of))
            for turn in check.turns
            if turn.tracks[0] in new_of
        )
        check = LineCheck(turns) if turns else None
    return Evidence(
        tracks=tuple(sorted(layout)),
        line_check=check,
        sounds={new_of[old]: sound for old, sound in evidence.sounds.items() if old in new_of},
        together={key: value for (a, b), value in evidence.together.items() if (key := pair(a, b)) is not None},
        likeness=alike,
        silent=frozenset(
            [new_of[old] for old in evidence.silent if old in new_of]
            + [new for new, old in layout.items() if old == NOBODY]
        ),
    )


def straight(tracks: Sequence[int]) -> dict[int, int]:
    return {track: track for track in tracks}


def exchange(tracks: Sequence[int], a: int, b: int) -> Case:
    return Case("exchange", {**straight(tracks), a: b, b: a}, {a: b, b: a})


def shift(tracks: Sequence[int], first: int, last: int, by: int = 1) -> Case:
    """A source too many was plugged at `first`: everything up to `last` moves on, what falls off is lost."""
    layout = straight(tracks)
    wrong: dict[int, int | None] = {}
    for track in range(first, last + 1):
        layout[track] = track - by if first <= track - by <= last else NOBODY
        wrong[track] = track + by if first <= track + by <= last else None
    return Case("shift", layout, wrong)


def block(tracks: Sequence[int], a: int, b: int, size: int) -> Case:
    layout = straight(tracks)
    for step in range(size):
        layout[a + step], layout[b + step] = b + step, a + step
    return Case("block", layout, {new: old for new, old in layout.items() if new != old})


def with_part(recording: Recording, start_s: float, stop_s: float | None = None) -> Recording:
    """A stretch of a recording."""
    return recording.part([one.number for one in recording.inputs], start_s=start_s, stop_s=stop_s)


def songs_only(recording: Recording) -> Recording:
    """The recording without its line check."""
    return with_part(recording, max(recording.songs[0][0] - 1.0, 0.0))


def random_pairs(numbers: Sequence[int], count: int, rng: np.random.Generator) -> list[tuple[int, int]]:
    every = [(a, b) for place, a in enumerate(numbers) for b in numbers[place + 1 :]]
    return [every[int(one)] for one in rng.permutation(len(every))[:count]]


def routes_of(patch: Patch):
    return routes(patch)
