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
import shutil
import time
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from replay.compiled import cache_base, source_digest
from replay.meters.history import DamagedError, History, read_history
from replay.take.model import AudioFile, Track

LIMIT_BYTES = 4 << 30
"""Room for about twenty hours of 56 tracks; the entries unused for longest go first."""

EDGE_BYTES = 1 << 16
STALE_S = 24 * 3600
"""Work folders of runs that were killed go after a day."""

_ENTRY, _EXTRA = ".history", ".extra"


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
        self._limit = limit_bytes
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

    def find(self, key: str) -> History | None:
        """The kept measurement of that name; None where there is none that can be believed."""
        path = self.folder / (key + _ENTRY)
        try:
            history = read_history(path)
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
        target = self.folder / (key + _ENTRY)
        try:
            os.replace(path, target)
        except OSError:
            return path
        return target

    def extra(self, key: str) -> np.ndarray | None:
        """A small array of float64 kept under a name; None where there is none that can be believed."""
        try:
            data = (self.folder / (key + _EXTRA)).read_bytes()
        except OSError:
            return None
        body = data[4:]
        if len(data) < 4 or len(body) % 8 or zlib.crc32(body) != int.from_bytes(data[:4], "little"):
            return None
        return np.frombuffer(body, np.float64).copy()

    def keep_extra(self, key: str, values: np.ndarray) -> None:
        """Keep a small array of float64 under a name."""
        body = np.ascontiguousarray(values, np.float64).tobytes()
        temporary = self.folder / f"{key}.{os.getpid()}-{time.monotonic_ns()}.part"
        try:
            temporary.write_bytes(zlib.crc32(body).to_bytes(4, "little") + body)
            os.replace(temporary, self.folder / (key + _EXTRA))
        except OSError:
            with contextlib.suppress(OSError):
                temporary.unlink()

    def usage(self) -> Usage:
        """What is kept, in numbers."""
        files = self._files()
        return Usage(
            self.folder, sum(1 for path, _ in files if path.suffix == _ENTRY), sum(s.st_size for _, s in files)
        )

    def prune(self, spare: Sequence[Path] = ()) -> None:
        """Bring the folder under its limit, what was unused for longest first; clear up after killed runs."""
        now = time.time()
        with contextlib.suppress(OSError):
            for path in self.folder.iterdir():
                left_over = path.name.startswith("replay-") or path.suffix == ".part"
                if left_over and now - path.stat().st_mtime > STALE_S:
                    _remove(path)
        files = sorted(self._files(), key=lambda item: item[1].st_mtime)
        total = sum(status.st_size for _, status in files)
        kept = set(spare)
        for path, status in files:
            if total <= self._limit:
                break
            if path not in kept:
                _remove(path)
                total -= status.st_size

    def empty(self) -> Usage:
        """Remove everything that is kept; what it was."""
        before = self.usage()
        for path, _ in self._files():
            _remove(path)
        return before

    def _files(self) -> list[tuple[Path, os.stat_result]]:
        found = []
        with contextlib.suppress(OSError):
            for path in self.folder.iterdir():
                if path.suffix in (_ENTRY, _EXTRA):
                    with contextlib.suppress(OSError):
                        found.append((path, path.stat()))
        return found


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
        return
    with contextlib.suppress(OSError):
        path.unlink()


def default_folder() -> Path:
    """Where results are kept unless another folder is given."""
    return cache_base() / "kept"
