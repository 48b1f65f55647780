"""Which of the takes lying in a folder is meant: the one asked for, or the newest that can be a take of this show."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from replay.take.chains import DAY_S, Group
from replay.take.header import read_header
from replay.take.walk import AudioFolder

SHORTEST_S = 30.0
"""Shorter takes are trials; they are chosen only where there is nothing else."""
EARLIEST = 631_152_000.0
"""1990-01-01: no clock of a digital recorder that was set shows less."""


_LAST_NUMBER = re.compile(r"[0-9]{1,9}$")


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A take that could be meant. `name` is what --take understands; `recorded` in seconds since the epoch; `label` is
    what tells it from others in the same folder ("" where it is the only one)."""

    name: str
    folder: Path
    group: Group
    recorded: float
    label: str = ""

    def fits(self, wanted_tracks: int) -> bool:
        """Whether it may be a take of the show: long enough, and with tracks for half of the patch."""
        return self.group.seconds > SHORTEST_S and 2 * self.group.tracks >= wanted_tracks


def when_recorded(group: Group, now: float) -> float:
    """When the take began, by bext where that is plausible; else when its newest file was last written to; else 0."""
    made = [file.made for file in group.files if file.made is not None and EARLIEST <= file.made <= now + DAY_S]
    if made:
        return min(made)
    return max((file.modified for file in group.files), default=0.0)


def newest_first(folders: Sequence[AudioFolder], now: float) -> list[AudioFolder]:
    """Folders in order of age, by the first file's bext date where it has one (copying a folder renews the others)."""
    if len(folders) < 2:
        return list(folders)

    def age(folder: AudioFolder) -> float:
        file = read_header(folder.files[0], now=now).file
        made = file.made if file is not None else None
        return made if made is not None and EARLIEST <= made <= now + DAY_S else folder.newest

    return sorted(folders, key=age, reverse=True)


def best(candidates: Sequence[Candidate], wanted_tracks: int) -> Candidate | None:
    """The newest that fits; where none does, the one with most of what is wanted. None if none has any samples."""
    usable = [candidate for candidate in candidates if candidate.group.tracks]

    def worth(candidate: Candidate) -> tuple[bool, bool, bool, float]:
        enough = 2 * candidate.group.tracks >= wanted_tracks
        long_enough = candidate.group.seconds > SHORTEST_S
        return (candidate.fits(wanted_tracks), enough, long_enough, candidate.recorded)

    return max(usable, key=worth, default=None)


def named(candidates: Sequence[Candidate], choice: str) -> list[Candidate]:
    """Candidates that are called so: by their whole name, else by its last part or their label, in any case."""
    wanted = choice.strip("/\\").casefold()
    whole = [candidate for candidate in candidates if candidate.name.casefold() == wanted]
    if whole:
        return whole
    return [
        candidate
        for candidate in candidates
        if wanted in (candidate.name.casefold().rsplit("/", 1)[-1], candidate.group.label.casefold())
    ]


def by_number(candidates: Sequence[Candidate], choice: str) -> list[Candidate]:
    """Candidates that a number means: those whose name ends in it (`take 2`, `friday-02`); else the one that was
    recorded so many takes into the evening, the first being 1. None where `choice` is no number, or too high."""
    if not (choice.isascii() and choice.isdecimal() and 0 < len(choice) < 10):
        return []
    ending = [one for one in candidates if (m := _LAST_NUMBER.search(one.name)) and int(m[0]) == int(choice)]
    if ending:
        return ending
    in_order = sorted((one for one in candidates if one.group.tracks), key=lambda one: (one.recorded, one.name))
    return in_order[int(choice) - 1 : int(choice)] if int(choice) else []


def take_name(root: Path, folder: Path, label: str) -> str:
    """What a take is called: its folder below the root, and its label where the folder holds several."""
    try:
        below = folder.relative_to(root).as_posix()
    except ValueError:
        below = os.fspath(folder)
    if below == ".":
        return label or root.name
    return f"{below}/{label}" if label else below
