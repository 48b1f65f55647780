"""Folders with audio files in them, found by a walk that always ends."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from replay.take.names import natural

SUFFIXES = frozenset(
    (".wav", ".wave", ".bwf", ".rf64", ".bw64", ".w64", ".flac", ".aif", ".aiff", ".aifc", ".caf", ".ogg", ".oga")
    + (".opus", ".au", ".snd")
)
"""Files with these suffixes are taken for recordings; all others are left alone without a word (an MP3 beside a take
is somebody's rough mix)."""
MOST_ENTRIES = 200_000
MOST_FILES = 4096
DEEPEST = 8


@dataclass(frozen=True, kw_only=True)
class AudioFolder:
    """A folder and the audio files directly in it, in natural order. `newest` is the latest modification among them;
    `left_out` counts files beyond MOST_FILES."""

    path: Path
    files: tuple[Path, ...]
    newest: float
    left_out: int = 0


@dataclass(frozen=True, kw_only=True)
class Walked:
    """What the walk found: `closed` are folders that could not be read, with the reason; `cut` says that it stopped
    at MOST_ENTRIES."""

    folders: tuple[AudioFolder, ...]
    closed: tuple[tuple[Path, str], ...]
    cut: bool


def is_audio_name(name: str) -> bool:
    """Whether a file of that name is taken for a recording. Hidden files (`._x.wav`, `.DS_Store`) never are."""
    return not name.startswith(".") and os.path.splitext(name)[1].lower() in SUFFIXES


def walk(root: Path) -> Walked:
    """All folders from `root` down that hold audio files. Links are followed, each folder is entered once."""
    folders: list[AudioFolder] = []
    closed: list[tuple[Path, str]] = []
    waiting: list[tuple[Path, int]] = [(root, 0)]
    entered: set[tuple[int, int]] = set()
    entries = 0
    while waiting and entries < MOST_ENTRIES:
        folder, depth = waiting.pop()
        files: list[Path] = []
        newest = 0.0
        inside: list[Path] = []
        try:
            status = os.stat(folder)
            if (status.st_dev, status.st_ino) in entered:
                continue
            entered.add((status.st_dev, status.st_ino))
            with os.scandir(folder) as listing:
                for entry in listing:
                    entries += 1
                    if entries >= MOST_ENTRIES:
                        break
                    if entry.name.startswith("."):
                        continue
                    if _is_folder(entry):
                        inside.append(folder / entry.name)
                    elif is_audio_name(entry.name):
                        files.append(folder / entry.name)
                        newest = max(newest, _modified(entry))
        except OSError as error:
            closed.append((folder, (error.strerror or str(error)).lower()))
            continue
        if files:
            files.sort(key=lambda path: natural(path.name))
            left_out = max(0, len(files) - MOST_FILES)
            folders.append(AudioFolder(path=folder, files=tuple(files[:MOST_FILES]), newest=newest, left_out=left_out))
        if depth < DEEPEST:
            waiting.extend((path, depth + 1) for path in sorted(inside, key=lambda path: natural(path.name)))
    return Walked(folders=tuple(folders), closed=tuple(closed), cut=entries >= MOST_ENTRIES)


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def _modified(entry: os.DirEntry[str]) -> float:
    try:
        return entry.stat().st_mtime
    except OSError:
        return 0.0
