"""A changeover as text for a terminal, box by box in the order of work."""

from __future__ import annotations

from collections.abc import Sequence

from replay.compare.changeover.desk import ChannelChange, slot_words
from replay.compare.changeover.sockets import BoxChange, Changeover, Plugged, SocketChange
from replay.compare.changeover.words import about_links, channel_words, track_words
from replay.patch.model import Patch
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.text import harmless, ranges

STEP_WORDS = {
    "phantom-off": "phantom off",
    "gain-first": "gain",
    "unplug": "unplug",
    "pad": "pad",
    "plug": "plug in",
    "phantom-on": "phantom on",
    "gain-last": "gain up",
    "gain-unknown": "gain by ear",
}
WHOSE = {
    "ours": "",
    "monitors": "The gains are the monitor desk's: ask there.",
    "shared": "The gains are shared: tell whoever mixes on the other desk first.",
}
CAUTION = (
    "Mute before anything is unplugged, and before phantom power or a pad is switched. Give phantom power time to go "
    "down before unplugging. This order is common practice and has no source."
)
BY_EAR = "the patch states no gain: begin at the bottom"


def first_line(change: Changeover) -> str:
    """The whole changeover in one line."""
    sockets = change.sockets
    if change.is_none:
        return f"Nothing changes at {_count(len(sockets), 'socket')} in use."
    moving = [one for one in sockets if not one.stays]
    change_word, stay_word = _does(len(moving), "change"), _does(len(sockets) - len(moving), "stay")
    parts = [f"Of {_count(len(sockets), 'socket')} in use {change_word}, {stay_word}"]
    replugged = [one for one in moving if one.is_replugged]
    parts.append(f"{len(replugged)} plugged anew" if replugged else "nothing is unplugged")
    if change.channels:
        parts.append(f"{_count(len(change.channels), 'channel')} to set at the desk")
    if change.tracks:
        parts.append(f"{_count(len(change.tracks), 'track')} with another source")
    return "; ".join(parts) + "."


def text(change: Changeover, *, cells: int = 80, colour: bool = False) -> str:
    """The whole answer; no line is wider than `cells` (60 at the least)."""
    cells = max(cells, 60)
    ink = Ink(colour)
    names = from_to(change)
    top = [
        *(ink("strong", line) for line in wrap(first_line(change), cells)),
        "",
        *wrap(names[0], cells, first="From  ", rest="      "),
        *wrap(names[1], cells, first="To    ", rest="      "),
    ]
    sections = [top]
    if any(box.steps for box in change.boxes):
        sections.append(wrap(CAUTION, cells))
    sections += [_box(box, change, cells, ink) for box in change.boxes]
    sections += [_desk(change.channels, cells, ink), _recorder(change, cells, ink)]
    return "\n\n".join("\n".join(section) for section in sections if section) + "\n"


def from_to(change: Changeover) -> tuple[str, str]:
    """Both patches by title, with as much of their place as tells them apart."""
    both = change.before, change.after
    places = [patch.path.parts for patch in both]
    depth = next((n for n in range(1, 8) if places[0][-n:] != places[1][-n:]), 2)
    depth = max(depth, 2)
    one, other = (
        f"{harmless(p.title)} ({harmless('/'.join(parts[-depth:]))})" for p, parts in zip(both, places, strict=True)
    )
    return one, other


def _box(box: BoxChange, change: Changeover, cells: int, ink: Ink) -> list[str]:
    moving = [one for one in box.sockets if not one.stays]
    stays = [one for one in box.sockets if one.stays]
    came = " (comes)" if box.before is None else " (goes)" if box.after is None else ""
    counts = ", ".join(_does(len(group), word) for group, word in ((moving, "change"), (stays, "stay")) if group)
    lines = [ink("strong", f"{harmless(box.name)}{came}: {counts}")]
    for sentence in about_box(box):
        lines += wrap(sentence, cells, first="  ", rest="  ")
    if box.mute:
        lines += wrap(f"Mute channel{'s' * (len(box.mute) > 1)} {ranges(box.mute)}.", cells, first="  ", rest="  ")
    room = max(width(word) for word in STEP_WORDS.values())
    for number, (step, sockets) in enumerate(box.steps, 1):
        word = fit(STEP_WORDS[step], room)
        what = step_words(step, sockets)
        lines += wrap(what, cells, first=f"  {number}  {word}  ", rest=" " * (room + 7))
    lines += _table(moving, change, cells)
    if stays:
        what = ", ".join(f"{one.socket.number} {harmless(_side(one).name)}" for one in stays)
        lines += wrap(f"stays: {what}", cells, first="  ", rest="    ")
    return lines


def about_box(box: BoxChange) -> list[str]:
    """What is to be known of the box before a hand is put to it."""
    said = []
    if box.before is not None and box.after is not None and box.before.gains != box.after.gains:
        said.append(f"Its gains were {box.before.gains}, and are {box.after.gains} now.")
    if box.after is not None and any(step.startswith("gain") for step, _ in box.steps):
        said.append(WHOSE[box.after.gains])
    return [sentence for sentence in said if sentence]


def step_words(step: str, sockets: Sequence[SocketChange]) -> str:
    """The sockets of a step, each with what is done there; numbers alone where that says it all."""
    if step in ("phantom-off", "phantom-on"):
        return "; ".join(_phantom(step, sockets))
    if step == "gain-unknown":
        return f"{_numbers(sockets)} ({BY_EAR})"
    return ", ".join(f"{one.socket.number} {_done(step, one)}" for one in sockets)


def _phantom(step: str, sockets: Sequence[SocketChange]) -> list[str]:
    def side(one: SocketChange) -> Plugged | None:
        return one.before if step == "phantom-off" else one.after

    here = [one for one in sockets if (found := side(one)) is not None and found.phantom == "yes"]
    split = [one for one in sockets if one not in here]
    said = [_numbers(here)] if here else []
    return said + ([f"{_numbers(split)} at the split that feeds it, not here"] if split else [])


def _numbers(sockets: Sequence[SocketChange]) -> str:
    return ranges([one.socket.number for one in sockets])


def _done(step: str, one: SocketChange) -> str:
    before, after = one.before, one.after
    if step == "unplug" and before is not None:
        return harmless(before.name) + (" (may stay: same mic)" if one.may_stay else "")
    if step == "plug" and after is not None:
        return f"{harmless(after.name)} ({harmless(after.source)})"
    if step == "pad" and after is not None:
        return "in" if after.pad else "out"
    return gain_words(one)


def gain_words(one: SocketChange) -> str:
    """`34 -> 28`; "" where no gain is to be set."""
    if one.after is None or one.after.gain is None:
        return ""
    was = None if one.before is None else one.before.gain
    return f"{_setting(was)} -> {_setting(one.after.gain)}" if was != one.after.gain else _setting(was)


def _setting(gain: float | None) -> str:
    return "?" if gain is None else f"{gain:g}"


HEADS = ("socket", "was", "is now", "mic or DI", "48 V", "pad", "gain")
_LEAST_NAME = 6


def _table(moving: Sequence[SocketChange], change: Changeover, cells: int) -> list[str]:
    """A line for each socket that changes, and under it what changes behind the box; columns in which nothing changes
    are left out, and so is the heading over the sockets' numbers where names would be cut for it."""
    if not moving:
        return []
    rows = [row(one) for one in moving]
    kept = [0, 1, 2, *(column for column in range(3, len(HEADS)) if any(one[column] for one in rows))]
    table = [[line[column] for column in kept] for line in (HEADS, *rows)]
    sizes = [max(width(line[column]) for line in table) for column in range(len(kept))]
    if sum(sizes) + 2 * len(sizes) > cells:
        table[0][0] = ""
        sizes[0] = max(width(line[0]) for line in table)
    for place, column in enumerate(kept):
        if column in (1, 2, 3):  # names and microphones give way to settings
            over = sum(sizes) + 2 * len(sizes) - cells
            sizes[place] -= max(0, min(over, sizes[place] - _LEAST_NAME))
    lines = [""]
    for place, line in enumerate(table):
        fitted = [fit(cell, size, right=not at) for at, (cell, size) in enumerate(zip(line, sizes, strict=True))]
        lines.append(fit("  " + "  ".join(fitted), cells).rstrip())
        if place:
            indent = " " * (sizes[0] + 4)
            lines += wrap(behind(moving[place - 1], change), cells, first=indent, rest=indent)
    return lines


def row(one: SocketChange) -> tuple[str, ...]:
    """A socket's line: number, was, is now, and what changes of each of the rest ("" where it does not)."""
    before, after = one.before, one.after
    changed = set(one.changes) if before and after else {"mic", "phantom", "pad", "gain"}
    same_source = before is not None and after is not None and not one.is_replugged

    def pair(word: str, was: str, now: str) -> str:
        return "" if word not in changed or was == now else f"{was} -> {now}"

    return (
        str(one.socket.number),
        harmless(before.name) if before else "-",
        "the same" if same_source else harmless(after.name) if after else "-",
        harmless(after.source) if after and "mic" in changed else "",
        pair("phantom", _power(before), _power(after)),
        pair("pad", _pad(before), _pad(after)),
        gain_words(one) if "gain" in changed else "",
    )


def behind(one: SocketChange, change: Changeover) -> str:
    """Slot, track, channel and return of a socket, where they change or are new."""
    before, after = one.before, one.after
    if after is None:
        return ""
    now = _ways(after, change.after)
    was = _ways(before, change.before) if before is not None else dict.fromkeys(now)
    return ", ".join(
        f"{word} {now[word]}" if was[word] is None else f"{word} {was[word]} -> {now[word]}"
        for word in now
        if was[word] != now[word]
    )


def _ways(side: Plugged, patch: Patch) -> dict[str, str | None]:
    returns = dict.fromkeys(one if isinstance(one, str) else slot_words(one, patch) for one in side.returns)
    return {
        "channel": ranges(side.channels),
        "slot": ", ".join(harmless(slot_words(one.slot, patch)) for one in side.recorded) or "none",
        "track": ", ".join(str(one.track) for one in side.recorded) or "none",
        "return": harmless(", ".join(returns)),
    }


def _power(side: Plugged | None) -> str:
    return {"yes": "on", "no": "off", "elsewhere": "split", "unknown": "unknown"}[side.phantom] if side else "off"


def _pad(side: Plugged | None) -> str:
    return "in" if side and side.pad else "out"


def _side(one: SocketChange) -> Plugged:
    side = one.after or one.before
    assert side is not None
    return side


def _desk(channels: Sequence[ChannelChange], cells: int, ink: Ink) -> list[str]:
    if not channels:
        return []
    return [ink("strong", "At the desk"), *(line for one in channels for line in _channel(one, cells))]


def _channel(one: ChannelChange, cells: int) -> list[str]:
    return wrap(channel_words(one), cells, first=f"  {one.number:>4}  ", rest="        ")


def _recorder(change: Changeover, cells: int, ink: Ink) -> list[str]:
    lines = []
    for sentence in about_links(change):
        lines += wrap(sentence, cells, first="  ", rest="    ")
    for one in change.tracks:
        lines += wrap(track_words(one, change), cells, first="  ", rest="        ")
    return [ink("strong", "At the recorder"), *lines] if lines else []


def _does(number: int, verb: str) -> str:
    return f"{number} {verb}{'s' if number == 1 else ''}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
