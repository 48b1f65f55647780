"""Histories on disk: written as they come, read back a column at a time.

A track's file holds its histories in chunks of as many hops as its footer says (the last one shorter); a chunk holds
every column in the order of the list, as plain numbers. So a pass of any length needs the memory of one chunk, and one
column can be read without the others. Behind the chunks come the events and a footer that says what the file is: all
that was measured of the track. Footer and columns carry checksums: a file that was cut short or changed is noticed,
never believed.
"""

from __future__ import annotations

import contextlib
import json
import struct
import zlib
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from replay.grid import CELLS_PER_HOP
from replay.meters.model import EVENT, Column

CHUNK_HOPS = 600
"""Hops of a chunk, unless many tracks are measured at once: a minute."""

RECENT_BYTES = 1 << 18
"""Of a take of some minutes about ten columns; of an hour none, so memory does not grow with the length of a take."""

_MAGIC = b"replay-history-1"
_TAIL = struct.Struct("<QI16s")
_LONGEST_FOOTER = 1 << 24


class DamagedError(Exception):
    """A history file cannot be believed: cut short, changed, or gone."""


def _values(column: Column, hops: int) -> int:
    return hops * (CELLS_PER_HOP if column.period_ms == 10 else 1)


def _size(column: Column, hops: int) -> int:
    return _values(column, hops) * np.dtype(column.dtype).itemsize


class Writer:
    """Writes one track's histories to a new file, in chunks of `chunk_hops`. Raises OSError where the disk does not
    take them."""

    def __init__(self, path: Path, columns: Sequence[Column], chunk_hops: int = CHUNK_HOPS) -> None:
        self._columns = columns
        self._chunk_hops = chunk_hops
        self._sums = {column.name: 0 for column in columns}
        self._file = open(path, "wb")  # noqa: SIM115 - closed in `close`
        self._hops = 0

    def append(self, values: Mapping[str, np.ndarray], hops: int) -> None:
        """One chunk: `values[name]` holds the chunk's part of every column, in any float type. Only the last chunk may
        have fewer hops than the others."""
        parts = []
        for column in self._columns:
            part = np.ascontiguousarray(values[column.name]).astype(column.dtype).tobytes()
            self._sums[column.name] = zlib.crc32(part, self._sums[column.name])
            parts.append(part)
        self._file.write(b"".join(parts))
        self._hops += hops

    def finish(self, facts: Mapping[str, Any], events: np.ndarray) -> None:
        """Write the events and the footer with `facts` (plain values by name), and close."""
        body = events.tobytes()
        footer = {
            **facts,
            "hops": self._hops,
            "chunk_hops": self._chunk_hops,
            "columns": [asdict(column) for column in self._columns],
            "checksums": self._sums,
            "events": len(events),
            "events_checksum": zlib.crc32(body),
        }
        text = json.dumps(footer).encode()
        self._file.write(body + text + _TAIL.pack(len(text), zlib.crc32(text), _MAGIC))
        self._file.close()

    def close(self) -> None:
        """Close without a footer, if it is not finished."""
        # What a full disk did not take it will not take now.
        with contextlib.suppress(OSError):
            self._file.close()


@dataclass(frozen=True)
class History:
    """A finished file: its facts, its events, and its columns on demand."""

    path: Path
    facts: Mapping[str, Any]
    columns: tuple[Column, ...]
    hops: int
    events: np.ndarray

    @cached_property
    def _places(self) -> tuple[int, dict[str, tuple[Column, int]]]:
        """Bytes of a hop, and by name each column with the bytes of those before it in a hop."""
        per_hop = 0
        places: dict[str, tuple[Column, int]] = {}
        for column in self.columns:
            places.setdefault(column.name, (column, per_hop))
            per_hop += _size(column, 1)
        return per_hop, places

    @cached_property
    def _recent(self) -> OrderedDict[str, np.ndarray]:
        """The columns read last, RECENT_BYTES of them at most: what one check has asked for the next one often does."""
        return OrderedDict()

    def column(self, name: str) -> np.ndarray:
        """One column as a fresh array. KeyError where there is none; DamagedError where it cannot be believed."""
        known = self._recent.pop(name, None)
        values = self._read(name) if known is None else known
        if values.nbytes > RECENT_BYTES // 4:
            return values
        self._recent[name] = values
        while sum(kept.nbytes for kept in tuple(self._recent.values())) > RECENT_BYTES:
            self._recent.popitem(last=False)
        return values.copy()

    def _read(self, name: str) -> np.ndarray:
        per_hop, places = self._places
        chosen, before = places[name]
        out = np.empty(_values(chosen, self.hops), np.dtype(chosen.dtype))
        view, done = out.view(np.uint8).data, 0
        hop_size, chunk_hops = _size(chosen, 1), self.facts["chunk_hops"]
        try:
            with open(self.path, "rb", buffering=0) as file:
                for first in range(0, self.hops, chunk_hops):
                    here = min(chunk_hops, self.hops - first)
                    size = hop_size * here
                    file.seek(first * per_hop + before * here)
                    if file.readinto(view[done : done + size]) != size:
                        raise DamagedError(f"{self.path}: shorter than its columns")
                    done += size
        except OSError as error:
            raise DamagedError(f"{self.path}: {error.strerror}") from error
        if zlib.crc32(view) != self.facts["checksums"][name]:
            raise DamagedError(f"{self.path}: column {name} has changed")
        return out


def read_history(path: Path) -> History:
    """Open a finished file. DamagedError where it is none, is cut short or has changed."""
    try:
        with open(path, "rb") as file:
            end = file.seek(0, 2)
            file.seek(max(0, end - _TAIL.size))
            tail = file.read(_TAIL.size)
            if len(tail) != _TAIL.size:
                raise DamagedError(f"{path}: too short")
            length, checksum, magic = _TAIL.unpack(tail)
            if magic != _MAGIC or length > min(_LONGEST_FOOTER, end - _TAIL.size):
                raise DamagedError(f"{path}: no footer")
            file.seek(end - _TAIL.size - length)
            text = file.read(length)
            if zlib.crc32(text) != checksum:
                raise DamagedError(f"{path}: the footer has changed")
            facts = json.loads(text)
            columns = tuple(Column(**column) for column in facts["columns"])
            size = facts["events"] * EVENT.itemsize
            start = sum(_size(column, facts["hops"]) for column in columns)
            if start + size + length + _TAIL.size != end:
                raise DamagedError(f"{path}: not as long as it says")
            file.seek(start)
            body = file.read(size)
    except OSError as error:
        raise DamagedError(f"{path}: {error.strerror}") from error
    if zlib.crc32(body) != facts["events_checksum"]:
        raise DamagedError(f"{path}: the events have changed")
    return History(path, facts, columns, facts["hops"], np.frombuffer(body, EVENT).copy())
