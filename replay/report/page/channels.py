"""Every channel in words and figures, as the levels, the strips and the cards show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.ear import RIGHT, UNSURE, WRONG
from replay.report import confirmed, phrases
from replay.text import clock

if TYPE_CHECKING:
    from replay.desk.model import ChannelView, Levels
    from replay.findings.finding import Finding
    from replay.findings.result import Report

MARKS = {"bad": "✕", "look": "!", "good": "✓", "spare": "–", "unjudged": "?"}
WORDS = {"bad": "BAD", "look": "LOOK", "good": "good", "spare": "spare", "unjudged": "not judged"}
IN_FULL = {
    "bad": "not to be relied on",
    "look": "to look at",
    "good": "good",
    "spare": "spare",
    "unjudged": "not judged",
}
SEVERITY_STATE = {"fault": "bad", "warning": "look", "note": "note"}
SEVERITY_WORD = {"fault": "BAD", "warning": "LOOK", "note": "note"}

BOTTOM_DB, TOP_DB = -60.0, 6.0
ZONE_DB = 3.0
"""Half the width of the target zone: within it no advice is given (the gain rule's least change)."""

TICKS = (-60, -48, -36, -24, -12, -6, 0, 6)

UNCONFIRMED = "unconfirmed"
"""The filter's word for channels whose track neither sound nor ears confirm."""

_MAPPING = {
    "heard": "Confirmed by sound",
    "named": "By name only",
    "contradicted": "Contradicted",
    "unknown": "Not confirmed by sound",
}


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A channel's levels as places on the scale, in percent of its width; None where there is no figure."""

    played: float | None
    peak: float | None
    after_played: float | None
    after_peak: float | None
    loudness: float | None
    zone: tuple[float, float] | None
    words: str


@dataclass(frozen=True, kw_only=True)
class Mapping:
    """What the sound says of a channel's track: in words, how sure, and each piece of evidence."""

    status: str
    words: str
    confidence: str
    evidence: tuple[str, ...]
    found_on: int | None


@dataclass(frozen=True, kw_only=True)
class ByEar:
    """What was said of a channel by ear: the answer, in words with what it was said to be, and when."""

    answer: str
    words: str
    when: str


@dataclass(frozen=True, kw_only=True)
class Row:
    """A channel. `trouble` are the words that the filter takes; `figures` pairs of a word and a figure for the card."""

    number: int
    name: str
    state: str
    mark: str
    word: str
    in_full: str
    kind: str
    box: str
    socket: str
    slot: str
    track: int | None
    way: str
    why: str
    buses: tuple[str, ...]
    trouble: tuple[str, ...]
    levels: Levels | None
    after_peak: float | None
    expected: float | None
    change: str
    change_db: float | None
    was_and_set: str
    advice: tuple[str, ...]
    bar: Bar
    figures: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    mapping: Mapping | None
    by_ear: ByEar | None


def place(level: float | None) -> float | None:
    """Where a level lies on the scale, in percent of its width; what is beyond the ends lies at them.

    >>> place(-60.0), place(6.0), place(-27.0), place(None)
    (0.0, 100.0, 50.0, None)
    """
    if level is None:
        return None
    share = (min(max(level, BOTTOM_DB), TOP_DB) - BOTTOM_DB) / (TOP_DB - BOTTOM_DB)
    return round(100 * share, 2)


def rows(report: Report) -> list[Row]:
    """All channels in channel order."""
    unheard = frozenset(confirmed.not_confirmed(report))
    findings: dict[int, list[Finding]] = {}
    for finding in report.findings:
        for number in finding.channels:
            findings.setdefault(number, []).append(finding)
    return [_row(report, view, tuple(findings.get(view.channel.number, ())), unheard) for view in report.show.channels]


def _row(report: Report, view: ChannelView, findings: tuple[Finding, ...], unheard: frozenset[int]) -> Row:
    channel, patch = view.channel, report.show.patch
    state = report.states[channel.number]
    advice, mapping = view.advice, mapping_of(report, view)
    slot = "" if view.slot is None else phrases.slot_name(patch, view.slot)
    change = "" if advice is None else phrases.change(advice.gain_db or None)
    was = ""
    if advice is not None and advice.new_gain_db is not None:
        was = f"{phrases.setting(advice.was_db)} → {phrases.setting(advice.new_gain_db)}"
    if advice is not None and advice.pad:
        was = f"{was}, pad {advice.pad}".lstrip(", ")
    return Row(
        number=channel.number,
        name=channel.name,
        state=state,
        mark=MARKS[state],
        word=WORDS[state],
        in_full=IN_FULL[state],
        kind=channel.kind,
        box="" if channel.socket is None else channel.socket.box,
        socket="no socket" if channel.socket is None else str(channel.socket),
        slot=slot,
        track=None if view.track is None else view.track.track.number,
        way=way_in_words(report, view),
        why=phrases.why_no_level(view),
        buses=tuple(send.bus for send in channel.sends),
        trouble=(state, *_filed_under(findings, channel.number in unheard)),
        levels=view.recorded,
        after_peak=None if view.input is None else view.input.true_peak_dbtp,
        expected=view.expected_peak_dbtp,
        change=change,
        change_db=None if advice is None else advice.gain_db,
        was_and_set=was,
        advice=(GAIN_WAITS,) if view.advice_waits else _advice(advice),
        bar=_bar(report, view),
        figures=_figures(view),
        findings=findings,
        mapping=mapping,
        by_ear=by_ear_of(report, channel.number),
    )


def _filed_under(findings: tuple[Finding, ...], unconfirmed: bool) -> list[str]:
    """Words that the filter takes beside the state."""
    words = list(dict.fromkeys(finding.code for finding in findings if finding.severity != "note"))
    return words + [UNCONFIRMED] * unconfirmed


def way_in_words(report: Report, view: ChannelView) -> str:
    """Where a channel comes from, station by station."""
    channel, patch, ways = view.channel, report.show.patch, report.show.routes
    stations = ["no socket" if channel.socket is None else str(channel.socket)]
    route = ways.of(channel.number)
    if route.slots:
        named = ", ".join(f"slot {phrases.slot_name(patch, slot)}" for slot in route.slots)
        stations.append(named)
    elif channel.socket is not None:
        stations.append("not recorded")
    if isinstance(route.playback, str):
        stations.append("stays live" if route.playback == "live" else "nothing feeds it on playback")
    else:
        if route.playback not in route.slots:
            stations.append(f"comes back from slot {phrases.slot_name(patch, route.playback)}")
        number = ways.track_of(route.playback)
        stations.append(f"track {number}" if view.track is not None else f"no track {number} in this take")
    return " → ".join([*stations, f"channel {channel.number}"])


def _advice(advice: Any) -> tuple[str, ...]:
    if advice is None:
        return ()
    said = [advice.reason, advice.ask, advice.order, *advice.notes]
    if advice.trim_db is not None:
        said.insert(1, f"trim to {phrases.change(advice.trim_db)} dB at the new gain")
    return tuple(dict.fromkeys(phrases.sentence(sentence) for sentence in said if sentence))


def _bar(report: Report, view: ChannelView) -> Bar:
    levels, after = view.recorded, view.input
    zone = None
    if levels is not None and levels.played_peak_dbtp is not None and view.expected_peak_dbtp is not None:
        rise = view.expected_peak_dbtp - levels.played_peak_dbtp
        middle = report.show.patch.headroom.show_peak - rise
        zone = (place(middle - ZONE_DB) or 0.0, place(min(middle + ZONE_DB, 0.0)) or 0.0)
    if levels is None or levels.true_peak_dbtp is None:
        words = phrases.why_no_level(view) or "no level: silence"
    else:
        words = (
            f"played peak {phrases.level_in_words(levels.played_peak_dbtp)}, "
            f"highest peak {phrases.level_in_words(levels.true_peak_dbtp)}, "
            f"after trim {phrases.level_in_words(after.true_peak_dbtp if after else None)} dBTP, "
            f"loudest {phrases.level_in_words(levels.short_term_max_lufs)} LUFS"
        )
    return Bar(
        played=place(levels.played_peak_dbtp) if levels else None,
        peak=place(levels.true_peak_dbtp) if levels else None,
        after_played=place(after.played_peak_dbtp) if after else None,
        after_peak=place(after.true_peak_dbtp) if after else None,
        loudness=place(levels.short_term_max_lufs) if levels else None,
        zone=zone,
        words=words,
    )


def _figures(view: ChannelView) -> tuple[tuple[str, str], ...]:
    levels, channel = view.recorded, view.channel
    setting = f"{phrases.setting(channel.gain)} dB" if channel.gain is not None else "not stated"
    found = [("kind", channel.kind), ("input", " ".join(filter(None, (channel.input, channel.mic))))]
    found += [("gain", setting), ("trim", f"{phrases.change(channel.trim)} dB")]
    if channel.phantom != "no":
        found.append(("phantom", channel.phantom))
    if levels is None:
        return tuple(found)

    def told(word: str, value: float | None, unit: str) -> None:
        if value is not None:
            found.append((word, f"{phrases.level_in_words(value)} {unit}"))

    told("played peak", levels.played_peak_dbtp, "dBTP")
    told("highest peak", levels.true_peak_dbtp, "dBTP")
    if levels.lone_peak_s is not None:
        found.append(("lone peak at", clock(levels.lone_peak_s)))
    told("after trim", view.input.true_peak_dbtp if view.input else None, "dBTP")
    told("expected in the show", view.expected_peak_dbtp, "dBTP")
    told("integrated", levels.integrated_lufs, "LUFS")
    told("loudest 3 s", levels.short_term_max_lufs, "LUFS")
    told("loudness range", levels.loudness_range_lu, "LU")
    told("RMS", levels.rms_dbfs, "dBFS")
    told("noise floor", levels.noise_floor_dbfs, "dBFS")
    if levels.active_percent is not None:
        found.append(("plays", f"{levels.active_percent:.0f} % of the time"))
    if view.track is not None and view.track.clipping.count:
        found.append(("clips", f"{view.track.clipping.count} runs, longest {view.track.clipping.longest_ms:.1f} ms"))
    if channel.note:
        found.append(("note", channel.note))
    return tuple(found)


def mapping_of(report: Report, view: ChannelView) -> Mapping | None:
    """What was told of the channel's track by its sound; None where nothing was compared."""
    if not report.show.mapping.judged or view.track is None:
        return None
    found = view.mapping
    return Mapping(
        status=found.status,
        words=_MAPPING.get(found.status, found.status),
        confidence=found.confidence or "",
        evidence=tuple(found.evidence),
        found_on=found.found_on,
    )


def by_ear_of(report: Report, number: int) -> ByEar | None:
    """What was answered by ear about the channel; None where nothing was, or not about this take."""
    answer = report.show.ear.answers.get(number)
    if answer is None:
        return None
    words = {RIGHT: "you said that it is right", UNSURE: "you were unsure", WRONG: "you said that it is wrong"}[
        answer.answer
    ]
    other = answer.is_channel
    if other is not None:
        words += f": it is {other} {phrases.names_of(report).get(other, '')}".rstrip()
    elif answer.answer == WRONG and answer.is_really:
        words += f": it is {answer.is_really}"
    return ByEar(answer=answer.answer, words=words, when=answer.when)
