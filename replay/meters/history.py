"""Histories on disk: written as they come, read back a column at a time.

A track's file holds chunks of CHUNK_HOPS hops (the last one shorter); a chunk holds every column in the order of the
list, as plain numbers. So a pass of any length needs the memory of one chunk, and one column can be read without the
others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np

from replay.grid import CELLS_PER_HOP
from replay.meters.model import Column

CHUNK_HOPS = 600


def _values(column: Column, hops: int) -> int:
    return hops * (CELLS_PER_HOP if column.period_ms == 10 else 1)


def write_chunk(file: BinaryIO, columns: Sequence[Column], values: Mapping[str, np.ndarray]) -> None:
    """Append one chunk: `values[name]` holds the chunk's part of every column, in any float type."""
    file.write(b"".join(np.ascontiguousarray(values[column.name]).astype(column.dtype).tobytes() for column in columns))


def read_column(path: Path, columns: Sequence[Column], hops: int, name: str, *, offset: int = 0) -> np.ndarray:
    """One column of a track's file whose first chunk begins at byte `offset`; KeyError where there is no such column.

    Raises OSError where the file is shorter than its columns.
    """
    before = 0
    chosen = None
    for column in columns:
        if column.name == name:
            chosen = column
            break
        before += _values(column, 1) * np.dtype(column.dtype).itemsize
    if chosen is None:
        raise KeyError(name)
    per_hop = sum(_values(column, 1) * np.dtype(column.dtype).itemsize for column in columns)
    dtype = np.dtype(chosen.dtype)
    out = np.empty(_values(chosen, hops), dtype)
    view = out.view(np.uint8).data
    done = 0
    with open(path, "rb", buffering=0) as file:
        for first in range(0, hops, CHUNK_HOPS):
            here = min(CHUNK_HOPS, hops - first)
            file.seek(offset + first * per_hop + before * here)
            size = _values(chosen, here) * dtype.itemsize
            if file.readinto(view[done : done + size]) != size:
                raise OSError(f"{path}: shorter than its columns")
            done += size
    return out
