"""The report for reading: what to rely on first, then what to do and where, then every channel on a line.

Written for an engineer an hour before doors: the verdict and the take in the first lines, the work grouped by place so
that one walk to a box does it all, the figures after. Colour repeats what a word at the left edge already says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from replay.report import channel_table, confirmed, phrases, to_do, verdict
from replay.report.cells import fit, width, wrap
from replay.report.ink import Ink
from replay.report.work import notes
from replay.text import clock, harmless, ranges

if TYPE_CHECKING:
    from replay.findings.finding import Finding
    from replay.findings.result import Report

_LONGEST_PROSE = 110
_ONE_SCREEN = 50
"""A report longer than so many lines says its verdict again at the end."""

_SHOWN_ALIKE = 3
"""So many notes of one code are shown; more are counted."""


def text(report: Report, *, cells: int = 80, colour: bool = False) -> str:
    """The whole report as text that ends with a line end; no line is wider than `cells` (60 at the least)."""
    cells = max(cells, 60)
    ink = Ink(colour)
    sections = [
        _top(report, min(cells, _LONGEST_PROSE), ink),
        to_do.lines(report, cells=min(cells, _LONGEST_PROSE), ink=ink),
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
    return [ink(kind, line) for line in wrap(verdict.verdict(report), cells)]


def _top(report: Report, cells: int, ink: Ink) -> list[str]:
    lines = [*_verdict(report, cells, ink), *wrap(confirmed.confirmation(report), cells), ""]
    lines += wrap(harmless(report.show.patch.title), cells, first="Show  ", rest=to_do.INDENT)
    facts = f"{phrases.take_facts(report)}; {phrases.judged_part(report)}."
    lines += wrap(facts, cells, first="Take  ", rest=to_do.INDENT)
    others = report.show.take.others
    if others:
        shown = ", ".join(harmless(name) for name in others[:5])
        more = f" and {len(others) - 5} more" if len(others) > 5 else ""
        lines += wrap(
            f"Other takes here: {shown}{more} (--take chooses).", cells, first=to_do.INDENT, rest=to_do.INDENT
        )
    return lines


def _channels(report: Report, cells: int, ink: Ink) -> list[str]:
    table = channel_table.lines(report, cells=cells, ink=ink)
    if not table:
        return []
    legend = [
        "peak: the highest single peak; played: the peak that recurs, on which advice rests; lone: when a peak "
        "6 dB or more above the played one falls; after trim: the highest peak at the channel, in dBTP.",
    ]
    if report.show.mapping.judged:
        legend.append(
            "heard: whether the sound itself says that the track is the channel's (yes, NO), its name only (name), or "
            "nothing does (-)." + (f" {confirmed.BY_EAR}" if report.show.ear.answers else "") + _by_ear(report)
        )
    if "unjudged" in report.states.values():
        legend.append("?: nothing to judge in this take.")
    if cells >= channel_table.WIDE:
        legend.append(phrases.MONO_LOUDNESS)
    prose = min(cells, _LONGEST_PROSE)
    return [ink("strong", "CHANNELS"), *table, *(line for sentence in legend for line in wrap(sentence, prose))]


def _pairs(report: Report, cells: int, ink: Ink) -> list[str]:
    # Only stereo pairs are read as one programme; the others have no figures of their own.
    pairs = [pair for pair in report.show.pairs if pair.integrated_lufs is not None or pair.true_peak_dbtp is not None]
    if not pairs:
        return []
    names = phrases.names_of(report)
    numbers = [f"{pair.left} + {pair.right}" for pair in pairs]
    most = max(map(width, numbers))
    who = [
        f"{fit(number, most)}  {harmless(names.get(pair.left, ''))} + {harmless(names.get(pair.right, ''))}"
        for number, pair in zip(numbers, pairs, strict=True)
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
    lines = [f"{ink('strong', 'BUSES')}{' ' * (longest - 5)}    dBTP  ceiling  headroom       at  loudest in it"]
    for bus in buses:
        at = "" if bus.true_peak_s is None else clock(bus.true_peak_s)
        levels = [phrases.level(level) for level in (bus.true_peak_dbtp, bus.bus.ceiling, bus.headroom_db)]
        figures = "  ".join(
            fit(figure, size, right=True) for figure, size in zip([*levels, at], (6, 7, 8, 7), strict=True)
        )
        loudest = ", ".join(str(number) for number in bus.loudest)
        line = f"{fit(harmless(bus.bus.name), longest)}  {figures}  "
        lines.append((line + fit(loudest, max(cells - width(line), 4))).rstrip())
    return lines


def _by_ear(report: Report) -> str:
    """What may confirm the channels that the sound does not, where nobody has begun to."""
    if report.show.ear.answers or not confirmed.not_confirmed(report):
        return ""
    return " Your ears may say the rest: replay confirm SHOW."


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
            # Some sentences begin with the channels themselves, with more than their numbers.
            about = "" if finding.message.startswith(("Channel", "Track")) else phrases.about(finding, names)
            sentence = f"{phrases.lead(finding)}{', ' + about if about else ''}: {finding.message}"
            lines += wrap(harmless(sentence, 2000), cells, first="- ", rest="  ")
        rest = findings[len(shown) :]
        if rest:
            channels = sorted({number for finding in rest for number in finding.channels})
            where = f": channels {ranges(channels)}" if channels else ""
            lines += wrap(f"{code}, {len(rest)} more of the same{where}", cells, first="- ", rest="  ")
    lines += wrap("What such a word means, and what to do: replay explain WORD.", cells)
    return lines
