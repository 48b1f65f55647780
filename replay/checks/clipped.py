"""The converter ran out of numbers: the recording is clipped.

What it is
    Three or more samples in a row at the greatest value that the converter delivers. The tops of the waves are gone.

Why it matters before a show
    A trim cannot mend a clip: it only makes the same distortion quieter. The preamp was too hot, will be too hot in
    the show, and the source must be recorded again.

How it is told
    Runs at the greatest code of the word length that the samples really use, whatever the file's container. A fault
    from three runs on, or from one that lasts more than 0.5 ms, in the part that is judged; else a warning. A note for
    playback and click, and where all runs lie before the part that is judged (gains move during a line check).
    Nothing for timecode and other square waves, for what is recognised as a click track by its sound (unless the list
    has percussion, drums by line or samples there: a pad that a sequencer plays sounds alike), nor for channels that
    are off. Certain.

What can fool it
    Digital sources that were mastered up to full scale. A clip that happened before the preamp has flat tops below
    full scale and is not told here.

What to do
    Turn the preamp down as advised, then record again and check.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from replay.checks.shared import words
from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.checks.shared.level_action import source_words, turn
from replay.checks.shared.limit import Limit
from replay.checks.shared.machines import heard_as_machine, may_be_pad
from replay.checks.shared.place import of_tracks, source_name, views_of
from replay.desk.model import ChannelView, Clipping, Show, TrackView
from replay.findings.finding import Finding
from replay.grid import hop_starts

CODE = "clipped"
TITLE = "the recording is clipped"
LIMITS: Mapping[str, Limit] = {
    "clipped_runs": Limit(3, "runs", "from so many runs on it is a fault", least=1),
    "clipped_ms": Limit(0.5, "milliseconds", "one run that lasts longer is a fault", least=0),
}

SQUARE_SHARE = 0.9
SQUARE_RMS = 10 ** (-1.0 / 10)
"""A square wave's power is that of its peak; 1 dB below leaves room for edges. A sine would need 20 dB of overload."""


def check(show: Show) -> Iterator[Finding]:
    for track in show.tracks:
        views = [view for view in views_of(show, track) if view.channel.use != "off"]
        clipping = track.clipping
        if not views or not clipping.count + clipping.before:
            continue
        kinds = {view.channel.kind for view in views}
        machine = heard_as_machine(show, track) and not (
            track.track.number not in show.timecode and any(may_be_pad(view) for view in views)
        )
        if "timecode" in kinds or machine or is_square(track):
            continue
        made = kinds <= {"playback", "click"}
        if clipping.count == 0:
            yield _before(show, track, views[0], clipping)
        else:
            yield _judged(show, track, views[0], clipping, made)


def _before(show: Show, track: TrackView, view: ChannelView, clipping: Clipping) -> Finding:
    runs = words.count(clipping.before, "run")
    return Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"{runs} at full scale before the part that is judged; none in it.",
        action=f"Nothing, if {source_name(view)} was turned down since; that part of the take stays distorted.",
        end_s=show.judged_from_s if track.judged_from_s is None else track.judged_from_s,
        amount=float(clipping.before),
        unit="runs",
        key="before",
        **of_tracks(show, [track.track.number]),
    )


def _judged(show: Show, track: TrackView, view: ChannelView, clipping: Clipping, made: bool) -> Finding:
    fault = clipping.count >= show.limit("clipped_runs") or clipping.longest_ms > show.limit("clipped_ms")
    starts = [run.start_s for run in clipping.runs]
    return Finding(
        code=CODE,
        severity="note" if made else "fault" if fault else "warning",
        confidence="certain",
        message=_sentence(clipping),
        action=_action(view, made),
        start_s=min(starts, default=None),
        end_s=max(starts, default=None),
        amount=float(clipping.count),
        unit="runs",
        **of_tracks(show, [track.track.number]),
    )


def _sentence(clipping: Clipping) -> str:
    longest = f"{words.plain(clipping.longest_ms)} ms" if clipping.longest_ms >= 0.05 else "under 0.1 ms"
    worst = max(clipping.runs, key=lambda run: run.length, default=None)
    # The list of runs is capped, the count is not: the longest one may lie beyond it.
    known = worst is not None and worst.length_ms >= clipping.longest_ms - 1e-6
    when = f" {words.at(worst.start_s)}" if worst is not None and known else ""
    if clipping.count == 1:
        text = f"1 run at full scale, {longest}{when}"
    else:
        text = f"{clipping.count} runs at full scale, the longest {longest}{when}"
        if clipping.runs:
            text += f"; first {words.at(min(run.start_s for run in clipping.runs))}"
    if clipping.overshoot_db is not None:
        low, high = (words.plain(value) for value in clipping.overshoot_db)
        text += f"; by an estimated {low} dB" if low == high else f"; by an estimated {low} to {high} dB"
    more = f" {clipping.before} more before the part that is judged." if clipping.before else ""
    return f"{text}.{more}"


def _action(view: ChannelView, made: bool) -> str:
    if made:
        return f"See at {source_words(view)} whether it is meant to be that loud; if not, turn its output down."
    if view.fed_wrong:
        return GAIN_WAITS
    how = turn(view) or f"Turn {source_name(view)} down by at least 6 dB"
    return f"{how}, record again and check."


def is_square(track: TrackView) -> bool:
    """True where nearly every moment that sounds is flat at its own peak: timecode, a square-wave synthesiser."""
    measurement = track.measurement
    power = measurement.column("energy") / np.diff(hop_starts(measurement.hops, measurement.rate))
    peak = np.maximum(measurement.column("high"), -measurement.column("low")) ** 2
    sounding = (peak > 1e-4 * peak.max(initial=0.0)) & measurement.whole_hops()
    if not sounding.any():
        return False
    return bool(np.mean(power[sounding] >= SQUARE_RMS * peak[sounding]) >= SQUARE_SHARE)
