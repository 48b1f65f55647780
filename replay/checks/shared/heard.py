"""Is there a source on a track, or nothing but steady noise, or only what it hears of the others? Shared by several
checks, whose limits they are."""

from __future__ import annotations

import numpy as np

from replay.checks.shared.history import hop_levels
from replay.checks.shared.limit import Limit
from replay.checks.shared.mains import lines_of
from replay.checks.shared.place import views_of
from replay.desk.model import Show, TrackView
from replay.grid import hop_starts
from replay.units import FULL_SCALE_SINE_RMS_DB, power

LIMITS = {
    "noise_only_active_s": Limit(1.0, "seconds", "a track that is active for longer holds more than noise"),
    "noise_only_peak": Limit(-45.0, "dBTP", "a track whose played peak is higher holds more than noise", -200, 0),
    "noise_only_bleed": Limit(-20.0, "dBTP", "a track whose played peak is higher hears a source of its own", -200, 0),
    "noise_only_spread": Limit(6.0, "dB", "level of steady noise: 95th less 5th percentile over 100 ms", 0, 60),
}

LEAST_HOPS = 20
"""Percentiles over less than two seconds say nothing."""

WHITE_DB = (0.8, 6.0)
"""From one octave to the next white noise rises 3 dB; what is filtered at the top less."""

UPPER_OCTAVES = (7, 8, 9)
"""At 48 kHz 1.5 to 12 kHz, in bands that double; below them lie as many hertz as the first of them has."""

NOISE_SHARE = 0.5
"""What a preamp and the mains leave: so much of the energy is white noise and lines of the mains."""

MIX_SPREAD_DB, MIX_ABOVE_DB = 2.0, 5.0
"""Microphones of singers, winds and strings on four stages of 20 to 34 inputs, rendered from sampled instruments: with
their source the moments spread by 3.4 dB or more about the nearest mix of the others, and lie 8 dB or more above it for
two seconds. With their source left out, 26 of 29 stay within 1.8 and 3.8 dB."""

ONE_SHARE = 0.85
ALIKE = 0.97
"""A mix that is nearly one track's, or of tracks that rise and fall just as this one does, is another take of its own
source."""

OWN_FAMILY_SHARE = 0.5
LEAST_IN_MIX = 2

FAMILIES = {
    **dict.fromkeys(("vocal", "backing", "speech", "choir", "talkback"), "voices"),
    **dict.fromkeys(("brass", "woodwind"), "winds"),
    **dict.fromkeys(("strings", "acoustic", "keys"), "strings and keys"),
}
"""Kinds with a microphone of their own, by what may play or sing together so closely that one is a mix of the others.
Drums, cymbals, percussion, amplifiers and what stands off hear each other too well to be told."""


def peak_of(track: TrackView) -> float | None:
    """The played peak of the whole take, or the highest one where it is too short for that."""
    played = track.whole.played_peak_dbtp
    return track.whole.true_peak_dbtp if played is None else played


def only_noise(show: Show, track: TrackView) -> bool:
    """True where a track is alive but holds nothing but steady noise."""
    peak = peak_of(track)
    if track.all_zero or peak is None or peak >= show.limit("noise_only_peak"):
        return False
    levels = hop_levels(track.measurement)
    levels = levels[np.isfinite(levels)]
    if levels.size < LEAST_HOPS:
        return False
    low, high = np.percentile(levels, [5, 95])
    if high - low > show.limit("noise_only_spread"):
        return False
    # Steady sounds above -60 dBFS count as active whatever they are: a drone is told from noise by its octaves.
    return track.active_s < show.limit("noise_only_active_s") or _is_noise(track)


def only_others(show: Show, track: TrackView) -> bool:
    """True where all that a microphone holds is what it hears of the others on the stage."""
    mix = show.evidence.mixes.get(track.track.number)
    views = views_of(show, track)
    if mix is None or not views or mix.spread_db > MIX_SPREAD_DB or mix.upper_db > MIX_ABOVE_DB:
        return False
    peak = peak_of(track)
    if peak is None or peak >= show.limit("noise_only_bleed"):
        return False
    kinds = {view.channel.kind for view in views}
    unused = all(view.channel.use != "must" for view in views)
    known = FAMILIES.keys() | ({"other"} if unused else set())
    if not kinds <= known or any(view.channel.input != "mic" for view in views):
        return False
    if len(mix.of) < LEAST_IN_MIX or mix.of[0][1] > ONE_SHARE:
        return False
    families = {FAMILIES.get(kind) for kind in kinds} - {None}
    partners = {view.channel.pair for view in views}
    by_number = {other.track.number: other for other in show.tracks}
    own = 0.0
    for number, share in mix.of:
        theirs = [view.channel for view in views_of(show, by_number[number])] if number in by_number else []
        alike = (show.evidence.alike(track.track.number, number) or 0.0) >= ALIKE
        if alike or any(one.number in partners or FAMILIES.get(one.kind) in families for one in theirs):
            own += share
    return own <= OWN_FAMILY_SHARE


def has_source(show: Show, track: TrackView) -> bool:
    """True where a track holds a signal that somebody made: active, well above noise, and not only the others'."""
    peak = peak_of(track)
    return peak is not None and peak >= show.limit("noise_only_peak") and plays(show, track)


def plays(show: Show, track: TrackView) -> bool:
    """True where a track is active with something of its own, however quiet."""
    if track.all_zero or peak_of(track) is None or track.active_s < show.limit("noise_only_active_s"):
        return False
    return not only_noise(show, track) and not only_others(show, track)


def rises_as_white(octaves: list[float]) -> bool:
    """Whether four octaves from 750 Hz on (at 48 kHz) hold white noise; the topmost may fall."""
    if min(octaves) <= 0:
        return False
    rises = np.diff(10 * np.log10(octaves))
    return bool(np.all(rises[:2] >= WHITE_DB[0]) and np.all(rises <= WHITE_DB[1]) and rises[2] >= -3.0)


def _is_noise(track: TrackView) -> bool:
    """Whether white noise and lines of the mains hold most of a steady track's energy."""
    measurement = track.measurement
    octaves = [float(measurement.column(f"band_{band}").sum()) for band in range(11)]
    total = sum(octaves)
    if total <= 0:
        return False
    white = 0.0
    if rises_as_white(octaves[6:10]):
        upper = sum(octaves[band] for band in UPPER_OCTAVES)
        # The octaves beside have the white noise that their width gives them, or less where it is filtered.
        white = upper * (1 + 1 / 7) + octaves[10]
    lines = lines_of(track)
    mains = 0.0
    if lines is not None:
        mains = power(lines.level_dbfs - FULL_SCALE_SINE_RMS_DB) * float(
            hop_starts(measurement.hops, measurement.rate)[-1]
        )
    return white + mains >= NOISE_SHARE * total
