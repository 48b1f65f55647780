"""Colour on a terminal: three inks and bold, never the only carrier of a meaning."""

from __future__ import annotations

from dataclasses import dataclass

_CODES = {"bad": "1;31", "look": "33", "good": "32", "strong": "1", "faint": "2"}


@dataclass(frozen=True)
class Ink:
    """Puts escape codes around text where `colour` is true; else leaves it alone."""

    colour: bool

    def __call__(self, ink: str, text: str) -> str:
        """`text` in an ink (`bad`, `look`, `good`, `strong`, `faint`); any other name leaves it plain."""
        code = _CODES.get(ink)
        if not self.colour or code is None or not text.strip():
            return text
        return f"\x1b[{code}m{text}\x1b[0m"
