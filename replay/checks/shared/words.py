"""Figures and lists in the words that the checks' sentences use."""

from __future__ import annotations

import re
from collections.abc import Sequence

from replay.patch.model import Slot
from replay.text import clock, harmless
from replay.units import LEAST_TOLD_DB


def plain(value: float) -> str:
    """A number with at most one decimal.

    >>> plain(10.0), plain(2.54), plain(-0.04)
    ('10', '2.5', '0')
    """
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")


def level(value: float, unit: str = "dBTP") -> str:
    """A level with its sign and unit; below what converters know, no figure is given.

    >>> level(2.13), level(-6.0, "dBFS"), level(-216.4, "dBFS")
    ('+2.1 dBTP', '-6.0 dBFS', 'below -140 dBFS')
    """
    if value < LEAST_TOLD_DB:
        return f"below {LEAST_TOLD_DB:g} {unit}"
    tidy = round(value, 1) + 0.0
    return f"{'+' if tidy > 0 else ''}{tidy:.1f} {unit}"


def count(number: int, one: str, many: str = "") -> str:
    """A number of things.

    >>> count(1, "run"), count(14, "run"), count(2, "track is", "tracks are")
    ('1 run', '14 runs', '2 tracks are')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def span(seconds: float) -> str:
    """A length of time.

    >>> span(0.004), span(2.1), span(205)
    ('4 ms', '2.1 s', '3 min 25 s')
    """
    if seconds < 0.1:
        return f"{max(round(seconds * 1000), 1)} ms"
    if seconds < 120:
        return f"{plain(seconds)} s"
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60} s"


def millisecond(seconds: float) -> str:
    """A point in time on the take's clock, to the millisecond.

    >>> millisecond(12.48), millisecond(59.9996)
    ('0:12.480', '1:00.000')
    """
    whole = round(seconds * 1000)
    return f"{clock(whole // 1000)}.{whole % 1000:03d}"


def at(seconds: float) -> str:
    """A point in time on the take's clock.

    >>> at(161.4)
    'at 2:41'
    """
    return f"at {clock(seconds)}"


def listed(words: Sequence[str], most: int = 6) -> str:
    """Words in a row, cut after `most`.

    >>> listed(["a", "b", "c"]), listed(["a", "b", "c", "d"], most=2)
    ('a, b and c', 'a, b and 2 more')
    """
    if len(words) > most:
        return ", ".join(words[:most]) + f" and {len(words) - most} more"
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1] if words else ""]))


def slug(name: str) -> str:
    """A name made fit for a finding's id.

    >>> slug("Kick In (2).wav")
    'kick-in-2-wav'
    """
    return re.sub(r"[^a-z0-9]+", "-", harmless(name).lower()).strip("-")


def slot_name(slot: Slot, links: int) -> str:
    """A slot, with its link's name where the show has several links.

    >>> slot_name(Slot("main", 14), 1), slot_name(Slot("main", 14), 2)
    ('slot 14', 'slot main 14')
    """
    return f"slot {harmless(slot.link)} {slot.number}" if links > 1 else f"slot {slot.number}"
