"""Folders of tracks, lists in many forms, and a draft of both, read back as the check reads it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from replay.drafting import taking
from replay.drafting.draft import Draft, draft, encoded
from replay.drafting.put import put
from replay.patch.from_toml import read_patch
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes, routes
from tests.need import need_package
from tests.take.shows import lay, recorded


def tracks(folder: Path, *names: str, channels: int = 1) -> Path:
    """A take of short mono files of these names."""
    return lay(folder, {f"{name}.wav": recorded(0.1, channels=channels) for name in names})


def numbered(folder: Path, count: int) -> Path:
    """A take whose names say nothing but a number."""
    return tracks(folder, *(f"Track {number:02d}" for number in range(1, count + 1)))


def book(*sheets: tuple[str, Sequence[Sequence[Any]], Sequence[str]]) -> bytes:
    """A workbook of sheets: title, rows, and merged ranges."""
    need_package("openpyxl")
    import openpyxl

    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows, merged in sheets:
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
        for cells in merged:
            sheet.merge_cells(cells)
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


@dataclass(frozen=True)
class Drafted:
    """A draft, written to `show` and read back by the reader of patches."""

    made: Draft
    show: Path
    patch: Patch
    ways: Routes

    def channel(self, number: int) -> Channel:
        return self.patch.channel(number)

    def plugged(self) -> dict[int, str]:
        """Channel -> "name @ box socket > track"."""
        out = {}
        for one in self.patch.channels:
            slots = self.ways.of(one.number).slots
            track = str(self.ways.track_of(slots[0])) if slots else "-"
            out[one.number] = f"{one.name} @ {one.socket or '-'} > {track}"
        return out

    def guessed(self) -> list[str]:
        return [str(note) for note in (*self.made.notes.patch, *self.made.notes.inputs)]

    def unknown(self) -> list[str]:
        return [str(note) for note in self.made.notes.unknown]

    def left_out(self) -> list[str]:
        return [str(note) for note in self.made.notes.left_out]

    def read(self) -> list[str]:
        return [str(note) for note in self.made.notes.read]


def drafted(take: Path, content: str | bytes | None = None, suffix: str = ".csv", sheet: str | None = None) -> Drafted:
    """A draft of a take and the content of a list, put in place and read back."""
    list_path = None
    if content is not None:
        list_path = take.parent / f"list{suffix}"
        list_path.write_bytes(content.encode() if isinstance(content, str) else content)
    place = taking.where(take, None)
    made = draft(place, list_path, sheet, None)
    put({place.show / name: data for name, data in encoded(made).items()})
    patch = read_patch(place.show)
    return Drafted(made, place.show, patch, routes(patch))
