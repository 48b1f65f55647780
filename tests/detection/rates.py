"""Rates with their uncertainty."""

from __future__ import annotations

from tests.wilson import wilson


def as_text(hits: int, tries: int) -> str:
    """`58/60 97 % (89-99)`."""
    low, high = wilson(hits, tries)
    return f"{hits}/{tries}, {100 * hits / max(tries, 1):.0f} % ({100 * low:.0f} to {100 * high:.0f})"
