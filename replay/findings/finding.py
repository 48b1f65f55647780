"""One thing that the engineer must know, with what to do. Complete when made."""

from __future__ import annotations

from dataclasses import dataclass

from replay.patch.model import Slot, Socket

SEVERITIES = ("fault", "warning", "note")
"""fault: do not rely on it; warning: look at it; note: good to know."""

CONFIDENCES = ("certain", "likely", "possible")


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A finding.

    `message` is one plain sentence with the evidence (no channel number needed in front: reports print the place),
    `action` one thing to do. `amount` has `unit` (dB, s, runs, ...). `start_s`/`end_s` are on the take's clock.
    `key` tells findings of one code on one channel or track apart (usually ""); `id` is made from code, place and
    key, so it stays the same for the same take and patch.
    `swallowed` lists the codes of findings that this one explains (filled by `settle`).

    Raises ValueError on a severity or confidence that does not exist, or `possible` above a note.
    """

    code: str
    severity: str
    confidence: str
    message: str
    action: str
    channels: tuple[int, ...] = ()
    tracks: tuple[int, ...] = ()
    slots: tuple[Slot, ...] = ()
    sockets: tuple[Socket, ...] = ()
    start_s: float | None = None
    end_s: float | None = None
    amount: float | None = None
    unit: str = ""
    key: str = ""
    swallowed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.severity not in SEVERITIES:
            raise ValueError(f"no such severity: {self.severity}")
        if self.confidence not in CONFIDENCES:
            raise ValueError(f"no such confidence: {self.confidence}")
        if self.confidence == "possible" and self.severity != "note":
            raise ValueError(f"{self.code}: what is only possible is a note")

    @property
    def id(self) -> str:
        """Code and place, such as `clipped-ch7` or `extra-track-t31`."""
        if self.channels:
            place = "-".join(f"ch{number}" for number in self.channels[:3])
        elif self.tracks:
            place = "-".join(f"t{number}" for number in self.tracks[:3])
        elif self.slots:
            place = "-".join(f"{slot.link}{slot.number}" for slot in self.slots[:3])
        else:
            place = "take"
        more = max(len(self.channels), len(self.tracks) if not self.channels else 0) - 3
        parts = [self.code, place + (f"+{more}" if more > 0 else "")]
        if self.key:
            parts.append(self.key)
        return "-".join(parts)
