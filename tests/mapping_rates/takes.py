"""The takes that are made of each band's recording, and what the program heard of them, kept between runs.

What is kept makes the table resumable: stopped anywhere, it goes on with the take at which it was stopped. Remove the
`.heard` and `.told` files after changing the program.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.mapping_rates import fools
from tests.mapping_rates.bands import Band
from tests.mapping_rates.base import base, facts, kept_folder
from tests.mapping_rates.cases import Heard, hear, hear_files, songs_only, with_part
from tests.material.recording import Recording

Make = Callable[[Recording, int], Recording] | None

TAKES: dict[str, tuple[str, Make]] = {
    "line check": ("clean", None),
    "songs": ("clean", lambda recording, seed: songs_only(recording)),
    "two songs": ("clean", lambda recording, seed: _songs(recording, 0, 2)),
    "two other songs": ("clean", lambda recording, seed: _songs(recording, 2, 4)),
    "line check and a song": ("clean", lambda recording, seed: with_part(recording, 0, recording.songs[0][1] + 1)),
    "one voice into all": ("fool", fools.one_voice),
    "out of order": ("fool", fools.out_of_order),
    "two out of turn": ("fool", fools.two_out_of_turn),
    "fills between": ("fool", fools.fills_between),
    "repeats and skips": ("fool", fools.repeats_and_skips),
    "stems running": ("fool", fools.stems_running),
    "loud stage": ("fool", lambda recording, seed: fools.loud_stage(songs_only(recording), seed)),
    "loud stage, line check": ("fool", fools.loud_stage),
    "dual mono": ("fool", lambda recording, seed: fools.dual_mono(songs_only(recording), seed)),
    "room noise": ("fool", lambda recording, seed: fools.room_noise(songs_only(recording), seed)),
}
IN_ORDER = (
    "line check",
    "line check and a song",
    "one voice into all",
    "fills between",
    "stems running",
    "loud stage, line check",
)
"""Takes whose line check goes by the input list."""
WITHOUT = ("songs", "two songs", "two other songs")
FROM_FILES = ("line check", "songs")
"""Takes that are also written to files and checked as a user would."""
COPIES = 3
"""Takes of each band in which five inputs lie on two tracks."""


def takes_of(band: Band) -> dict[str, tuple[str, Make]]:
    """The takes that are made of a band: where nothing is played back, no stems run on."""
    plays_back = "Playback" in band.lines
    return {take: how for take, how in TAKES.items() if plays_back or take != "stems running"}


def heard_take(band: Band, take: str, make: Callable[[Recording], Recording]) -> Heard:
    """What the program heard of a take of a band's recording."""
    return _kept(_path(band, take, "heard"), lambda: hear(make(base(band)), f"{band.name}, {take}"))


def told_of_files(band: Band, take: str, make: Callable[[Recording], Recording]) -> tuple[tuple[str, str, str], ...]:
    """Faults and warnings of the whole check on the take written to files, as (severity, code, message)."""
    return _kept(_path(band, take, "told"), lambda: hear_files(make(base(band)), take))


def with_copies(band: Band, number: int, seed: int) -> tuple[list[tuple[int, int]], Heard]:
    """Five pairs of inputs that have nothing to do with each other, and the take in which each is one source."""
    pairs = _pairs(facts(band), np.random.default_rng(seed + number))
    return pairs, heard_take(
        band, f"copies {number}", lambda recording: fools.with_copies(_songs(recording, 0, 3), pairs, seed)
    )


def complete(band: Band) -> bool:
    """Whether every take of a band was heard."""
    wanted = (*takes_of(band), *(f"copies {number}" for number in range(COPIES)))
    return all(_path(band, take, "heard").exists() for take in wanted)


def read_back(band: Band, take: str) -> bool:
    """Whether the take was written to files and checked."""
    return _path(band, take, "told").exists()


def _path(band: Band, take: str, suffix: str) -> Path:
    return kept_folder() / band.name / f"{take.replace(' ', '-').replace(',', '')}.{suffix}"


def _kept(path: Path, make: Callable):
    if path.exists():
        return pickle.loads(path.read_bytes())
    made = make()
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(path.suffix + ".part")
    beside.write_bytes(pickle.dumps(made))
    beside.rename(path)
    return made


def _songs(recording: Recording, first: int, last: int) -> Recording:
    return with_part(recording, recording.songs[first][0] - 0.4, recording.songs[last - 1][1] + 1.2)


def _pairs(recording: Recording, rng: np.random.Generator) -> list[tuple[int, int]]:
    usable = [
        one.number
        for one in recording.inputs
        if one.use == "must"
        and one.kind not in ("timecode", "playback", "click", "ambience")
        and one.pairing != "stereo"
    ]
    order = [int(one) for one in rng.permutation(usable)]
    pairs = list(zip(order[0:10:2], order[1:10:2], strict=False))
    partner = {one.number: one.pair for one in recording.inputs}
    return [(a, b) for a, b in pairs if partner[a] != b]
