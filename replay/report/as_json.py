"""The report as JSON: a versioned contract (schema.json beside this file, docs/json.md for people).

Within version 1 keys are only ever added, so readers ignore keys that they do not know. A value that does not exist
(the loudness of silence, a gain that the patch does not state) is null, never Infinity or NaN. Levels carry their unit
in their name and are given to 0.0001 dB; times are seconds on the take's clock, to a microsecond.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from replay.report import verdict, whole
from replay.report.figures import FIGURES
from replay.text import harmless
from replay.units import finite

if TYPE_CHECKING:
    from replay.desk.model import Advice, BusView, ChannelView, PairView
    from replay.ear import Answer
    from replay.findings.finding import Finding
    from replay.findings.result import Report
    from replay.patch.model import Slot, Socket

OPTION = "--json"
METAVAR = "FILE"
HELP = "Also write everything as JSON to FILE, for other programs; - writes it to standard output in place of the text."
FOLDER = False
STANDARD_OUTPUT = "-"

FORMAT = "replay-check"
VERSION = "1.2"

_PAIR = ("integrated_lufs", "momentary_max_lufs", "short_term_max_lufs", "loudness_range_lu", "true_peak_dbtp")


def write(report: Report, target: str) -> None:
    """Write the report to a file, or to standard output for `-`. OutputError where that is impossible."""
    data = text(report)
    if target == STANDARD_OUTPUT:
        sys.stdout.write(data)
        sys.stdout.flush()
        return
    path = Path(target)
    whole.protect(report, path)
    whole.write({path: data.encode("utf-8")})


def text(report: Report) -> str:
    """The document as ASCII text that ends with a line end (other characters are written as JSON escapes)."""
    return json.dumps(document(report), indent=2, allow_nan=False) + "\n"


def document(report: Report) -> dict[str, Any]:
    """The document as plain dicts, lists, strings, numbers and None."""
    show = report.show
    take = show.take
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": harmless(show.patch.title),
        "verdict": report.verdict,
        "counts": verdict.counts(report),
        "take": {
            "folder": harmless(str(take.folder), 4096),
            "of": show.patch.take.of,
            "rate": take.rate,
            "duration_s": _time(take.duration_s),
            "tracks": len(take.tracks),
            "recorded_unix_s": _time(take.recorded),
            "clock_source": take.clock_source,
            "others": [harmless(name) for name in take.others],
            "judged_from_s": _time(show.judged_from_s),
            "judged_to_s": _time(show.judged_to_s),
        },
        "channels": [_channel(report, view) for view in show.channels],
        "pairs": [_pair(pair) for pair in show.pairs],
        "buses": [_bus(bus) for bus in show.buses],
        "limits": {name: _figure(value) for name, value in show.limits.items()},
        "findings": [_finding(finding) for finding in report.findings],
    }


def _channel(report: Report, view: ChannelView) -> dict[str, Any]:
    channel = view.channel
    return {
        "channel": channel.number,
        "name": harmless(channel.name),
        "kind": channel.kind,
        "use": channel.use,
        "state": report.states[channel.number],
        "source": view.status,
        "track": None if view.track is None else view.track.track.number,
        "link": None if view.slot is None else harmless(view.slot.link),
        "slot": None if view.slot is None else view.slot.number,
        "return": None if view.playback is None else _slot(view.playback),
        "box": None if channel.socket is None else harmless(channel.socket.box),
        "socket": None if channel.socket is None else channel.socket.number,
        "mapping": _mapping(view),
        "confirmed": _confirmed(report.show.ear.answers.get(channel.number)),
        "recorded": _recorded(view),
        "input": {
            "trim_db": _figure(channel.trim),
            "true_peak_dbtp": _figure(None if view.input is None else view.input.true_peak_dbtp),
            "integrated_lufs": _figure(None if view.input is None else view.input.integrated_lufs),
            "headroom_db": _figure(view.headroom_db),
            "expected_peak_dbtp": _figure(view.expected_peak_dbtp),
        },
        "advice": None if view.advice is None else _advice(view.advice),
        "advice_waits": view.advice_waits,
    }


def _mapping(view: ChannelView) -> dict[str, Any]:
    mapping = view.mapping
    return {
        "status": mapping.status,
        "confidence": mapping.confidence,
        "evidence": [_sentence(sentence) for sentence in mapping.evidence],
        "found_on_track": mapping.found_on,
    }


def _confirmed(answer: Answer | None) -> dict[str, Any] | None:
    if answer is None:
        return None
    return {
        "answer": answer.answer,
        "what_it_is": harmless(answer.is_really),
        "is_channel": answer.is_channel,
        "date": harmless(answer.date, 40),
    }


def _recorded(view: ChannelView) -> dict[str, Any]:
    levels = view.recorded
    figures: dict[str, Any] = {
        name: None if levels is None else (_time if name.endswith("_s") else _figure)(getattr(levels, name))
        for name in FIGURES
    }
    figures["clip_runs"] = None if view.track is None else view.track.clipping.count
    figures["clip_runs_before"] = None if view.track is None else view.track.clipping.before
    return figures


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "gain_db": _figure(advice.gain_db),
        "was_gain_db": _figure(advice.was_db),
        "new_gain_db": _figure(advice.new_gain_db),
        "pad": advice.pad,
        "trim_db": _figure(advice.trim_db),
        "trim_left_db": _figure(advice.trim_left_db),
        "order": _sentence(advice.order),
        "ask": _sentence(advice.ask),
        "at_source": advice.at_source,
        "reason": _sentence(advice.reason),
        "notes": [_sentence(note) for note in advice.notes],
    }


def _pair(pair: PairView) -> dict[str, Any]:
    return {
        "left": pair.left,
        "right": pair.right,
        "pairing": pair.pairing,
        **{name: _figure(getattr(pair, name)) for name in _PAIR},
    }


def _bus(bus: BusView) -> dict[str, Any]:
    return {
        "bus": harmless(bus.bus.name),
        "ceiling_dbtp": _figure(bus.bus.ceiling),
        "channels": list(bus.channels),
        "true_peak_dbtp": _figure(bus.true_peak_dbtp),
        "true_peak_s": _time(bus.true_peak_s),
        "headroom_db": _figure(bus.headroom_db),
        "loudest": list(bus.loudest),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "id": harmless(finding.id),
        "code": finding.code,
        "severity": finding.severity,
        "confidence": finding.confidence,
        "channels": list(finding.channels),
        "tracks": list(finding.tracks),
        "slots": [_slot(slot) for slot in finding.slots],
        "sockets": [_socket(socket) for socket in finding.sockets],
        "start_s": _time(finding.start_s),
        "end_s": _time(finding.end_s),
        "amount": _figure(finding.amount),
        "unit": finding.unit,
        "message": _sentence(finding.message),
        "action": _sentence(finding.action),
        "swallowed": list(finding.swallowed),
    }


def _slot(slot: Slot) -> dict[str, Any]:
    return {"link": harmless(slot.link), "slot": slot.number}


def _socket(socket: Socket) -> dict[str, Any]:
    return {"box": harmless(socket.box), "socket": socket.number}


def _sentence(text: str) -> str:
    return harmless(text, 4000)


def _figure(value: float | None) -> float | None:
    return rounded(value, 4)


def _time(value: float | None) -> float | None:
    return rounded(value, 6)


def rounded(value: float | None, digits: int) -> float | None:
    """A number for JSON; None where it does not exist, and no negative zero."""
    value = finite(None if value is None else float(value))
    return None if value is None else round(value, digits) + 0.0
