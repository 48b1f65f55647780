"""What opening a file gives, and the limits that every file is held to, whoever decodes it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from replay.take.model import AudioFile, FileTrouble
from replay.text import harmless

MOST_CHANNELS = 1024
HIGHEST_RATE = 1_536_000
LOWEST_RATE = 1_000


@dataclass(frozen=True)
class Opened:
    """A file as far as it can be read (`file` None: not at all), and what is wrong with it."""

    file: AudioFile | None
    troubles: tuple[FileTrouble, ...] = ()


class Unreadable(Exception):
    """Why a file cannot be read, in words that follow "cannot be read: "; never leaves this package."""


def check_counts(channels: int, rate: int) -> None:
    """Raise Unreadable where a header gives a channel count or a rate that no take has."""
    if not 1 <= channels <= MOST_CHANNELS:
        raise Unreadable(f"its header gives {channels} channels; 1 to {MOST_CHANNELS} can be read")
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise Unreadable(f"its header gives a sample rate of {rate} Hz")


def cut_off(path: Path, promised_s: float, there_s: float) -> FileTrouble:
    """The trouble of a file whose header promises more than is there."""
    name, lost = harmless(path.name), promised_s - there_s
    text = f"its header promises {promised_s:.2f} s, {there_s:.2f} s are there, {lost:.2f} s are missing."
    return FileTrouble(code="truncated", detail=f"{name} is cut off: {text}", files=(name,), lost_s=lost)
