"""Sockets in the tables of `check` and `routes`: whoever walks to a box needs its name and the number more than the
end of a channel's name."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from replay.findings.result import Report
from replay.mapping.model import MappingResult
from replay.patch.model import Box, Channel, Feed, Link, Patch, Socket
from replay.patch.routes import routes
from replay.report import as_routes
from replay.report.as_text import text
from replay.report.sockets import begin_alike, least, socket_in
from tests.report.shows import report

BOXES = ("rack A", "deck", "house left")
NAMES = ("Electric guitar left", "Vocal caller", "Kick in")


def channels(boxes: tuple[str, ...], sockets: int) -> tuple[Channel, ...]:
    places = [Socket(box, number) for box in boxes for number in range(1, sockets + 1)]
    return tuple(
        Channel(number=n, name=NAMES[n % 3], kind="vocal", socket=place, input="mic", use="must", line=n + 1)
        for n, place in enumerate(places, start=1)
    )


def made(boxes: tuple[str, ...], sockets: int, judged: bool) -> Report:
    """The small show's first channel again and again, on every socket of these boxes."""
    small = report(findings=())
    chosen = channels(boxes, sockets)
    patch = replace(small.show.patch, channels=chosen, boxes=tuple(Box(name=name, sockets=sockets) for name in boxes))
    views = tuple(replace(small.show.channels[0], channel=channel) for channel in chosen)
    show = replace(small.show, channels=views, patch=patch, mapping=MappingResult(judged=judged))
    return replace(small, show=show, states={channel.number: "good" for channel in chosen})


def rows(shown: str, before: str) -> list[str]:
    return [line for line in shown.splitlines() if re.match(rf"{before} *\d+ +[EVK]", line)]


@pytest.mark.parametrize("judged", [False, True], ids=["levels", "levels and mapping"])
@pytest.mark.parametrize("cells", [80, 100, 120])
def test_in_a_check_every_box_has_its_name_and_every_socket_its_number(cells: int, judged: bool):
    shown = rows(text(made(BOXES, 32, judged), cells=cells), "good")
    assert len(shown) == 96
    for line, channel in zip(shown, channels(BOXES, 32), strict=True):
        assert f" {channel.socket} " in line
        assert len(line) <= cells


def test_of_a_wide_line_no_name_is_cut():
    assert all("…" not in line for line in rows(text(made(BOXES, 32, True), cells=140), "good"))


def test_in_routes_too_and_of_a_box_with_a_long_name_the_number_stays():
    boxes = (*BOXES, "a box at the very back of the house")
    chosen = channels(boxes, 12)
    patch: Patch = replace(
        report().show.patch,
        channels=chosen,
        boxes=tuple(Box(name=name, sockets=12) for name in boxes),
        links=(Link(name="main", slots=48, first_track=1),),
        feeds=(Feed(box=boxes[0], link="main", sources=tuple(range(1, 13)), slots=tuple(range(1, 13))),),
    )
    shown = rows(as_routes.text(patch, routes(patch), medium=None, cells=80), "")
    assert len(shown) == 48
    for line, channel in zip(shown, chosen, strict=True):
        box = channel.socket.box if channel.socket is not None and channel.socket.box in BOXES else "a box at.*…"
        assert re.search(rf" {box} {(channel.number - 1) % 12 + 1}( |$)", line), line


def test_what_all_boxes_begin_with_goes_first():
    boxes = [Box(name=name, sockets=8) for name in ("stage left", "stage right")]
    alike = begin_alike(boxes)
    assert alike == "stage "
    place = Socket("stage right", 12)
    assert least(place, alike) == len("…right 12")
    assert [socket_in(place, cells, alike) for cells in (14, 13, 9, 7)] == [
        "stage right 12", "…right 12", "…right 12", "…ri… 12",
    ]  # fmt: skip
    assert least(Socket("deck", 3), "") == len("deck 3")
