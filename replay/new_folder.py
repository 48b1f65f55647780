"""A folder of files that appears whole or not at all, and only where nothing was before."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from replay.errors import CallError, OutputError, Place, Problem
from replay.text import harmless

_HINT = "name a new folder, or an empty one"


def must_be_free(folder: Path) -> None:
    """CallError where `folder` is there and holds anything, is no folder, or would lie inside a file; OutputError where
    it cannot be looked at."""
    place = _place(folder)
    try:
        if folder.is_dir():
            if any(folder.iterdir()):
                raise CallError(Problem("this folder is not empty", place, _HINT))
        elif folder.exists() or folder.is_symlink():
            raise CallError(Problem("this is not a folder", place, _HINT))
        parent = next(parent for parent in folder.absolute().parents if parent.exists())
        if not parent.is_dir():
            raise CallError(Problem("this is a file, in which no folder can be made", _place(parent)))
    except OSError as error:
        raise OutputError(Problem(f"this folder cannot be looked at: {error.strerror}", place)) from error


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A hidden folder to write into. What it holds is put in place as `folder` when the block ends; if the block fails
    or is interrupted, nothing is left of it.

    Raises CallError where `folder` is not free (see `must_be_free`), OutputError where the disk refuses anything in the
    block.
    """
    must_be_free(folder)
    unfinished: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        # Inside a folder that is there already, so that the last step never crosses from one disk to another.
        unfinished = _hidden(folder if folder.exists() else folder.parent, folder.resolve().name)
        yield unfinished
        _put_in_place(unfinished, folder)
    except OSError as error:
        raise OutputError(Problem(f"cannot be written: {error.strerror or error}", _place(folder))) from error
    finally:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)


def _hidden(parent: Path, name: str) -> Path:
    """A hidden folder that was not there before. Not by tempfile, whose folders only their owner may read."""
    for number in range(1000):
        path = parent / f".{name[:100]}-unfinished-{os.getpid()}-{number}"
        try:
            path.mkdir()
        except FileExistsError:
            continue
        return path
    raise FileExistsError("too many unfinished folders")


def _put_in_place(unfinished: Path, folder: Path) -> None:
    if not folder.exists():
        unfinished.rename(folder)
        return
    moved: list[Path] = []
    try:
        # In the order of the names, so that a show's patch comes last: a folder without one is no show yet.
        for path in sorted(unfinished.iterdir()):
            path.rename(folder / path.name)
            moved.append(folder / path.name)
    except BaseException:
        for path in moved:
            shutil.rmtree(path, ignore_errors=True) if path.is_dir() else path.unlink(missing_ok=True)
        raise


def _place(folder: Path) -> Place:
    return Place(harmless(str(folder), 4096))
