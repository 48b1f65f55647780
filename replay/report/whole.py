"""Files that appear whole or not at all, and never inside a take or over a show's own files.

A file is written under another name beside its place, pushed to the disk, and only then renamed: whoever looks sees the
old file or the new one. Pipes, and devices such as a terminal, are written straight into, as they cannot be replaced.
"""

from __future__ import annotations

import errno
import os
import stat
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from replay.errors import OutputError, Place, Problem
from replay.text import harmless

if TYPE_CHECKING:
    from replay.findings.result import Report

READER_S = 2.0
"""How long a pipe is given to find a reader, seconds: one that is started at the same time needs a moment."""

_HINTS = {
    errno.ENOSPC: "the disk is full: make room, or give a place on another disk",
    errno.EDQUOT: "the disk quota is used up: make room, or give a place on another disk",
    errno.EACCES: "no permission to write there: give another place",
    errno.EPERM: "no permission to write there: give another place",
    errno.EROFS: "that disk can only be read: give a place on another disk",
    errno.ENOENT: "that folder does not exist: make it first, or give another place",
    errno.ENOTDIR: "a part of that path is a file, not a folder: give another place",
    errno.EISDIR: "that is a folder: give the name of a file",
    errno.ENAMETOOLONG: "that name is too long for the disk: give a shorter one",
}


def protect(report: Report, target: Path) -> None:
    """OutputError where writing to `target` would change the take or the show's own definition."""
    show = report.show
    place = _resolved(target)
    take = _resolved(show.take.folder)
    kept = {_resolved(path) for path in show.patch.files}
    kept.add(_resolved(show.patch.folder / "confirmed.csv"))
    kept |= {_resolved(segment.file.path) for track in show.take.tracks for segment in track.segments}
    if place in kept:
        raise OutputError(_problem(target, "is part of the show and is never written over", "give another name"))
    if take == place or take in place.parents:
        raise OutputError(
            _problem(target, "lies inside the take, and nothing is ever written into a take", "give a place outside it")
        )


def usable(target: Path, *, folder: bool = False) -> None:
    """OutputError where it can be told beforehand that `target` cannot be written: found before any long work.

    `folder` says that `target` is to be a folder, which is made if its parent exists.
    """
    try:
        if folder:
            if target.exists() and not target.is_dir():
                raise OutputError(_problem(target, "is a file", "give the name of a folder"))
        elif target.is_dir():
            raise OutputError(_problem(target, "is a folder", "give the name of a file"))
        _must_take_bytes(target)
        parent = _resolved(target).parent
        if not target.exists() and not parent.is_dir():
            raise OutputError(_problem(target, "cannot be written", _HINTS[errno.ENOENT]))
        if _is_special(target):
            # Whether somebody reads from a pipe is not tried here: the reader would take the trial for the whole file.
            return
        writable = target if folder and target.exists() else parent
        if not os.access(writable, os.W_OK | os.X_OK):
            raise OutputError(_problem(target, "cannot be written", _HINTS[errno.EACCES]))
    except (OSError, ValueError) as error:
        raise _failed(target, error) from error


def write(files: Mapping[Path, bytes]) -> None:
    """Write files, each whole or not at all; if one cannot be written, none is put in its place.

    Raises
    ------
    OutputError
        Where a file cannot be written, with what to do. What was there before is then still there, unless the very
        last step (a rename on the same disk) failed between two files.
    """
    ready: list[tuple[Path, Path]] = []
    target = Path()
    try:
        for target, data in files.items():
            if _is_special(target):
                _must_take_bytes(target)
                _write_into(target, data)
                continue
            place = _resolved(target)
            beside = place.with_name(f".{place.name[:100]}.{os.getpid()}-{len(ready)}.part")
            ready.append((beside, place))
            _write_new(beside, data, _mode(place))
        for beside, target in ready:
            os.replace(beside, target)
        for folder in {place.parent for _, place in ready}:
            _push_folder(folder)
    except (OSError, ValueError) as error:
        raise _failed(target, error) from error
    finally:
        for beside, _ in ready:
            beside.unlink(missing_ok=True)


def make_folder(folder: Path) -> None:
    """Make a folder if it is not there; OutputError where that is impossible."""
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise _failed(folder, error) from error


def _write_new(path: Path, data: bytes, mode: int) -> None:
    path.unlink(missing_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    try:
        _pour(descriptor, data)
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _write_into(target: Path, data: bytes) -> None:
    """Write into a pipe or a device. OutputError where nobody reads from the pipe: to open it would wait for ever."""
    until = time.monotonic() + READER_S
    while True:
        try:
            descriptor = os.open(target, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))
            break
        except OSError as error:
            if error.errno != errno.ENXIO:
                raise
            if time.monotonic() > until:
                hint = "start what reads it first, or give the name of a file"
                raise OutputError(_problem(target, "is a pipe that nobody reads from", hint)) from error
            time.sleep(0.02)
    try:
        if os.name == "posix":
            os.set_blocking(descriptor, True)
        _pour(descriptor, data)
    finally:
        os.close(descriptor)


def _must_take_bytes(target: Path) -> None:
    """OutputError where `target` is a socket, which cannot be opened, or a disk, which writing would destroy."""
    mode = _type(target)
    if stat.S_ISSOCK(mode) or stat.S_ISBLK(mode):
        what = "a socket" if stat.S_ISSOCK(mode) else "a whole disk"
        raise OutputError(_problem(target, f"is {what}", "give the name of a file"))


def _pour(descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def _push_folder(folder: Path) -> None:
    """Push the new names to the disk where the system can (a folder cannot be opened everywhere)."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError:  # some network disks refuse; the files themselves are safe
        pass
    finally:
        os.close(descriptor)


def _mode(place: Path) -> int:
    """The permissions of the file that is replaced, else the usual ones."""
    try:
        return stat.S_IMODE(place.stat().st_mode)
    except OSError:
        return 0o666


def _is_special(target: Path) -> bool:
    """Whether `target` is there and is neither a file nor a folder (a pipe, a device)."""
    return _type(target) not in (0, stat.S_IFREG, stat.S_IFDIR)


def _type(target: Path) -> int:
    """What `target` is, as `stat.S_IFMT` has it; 0 where there is nothing."""
    try:
        return stat.S_IFMT(target.stat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return 0


def _resolved(path: Path) -> Path:
    """The real place, links followed, so that a link into a take is seen for what it is."""
    return Path(os.path.realpath(path))


def _problem(target: Path, message: str, hint: str) -> Problem:
    return Problem(message, Place(harmless(str(target))), hint)


def _failed(target: Path, error: OSError | ValueError) -> OutputError:
    hint = _HINTS.get(getattr(error, "errno", None) or 0, "")
    reason = getattr(error, "strerror", None) or str(error)
    return OutputError(_problem(target, f"cannot be written: {reason}", hint))
