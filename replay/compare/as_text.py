"""The comparison for reading: what is worse first, with what to do; then what is new, fixed and still there; then every
channel on a line."""

from __future__ import annotations

from collections.abc import Iterable

from replay.compare import words
from replay.compare.model import NO_SUCH_CHANNEL, Comparison, FindingChange, Told
from replay.patch.model import Channel
from replay.report import phrases
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.report.to_do import INDENT, wrapped
from replay.text import harmless, ranges

_LONGEST_PROSE = 110
_LONGEST_NAME = 28
_LEAST_NAME = 8
_LONGEST_SOCKET = 16
_INKS = {"bad": "bad", "look": "look", "fixed": "good"}
_ONE_SCREEN = 50


def text(comparison: Comparison, *, cells: int = 80, colour: bool = False) -> str:
    """The whole comparison as text that ends with a line end; no line is wider than `cells` (60 at the least)."""
    cells = max(cells, 60)
    prose = min(cells, _LONGEST_PROSE)
    ink = Ink(colour)
    sections = [
        _top(comparison, prose, ink),
        _told("WORSE", "LOOK", [one for one in comparison.told if one.worse], comparison, prose, ink),
        *(
            _findings(words.HEADINGS[key], comparison.with_fate(*fates), comparison, prose, ink)
            for key, fates in words.FATES_UNDER.items()
        ),
        _told(
            "CHANGED, not for the worse", "", [one for one in comparison.told if not one.worse], comparison, prose, ink
        ),
        _channels(comparison, cells, ink),
        _rest(comparison, prose),
    ]
    lines: list[str] = []
    for section in sections:
        lines += [*([""] if lines and section else []), *section]
    if len(lines) > _ONE_SCREEN:
        lines += ["", *_verdict(comparison, prose, ink)]
    return "\n".join(lines) + "\n"


def _verdict(comparison: Comparison, cells: int, ink: Ink) -> list[str]:
    kind = "bad" if comparison.verdict == "worse" else "good"
    return [ink(kind, line) for line in wrap(words.verdict(comparison), cells)]


def _top(comparison: Comparison, cells: int, ink: Ink) -> list[str]:
    lines = [*_verdict(comparison, cells, ink), ""]
    for side in (comparison.a, comparison.b):
        facts = phrases.take_facts(side.report).split(", ", 1)[-1]
        judged = phrases.judged_part(side.report)
        title = harmless(side.report.show.patch.title)
        lines += wrap(f"{side.name}: {title}; {facts}; {judged}.", cells, first=f"{side.letter}     ", rest=INDENT)
    for sentence in (words.reference(comparison), words.order(comparison), *words.others(comparison)):
        lines += wrap(harmless(sentence, 2000), cells, first=INDENT, rest=INDENT)
    return lines


def _told(heading: str, mark: str, told: list[Told], comparison: Comparison, cells: int, ink: Ink) -> list[str]:
    if not told:
        return []
    lines = [ink("strong", heading)]
    for one in told:
        amount = "" if one.amount is None else f"  {one.amount:+.1f} {one.unit}"
        lines.append(_head(mark, about(one.channels, comparison), amount, ink, cells))
        lines += wrapped(f"{phrases.lead(one)}: {one.message}", cells)
        if one.swallowed:
            lines += wrapped(f"With it: {', '.join(one.swallowed)}.", cells)
        if one.action:
            lines += wrapped(f"Do: {one.action}", cells)
    return lines


def _findings(
    heading: str, found: tuple[FindingChange, ...], comparison: Comparison, cells: int, ink: Ink
) -> list[str]:
    if not found:
        return []
    lines = [ink("strong", heading)]
    for one in found:
        lines.append(_head(words.MARKS.get(words.mark_of(one), ""), about_finding(one, comparison), "", ink, cells))
        for sentence in words.sentences(one):
            lines += wrapped(sentence, cells)
    return lines


def _head(mark: str, about: str, amount: str, ink: Ink, cells: int) -> str:
    word = fit(mark, len(INDENT) - 1)
    kind = {words.MARKS[key]: kind for key, kind in _INKS.items()}.get(mark, "")
    room = cells - len(INDENT) - width(amount)
    shown = about if width(about) <= room else fit(about, room)
    return (ink(kind, word) + " " + shown + amount).rstrip()


def about(channels: tuple[int, ...], comparison: Comparison) -> str:
    """What something is about: the socket and the channel where it is one; else the channels."""
    return _about(channels, [*(one.after.channel for one in comparison.channels), *comparison.added])


def _about(channels: tuple[int, ...], known: Iterable[Channel]) -> str:
    by_number = {one.number: one for one in known}
    if len(channels) == 1 and channels[0] in by_number:
        channel = by_number[channels[0]]
        socket = f"{harmless(str(channel.socket))}  " if channel.socket is not None else ""
        return f"{socket}ch {channel.number} {harmless(channel.name)}".rstrip()
    if channels:
        return f"channels {ranges(channels)}"
    return ""


def about_finding(one: FindingChange, comparison: Comparison) -> str:
    """The same for a finding, which may be about tracks or the whole take."""
    found = one.finding
    if one.how == NO_SUCH_CHANNEL:
        said = _about(found.channels, comparison.gone)
    else:
        said = about(found.channels, comparison)
    return said or phrases.about(found, {}) or "the take"


_LEGEND = {
    "level": "level: how much louder it is recorded than in A",
    "settings": "settings: what gain, pad and recorded trim explain of that",
    "rest": "rest: what they do not",
    "others": "others: what the microphone hears of the others, looked at where its level or floor moved by 3 dB",
    "floor": "floor: its noise floor, less the settings",
    "sound": "sound: dull, bright, thin or full against before",
    "heard": "heard: whether the sound confirms the track, in A > in B",
}


def _rest(comparison: Comparison, cells: int) -> list[str]:
    lines = []
    if comparison.channels:
        shown = [_LEGEND[name] for name, _ in _figures(comparison) if name in _LEGEND]
        lines += wrap(f"In dB. {'; '.join(shown)}.", cells)
    return lines + wrap(words.notes(comparison), cells)


def _figures(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """The columns that say anything, each with a cell for every channel."""
    table: dict[str, list[str]] = {
        name: [] for name in ("level", "settings", "rest", "others", "floor", "sound", "heard")
    }
    for one in comparison.channels:
        moved = one.moved
        settings = moved is not None and (moved.expected.known or moved.expected.advised)
        bleed = None if moved is None or moved.bleed is None else moved.bleed.change_db
        table["level"].append(words.signed(moved.recorded_db) if moved else "")
        table["settings"].append((words.signed(moved.expected.change_db) if settings else "?") if moved else "")
        table["rest"].append(words.signed(moved.own_db) if moved else "")
        table["others"].append(words.signed(bleed))
        table["floor"].append(words.signed(moved.floor_db) if moved else "")
        table["sound"].append(one.step.what if one.step else "")
        table["heard"].append(words.heard(one))
    if not set(table["settings"]) - {"", "0.0", "?"} and table["rest"] == table["level"]:
        del table["settings"], table["rest"]
    for name in ("others", "sound"):
        if not any(table[name]):
            del table[name]
    if not any(">" in cell for cell in table["heard"]):
        del table["heard"]
    return list(table.items())


def _channels(comparison: Comparison, cells: int, ink: Ink) -> list[str]:
    if not comparison.channels:
        return []
    channels = [one.after.channel for one in comparison.channels]
    names = [harmless(channel.name) for channel in channels]
    sockets = ["" if channel.socket is None else harmless(str(channel.socket)) for channel in channels]
    marks = max(map(width, words.MARKS.values()))
    socket = min(max(map(width, ("socket", *sockets))), _LONGEST_SOCKET)
    columns = _figures(comparison)
    for gives_way in ("heard", "settings", "others", "floor", "sound", ""):
        sizes = [max(width(cell) for cell in (name, *found)) for name, found in columns]
        room = cells - marks - socket - sum(sizes) - len(sizes) - 7
        if room >= _LEAST_NAME:
            break
        columns = [column for column in columns if column[0] != gives_way]
    name = max(min(max(map(width, ("name", *names))), _LONGEST_NAME, room), _LEAST_NAME)

    room_right = max(cells - marks - 1 - 4 - 1 - name - 1 - socket - 2, 8)

    def line(mark: str, number: str, title: str, place: str, rest: str) -> str:
        return f"{fit(mark, marks)} {fit(number, 4, right=True)} {fit(title, name)} {fit(place, socket)}{rest}".rstrip()

    def cell(text: str, size: int, column: str) -> str:
        return " " + fit(text, size, right=column not in ("sound", "heard"))

    head = "".join(cell(column, size, column) for (column, _), size in zip(columns, sizes, strict=True))
    shown = [ink("strong", "CHANNELS"), line("", "ch", "name", "socket", head)]
    for place, one in enumerate(comparison.channels):
        mark = words.mark(comparison, one)
        rest = "".join(cell(found[place], size, column) for (column, found), size in zip(columns, sizes, strict=True))
        if one.moved is None:
            said = one.why_not or "no figures"
            rest = "  " + (said if width(said) < room_right else fit(said, room_right))
        whole = line(words.MARKS[mark], str(one.number), names[place], sockets[place], rest)
        shown.append(ink(_INKS.get(mark, ""), whole[:marks]) + whole[marks:])
    return shown
