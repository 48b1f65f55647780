"""What is typed after a command's options, as values: times and channel settings. All mistakes are told at once."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from replay.errors import CallError, Place, Problem
from replay.text import harmless

LARGEST_SETTING_DB = 200.0
"""No gain or trim of any desk goes near this; a larger number is a slip of the finger."""

_TIME = re.compile(r"(?:(\d{1,3}):)?(?:(\d{1,3}):)?(\d{1,6}(?:[.,]\d{1,6})?)", re.ASCII)
_SETTING = re.compile(r"(\d{1,6})\s*=\s*([+-]?\d{1,6}(?:[.,]\d{1,6})?)", re.ASCII)


class Values:
    """Reads values one after another and collects what is wrong with them; `settle` raises all of it."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def time(self, option: str, value: str | None) -> float | None:
        """Seconds from `4:30`, `1:02:05`, `270` or `4:30.5`; None where the option was not given."""
        if value is None:
            return None
        match = _TIME.fullmatch(value.strip())
        if match is None:
            self.wrong(option, f"not a time: {value}", "write minutes and seconds, such as 4:30")
            return None
        first, second, last = match.groups()
        hours, minutes = (first, second) if second is not None else (None, first)
        seconds = float(last.replace(",", "."))
        parts = (int(hours or 0), int(minutes or 0))
        if (minutes is not None and seconds >= 60) or (hours is not None and parts[1] >= 60):
            self.wrong(option, f"not a time: {value}", "minutes and seconds go up to 59, such as 1:02:05")
            return None
        return parts[0] * 3600 + parts[1] * 60 + seconds

    def settings(self, option: str, values: Iterable[str]) -> dict[int, float]:
        """Decibels by channel from `7=-3.5` and the like."""
        chosen: dict[int, float] = {}
        for value in values:
            match = _SETTING.fullmatch(value.strip())
            if match is None:
                self.wrong(option, f"not a channel and a setting: {value}", f"write {option} 7=-3.5")
                continue
            channel, decibels = int(match[1]), float(match[2].replace(",", "."))
            if abs(decibels) > LARGEST_SETTING_DB:
                self.wrong(option, f"{decibels:g} dB on channel {channel} is beyond any desk", "give it in dB")
            elif channel in chosen:
                self.wrong(option, f"channel {channel} is given twice", "give each channel once")
            else:
                chosen[channel] = decibels
        return chosen

    def wrong(self, option: str, message: str, hint: str) -> None:
        self.problems.append(Problem(harmless(message), Place(key=option), hint))

    def settle(self) -> None:
        """CallError with everything that was wrong so far, if anything was."""
        if self.problems:
            raise CallError(self.problems)


def is_no_folder(path: Path) -> bool:
    """Whether something that is no folder stands at `path`, or nobody can tell."""
    try:
        return path.exists() and not path.is_dir()
    except (OSError, ValueError):
        return True
