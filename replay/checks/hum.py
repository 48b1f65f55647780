"""The mains hum on a channel.

What it is
    A steady tone at 50 or 60 Hz with its multiples, whether anybody plays or not: a loop of earths, a missing screen,
    a transformer or a power supply near a cable.

Why it matters before a show
    It comes through every mix, most of all between the songs. It is cured at the cable, not at the desk.

How it is told
    Once a second the pass measures the first nine multiples of 50 and 60 Hz and what lies beside them. Told where at
    least two of them stand 13 dB above what lies beside them while the source is silent, stay within 4.5 dB, lie within
    0.6 % of the mains' frequency, last 12 seconds or more, and add up to no less than 50 dB below the played peak. A
    warning, likely; a note for guitars and bass, whose pickups and amplifiers hum by nature, and for spares. Several
    channels of one box are told together: then look at what they share.

What can fool it
    A drone or a synthesiser exactly on the mains' frequency that never rests. A source that never falls silent hides a
    hum that is really there: then nothing is told.

What to do
    Listen between the songs. Try another cable, the ground lift of the DI, another outlet; keep audio away from mains
    cables and transformers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.limit import Limit
from replay.checks.shared.mains import LIMITS as MAINS
from replay.checks.shared.mains import Mains, worth_telling
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import Show, TrackView
from replay.findings.finding import Finding
from replay.text import harmless, ranges

CODE = "hum"
TITLE = "mains hum"
LIMITS: Mapping[str, Limit] = MAINS

HUMS_BY_NATURE = ("guitar", "bass")


def check(show: Show) -> Iterator[Finding]:
    yield from told(show, CODE, upper=False)


def told(show: Show, code: str, *, upper: bool) -> Iterator[Finding]:
    """Findings of tracks whose lines are of that sort, several of one box together."""
    groups: dict[tuple, list[tuple[TrackView, Mains]]] = {}
    for track in show.tracks:
        lines = worth_telling(show, track)
        if lines is None or lines.upper != upper:
            continue
        views = views_of(show, track)
        box = views[0].channel.socket.box if views[0].channel.socket else ""
        natural = all(view.channel.kind in HUMS_BY_NATURE or view.channel.use != "must" for view in views)
        groups.setdefault((box, lines.nominal, natural), []).append((track, lines))
    for (box, nominal, natural), group in groups.items():
        yield _finding(show, code, box, nominal, natural, group)


def _finding(
    show: Show, code: str, box: str, nominal: float, natural: bool, group: list[tuple[TrackView, Mains]]
) -> Finding:
    numbers = [track.track.number for track, _ in group]
    loudest, lines = max(group, key=lambda item: item[1].level_dbfs)
    what = "buzzes" if code == "buzz" else "hums"
    multiples = words.listed([f"{nominal * k:.0f}" for k in lines.multiples], 4)
    text = f"{multiples} Hz at {words.level(lines.level_dbfs, 'dBFS')}"
    played = loudest.whole.played_peak_dbtp
    if played is not None:
        text += f", {words.plain(played - lines.level_dbfs)} dB below the played peak"
    whole = lines.start_s <= 1 and lines.end_s * 10 >= loudest.measurement.hops - 20
    text += ", all through" if whole else f", from {lines.start_s:.0f} s to {lines.end_s:.0f} s"
    text += ", also while the source is silent"
    where = source_name(views_of(show, loudest)[0])
    if len(group) > 1:
        message = (
            f"Tracks {ranges(numbers)} {what.removesuffix('s')} together, track {loudest.track.number} most: {text}."
        )
        message = message.replace("buzze ", "buzz ")
        action = (
            f"Look for what they share: {f'box {harmless(box, 60)}, ' if box else ''}its power, the way of the cables."
        )
    else:
        message = f"It {what}: {text}."
        action = f"Listen between songs; try another cable, the DI's ground lift or another outlet at {where}."
    return Finding(
        code=code,
        severity="note" if natural else "warning",
        confidence="likely",
        message=message,
        action=action,
        start_s=lines.start_s,
        end_s=lines.end_s,
        amount=round(lines.level_dbfs, 1),
        unit="dBFS",
        **of_tracks(show, numbers),
    )
