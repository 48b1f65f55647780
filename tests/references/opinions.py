"""What ffmpeg, sox, libebur128 and pyloudnorm read on a WAV file. Levels in dB, RMS re 1.0 as these tools give it.

Traps that are stepped around here: pyloudnorm's default weighting is not that of BS.1770 (0.042 LU low) but its
"DeMan" class is; libebur128's loudness range has a hop of 1 s, which EBU Tech 3342 forbids, so it is not asked;
ffmpeg's true peak in the summary has one decimal, in the metadata three of the linear value; ffmpeg appends no silence
for the loudness range, so it is appended by a filter.
"""

from __future__ import annotations

import math
import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np

TAIL_S = 1.5
"""Silence that a file-based meter appends for the loudness range (EBU Tech 3342 section 5)."""


@dataclass(frozen=True)
class Ffmpeg:
    """ffmpeg 5.1: filters ebur128 (I, LRA with tail, true peak) and astats (peak, RMS, DC, crest)."""

    integrated: float
    loudness_range: float
    true_peak: float
    sample_peak: float
    rms: float
    dc: float
    crest: float


@dataclass(frozen=True)
class Sox:
    """sox 14.4.2 `stats`: two decimals."""

    sample_peak: float
    rms: float
    dc: float


@dataclass(frozen=True)
class Libebur128:
    """libebur128 1.2.6 through pyebur128 0.1.1; momentary and short-term maxima asked for every 10 ms."""

    integrated: float
    momentary_max: float
    short_term_max: float
    true_peak: float


@dataclass(frozen=True)
class Pyloudnorm:
    """pyloudnorm 0.2 with its filter class that matches BS.1770; the loudness range has its own 1.5 s tail."""

    integrated: float
    loudness_range: float


def _run(*command: str) -> tuple[str, str]:
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return done.stdout, done.stderr


def _last(text: str, key: str) -> float:
    return float(re.findall(rf"{re.escape(key)}\s*[=:]?\s*(-?\d[\d.]*|-?inf|nan)", text)[-1])


def ffmpeg(path: Path) -> Ffmpeg:
    """One pass for the figures of the file, one with the tail for the loudness range."""
    base = ("ffmpeg", "-hide_banner", "-nostats", "-i", str(path), "-af")
    show = "ametadata=mode=print:file=-"
    frames, log = _run(*base, f"astats,ebur128=metadata=1:peak=true,{show}", "-f", "null", "-")
    padded, _ = _run(*base, f"apad=pad_dur={TAIL_S},ebur128=metadata=1,{show}", "-f", "null", "-")
    return Ffmpeg(
        integrated=_last(frames, "lavfi.r128.I"),
        loudness_range=_last(padded, "lavfi.r128.LRA"),
        true_peak=20 * math.log10(_last(frames, "lavfi.r128.true_peaks_ch0")),
        sample_peak=_last(log, "Peak level dB"),
        rms=_last(log, "RMS level dB"),
        dc=_last(log, "DC offset"),
        crest=20 * math.log10(_last(log, "Crest factor")),
    )


def sox(path: Path) -> Sox:
    _, log = _run("sox", str(path), "-n", "stats")
    return Sox(sample_peak=_last(log, "Pk lev dB"), rms=_last(log, "RMS lev dB"), dc=_last(log, "DC offset"))


def libebur128(samples: np.ndarray, rate: int) -> Libebur128:
    """Samples of shape (frames, channels), at most two channels (beyond five it leaves channels out silently)."""
    import pyebur128

    modes = pyebur128.MeasurementMode
    channels = samples.shape[1]
    state = pyebur128.R128State(channels, rate, modes.MODE_I | modes.MODE_M | modes.MODE_S | modes.MODE_TRUE_PEAK)
    cell = rate // 100
    momentary = short_term = -math.inf
    for count, start in enumerate(range(0, len(samples) - cell + 1, cell), start=1):
        state.add_frames(np.ascontiguousarray(samples[start : start + cell]).ravel(), cell)
        if count >= 40:
            momentary = max(momentary, pyebur128.get_loudness_momentary(state))
        if count >= 300:
            short_term = max(short_term, pyebur128.get_loudness_shortterm(state))
    peak = max(pyebur128.get_true_peak(state, channel) for channel in range(channels))
    return Libebur128(
        integrated=pyebur128.get_loudness_global(state),
        momentary_max=momentary,
        short_term_max=short_term,
        true_peak=20 * math.log10(peak),
    )


def pyloudnorm(samples: np.ndarray, rate: int) -> Pyloudnorm:
    import pyloudnorm

    # It takes logarithms of silent blocks; that is its own business.
    with np.errstate(divide="ignore", invalid="ignore"):
        meter = pyloudnorm.Meter(rate, filter_class="DeMan")
        return Pyloudnorm(
            integrated=float(meter.integrated_loudness(samples)),
            loudness_range=float(meter.loudness_range(samples)),
        )
