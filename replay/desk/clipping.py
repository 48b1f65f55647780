"""Clip runs of a track, sorted into those of the judged part and those before it."""

from __future__ import annotations

from replay.desk.model import Clipping, ClipRun
from replay.meters.model import Measurement


def clipping(measurement: Measurement, from_s: float, to_s: float) -> Clipping:
    """The runs that begin in the judged part. Where more runs exist than were kept, those beyond count as judged
    unless the kept ones all lie before the judged part."""
    rate = measurement.rate
    events = measurement.events_of("clip-run")
    starts = events["start"] / rate
    judged = events[(starts >= from_s) & (starts < to_s)]
    before = int((starts < from_s).sum())
    beyond = measurement.event_counts.get("clip-run", 0) - len(events)
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
        count=len(runs) + (beyond if len(judged) or before == 0 else 0),
        before=before + (beyond if not len(judged) and before else 0),
        longest_ms=max((run.length_ms for run in runs), default=0.0),
    )
