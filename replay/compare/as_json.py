"""The comparison as JSON: a versioned contract (schema.json beside this file, docs/comparing.md for people), under the
same rules as the report's: keys are only added within version 1, what does not exist is null."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from replay.compare import words
from replay.compare.model import ChannelChange, Comparison, FindingChange, Told
from replay.compare.sides import Side
from replay.desk.model import ChannelView
from replay.findings.finding import Finding
from replay.patch.model import Channel
from replay.report import whole
from replay.report.as_json import rounded
from replay.text import harmless

FORMAT = "replay-compare"
VERSION = "1.0"

FIGURES = ("integrated_lufs", "played_peak_dbtp", "loud_hops_dbfs", "loud_mean_dbfs")


def write(comparison: Comparison, target: Path) -> None:
    """Write the document to a file. OutputError where that is impossible."""
    for side in (comparison.a, comparison.b):
        whole.protect(side.report, target)
    whole.write({target: text(comparison).encode("utf-8")})


def text(comparison: Comparison) -> str:
    """The document as ASCII text that ends with a line end."""
    return json.dumps(document(comparison), indent=2, allow_nan=False) + "\n"


def document(comparison: Comparison) -> dict[str, Any]:
    """The document as plain dicts, lists, strings, numbers and None."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "verdict": comparison.verdict,
        "worse_channels": list(comparison.worse_channels),
        "one_patch": comparison.one_patch,
        "a": _side(comparison.a),
        "b": _side(comparison.b),
        "changes": [_told(one) for one in comparison.told],
        "findings": [_fate(one) for one in comparison.findings],
        "channels": [_channel(comparison, one) for one in comparison.channels],
        "pairs": [
            {
                "left": pair.left,
                "right": pair.right,
                "opposed_a": pair.opposed[0],
                "opposed_b": pair.opposed[1],
                "lag_a_s": rounded(pair.lag_s[0], 6),
                "lag_b_s": rounded(pair.lag_s[1], 6),
            }
            for pair in comparison.pairs
        ],
        "only_in_a": [_only(channel) for channel in comparison.gone],
        "only_in_b": [_only(channel) for channel in comparison.added],
    }


def _side(side: Side) -> dict[str, Any]:
    report = side.report
    show, take = report.show, report.show.take
    return {
        "name": side.name,
        "title": harmless(show.patch.title),
        "patch": harmless(str(show.patch.path), 4096),
        "folder": harmless(str(take.folder), 4096),
        "of": show.patch.take.of,
        "rate": take.rate,
        "duration_s": rounded(take.duration_s, 6),
        "tracks": len(take.tracks),
        "recorded_unix_s": rounded(take.recorded, 6),
        "judged_from_s": rounded(show.judged_from_s, 6),
        "judged_to_s": rounded(show.judged_to_s, 6),
        "verdict": report.verdict,
    }


def _told(one: Told) -> dict[str, Any]:
    return {
        "code": one.code,
        "worse": one.worse,
        "confidence": one.confidence,
        "channels": list(one.channels),
        "amount": rounded(one.amount, 4),
        "unit": one.unit,
        "message": harmless(one.message, 4000),
        "action": harmless(one.action, 4000),
        "swallowed": list(one.swallowed),
    }


def _fate(one: FindingChange) -> dict[str, Any]:
    return {"fate": one.fate, "how": harmless(one.how, 4000), "a": _finding(one.before), "b": _finding(one.after)}


def _finding(finding: Finding | None) -> dict[str, Any] | None:
    if finding is None:
        return None
    return {
        "id": harmless(finding.id),
        "code": finding.code,
        "severity": finding.severity,
        "confidence": finding.confidence,
        "channels": list(finding.channels),
        "tracks": list(finding.tracks),
        "message": harmless(finding.message, 4000),
        "action": harmless(finding.action, 4000),
    }


def _channel(comparison: Comparison, one: ChannelChange) -> dict[str, Any]:
    return {
        "channel": one.number,
        "channel_a": one.before.channel.number,
        "name": harmless(one.after.channel.name),
        "kind": one.after.channel.kind,
        "state": words.mark(comparison, one),
        "why_not": one.why_not,
        "a": _view(one.before),
        "b": _view(one.after),
        "level": _level(one),
        "octaves": _octaves(one),
        "step": None
        if one.step is None
        else {
            "what": one.step.what,
            "edge_hz": rounded(one.step.edge_hz, 1),
            "change_db": rounded(one.step.change_db, 4),
        },
    }


def _view(view: ChannelView) -> dict[str, Any]:
    channel, levels = view.channel, view.recorded
    return {
        "name": harmless(channel.name),
        "box": None if channel.socket is None else harmless(channel.socket.box),
        "socket": None if channel.socket is None else channel.socket.number,
        "track": None if view.track is None else view.track.track.number,
        "gain_db": rounded(channel.gain, 4),
        "pad": channel.pad,
        "trim_db": rounded(channel.trim, 4),
        "mapping": view.mapping.status,
        "found_on_track": view.mapping.found_on,
        "played_peak_dbtp": rounded(None if levels is None else levels.played_peak_dbtp, 4),
        "integrated_lufs": rounded(None if levels is None else levels.integrated_lufs, 4),
        "noise_floor_dbfs": rounded(None if levels is None else levels.noise_floor_dbfs, 4),
    }


def _level(one: ChannelChange) -> dict[str, Any] | None:
    moved = one.moved
    if moved is None:
        return None
    return {
        "recorded_db": rounded(moved.recorded_db, 4),
        "settings_db": rounded(moved.expected.change_db, 4),
        "settings_known": moved.expected.known,
        "as_advised": moved.expected.advised,
        "rest_db": rounded(moved.own_db, 4),
        "figures": {name: rounded(moved.figures.get(name), 4) for name in FIGURES},
        "group": moved.group or None,
        "group_db": rounded(moved.others_db, 4),
        "noise_floor_db": rounded(moved.floor_db, 4),
        "others_heard_db": None if moved.bleed is None else rounded(moved.bleed.change_db, 4),
    }


def _octaves(one: ChannelChange) -> dict[str, Any] | None:
    a, b = one.octaves
    if a is None or b is None:
        return None
    return {
        side: {
            "edges_hz": [rounded(edge, 1) for edge in octaves.edges],
            "shares_db": [rounded(share, 4) for share in octaves.shares],
        }
        for side, octaves in (("a", a), ("b", b))
    }


def _only(channel: Channel) -> dict[str, Any]:
    return {"channel": channel.number, "name": harmless(channel.name)}
