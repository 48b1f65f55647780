"""Sockets in columns: where room is short the box's name is cut, never the number."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import TYPE_CHECKING

from replay.report.cells import fit, width
from replay.text import harmless

if TYPE_CHECKING:
    from replay.patch.model import Box, Socket


def begin_alike(boxes: Iterable[Box]) -> str:
    """The words that all boxes' names begin with, which say nothing where room is short; "" where one box is alone or a
    name would have nothing left."""
    return _alike([harmless(box.name) for box in boxes])


def _alike(names: list[str]) -> str:
    """The words that all names begin with.

    >>> _alike(["stage left", "stage right"]), _alike(["stage"]), _alike(["deck", "desk"]), _alike(["FOH", "FOH 2"])
    ('stage ', '', '', '')
    """
    if len(names) < 2:
        return ""
    beginnings = zip(*(name.split(" ")[:-1] for name in names), strict=False)
    shared = itertools.takewhile(lambda words: len(set(words)) == 1, beginnings)
    return "".join(f"{words[0]} " for words in shared)


def least(socket: Socket, alike: str) -> int:
    """The cells that a socket needs so that nothing is lost but what all boxes' names begin with."""
    return min(width(_short(socket, alike)) + width(f" {socket.number}"), width(harmless(str(socket))))


def socket_in(socket: Socket, cells: int, alike: str) -> str:
    """The socket in at most `cells` cells: the box's name is cut, and first where it says nothing because all boxes'
    names begin so."""
    whole = harmless(str(socket))
    if width(whole) <= cells:
        return whole
    number = f" {socket.number}"
    return fit(_short(socket, alike), cells - width(number)).rstrip() + number


def _short(socket: Socket, alike: str) -> str:
    box = harmless(socket.box)
    return f"…{box[len(alike) :]}" if alike else box
