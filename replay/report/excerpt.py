"""A few seconds of a channel to hear, ready to be put into a page. Cut elsewhere: reports touch no samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class Excerpt:
    """An excerpt of one channel: MP3 data, where it begins and how long it is, by how many dB its level was changed (so
    that it plays at a safe level), and in a few words why this stretch was chosen."""

    channel: int
    mp3: bytes
    start_s: float
    length_s: float
    gain_db: float
    why: str


@dataclass(frozen=True, kw_only=True)
class Excerpts:
    """All excerpts by channel number; `remark` says what was left out and why, "" if nothing."""

    by_channel: Mapping[int, Excerpt] = field(default_factory=dict)
    remark: str = ""


NONE = Excerpts(remark="Made without excerpts to hear.")
