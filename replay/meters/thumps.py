"""Thumps: rare strong pulses below hearing's low end: a plug, a phantom switch, a stand that is kicked.

A 100 ms hop is part of a thump where 60 % or more of its energy lies in the lowest octave band (below 47 Hz at 48 kHz)
and that is no more than 10 dB below the loud hops (95th percentile), so that no gain changes what is one; and where the
octave stands 10 dB out of what it mostly holds, as no chance moment of steady noise does. A thump lasts
1.2 s at most, and a track on which they come often is a bass drum or an organ: beyond MOST of them, or one in ten
seconds, none counts. Common practice, no source. The band comes up to 75 ms late, so every hop is looked at with the
next one, and one hop is added to either side. More in the octave than in the whole hop is what comes late of a sound
that has ended: a microphone that is muted, words at a talkback, whose loud hops on a track that mostly rests lie beyond
the 95th percentile.
"""

from __future__ import annotations

import numpy as np

from replay.meters.model import Measurement

SHARE = 0.6
MOST_SHARE = 2.0
LEAST = 0.1
LOUD = 95
STANDS_OUT = 10.0
LONGEST_HOPS = 12
MOST = 8
SECONDS_EACH = 10.0


def thumps(measurement: Measurement) -> np.ndarray:
    """int64 (n, 2): first and last hop (exclusive) of every thump; none where they are no rarity.

    None either where the bands were not measured.
    """
    return np.array(measurement.once("thumps", lambda: _thumps(measurement).tolist()), np.int64).reshape(-1, 2)


def _thumps(measurement: Measurement) -> np.ndarray:
    try:
        lowest = _with_next(measurement.column("band_0").astype(np.float64))
    except KeyError:
        return np.zeros((0, 2), np.int64)
    # The bands' sum is the hop's energy but for what lies on their edges: the cheaper figure is good enough.
    total = _with_next(measurement.column("energy"))
    if len(lowest) < 3:
        return np.zeros((0, 2), np.int64)
    strong = total > LEAST * np.percentile(total, LOUD)
    shares = (lowest >= SHARE * total) & (lowest <= MOST_SHARE * total)
    low = strong & shares & (lowest >= STANDS_OUT * np.median(lowest))
    low = low | np.append(False, low[:-1]) | np.append(low[1:], False)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], low, [False])).astype(np.int8))).reshape(-1, 2)
    if len(edges) > min(MOST, max(1, measurement.hops / 10 / SECONDS_EACH)):
        return np.zeros((0, 2), np.int64)
    return edges[edges[:, 1] - edges[:, 0] <= LONGEST_HOPS]


def _with_next(values: np.ndarray) -> np.ndarray:
    return values + np.append(values[1:], 0.0)


def mask(measurement: Measurement) -> np.ndarray:
    """bool, one a hop: true within a thump."""
    inside = np.zeros(measurement.hops, bool)
    for start, stop in thumps(measurement):
        inside[start:stop] = True
    return inside
