"""The input list's rows as channels, judged one by one and against each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from replay.patch import cells
from replay.patch.from_table import MOST_CHANNELS, Row
from replay.patch.kinds import KINDS, kind_from_name
from replay.patch.model import INPUTS, PAIRINGS, USES, Box, Bus, Channel, Desk, Socket
from replay.patch.problems import Problems, Unfit, figure, nearest, shown, span
from replay.patch.wiring import MOST_SOCKETS, Wiring

V = TypeVar("V")


class Listing:
    """Reads channels from rows. `all_buses` is false where a bus could not be read: an unknown name may be that one."""

    def __init__(
        self,
        wiring: Wiring,
        buses: Sequence[Bus],
        desk: Desk,
        *,
        all_buses: bool,
        trim_stated: bool,
        problems: Problems,
    ) -> None:
        self.wiring = wiring
        self.problems = problems
        self._boxes = {box.name.casefold(): box for box in wiring.boxes}
        self._playback = cells.playback(wiring.links) if wiring.all_links else None
        self._sends = cells.sends(buses) if all_buses else None
        # The steps of a trim that nobody stated are not the desk's.
        self._trim = cells.setting(desk.trim, low=0, high=0, on_step=trim_stated)
        self._all_numbers = True

    def channels(self, rows: Sequence[Row]) -> tuple[Channel, ...]:
        """The channels of a list, in its order, pairs named on both sides."""
        rows_of: dict[int, Row] = {}
        found: dict[int, Channel] = {}
        for row in rows:
            channel = self._channel(row)
            if channel is None:
                self._all_numbers = False
            elif channel.number in found:
                message = f"{channel.number} already stands on {_line(rows_of[channel.number], row)}"
                row.problem("channel", message, "each channel on one line")
            else:
                found[channel.number] = channel
                rows_of[channel.number] = row
        self._share_sockets(found, rows_of)
        self._pair(found, rows_of)
        return tuple(found.values())

    def _channel(self, row: Row) -> Channel | None:
        """One channel; None where its number cannot be told."""
        number = row.read("channel", cells.whole(1, MOST_CHANNELS), None, required=span(1, MOST_CHANNELS))
        name = row.read("name", cells.text(100), "", required="what is plugged in")
        box, socket = self._socket(row)
        kind = row.read("kind", cells.choice(tuple(KINDS)), None)
        in_use = box.gain if box is not None else None
        sent = row.read("bus", self._sends, ()) if self._sends is not None else ()
        playback = row.read("return", self._playback, None) if self._playback is not None else None
        channel = Channel(
            number=number or 0,
            name=name,
            kind=kind or kind_from_name(name),
            use=row.read("use", cells.choice(USES), USES[0]),
            input=row.read("input", cells.choice(INPUTS), INPUTS[0]),
            mic=row.read("mic", cells.text(100), ""),
            socket=socket,
            gain=row.read("gain", cells.setting(in_use, low=-40, high=100), None),
            pad=self._pad(row, box),
            phantom=row.read("phantom", cells.phantom, "no"),
            trim=row.read("trim", self._trim, 0.0),
            inverted=row.read("polarity", cells.inverted, False),
            polarity_stated="polarity" in row.cells,
            pair=row.read("pair", cells.whole(1, MOST_CHANNELS), None),
            pairing=row.read("pairing", cells.choice(PAIRINGS), None),
            playback=playback,
            sends=sent,
            note=row.read("note", cells.text(1000), ""),
            line=row.line,
        )
        if channel.pairing and "pair" not in row.cells:
            row.problem("pairing", f"{shown(channel.pairing)} stands without a pair", "the partner's channel in pair")
        return channel if number is not None else None

    def _socket(self, row: Row) -> tuple[Box | None, Socket | None]:
        box_name, number = row.cells.get("box"), row.cells.get("socket")
        if box_name is None and number is None:
            # A channel that no socket feeds: `routes` tells it.
            return None, None
        if box_name is None:
            row.problem("box", "is missing", f"the box of socket {number}")
            return None, None
        box = self._boxes.get(box_name.casefold())
        if box is None and self.wiring.all_boxes:
            hint = "" if self.problems.full else nearest(box_name, [box.name for box in self.wiring.boxes])
            row.problem("box", f"there is no box {shown(box_name)}", hint)
        if number is None:
            row.problem("socket", "is missing", "the number of the socket in its box")
        high = box.sockets if box is not None else MOST_SOCKETS
        try:
            socket = cells.whole(1, MOST_SOCKETS)(number) if number is not None else None
        except Unfit as unfit:
            row.problem("socket", unfit.message, span(1, high))
            return box, None
        if socket is None or box is None:
            return box, None
        if socket > high:
            row.problem("socket", f"{socket} is beyond box {shown(box.name)}", f"it has sockets {span(1, high)}")
        return box, Socket(box.name, socket)

    def _pad(self, row: Row, box: Box | None) -> bool:
        cell = row.cells.get("pad", "")
        if box is not None and box.pad is not None and cell.lstrip("-−") == figure(box.pad):
            # The pad by its attenuation, as many lists have it.
            return True
        pad = row.read("pad", cells.pad, False)
        if pad and box is not None and box.pad is None:
            row.problem("pad", f"box {shown(box.name)} has no pad", "blank or no; or pad = 20 in its [[box]]")
        return pad

    def _share_sockets(self, found: dict[int, Channel], rows: dict[int, Row]) -> None:
        """One socket has one preamp: what is stated on one of its channels holds for all, and may not differ."""
        shared: dict[Socket, list[int]] = {}
        for channel in found.values():
            if channel.socket is not None:
                shared.setdefault(channel.socket, []).append(channel.number)
        for socket, numbers in shared.items():
            if len(numbers) > 1:
                gain = self._agreed(socket, [(rows[n], found[n].gain) for n in numbers], "gain", figure)
                pad = self._agreed(socket, [(rows[n], found[n].pad) for n in numbers], "pad", _yes)
                phantom = self._agreed(socket, [(rows[n], found[n].phantom) for n in numbers], "phantom", str)
                for n in numbers:
                    found[n] = replace(found[n], gain=gain, pad=bool(pad), phantom=phantom or "no")

    def _agreed(
        self, socket: Socket, values: Sequence[tuple[Row, V | None]], column: str, show: Callable[[V], str]
    ) -> V | None:
        stated = [(row, value) for row, value in values if column in row.cells and value is not None]
        for row, value in stated[1:]:
            first, right = stated[0]
            if value != right:
                message = f"{show(value)} differs from {_line(first, row)} on the same socket, {shown(str(socket))}"
                row.problem(column, message, f"one preamp: {show(right)} on both")
        return stated[0][1] if stated else None

    def _pair(self, found: dict[int, Channel], rows: dict[int, Row]) -> None:
        """Check pairs, and name each on both sides."""
        # What the list says, before partners are filled in.
        said = {number: channel.pair for number, channel in found.items() if channel.pair is not None}
        partner: dict[int, int] = {}
        for number, other in said.items():
            row = rows[number]
            if other == number:
                row.problem("pair", f"channel {number} is paired with itself", "the partner's channel")
            elif other not in found:
                if self._all_numbers:
                    row.problem("pair", f"there is no channel {other}", "a channel of this list")
            elif said.get(other, number) != number:
                row.problem("pair", f"channel {other} is paired with channel {said[other]}", "each names the other")
            elif partner.get(other, number) != number:
                row.problem("pair", f"channel {other} is already the pair of {partner[other]}", "two channels a pair")
            else:
                partner[number], partner[other] = other, number
        for number, other in partner.items():
            if number < other:
                self._join(found, rows, number, other)

    def _join(self, found: dict[int, Channel], rows: dict[int, Row], first: int, second: int) -> None:
        stated = [found[n].pairing for n in (first, second) if found[n].pairing is not None]
        if len(set(stated)) > 1:
            message = f"{shown(found[second].pairing)} differs from {_line(rows[first], rows[second])} on the same pair"
            rows[second].problem("pairing", message, f"one pairing: {stated[0]} on both")
        pairing = stated[0] if stated else PAIRINGS[0]
        found[first] = replace(found[first], pair=second, pairing=pairing)
        found[second] = replace(found[second], pair=first, pairing=pairing)


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _line(row: Row, beside: Row) -> str:
    """A row's place as told beside another's: its line, and its file where that is another."""
    return f"line {row.line}" if row.file == beside.file else f"{row.file}, line {row.line}"
