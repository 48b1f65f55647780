"""Families of sources that moved together: that is how they play, and no fault. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

import numpy as np

from replay.compare.model import ChannelChange, Told
from replay.compare.moves import FAMILIES, OTHERS_AGREE_DB

LEAST_BAND_DB = 5.0
FEWEST_TOGETHER = 3
"""So many of a family, and more than half, must move together for it to be told; common practice, no source."""

_GROUPS = {"drums": "the drums", "backline": "the backline", "players": "strings and winds", "voices": "the voices"}


def group_words(name: str) -> str:
    """A family, a kind or the band in words."""
    return _GROUPS.get(name, "the band" if name == "band" else f"others of its kind ({name})")


def band(changes: Sequence[ChannelChange], told: Collection[int]) -> Iterator[Told]:
    """Families of which most moved together: how loud they play, and no fault. `told` are channels of which more is
    told."""
    families: dict[str, list[ChannelChange]] = {}
    for change in changes:
        family = FAMILIES.get(change.after.channel.kind)
        if change.moved is not None and family is not None and change.number not in told:
            families.setdefault(family, []).append(change)
    for family, members in families.items():
        owns = [one.moved.own_db for one in members if one.moved is not None]
        if len(owns) < FEWEST_TOGETHER:
            continue
        middle = float(np.median(owns))
        near = [one.number for one, own in zip(members, owns, strict=True) if abs(own - middle) <= OTHERS_AGREE_DB]
        if abs(middle) < LEAST_BAND_DB or 2 * len(near) <= len(owns):
            continue
        word = "louder" if middle > 0 else "softer"
        yield Told(
            code="band",
            worse=False,
            confidence="possible",
            channels=tuple(near),
            message=f"{group_words(family).capitalize()} as a whole {'are' if family != 'backline' else 'is'} "
            f"{abs(middle):.0f} dB {word}: how they play, or gains that the patches do not tell.",
            amount=round(middle, 1),
            unit="dB",
        )
