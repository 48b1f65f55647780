"""What single cells of a list mean: channel numbers, sockets with or without their box, marks, pads, inputs."""

from __future__ import annotations

import re
from dataclasses import dataclass

from replay.drafting.headings import folded
from replay.patch import cells
from replay.patch.problems import Unfit

HIGHEST = 1024
MOST_IN_ONE = 8
"""Channels that one line may stand for; a line 1-32 is a heading of a block and no source."""

_LEAD = r"(?:(?:ch|chan|channel|in|input|kanal|voie|canal|line|trk|track|spur|piste|no|nr)\b[ .:#]*|#\s*)?"
_NUMBERS = re.compile(
    rf"{_LEAD}(\d{{1,4}})(?:\s*(?P<mark>[-–/+&,]|to|and|bis|und|et|y)\s*{_LEAD}(\d{{1,4}}))?\s*[.)]?"
    r"(?:\s*\(?(?:st|stereo|mono|l|r|lr|l\s*[/+&]\s*r)\)?\.?)?",
    re.IGNORECASE | re.ASCII,
)


def numbers(cell: str) -> tuple[int, ...]:
    """The numbers of a cell: one, or the run that it stands for; empty where it is no number.

    >>> numbers("CH 07"), numbers("9/10"), numbers("9-10 (St)"), numbers("9-12"), numbers("Total")
    ((7,), (9, 10), (9, 10), (9, 10, 11, 12), ())
    """
    match = _NUMBERS.fullmatch(cell)
    if match is None:
        return ()
    first = int(match[1])
    last = int(match[3]) if match[3] else first
    # 31/2 is how some write 31/32.
    if match[3] and last < first and len(match[3]) < len(match[1]):
        last = int(match[1][: -len(match[3])] + match[3])
    if not 1 <= first <= last <= HIGHEST or last - first >= MOST_IN_ONE:
        return ()
    if match["mark"] and match["mark"] in ",+&/" and last - first > 1:
        return (first, last)
    return tuple(range(first, last + 1))


@dataclass(frozen=True)
class Spot:
    """Where a source is plugged: box ("" where the cell names none) and sockets, one or two."""

    box: str
    sockets: tuple[int, ...]


_LAST = re.compile(r"(?P<box>.*?[^\W_].*?)??(?P<gap>[\s:./_#–-]*)(?P<number>\d{1,4})", re.ASCII | re.DOTALL)
_TWO = re.compile(
    r"(?P<box>\D{0,40}?|.{1,40}?[\s:._#–-])[\s:._#]*(?P<first>\d{1,4})\s*[-–/+&,]\s*(?P<again>[^\W\d_]{0,20}[\s.:#-]*)"
    r"(?P<second>\d{1,4})",
    re.ASCII,
)
_SOCKET_WORD = re.compile(r"(?:^|[\s/.,:_-])(?:ch|in|input|xlr|socket|no|nr|ein|eingang|prise)\.?$", re.IGNORECASE)


def spot(cell: str, channels: int) -> Spot | None:
    """Where a cell says that a source is plugged; None where it says no place. `channels`: how many its line has.

    >>> spot("A 12", 1), spot("RISER-3", 1), spot("SB1-2", 1)
    (Spot(box='A', sockets=(12,)), Spot(box='RISER', sockets=(3,)), Spot(box='SB1', sockets=(2,)))
    >>> spot("A 9/10", 2), spot("7", 1), spot("USB", 1)
    (Spot(box='A', sockets=(9, 10)), Spot(box='', sockets=(7,)), None)
    """
    if len(cell) > 60:
        return None
    if channels == 2 or (channels == 1 and ("/" in cell or "+" in cell or "&" in cell)):
        two = _TWO.fullmatch(cell)
        if two is not None:
            first, second = int(two["first"]), int(two["second"])
            again = _box(two["again"])
            box = _box(two["box"])
            if (
                1 <= first < second <= HIGHEST
                and (channels == 2 or second == first + 1)
                and again.casefold() in ("", box.casefold())
            ):
                return Spot(box_name(box), (first, second))
    last = _LAST.fullmatch(cell)
    if last is None or not 1 <= int(last["number"]) <= HIGHEST:
        return None
    box, number = _box(last["box"] or ""), int(last["number"])
    if box.isdigit() and number == int(box) + 1:
        return Spot("", (int(box), number))
    return Spot(box_name(box), (number,))


def box_name(text: str) -> str:
    """A box by its name; one that has a number only is called by it. Nothing that a spreadsheet would run.

    >>> box_name("A"), box_name("2")
    ('A', 'box 2')
    """
    name = text.lstrip("=+-@＝＋－＠ ")[:40].strip()
    return f"box {name[:36]}" if name.isdigit() else name


def _box(text: str) -> str:
    """A box's name as it stands before a socket's number, without a word for the socket."""
    name = text.strip(" \t:./_#–-")
    while (word := _SOCKET_WORD.search(name)) is not None:
        name = name[: word.start()].strip(" \t:./_#–-")
    return name[:40].strip()


_YES = frozenset(("ja", "oui", "si", "sim", "✓", "✔", "☑", "●", "•", "■", "*", "+", "p48", "ph", "phantom", "+", "xx"))
_NO = frozenset(("nein", "non", "kein", "aus", "✗", "☐", "○", "0v", "none", "aucun", "-", "–", "—"))


def mark(cell: str) -> bool | None:
    """Whether a cell marks something: yes, no, or None where it says neither (a blank cell says neither).

    >>> mark("x"), mark("+48V"), mark("oui"), mark("nein"), mark("maybe")
    (True, True, True, False, None)
    """
    word = cell.strip().casefold()
    plain = folded(cell)
    if word in _YES or plain in _YES:
        return True
    if word in _NO or plain in _NO:
        return False
    try:
        return {"yes": True, "no": False}.get(cells.phantom(re.sub(r"[().]", "", word)))
    except Unfit:
        return None


def number(cell: str, low: float, high: float) -> float | None:
    """A figure in dB within a range; None where the cell holds none."""
    try:
        value = cells.number(cell)
    except Unfit:
        return None
    return value if low <= value <= high else None


_INPUTS = (
    (
        "rf",
        "rf|wireless|radio|beltpack|bodypack|belt pack|body pack|funk|hf|inalambrico|sans fil|transmitter|iem tx|wl",
    ),
    ("di", "di|d i|dibox|di box|active di|passive di|di aktiv|di passiv|caja di|boite di|direct box"),
    ("digital", "usb|aes|aes ebu|spdif|s pdif|adat|madi|digital|network"),
    ("line", "line|xlr line|line xlr|line out|jack|trs|linea|ligne|linie|mini jack|klinke|rca"),
    ("mic", "mic|microphone|mikrofon|micro|microfono|mik|dyn|dynamic|condenser|cond|ribbon|clip|clip on|boundary"),
)
_INPUT_WORDS = tuple((kind, phrase) for kind, phrases in _INPUTS for phrase in phrases.split("|"))


def input_of(text: str, *, name: bool = False) -> str | None:
    """What kind of input words tell: mic, di, line, rf or digital; None where they tell none.

    `name` says that the text is a source's name, in which only `DI` and the words for radio count.

    >>> input_of("Active DI"), input_of("Bass DI", name=True), input_of("large condenser"), input_of("blue one")
    ('di', 'di', 'mic', None)
    """
    padded = f" {folded(text)} "
    for kind, phrase in _INPUT_WORDS:
        if (not name or kind in ("rf", "di")) and f" {phrase} " in padded:
            return kind
    return None


_SPARE = re.compile(
    r"\b(?:spare|spares|guest|guests|reserve|reserviert|ersatz|unused|not used|free|frei|leer|empty|libre|vacant|"
    r"gast|invite|invitado|tbc|tba|n/a)\b",
    re.IGNORECASE,
)


def is_spare(name: str) -> bool:
    """Whether a name says that nobody need play there."""
    return _SPARE.search(name) is not None


_TOTAL = re.compile(
    r"(?:sub[\s-]*)?(?:totals?|totaux|sum|summe|gesamt(?:zahl)?|suma|somme)\b"
    r"(?:[\s:=#.]|\d|inputs?|channels?|kanäle|eingänge|voies|canales|entrées|entradas|of|de|mics?|dis?|sources?)*",
    re.IGNORECASE,
)


def is_total(cells_of_row: tuple[str, ...]) -> bool:
    """Whether a line adds the list up: a word for it stands first, or nearly alone.

    >>> is_total(("", "Total: 24 inputs", "24")), is_total(("7", "Sum bus keys", "A 3", "DI"))
    (True, False)
    """
    held = [cell for cell in cells_of_row if cell]
    first = held[0] if held else ""
    return _TOTAL.fullmatch(first) is not None or (
        len(held) <= 3 and any(_TOTAL.fullmatch(cell) is not None for cell in held)
    )
