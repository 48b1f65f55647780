"""The report for reading: what to rely on first, then what to do and where, then every channel on a line.

Written for an engineer an hour before doors: the verdict and the take in the first lines, the work grouped by place so
that one walk to a box does it all, the figures after. Colour repeats what a word at the left edge already says.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from replay.report import channel_table, phrases
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.report.work import LEVEL_CODES, TURNED_CODES, Job, Place, notes, places
from replay.text import clock, harmless, ranges

if TYPE_CHECKING:
    from replay.checks.finding import Finding
    from replay.checks.result import Report
    from replay.desk.model import Advice

_LONGEST_PROSE = 110
_INDENT = "      "
_ONE_SCREEN = 50
"""A report longer than so many lines says its verdict again at the end."""

_SHOWN_ALIKE = 3
"""So many notes of one code are shown; more are counted."""

_INK = {"fault": "bad", "warning": "look", "note": "strong"}


def text(report: Report, *, cells: int = 80, colour: bool = False) -> str:
    """The whole report as text that ends with a line end; no line is wider than `cells` (60 at the least)."""
    cells = max(cells, 60)
    ink = Ink(colour)
    sections = [
        _top(report, min(cells, _LONGEST_PROSE), ink),
        _work(report, min(cells, _LONGEST_PROSE), ink),
        _channels(report, cells, ink),
        _pairs(report, cells, ink),
        _buses(report, cells, ink),
        _notes(report, min(cells, _LONGEST_PROSE), ink),
    ]
    lines: list[str] = []
    for section in sections:
        lines += [*([""] if lines and section else []), *section]
    if len(lines) > _ONE_SCREEN:
        # The first lines have left the screen by now, and a terminal stands at the last one.
        lines += ["", *_verdict(report, min(cells, _LONGEST_PROSE), ink)]
    return "\n".join(lines) + "\n"


def _verdict(report: Report, cells: int, ink: Ink) -> list[str]:
    kind = "good" if report.verdict == "ready" else "bad"
    return [ink(kind, line) for line in wrap(phrases.verdict(report), cells)]


def _top(report: Report, cells: int, ink: Ink) -> list[str]:
    lines = [*_verdict(report, cells, ink), *wrap(phrases.UNCONFIRMED, cells), ""]
    lines += wrap(harmless(report.show.patch.title), cells, first="Show  ", rest=_INDENT)
    facts = f"{phrases.take_facts(report)}; {phrases.judged_part(report)}."
    lines += wrap(facts, cells, first="Take  ", rest=_INDENT)
    others = report.show.take.others
    if others:
        shown = ", ".join(harmless(name) for name in others[:5])
        more = f" and {len(others) - 5} more" if len(others) > 5 else ""
        lines += wrap(f"Other takes here: {shown}{more} (--take chooses).", cells, first=_INDENT, rest=_INDENT)
    return lines


def _work(report: Report, cells: int, ink: Ink) -> list[str]:
    """The work by place, and below it what holds for several jobs."""
    todo = places(report)
    if not todo:
        return []
    common = _common_notes(todo)
    names = phrases.names_of(report)
    lines = [ink("strong", "TO DO")]
    for place in todo:
        lines += ["", ink("strong", _title(place)), *_jobs(place, names, common, cells, ink)]
    everywhere = list(common)
    if any(advice.trim_db is not None for place in todo for job in place.jobs for _, advice in job.advice):
        everywhere.append(phrases.TRIMS_BELONG)
    if everywhere:
        lines += [""]
        for sentence in everywhere:
            lines += wrap(harmless(sentence, 2000), cells)
    return lines


def _title(place: Place) -> str:
    if place.box is None:
        return place.title
    whose = {
        "monitors": ", gains are the monitor desk's: ask there first",
        "shared": ", gains are shared: tell the others first",
    }
    return harmless(place.title) + whose.get(place.box.gains, "")


def _common_notes(todo: tuple[Place, ...]) -> tuple[str, ...]:
    """Remarks that go with more than one job: told once, below all of them."""
    told = Counter(
        note for place in todo for job in place.jobs for note in {n for _, advice in job.advice for n in advice.notes}
    )
    return tuple(note for note, times in told.items() if times > 1)


def _jobs(place: Place, names: dict[int, str], common: tuple[str, ...], cells: int, ink: Ink) -> list[str]:
    heads = [_head(job, names) for job in place.jobs]
    # Columns are as wide as this place needs; a column that nothing in this place uses is left out.
    columns = [max(width(head[column]) for head in heads) for column in range(4)]
    lines = []
    for job, head in zip(place.jobs, heads, strict=True):
        mark = fit({"fault": "BAD", "warning": "LOOK"}.get(job.severity, "turn"), 5)
        cut = min(columns[0], 24)
        before = "".join(
            fit(cell, size, right=column == 1) + "  "
            for column, (cell, size) in enumerate(zip(head[:4], [cut, *columns[1:]], strict=True))
            if size
        )
        line = f"{mark} {before}"
        line += fit(head[4], max(cells - width(line), 4))
        told = []
        for sentence in _sentences(job, common):
            told += wrap(harmless(sentence, 2000), cells, first=_INDENT, rest=_INDENT)
        if head[4]:
            told.insert(0, line.rstrip())
        else:
            told[0] = f"{mark} {told[0][len(_INDENT) :]}"
        lines += [ink(_INK[job.severity], told[0][:5]) + told[0][5:], *told[1:]]
    return lines


def _head(job: Job, names: dict[int, str]) -> tuple[str, str, str, str, str]:
    """Where, change, was and set, trim, who ("" for what concerns no channel and no track)."""
    at_box = job.place.startswith("box ")
    where = harmless(str(job.socket)) if job.socket and (at_box or len(job.channels) == 1) else ""
    if len(job.channels) > _SHOWN_ALIKE:
        who = f"channels {ranges(job.channels)}"
    elif job.channels:
        who = "ch " + ", ".join(f"{number} {harmless(names.get(number, ''))}".rstrip() for number in job.channels)
    else:
        tracks = sorted({track for finding in job.findings for track in finding.tracks})
        who = f"track{'' if len(tracks) == 1 else 's'} {ranges(tracks)}" if tracks else ""
    if not job.advice:
        return where, "", "", "", who
    advice = job.advice[0][1]
    trim = "" if len(job.advice) > 1 or advice.trim_db is None else f"trim {phrases.change(advice.trim_db)}"
    return where, phrases.change(advice.gain_db or None), _was_and_set(advice), trim, who


def _was_and_set(advice: Advice) -> str:
    parts = []
    if advice.new_gain_db is not None:
        parts.append(f"{phrases.setting(advice.was_db)} -> {phrases.setting(advice.new_gain_db)}")
    if advice.pad:
        parts.append(f"pad {advice.pad}")
    return ", ".join(parts)


def _sentences(job: Job, common: tuple[str, ...]) -> list[str]:
    """The reasons, then what to do, in the order of work."""
    told = []
    levels_told = {channel for finding in job.findings if finding.code in LEVEL_CODES for channel in finding.channels}
    advised = {channel for channel, _ in job.advice}
    for finding in job.findings:
        told.append(f"{_sure(finding)}{finding.message} [{finding.code}]")
        # Where advice goes with it, the action has been said by the figures in the head; a clip asks for more.
        if finding.code == "clipped" and advised.intersection(finding.channels):
            told.append(phrases.RECORD_AGAIN)
        elif finding.action and not (finding.code in TURNED_CODES and advised.intersection(finding.channels)):
            told.append(f"Do: {finding.action}")
    for channel, advice in job.advice:
        if advice.reason and channel not in levels_told:
            told.append(advice.reason)
    told += _once(advice.ask for _, advice in job.advice)
    told += _once(advice.order for _, advice in job.advice)
    if len(job.advice) > 1:
        trims = [
            f"channel {number} to {phrases.change(advice.trim_db)}"
            for number, advice in job.advice
            if advice.trim_db is not None
        ]
        if trims:
            told.append(f"Trims: {', '.join(trims)}.")
    for number, advice in job.advice:
        if advice.trim_left_db:
            told.append(
                f"The trim of channel {number} ends there: {phrases.change(advice.trim_left_db)} dB more on the fader."
            )
    told += _once(note for _, advice in job.advice for note in advice.notes if note not in common)
    return told


def _once(sentences) -> list[str]:
    """The sentences without empty ones and repetitions, in order."""
    return list(dict.fromkeys(sentence for sentence in sentences if sentence))


def _sure(finding: Finding) -> str:
    return "" if finding.confidence == "certain" else f"{finding.confidence.capitalize()}: "


def _channels(report: Report, cells: int, ink: Ink) -> list[str]:
    table = channel_table.lines(report, cells=cells, ink=ink)
    if not table:
        return []
    legend = [
        "peak: the highest single peak; played: the peak that recurs, on which advice rests; lone: when a peak "
        "6 dB or more above the played one falls; after trim: the highest peak at the channel, in dBTP.",
    ]
    if "unjudged" in report.states.values():
        legend.append("?: nothing to judge in this take.")
    if cells >= channel_table.WIDE:
        legend.append(phrases.MONO_LOUDNESS)
    prose = min(cells, _LONGEST_PROSE)
    return [ink("strong", "CHANNELS"), *table, *(line for sentence in legend for line in wrap(sentence, prose))]


def _pairs(report: Report, cells: int, ink: Ink) -> list[str]:
    pairs = report.show.pairs
    if not pairs:
        return []
    names = phrases.names_of(report)
    who = [
        f"{p.left} + {p.right}  {harmless(names.get(p.left, ''))} + {harmless(names.get(p.right, ''))}" for p in pairs
    ]
    longest = min(max(map(width, who)), cells - 38)
    lines = [f"{ink('strong', 'PAIRS')}{' ' * (longest - 5)}  pairing       LUFS     LRA    dBTP"]
    for pair, title in zip(pairs, who, strict=True):
        figures = (pair.integrated_lufs, pair.loudness_range_lu, pair.true_peak_dbtp)
        shown = "  ".join(fit(phrases.level(figure), 6, right=True) for figure in figures)
        lines.append(f"{fit(title, longest)}  {fit(pair.pairing, 10)}  {shown}")
    if cells < channel_table.WIDE and any(pair.integrated_lufs is not None for pair in pairs):
        lines += wrap("A stereo pair is read as one programme. " + phrases.MONO_LOUDNESS, cells)
    return lines


def _buses(report: Report, cells: int, ink: Ink) -> list[str]:
    buses = report.show.buses
    if not buses:
        return []
    longest = min(max(max(width(harmless(bus.bus.name)) for bus in buses), 8), 20, cells - 52)
    lines = [f"{ink('strong', 'BUSES')}{' ' * (longest - 5)}    dBTP  ceiling     room       at  loudest in it"]
    for bus in buses:
        at = "" if bus.true_peak_s is None else clock(bus.true_peak_s)
        levels = [phrases.level(level) for level in (bus.true_peak_dbtp, bus.bus.ceiling, bus.headroom_db)]
        figures = "  ".join(
            fit(figure, size, right=True) for figure, size in zip([*levels, at], (6, 7, 7, 7), strict=True)
        )
        loudest = ", ".join(str(number) for number in bus.loudest)
        line = f"{fit(harmless(bus.bus.name), longest)}  {figures}  "
        lines.append((line + fit(loudest, max(cells - width(line), 4))).rstrip())
    return lines


def _notes(report: Report, cells: int, ink: Ink) -> list[str]:
    """Short: what it is about and one sentence; many of one code are counted after the first few."""
    by_code: dict[str, list[Finding]] = {}
    for finding in notes(report):
        by_code.setdefault(finding.code, []).append(finding)
    if not by_code:
        return []
    names = phrases.names_of(report)
    lines = [ink("strong", "NOTES")]
    for code, findings in by_code.items():
        shown = findings if len(findings) <= _SHOWN_ALIKE + 1 else findings[:_SHOWN_ALIKE]
        for finding in shown:
            about = phrases.about(finding, names)
            sentence = f"{about + ': ' if about else ''}{_sure(finding)}{finding.message} [{code}]"
            lines += wrap(harmless(sentence, 2000), cells, first="- ", rest="  ")
        rest = findings[len(shown) :]
        if rest:
            channels = sorted({number for finding in rest for number in finding.channels})
            where = f": channels {ranges(channels)}" if channels else ""
            lines += wrap(f"{len(rest)} more of the same{where} [{code}]", cells, first="- ", rest="  ")
    lines += wrap("What a word in brackets means: replay explain WORD.", cells)
    return lines
