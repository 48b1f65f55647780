"""The take of a draft: where its tracks lie, what they are called, and where the show's own files go."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from replay.drafting.placing import TakeTracks
from replay.errors import CallError, Place, Problem
from replay.mapping.names import read_name
from replay.take.find import open_take
from replay.take.model import Take, Track
from replay.take.names import spoken, take_apart
from replay.take.walk import is_audio_name
from replay.text import harmless

BESIDE = "-show"
"""What is put behind the name of a take's folder to name the show's."""


@dataclass(frozen=True, kw_only=True)
class Where:
    """`folder` is what was given, `show` where patch.toml and inputs.csv go; `below` is the take folder as the patch
    has it ("" where the take is looked for in the show's own folder)."""

    folder: Path
    show: Path
    below: str

    @property
    def title(self) -> str:
        """The show's name until somebody gives it one."""
        name = self.folder.name if self.show != self.folder.parent else self.show.name
        return " ".join(name.split())[:200] or "untitled"


def where(folder: Path, to: Path | None) -> Where:
    """Where a draft goes. Nothing is ever written into a take: a folder that holds recordings gets a show's folder
    beside it, a folder with takes in folders of their own is a show already. CallError where that cannot be."""
    place = Place(key="FOLDER")
    try:
        folder = Path(os.path.abspath(folder))
        if not folder.exists():
            raise CallError(Problem(f"{harmless(str(folder), 4096)} does not exist", place, "the folder of the tracks"))
        if not folder.is_dir():
            raise CallError(
                Problem(f"{harmless(str(folder), 4096)} is not a folder", place, "the folder of the tracks")
            )
        holds = _holds_recordings(folder)
        if to is not None:
            show = Path(os.path.abspath(to))
        elif not holds:
            show = folder
        elif folder.parent == folder:
            raise CallError(Problem("is a whole disk: say where the show is to go", place, "--to DIR"))
        else:
            show = folder.with_name(folder.name + BESIDE)
        if show.exists() and not show.is_dir():
            raise CallError(Problem(f"{harmless(str(show), 4096)} is not a folder", Place(key="--to"), "a folder"))
        real, take = Path(os.path.realpath(show)), Path(os.path.realpath(folder))
        inside = holds and (take == real or take in real.parents)
        if inside or (show.is_dir() and _holds_recordings(show)):
            message = f"{harmless(str(show), 4096)} holds recordings, and nothing is ever written into a take"
            raise CallError(Problem(message, Place(key="--to"), "a folder outside it"))
    except ValueError:
        raise CallError(Problem("is not a name of a folder", place, "no zero bytes in names")) from None
    return Where(folder=folder, show=show, below="" if show == folder else _below(folder, show))


def _holds_recordings(folder: Path) -> bool:
    with os.scandir(folder) as entries:
        return any(is_audio_name(entry.name) and not entry.is_dir() for entry in entries)


def _below(folder: Path, show: Path) -> str:
    try:
        text = Path(os.path.relpath(os.path.realpath(folder), os.path.realpath(show))).as_posix()
    except ValueError:  # on another drive
        text = folder.as_posix()
    try:
        text.encode()
    except UnicodeEncodeError:
        message = f"{harmless(str(folder), 4096)} cannot be named in a patch, which is UTF-8"
        raise CallError(Problem(message, Place(key="FOLDER"), "rename it, or one of the folders above it")) from None
    return text


def read_take(place: Where, wanted: int) -> Take:
    """The take, as a check of the finished show will find it with so many tracks wanted. TakeError if there is none."""
    return open_take(place.show, place.below or None, wanted_tracks=wanted)


def tracks_of(take: Take) -> TakeTracks:
    """Track numbers and names."""
    numbers = tuple(track.number for track in take.tracks)
    of_files = {number for trouble in take.troubles for number in trouble.tracks}
    return TakeTracks(
        left_out=frozenset(of_files.difference(numbers)),
        numbers=numbers,
        names={track.number: names_of(track) for track in take.tracks},
    )


def names_of(track: Track) -> tuple[str, ...]:
    """What a track is called: in its metadata, then by its file, each once; the number that orders files left out."""
    by_file = spoken(take_apart(Path(track.file_name)).base)
    return tuple(dict.fromkeys(name for name in (track.name, by_file) if name))


def telling_name(track: Track) -> str:
    """The first of a track's names that says something; "" where none does."""
    return next((name for name in names_of(track) if read_name(name).says_something), "")


_OF = (
    ("line-check", ("line check", "linecheck", "line-check")),
    ("soundcheck", ("soundcheck", "sound check", "sound-check", "sc ")),
    ("show", ("show", "gig", "concert", "konzert", "live", "performance")),
)


def kind_of_take(take: Take) -> str | None:
    """What was recorded, by the words of the take's folder: soundcheck, line-check or show; None where they say
    nothing."""
    text = take.folder.name.casefold().replace("_", " ")
    return next((of for of, words in _OF if any(word in text for word in words)), None)
