"""Kept results: what was measured of a track is kept on disk and used again while its files are unchanged.

An entry is a finished history file, named by a hash of everything that decides its content: the files' paths, sizes,
times and the bytes of their heads and tails, where the track lies on the take's clock, and the sources of all meters.
Small extras (hops read again, bus sums) are kept beside. Entries appear whole or not at all; two runs at once write the
same thing twice and the later wins; a damaged entry is measured again. Whatever the disk refuses is simply not kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import stat
import time
import zlib
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from replay.compiled import results_folder, source_digest
from replay.measuring.history import DamagedError, History, read_history
from replay.take.model import AudioFile, Track

LIMIT_BYTES = 4 << 30
"""Room for eight hours and more of 56 tracks; the entries unused for longest go first."""

EDGE_BYTES = 1 << 16
STALE_S = 24 * 3600
"""Work folders of runs that were killed go after a day."""

WORK_PREFIX = "replay-work-"

_ENTRY, _EXTRA, _PART = ".history", ".extra", ".part"
# Only what bears such a name is ever removed: the folder may be one that was chosen by mistake and holds other things.
_OURS = re.compile(r"[0-9a-f]{40}(-peaks|-sums)?(\.history|\.extra|\.[0-9]+-[0-9]+\.part)")
_WORK = re.compile(re.escape(WORK_PREFIX) + "[a-z0-9_]{8}")


@dataclass(frozen=True)
class Usage:
    """What a store holds."""

    folder: Path
    entries: int
    bytes: int


class Store:
    """A folder of kept results. All methods are safe against other runs in the same folder."""

    def __init__(self, folder: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes
        self.grown = False
        """Whether anything has been kept since the last pruning."""
        self._edges: dict[Path, list] = {}

    def key(self, track: Track, rate: int) -> str:
        """The name under which a track's measurement is kept. Raises OSError where a file cannot be looked at."""
        parts = [
            [*self._facts(segment.file), segment.channel, segment.start, segment.frames] for segment in track.segments
        ]
        text = json.dumps([source_digest(), rate, parts])
        return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:40]

    def _facts(self, file: AudioFile) -> list:
        if file.path not in self._edges:
            status = os.stat(file.path)
            with open(file.path, "rb") as handle:
                edges = hashlib.sha256(handle.read(EDGE_BYTES))
                if status.st_size > EDGE_BYTES:
                    handle.seek(max(EDGE_BYTES, status.st_size - EDGE_BYTES))
                    edges.update(handle.read(EDGE_BYTES))
            # The time of the last change of the file's record cannot be set back as that of its content can.
            times = [status.st_mtime_ns, status.st_ctime_ns]
            layout = [file.encoding, file.data_offset, file.bits, file.channels, file.rate]
            self._edges[file.path] = [os.fspath(file.path), status.st_size, times, edges.hexdigest(), layout]
        return self._edges[file.path]

    def entry(self, key: str) -> Path:
        """Where a measurement of that name is, or would be."""
        return self.folder / (key + _ENTRY)

    def find(self, key: str, *, read_all: bool = False) -> History | None:
        """The kept measurement of that name; None where there is none that can be believed.

        Columns are checked when they are read; with `read_all` at once.
        """
        path = self.entry(key)
        try:
            history = read_history(path)
            for column in history.columns if read_all else ():
                history.column(column.name)
            os.utime(path)
        except (DamagedError, OSError):
            return None
        except (KeyError, TypeError, ValueError):
            # A footer with a right checksum and a wrong content: another version's, by chance under this name.
            return None
        return history

    def work_folder(self) -> Path | None:
        """A folder inside the store to write entries in; None where none can be made."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            return None
        return self.folder if os.access(self.folder, os.W_OK) else None

    def keep(self, key: str, path: Path) -> Path:
        """Take a finished history file in: its new place, or its old one where that does not work."""
        target = self.entry(key)
        try:
            os.replace(path, target)
        except OSError:
            return path
        self.grown = True
        return target

    def extra(self, key: str) -> np.ndarray | None:
        """A small array of float64 kept under a name; None where there is none that can be believed."""
        path = self.folder / (key + _EXTRA)
        try:
            data = path.read_bytes()
            os.utime(path)
        except OSError:
            return None
        body = data[4:]
        if len(data) < 4 or len(body) % 8 or zlib.crc32(body) != int.from_bytes(data[:4], "little"):
            return None
        return np.frombuffer(body, np.float64).copy()

    def keep_extra(self, key: str, values: np.ndarray) -> None:
        """Keep a small array of float64 under a name."""
        body = np.ascontiguousarray(values, np.float64).tobytes()
        temporary = self.folder / f"{key}.{os.getpid()}-{time.monotonic_ns()}{_PART}"
        try:
            temporary.write_bytes(zlib.crc32(body).to_bytes(4, "little") + body)
            os.replace(temporary, self.folder / (key + _EXTRA))
            self.grown = True
        except OSError:
            with contextlib.suppress(OSError):
                temporary.unlink()

    def usage(self) -> Usage:
        """What is kept, in numbers."""
        files = self._files()
        entries = sum(1 for path, _ in files if path.suffix == _ENTRY)
        return Usage(self.folder, entries, sum(status.st_size for _, status in files))

    def prune(self, spare: Collection[Path] = ()) -> None:
        """Bring the folder under its limit, what was unused for longest first, never what is in `spare`; clear up after
        killed runs."""
        self.grown = False
        self._clear_up()
        files = sorted(self._files(), key=lambda item: item[1].st_mtime)
        total = sum(status.st_size for _, status in files)
        for path, status in files:
            if total <= self.limit_bytes:
                break
            if path not in spare:
                _remove(path)
                total -= status.st_size

    def empty(self) -> tuple[Usage, Usage]:
        """Remove everything that is kept: what it was, and what could not be removed."""
        before = self.usage()
        for path, _ in self._files():
            _remove(path)
        self._clear_up()
        return before, self.usage()

    def _files(self) -> list[tuple[Path, os.stat_result]]:
        found = []
        for path in self._listed():
            if _OURS.fullmatch(path.name) and path.suffix != _PART:
                with contextlib.suppress(OSError):
                    status = path.lstat()
                    if stat.S_ISREG(status.st_mode):
                        found.append((path, status))
        return found

    def _listed(self) -> list[Path]:
        try:
            return list(self.folder.iterdir())
        except OSError:
            return []

    def _clear_up(self) -> None:
        oldest = time.time() - STALE_S
        for path in self._listed():
            with contextlib.suppress(OSError):
                if _OURS.fullmatch(path.name) and path.suffix == _PART and path.lstat().st_mtime < oldest:
                    _remove(path)
                elif _WORK.fullmatch(path.name) and path.is_dir() and not path.is_symlink():
                    inside = list(path.iterdir())
                    if max(one.lstat().st_mtime for one in (path, *inside)) < oldest:
                        for one in inside:
                            if one.suffix in (_ENTRY, _PART):
                                _remove(one)
                        path.rmdir()


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink()


def default_folder() -> Path:
    """Where results are kept unless another folder is given."""
    return results_folder()
