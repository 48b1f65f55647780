"""Both files of a draft put in their place, or none of them; what was there before comes back if anything fails."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from replay.errors import CallError, OutputError, Place, Problem
from replay.text import harmless


def free(paths: list[Path], shown_in: Path, *, force: bool, read: Path | None) -> None:
    """CallError where a file is there and `force` is not given, or where it is the list that is `read`: nobody's list
    is written over. `shown_in` is their folder as the user would type it."""
    problems = []
    for path in paths:
        shown = Place(harmless(str(shown_in / path.name), 4096))
        if read is not None and _same(path, read):
            problems.append(Problem("is the list that was given, and is not written over", shown, "give --to DIR"))
        elif path.is_dir():
            problems.append(Problem("is a folder, where a file is to go", shown, "give --to DIR"))
        elif os.path.lexists(path) and not force:
            problems.append(Problem("is there already", shown, "--force writes over it, or give --to DIR"))
    if problems:
        raise CallError(problems)


def _same(one: Path, other: Path) -> bool:
    try:
        return os.path.samefile(one, other)
    except OSError:
        return False


def put(files: Mapping[Path, bytes]) -> None:
    """Write files beside their places, then rename them one after the other; the folder is made if it is not there.

    Raises OutputError where that is impossible: then all is as it was.
    """
    ready: list[tuple[Path, Path]] = []
    old: list[tuple[Path, Path]] = []
    placed: list[Path] = []
    made: Path | None = None
    target = next(iter(files))
    try:
        folder = target.parent
        if not folder.exists():
            folder.mkdir(parents=True)
            made = folder
        for target, data in files.items():
            beside = target.with_name(f".{target.name}.{os.getpid()}.part")
            ready.append((beside, target))
            _write(beside, data)
        for target in files:
            if os.path.lexists(target):
                kept = target.with_name(f".{target.name}.{os.getpid()}.old")
                os.replace(target, kept)
                old.append((kept, target))
        for beside, target in ready:
            os.replace(beside, target)
            placed.append(target)
    except BaseException as error:
        _undo(placed, old, [beside for beside, _ in ready], made)
        if isinstance(error, OSError | ValueError):
            reason = getattr(error, "strerror", None) or str(error)
            problem = Problem(
                f"cannot be written: {reason}", Place(harmless(str(target), 4096)), "give another place with --to DIR"
            )
            raise OutputError(problem) from error
        raise
    for kept, _ in old:
        kept.unlink(missing_ok=True)


def _write(path: Path, data: bytes) -> None:
    with open(path, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _undo(placed: list[Path], old: list[tuple[Path, Path]], beside: list[Path], made: Path | None) -> None:
    for path in (*placed, *beside):
        _quietly(path.unlink)
    for kept, target in old:
        _quietly(partial(os.replace, kept, target))
    if made is not None:
        _quietly(made.rmdir)


def _quietly(work: Callable[[], object]) -> None:
    with contextlib.suppress(OSError):
        work()
