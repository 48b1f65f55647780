"""Takes of tiny files, and what is told of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from replay.take.model import Take
from tests.take.making import bext, put, wave

RATE = 48000


def recorded(
    seconds: float = 0.1,
    *,
    channels: int = 1,
    bits: int = 16,
    rate: int = RATE,
    at: float | None = None,
    date: str = "2026-11-20",
    clock: str = "20:30:00",
) -> bytes:
    """A wave file; `at` (seconds since midnight) gives it a bext start time, with that date and clock."""
    before = () if at is None else (bext(reference=round(at * rate), date=date, clock=clock),)
    return wave(round(seconds * rate), *before, channels=channels, bits=bits, rate=rate)


def lay(folder: Path, files: Mapping[str, bytes], *, age: float = 3600.0) -> Path:
    """Put files into a folder, all as old as a copy would leave them."""
    for name, content in files.items():
        put(folder / name, content, age=age)
    return folder


def numbered(take: Take) -> dict[int, str]:
    """Track number -> first file's name, and the channel where it has several."""
    shown = {}
    for track in take.tracks:
        several = track.segments[0].file.channels > 1
        shown[track.number] = track.file_name + (f":{track.segments[0].channel + 1}" if several else "")
    return shown


def told(take: Take, code: str | None = None) -> list[str]:
    """What is said, of one code or of all."""
    return [trouble.detail for trouble in take.troubles if code in (None, trouble.code)]


def codes(take: Take) -> list[str]:
    return [trouble.code for trouble in take.troubles]
