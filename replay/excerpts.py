"""Cuts a few seconds out of the take for each channel that is worth hearing, and encodes them side by side.

Chosen from the histories, read once in order of time, played at a safe level: an excerpt's highest peak is brought to
PEAK_DBFS, quiet ones are raised by MOST_UP_DB at most, and what looks like timecode is left out. Fewer than MOST in a
large show: channels with faults first, then those to look at, then the others in channel order.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from replay.desk.model import ChannelView
from replay.findings.finding import Finding
from replay.findings.result import Report
from replay.report.excerpt import Excerpt, Excerpts
from replay.sound.timecode import sounds_like_timecode
from replay.stands_out import HOPS_PER_S, stand_out
from replay.units import amplitude, db

MOST = 30
HOPS = 36
"""3.6 s: long enough to know a source again, short enough for thirty of them."""

PEAK_DBFS = -20.0
MOST_UP_DB = 24.0
FADE_S = 0.02

BEFORE_S = 1.2
"""So much is heard before the place that a finding names."""

_ORDER = {"bad": 0, "look": 1, "good": 2, "unjudged": 3, "spare": 4}
_COMPRESSION = 0.75
"""libsndfile's scale from 0 (best) to 1 (smallest); about 50 kbit/s for one channel."""


@dataclass(frozen=True)
class Choice:
    """What is to be heard of a channel: from which hop on, and why there."""

    view: ChannelView
    first: int
    why: str


def cut(report: Report, progress: Callable[[float, str], None] | None = None) -> Excerpts:
    """Excerpts of the channels that most need to be heard. Never raises for audio that cannot be read or encoded: what
    is missing is said in the remark."""
    try:
        import soundfile

        can = "MP3" in soundfile.available_formats()
    except (ImportError, OSError):
        can = False
    if not can:
        return Excerpts(remark="No excerpts to hear: libsndfile on this machine is older than 1.1 and writes no MP3.")
    wanted, remark = choose(report)
    if not wanted:
        return Excerpts(remark=remark or "No excerpts to hear: nothing in this take sounds.")
    rate = report.show.take.rate
    done: dict[int, Excerpt] = {}
    codes = 0
    with ThreadPoolExecutor(max_workers=min(os.cpu_count() or 1, 8)) as pool:
        waiting = []
        for choice, samples in _read(report, wanted):
            waiting.append((choice, pool.submit(encoded, choice, samples, rate)))
        for number, (choice, result) in enumerate(waiting, start=1):
            excerpt = result.result()
            if excerpt is None:
                codes += 1
            else:
                done[choice.view.channel.number] = excerpt
            if progress is not None:
                progress(number / len(waiting), "cutting excerpts to hear")
    if codes:
        remark = " ".join(filter(None, [remark, f"{codes} left out: timecode, or nothing there."]))
    return Excerpts(by_channel=dict(sorted(done.items())), remark=remark)


def choose(report: Report) -> tuple[list[Choice], str]:
    """Which channels are heard, and where, in order of need; and a remark on those left out."""
    views = [
        view
        for view in report.show.channels
        if view.track is not None
        and not view.track.all_zero
        and view.channel.kind != "timecode"
        and view.track.track.number not in report.show.timecode
    ]
    views.sort(key=lambda view: (_ORDER[report.states[view.channel.number]], view.channel.number))
    left = len(views) - MOST
    remark = f"{MOST} channels have an excerpt to hear; {left} others were left out." if left > 0 else ""
    views = views[:MOST]
    if not views:
        return [], remark
    on_track = {view.channel.number: view.track for view in report.show.channels if view.track is not None}
    hops = max(track.measurement.hops for track in on_track.values())
    first = int(report.show.judged_from_s * HOPS_PER_S)
    last = max(min(int(report.show.judged_to_s * HOPS_PER_S + 0.5), hops), first + 1)
    energies = {one.track.number: one.measurement.column("energy")[first:last] for one in on_track.values()}
    apart = {
        on_track[view.channel.number].track.number: on_track[view.channel.pair].track.number
        for view in views
        if view.channel.pair in on_track
    }
    wanted = [on_track[view.channel.number].track.number for view in views]
    begins = stand_out(energies, wanted, HOPS / HOPS_PER_S, apart)
    found = []
    for view in views:
        assert view.track is not None
        finding = _heard_finding(report.findings, view.channel.number)
        latest = max(view.track.measurement.hops - HOPS, 0)
        if finding is not None and finding.start_s is not None:
            at = int(max(finding.start_s - BEFORE_S, 0) * 10)
            found.append(Choice(view, min(at, latest), finding.code))
        else:
            at = first + round(begins[view.track.track.number] * HOPS_PER_S)
            found.append(Choice(view, min(at, latest), "where it stands out most"))
    return found, remark


def _heard_finding(findings: Sequence[Finding], channel: int) -> Finding | None:
    """The worst fault or warning of a channel that has a place in time."""
    for finding in findings:
        if channel in finding.channels and finding.severity != "note" and finding.start_s is not None:
            return finding
    return None


def _read(report: Report, wanted: Sequence[Choice]):
    """Each choice with float32 samples, in order of time; what cannot be read any more is silence."""
    from replay.take.moments import Moment, read_moments

    tracks = report.show.take.tracks
    places = {track.number: place for place, track in enumerate(tracks)}
    moments: dict[Moment, Choice] = {}
    for choice in wanted:
        assert choice.view.track is not None
        number = choice.view.track.track.number
        hops = min(HOPS, choice.view.track.measurement.hops - choice.first)
        moment = Moment(choice.first, hops, (places[number],))
        if moment in moments:
            # Two channels on one track hear the same; the reader wants every moment once.
            yield from ((choice, samples[0]) for _, samples in read_moments(tracks, report.show.take.rate, [moment]))
            continue
        moments[moment] = choice
    for moment, samples in read_moments(tracks, report.show.take.rate, list(moments)):
        yield moments[moment], samples[0]


def encoded(choice: Choice, samples: np.ndarray, rate: int) -> Excerpt | None:
    """One excerpt as MP3 at a safe level; None for silence and for what looks like timecode."""
    import soundfile

    peak = float(np.abs(samples).max(initial=0.0))
    if peak == 0.0 or not np.isfinite(peak) or sounds_like_timecode(samples, rate):
        return None
    gain = min(PEAK_DBFS - db(peak), MOST_UP_DB)
    safe = (samples * amplitude(gain)).astype(np.float32)
    ramp = min(int(FADE_S * rate), len(safe) // 2)
    fade = np.linspace(0, 1, ramp, dtype=np.float32)
    safe[:ramp] *= fade
    safe[len(safe) - ramp :] *= fade[::-1]
    step = 2 if rate > 50000 else 1
    if step == 2:  # MP3 ends at 48 kHz
        safe, rate = _halved(safe), rate // 2
    out = io.BytesIO()
    try:
        soundfile.write(out, safe, rate, format="MP3", subtype="MPEG_LAYER_III", compression_level=_COMPRESSION)
    except (RuntimeError, ValueError, TypeError):  # a rate that MP3 does not know
        return None
    return Excerpt(
        channel=choice.view.channel.number,
        mp3=out.getvalue(),
        start_s=choice.first / 10,
        length_s=len(samples) / (rate * step),
        gain_db=round(gain, 1),
        why=choice.why,
    )


def _halved(samples: np.ndarray) -> np.ndarray:
    """Half the rate: a short half-band filter, then every second sample."""
    odd = np.arange(-15, 16)
    taps = 0.5 * np.sinc(odd / 2) * np.hamming(31)
    return np.convolve(samples, taps / taps.sum(), "same")[::2].astype(np.float32)
