"""The channels, one line each in channel order: a mark, where from, levels as recorded, level after trim, change.

The columns are a list; a new figure is one line in it, with the width of line from which on it is shown. Names and
boxes are cut to fit; the mark, the change and the recurring peak are always there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from replay.report import confirmed, phrases, sockets
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
_LEAST_NAME = 6


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
    alike = sockets.begin_alike(report.show.patch.boxes)
    name, socket = _name_and_socket(report, cells, sum(figure.cells + 1 for figure in figures), alike)
    mark = max(width(word) for word in MARKS.values())

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


def _name_and_socket(report: Report, cells: int, taken_by_figures: int, alike: str) -> tuple[int, int]:
    """Cells for names and sockets: as many as the longest needs. Where the line is short, what all boxes' names begin
    with goes first, then the ends of the channels' names, which have their numbers, and the boxes' names last."""
    views = report.show.channels
    places = [view.channel.socket for view in views if view.channel.socket is not None]
    fixed = 5 + 1 + 4 + 1 + 1 + 1 + 5 + taken_by_figures + 1 + 6
    left = max(cells, 60) - fixed
    name = min(max(*(width(harmless(view.channel.name)) for view in views), 4), _LONGEST_NAME)
    whole = min(max([width(harmless(str(place))) for place in places], default=0), _LONGEST_SOCKET)
    least = min(max([sockets.least(place, alike) for place in places], default=0), whole, left - _LEAST_NAME)
    socket = max(min(whole, left - name), least, 6)
    return max(min(name, left - socket), 4), socket


def _place(view: ChannelView, cells: int, alike: str) -> str:
    return "" if view.channel.socket is None else sockets.socket_in(view.channel.socket, cells, alike)


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
