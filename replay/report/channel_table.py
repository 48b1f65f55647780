"""The channels, one line each in channel order: a mark, where from, levels as recorded, level after trim, change.

The columns are a list; a new figure is one line in it, with the width of line from which on it is shown. Names and
boxes are cut to fit; the mark, the change and the recurring peak are always there.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.report import confirmed, phrases
from replay.report.cells import fit, width
from replay.report.ink import Ink
from replay.text import clock, harmless

if TYPE_CHECKING:
    from replay.desk.model import ChannelView, Levels
    from replay.ear import Ear
    from replay.findings.result import Report

WIDE = 120
"""From this width on, all columns are shown."""

MARKS = {"bad": "BAD", "look": "LOOK", "good": "good", "spare": "spare", "unjudged": "?"}
"""A channel's state as the word at the left edge: capitals ask for attention, with or without colour."""

_LONGEST_NAME = 28
_LONGEST_SOCKET = 16


@dataclass(frozen=True)
class _Figure:
    """A column of figures: two lines of heading, its width, the text for a channel that has a track, and from which
    width of line on it is shown."""

    above: str
    below: str
    cells: int
    show: Callable[[ChannelView, Ear], str]
    from_cells: int = 0
    judged: bool = False


def _recorded(name: str) -> Callable[[ChannelView, Ear], str]:
    return lambda view, ear: phrases.level(_of(view.recorded, name))


def _of(levels: Levels | None, name: str) -> float | None:
    return None if levels is None else getattr(levels, name)


def _lone(view: ChannelView, ear: Ear) -> str:
    at = _of(view.recorded, "lone_peak_s")
    return "" if at is None else clock(at)


def _active(view: ChannelView, ear: Ear) -> str:
    percent = _of(view.recorded, "active_percent")
    return "-" if percent is None else f"{percent:.0f}"


def _heard(view: ChannelView, ear: Ear) -> str:
    return confirmed.heard(view.mapping.status, ear.says(view.channel.number))


FIGURES = (
    _Figure("heard", "", 5, _heard, judged=True),
    _Figure("floor", "dBFS", 6, _recorded("noise_floor_dbfs"), from_cells=WIDE),
    _Figure("active", "%", 6, _active, from_cells=WIDE),
    _Figure("loud", "LUFS", 6, _recorded("integrated_lufs"), from_cells=WIDE),
    _Figure("sample", "dBFS", 6, _recorded("sample_peak_dbfs"), from_cells=WIDE),
    _Figure("peak", "dBTP", 6, _recorded("true_peak_dbtp")),
    _Figure("played", "dBTP", 6, _recorded("played_peak_dbtp")),
    _Figure("lone", "at", 7, _lone, from_cells=74),
    _Figure("after", "trim", 6, lambda view, ear: phrases.level(_of(view.input, "true_peak_dbtp")), from_cells=70),
)


def lines(report: Report, *, cells: int, ink: Ink) -> list[str]:
    """The table as lines of at most `cells` cells (60 at the least)."""
    views = report.show.channels
    if not views:
        return []
    judged = report.show.mapping.judged
    figures = [figure for figure in FIGURES if cells >= figure.from_cells and (judged or not figure.judged)]
    name, socket = _name_and_socket(report, cells, sum(figure.cells + 1 for figure in figures))
    mark = max(width(word) for word in MARKS.values())
    alike = _alike([harmless(box.name) for box in report.show.patch.boxes])

    def row(*, state: str, number: str, title: str, place: str, track: str, levels: str, change: str) -> str:
        left = f"{fit(number, 4, right=True)} {fit(title, name)} {fit(place, socket)} {fit(track, 5, right=True)}"
        return f"{fit(state, mark)} {left}{levels} {fit(change, 6, right=True)}".rstrip()

    above = "".join(f" {fit(figure.above, figure.cells, right=True)}" for figure in figures)
    below = "".join(f" {fit(figure.below, figure.cells, right=True)}" for figure in figures)
    table = [
        row(state="", number="", title="", place="", track="", levels=above, change="change"),
        row(state="", number="ch", title="name", place="socket", track="track", levels=below, change="dB"),
    ]
    for view in views:
        state = report.states[view.channel.number]
        line = row(
            state=MARKS[state],
            number=str(view.channel.number),
            title=harmless(view.channel.name),
            place=_place(view, socket, alike),
            track="" if view.track is None else str(view.track.track.number),
            levels=_levels(view, figures, report.show.ear),
            change=_change(view),
        )
        table.append(ink(state, line[:mark]) + line[mark:])
    return table


def _name_and_socket(report: Report, cells: int, taken_by_figures: int) -> tuple[int, int]:
    """Cells for names and sockets: as many as the longest needs, fewer where the line is short."""
    views = report.show.channels
    fixed = 5 + 1 + 4 + 1 + 1 + 1 + 5 + taken_by_figures + 1 + 6
    name = min(max(*(width(harmless(view.channel.name)) for view in views), 4), _LONGEST_NAME)
    socket = min(max(*(width(_socket(view)) for view in views), 6), _LONGEST_SOCKET)
    left = max(cells, 60) - fixed
    socket = min(socket, max(left * 2 // 5, left - name, 6))
    return max(min(name, left - socket), 4), socket


def _socket(view: ChannelView) -> str:
    return "" if view.channel.socket is None else harmless(str(view.channel.socket))


def _alike(boxes: list[str]) -> str:
    """The words that all boxes' names begin with; "" where one box is alone or a name would have nothing left.

    >>> _alike(["stage left", "stage right"]), _alike(["stage"]), _alike(["deck", "desk"]), _alike(["FOH", "FOH 2"])
    ('stage ', '', '', '')
    """
    if len(boxes) < 2:
        return ""
    beginnings = zip(*(box.split(" ")[:-1] for box in boxes), strict=False)
    shared = itertools.takewhile(lambda words: len(set(words)) == 1, beginnings)
    return "".join(f"{words[0]} " for words in shared)


def _place(view: ChannelView, cells: int, alike: str) -> str:
    """The socket in at most `cells` cells: where room is short the box's name is cut, never the number, and first where
    it says nothing because all boxes' names begin so."""
    if view.channel.socket is None or width(_socket(view)) <= cells:
        return _socket(view)
    number = f" {view.channel.socket.number}"
    box = harmless(view.channel.socket.box)
    if alike:
        box = f"…{box[len(alike) :]}"
    return fit(box, cells - width(number)) + number


def _levels(view: ChannelView, figures: list[_Figure], ear: Ear) -> str:
    """The figures, or the reason why there are none in their place."""
    cells = sum(figure.cells + 1 for figure in figures)
    if view.recorded is None:
        return " " + fit(f" {phrases.why_no_level(view)}", cells - 1)
    return "".join(f" {fit(figure.show(view, ear), figure.cells, right=True)}" for figure in figures)


def _change(view: ChannelView) -> str:
    advice = view.advice
    if advice is None:
        return ""
    return phrases.change(advice.gain_db) if advice.gain_db or not advice.pad else f"pad {advice.pad}"
