"""Writes a show to try things on: Mill Yard, a barn-dance evening with a nine-piece band that does not exist.

The take is synthesised: a line check, then songs, with bleed between the microphones and some faults planted on
purpose. docs/demo.md tells who plays what and what is wrong. The same call writes the same bytes, anywhere.
"""

from __future__ import annotations

import math
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from replay.errors import CallError, OutputError, Place, Problem

SHORTEST = 1.0
LONGEST = 240.0
"""Minutes. A track of 240 minutes is 2 GB, which every reader of WAV files takes; a shorter evening than one minute has
no room for its line check."""


def write_demo(
    folder: Path,
    *,
    minutes: float = 10.0,
    pocket: bool = False,
    progress: Callable[[float, str], None] | None = None,
) -> None:
    """Write a show folder: `patch.toml`, `inputs.csv`, and the take's WAV files in `audio/`.

    `minutes` is the take's length; `pocket` writes the small show of a few seconds instead, whatever `minutes` says.
    `progress` is called with the share done (0 to 1) and a word on what is being done. The folder appears whole or not
    at all.

    Raises CallError where the folder exists and is not empty, is a file, or `minutes` is out of range; OutputError
    where it cannot be written.
    """
    if not pocket and not (math.isfinite(minutes) and SHORTEST <= minutes <= LONGEST):
        raise CallError(
            f"a demo take of {minutes:g} minutes", hint=f"from {SHORTEST:g} to {LONGEST:g} minutes are possible"
        )
    folder = Path(folder)
    _must_be_free(folder)
    unfinished: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        # Inside a folder that is there already, so that the last step never crosses from one disk to another.
        unfinished = _new_folder(folder if folder.exists() else folder.parent, folder.resolve().name)
        _write(unfinished, minutes, pocket, progress)
        _put_in_place(unfinished, folder)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(Problem(f"the demo could not be written: {reason}", Place(str(folder)))) from error
    finally:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)


def _must_be_free(folder: Path) -> None:
    place = Place(str(folder))
    try:
        if folder.is_dir():
            if any(folder.iterdir()):
                raise CallError(Problem("this folder is not empty", place, "name a new folder, or an empty one"))
        elif folder.exists() or folder.is_symlink():
            raise CallError(Problem("this is not a folder", place, "name a new folder, or an empty one"))
        parent = next(parent for parent in folder.absolute().parents if parent.exists())
        if not parent.is_dir():
            raise CallError(Problem("this is a file, in which no folder can be made", Place(str(parent))))
    except OSError as error:
        raise OutputError(Problem(f"this folder cannot be looked at: {error.strerror}", place)) from error


def _new_folder(parent: Path, name: str) -> Path:
    """A hidden folder that was not there before. Not by tempfile, whose folders only their owner may read."""
    for number in range(1000):
        path = parent / f".{name}-unfinished-{os.getpid()}-{number}"
        try:
            path.mkdir()
        except FileExistsError:
            continue
        return path
    raise FileExistsError("too many unfinished folders")


def _write(folder: Path, minutes: float, pocket: bool, progress: Callable[[float, str], None] | None) -> None:
    from replay.demo import show as shows
    from replay.demo.record import record

    show = shows.pocket() if pocket else shows.full(minutes)
    scenes = shows.pocket_scenes() if pocket else shows.full_scenes(minutes)
    audio = folder / "audio"
    audio.mkdir()
    record(audio, show.tracks, scenes, show.frames, date=shows.DATE, time=show.time, progress=progress)
    (folder / "inputs.csv").write_text(shows.input_list(show), encoding="utf-8", newline="\n")
    (folder / "patch.toml").write_text(shows.patch(show), encoding="utf-8", newline="\n")


def _put_in_place(unfinished: Path, folder: Path) -> None:
    if not folder.exists():
        unfinished.rename(folder)
        return
    moved: list[Path] = []
    try:
        # The patch last: a folder without one is no show yet.
        for name in ("audio", "inputs.csv", "patch.toml"):
            (unfinished / name).rename(folder / name)
            moved.append(folder / name)
    except BaseException:
        for path in moved:
            shutil.rmtree(path, ignore_errors=True) if path.is_dir() else path.unlink(missing_ok=True)
        raise
