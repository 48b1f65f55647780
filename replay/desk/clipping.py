"""Clip runs of a track, sorted into those of the judged part and those before it."""

from __future__ import annotations

from replay.desk.model import Clipping, ClipRun
from replay.meters.model import Measurement
from replay.meters.peak import sample_peak


def clipping(measurement: Measurement, from_s: float, to_s: float) -> Clipping:
    """The runs that begin in the judged part, and how many begin before it.

    Where more runs exist than were kept, those beyond lie behind the last kept one: they count as judged where that one
    lies in the judged part, and also where it lies before and the judged part reaches the clipped level; else they lie
    before it or, behind the judged part, do not count.
    """
    rate = measurement.rate
    events = measurement.events_of("clip-run")
    starts = events["start"] / rate
    judged = events[(starts >= from_s) & (starts < to_s)]
    before = int((starts < from_s).sum())
    beyond = measurement.event_counts.get("clip-run", 0) - len(events)
    beyond_judged = beyond_before = 0
    if beyond > 0 and len(events) and starts[-1] < to_s:
        if starts[-1] >= from_s or _reaches(measurement, float(abs(events["value"]).min()), from_s, to_s):
            beyond_judged = beyond
        else:
            beyond_before = beyond
    runs = tuple(
        ClipRun(
            start_s=float(event["start"] / rate),
            length=int(event["length"]),
            length_ms=1000 * float(event["length"]) / rate,
            positive=bool(event["value"] > 0),
        )
        for event in judged
    )
    return Clipping(
        runs=runs,
        count=len(runs) + beyond_judged,
        before=before + beyond_before,
        longest_ms=max((run.length_ms for run in runs), default=0.0),
    )


def _reaches(measurement: Measurement, level: float, from_s: float, to_s: float) -> bool:
    part = slice(round(from_s * 10), round(to_s * 10))
    return sample_peak(measurement.column("high")[part], measurement.column("low")[part]) >= level
