"""The two shows that the demo writes, and their `patch.toml` and `inputs.csv`."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from replay.demo.band import Line, evening, opening_trio
from replay.demo.line_check import LONGEST, ORDER, line_check
from replay.demo.record import Scene
from replay.demo.songs import DANCES, song, trio
from replay.demo.sound import RATE
from replay.demo.stage import Track

DATE = "2026-06-20"
"""A Saturday. The take is dated by its scenario and not by the clock, so that it comes out the same every time."""


@dataclass(frozen=True, kw_only=True)
class Show:
    """All that is written: the lines of the input list, the sockets of each box and how many of them are recorded,
    the slots of the link, the buses, the take's length in frames, and where its judged part begins."""

    title: str
    lines: Sequence[Line]
    boxes: Sequence[tuple[str, int, int]]
    slots: int
    frames: int
    time: str
    from_s: int | None = None
    buses: Sequence[tuple[str, float]] = field(default=())

    @property
    def tracks(self) -> tuple[Track, ...]:
        """What is recorded, in the order of the slots."""
        return tuple(line.track for line in self.lines if line.track is not None)


COLUMNS = (
    "channel", "name", "kind", "use", "input", "mic", "box", "socket", "gain", "pad", "phantom", "trim", "polarity",
    "pair", "pairing", "return", "bus", "note",
)  # fmt: skip


def input_list(show: Show) -> str:
    """`inputs.csv`."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for number, line in enumerate(show.lines, start=1):
        row: dict[str, object] = {name: getattr(line, name, "") for name in COLUMNS}
        row |= {"channel": number, "pad": "no" if line.gain is not None else "", "return": ""}
        row["trim"] = f"{line.trim:g}"
        writer.writerow(["" if row[name] is None else row[name] for name in COLUMNS])
    return text.getvalue()


def patch(show: Show) -> str:
    """`patch.toml`."""
    lines = [
        f'title = "{show.title}"',
        f"rate = {RATE}",
        'inputs = "inputs.csv"',
        "",
        "[take]",
        'folder = "audio"',
        'of = "soundcheck"',
    ]
    if show.from_s is not None:
        lines.append(
            f'from = "{show.from_s // 60}:{show.from_s % 60:02d}"                   # the line check ends here'
        )
    lines += ["", "[desk]", "trim = { min = -40, max = 20, step = 0.1 }"]
    for name, sockets, _ in show.boxes:
        lines += [
            "",
            "[[box]]",
            f'name = "{name}"',
            f"sockets = {sockets}",
            "gain = { min = 0, max = 60, step = 1 }",
            "pad = 20",
        ]
    lines += ["", "[[link]]", 'name = "main"', f"slots = {show.slots}"]
    slot = 1
    for name, _, recorded in show.boxes:
        lines += [
            "",
            "[[feed]]",
            f'box = "{name}"',
            f'sockets = "1-{recorded}"',
            'link = "main"',
            f'slots = "{slot}-{slot + recorded - 1}"',
            'point = "preamp"',
        ]
        slot += recorded
    for name, ceiling in show.buses:
        lines += ["", f"[bus.{name}]", f"ceiling = {ceiling:.1f}"]
    return "\n".join(lines) + "\n"


def _each(minutes: float) -> float:
    """Seconds for each source of the line check: all of it takes no more than 40 % of the take."""
    return min(LONGEST, 0.4 * minutes * 60 / len(ORDER))


def full(minutes: float) -> Show:
    """The evening's soundcheck, `minutes` long."""
    return Show(
        title="Saturday, Mill Yard barn dance",
        lines=evening(),
        boxes=(("deck", 24, 24), ("riser", 16, 8)),
        slots=32,
        frames=round(minutes * 60 * RATE),
        time="17:30:00",
        from_s=math.ceil(2 + len(ORDER) * _each(minutes)),
        buses=(("main", -3.0), ("wedge1", -3.0)),
    )


def full_scenes(minutes: float) -> Iterator[Scene]:
    """Line check, then songs with applause and announcements between them."""
    yield 0, line_check(2.0, _each(minutes))
    begin = math.ceil(2 + len(ORDER) * _each(minutes)) + min(5.0, 2.0 * minutes)
    left = minutes * 60 - begin
    count = max(1, round(left / 190))
    each = left / count
    for number in range(count):
        bar = DANCES[number % len(DANCES)].bar
        pause = min(11.0, 0.12 * each)
        bars = max(4, int((each - pause) / bar))
        start = begin + number * each
        # Players may be a little early.
        yield max(0, int((start - 0.1) * RATE)), song(number, start, bars, number % 3 != 1, each - bars * bar)


def pocket() -> Show:
    """The opening trio's few seconds."""
    return Show(
        title="Saturday, Mill Yard barn dance: the opening trio",
        lines=opening_trio(),
        boxes=(("deck", 16, 10),),
        slots=16,
        frames=5 * RATE,
        time="16:50:00",
    )


def pocket_scenes() -> Iterator[Scene]:
    """They play all the time."""
    yield 0, trio(0.1, 5.0)
