"""The bext chunk of a broadcast wave file: description, when it was made, and where it lies in the day.

Offsets as in EBU Tech 3285 version 2: Description 0/256, OriginationDate 320/10, OriginationTime 330/8,
TimeReference 338/8 (samples since midnight, low word first).
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

_NUMBERS = re.compile(r"\d+")
_LONGEST_REFERENCE = 1 << 56
"""A time reference above this is no count of samples in any day at any rate."""


@dataclass(frozen=True, kw_only=True)
class Bext:
    """`reference` is in frames since midnight; `made` in seconds since the epoch, the recorder's clock being taken as
    local time. Each is None where the chunk does not hold a sensible one."""

    description: str = ""
    made: float | None = None
    reference: int | None = None


def read_bext(body: bytes) -> Bext:
    """Read a bext body of any length and content; what does not make sense is left out. Never raises."""
    description = _text(body[:256])
    made = _when(_text(body[320:330]), _text(body[330:338]))
    reference: int | None = None
    if len(body) >= 346:
        reference = int.from_bytes(body[338:346], "little")
        if reference > _LONGEST_REFERENCE:
            reference = None
    return Bext(description=description, made=made, reference=reference)


def _text(field: bytes) -> str:
    """Text up to the first zero byte: UTF-8 where it is that, else Latin-1 (the standard says ASCII)."""
    field = field.split(b"\0", 1)[0]
    try:
        return field.decode("utf-8").strip()
    except UnicodeDecodeError:
        return field.decode("latin-1").strip()


def _when(date: str, time: str) -> float | None:
    """Seconds since the epoch; any separators, as the standard allows several."""
    day, clock = _NUMBERS.findall(date), _NUMBERS.findall(time)
    try:
        year, month, dom = (int(number) for number in day)
        hour, minute, second = (int(number) for number in clock) if clock else (0, 0, 0)
        return datetime.datetime(year, month, dom, hour, minute, second).timestamp()
    except (ValueError, OverflowError, OSError):
        return None
