"""The tracks over time as the page's script draws them: a byte a figure, no more columns than a screen can show.

A strip is four rows of bytes in base64, one value a column: the greatest and the least sample (128 is zero, 0.5 dB a
step, down to -63 dBFS), RMS and short-term loudness (0 is nothing; else 1 + 2.4 steps a dB above -100).
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from replay.checks.shared.history import runs_of
from replay.checks.shared.stage import LEAST_VOTES, SHARE_PLAYING, stage_of
from replay.desk.course import Course, course, hops_a_column

if TYPE_CHECKING:
    from replay.desk.model import TrackView
    from replay.findings.result import Report

MOST_COLUMNS = 7200
MOST_BYTES = 2_000_000
"""Of all strips together, before base64: with it a page stays under 6 MB, excerpts and all."""

ROWS = 4
MOST_MARKS = 400
"""Clip marks of one strip; a screen has no room for more."""

SONG_GAP_S = 6.0
LEAST_SONG_S = 15.0


def strips(report: Report) -> dict[str, Any]:
    """Everything that the strips draw, as plain lists and numbers."""
    tracks = report.show.tracks
    hops = max((track.measurement.hops for track in tracks), default=0)
    columns = min(MOST_COLUMNS, MOST_BYTES // (ROWS * max(len(tracks), 1)))
    length = hops_a_column(hops, columns)
    return {
        "step_s": length / 10,
        "stretches": stretches(report),
        "tracks": {str(track.track.number): _strip(report, track, length) for track in tracks},
    }


def _strip(report: Report, track: TrackView, hops: int) -> dict[str, Any]:
    clips = sorted({int(run.start_s * 10 / hops) * hops / 10 for run in track.clipping.runs})
    step = max(1, -(-len(clips) // MOST_MARKS))
    return {
        "columns": -(-track.measurement.hops // hops),
        "bytes": base64.b64encode(packed(course(track.measurement, hops))).decode("ascii"),
        "clips": clips[::step],
        "gaps": gaps(report, track),
        "marks": [
            [round(finding.start_s, 1), round(finding.end_s or finding.start_s, 1), finding.code, finding.severity]
            for finding in report.findings
            if finding.start_s is not None
            and finding.code != "clipped"
            and (track.track.number in finding.tracks or set(track.channels) & set(finding.channels))
        ],
    }


def packed(one: Course) -> bytes:
    """Four rows of bytes."""
    return b"".join((_samples(one.high), _samples(one.low), _levels(one.rms), _levels(one.short)))


def _samples(values: np.ndarray) -> bytes:
    decibels = 20 * np.log10(np.maximum(np.abs(values), 1e-5))
    steps = np.clip(np.round((decibels + 63.5) * 2), 0, 127)
    return (128 + np.sign(values) * steps).astype(np.uint8).tobytes()


def _levels(decibels: np.ndarray) -> bytes:
    steps = np.clip(np.round((decibels + 100.0) * 2.4) + 1, 0, 255)
    return steps.astype(np.uint8).tobytes()


def gaps(report: Report, track: TrackView) -> list[list[float]]:
    """Stretches of the take's clock that the track does not have, in seconds."""
    take = report.show.take
    found, at = [], 0
    for start, stop in track.track.coverage:
        if start > at:
            found.append([round(at / take.rate, 2), round(start / take.rate, 2)])
        at = max(at, stop)
    if at < take.frames:
        found.append([round(at / take.rate, 2), round(take.frames / take.rate, 2)])
    return found


def stretches(report: Report) -> list[list[Any]]:
    """Where the line check is and where the stage plays, as [start, end, word], in order of time."""
    check = line_check(report)
    found: list[list[Any]] = [[*check, "line check"]] if check else []
    hops = max((track.measurement.hops for track in report.show.tracks), default=0)
    if hops:
        stage = stage_of(report.show.tracks, hops)
        if stage.voters:
            playing = (stage.votes >= LEAST_VOTES) & (stage.votes >= SHARE_PLAYING * stage.voters)
            for start, stop in joined(runs_of(playing) / 10):
                if check and start < check[1]:
                    start = check[1]
                if stop - start >= LEAST_SONG_S:
                    found.append([round(start, 1), round(stop, 1), "the stage plays"])
    return found


def joined(runs: np.ndarray) -> list[tuple[float, float]]:
    """Runs in seconds with short gaps closed.

    >>> joined(np.array([[0, 20], [22, 40], [60, 80]]))
    [(0.0, 40.0), (60.0, 80.0)]
    """
    found: list[tuple[float, float]] = []
    for start, stop in runs:
        if found and start - found[-1][1] < SONG_GAP_S:
            found[-1] = (found[-1][0], float(stop))
        else:
            found.append((float(start), float(stop)))
    return found


def line_check(report: Report) -> tuple[float, float] | None:
    """When the line check was, where it was found or the patch states it."""
    seen = getattr(getattr(report.show, "evidence", None), "line_check", None)
    if seen is not None:
        return round(seen.start_s, 1), round(seen.stop_s, 1)
    stated = getattr(report.show.patch, "line_check", None)
    if stated is not None and stated.to_s is not None:
        return float(stated.from_s or 0.0), float(stated.to_s)
    return None
