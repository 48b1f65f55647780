"""In the show this channel will be low.

What it is
    The expected show peak is far below what the channel could have.

Why it matters before a show
    Little, mostly: 24 bits have room below. Where the word length is short, raising the preamp buys a better distance
    to the noise of the converter.

How it is told
    Played peak plus rise below -24 dBTP. A note; a warning only where the samples use 16 bits or fewer, the floor of
    the track is that of the word length (so a higher gain would lift the source out of it), and raising is advised.
    Likely. Only for channels that must play, of kinds whose level is judged, whose own source was heard for two
    seconds or more (neither steady noise nor only what the microphone hears of the others); not for a take of a line
    check.

What can fool it
    A player who saved his strength; a source that is meant to be quiet.

What to do
    Raise the preamp only after hearing the source at its full strength: raising is the dangerous direction.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.fed_wrong import GAIN_WAITS
from replay.checks.shared.heard import plays
from replay.checks.shared.level_action import rest_of, source_words, turn
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, source_name
from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding

CODE = "low"
TITLE = "low in the show"
LIMITS: Mapping[str, Limit] = {
    "low_below": Limit(-24.0, "dBTP", "an expected show peak below this is told", -120, 0),
    "low_active_s": Limit(2.0, "seconds", "a source that was active for less was not heard", 0),
}

COARSE_BITS = 16
NEAR_DB = 6.0
"""A floor within this of the word length's own noise is made by the word length."""


def check(show: Show) -> Iterator[Finding]:
    if show.patch.take.of == "line-check":
        return
    for view in show.channels:
        channel, expected = view.channel, view.expected_peak_dbtp
        kind = show.patch.kinds.get(channel.kind)
        if channel.use != "must" or view.track is None or expected is None or expected >= show.limit("low_below"):
            continue
        if kind is not None and not kind.judges_low:
            continue
        if view.track.active_s < show.limit("low_active_s") or not plays(show, view.track):
            continue
        how = turn(view, up=True)
        buys = how is not None and _raising_buys(view)
        why = "; its floor is that of the word length" if buys else ""
        yield Finding(
            code=CODE,
            severity="warning" if buys else "note",
            confidence="likely",
            message=f"Expected to peak at {words.level(expected)} in the show{rest_of(view)}{why}.",
            action=GAIN_WAITS if view.fed_wrong else f"{how}." if how else _listen(view),
            amount=round(expected, 2),
            unit="dBTP",
            **of_channels(show, [channel.number]),
        )


def _listen(view: ChannelView) -> str:
    if view.channel.input in ("rf", "digital"):
        return f"Hear it at full strength, then raise it at {source_words(view)} if it is still low."
    return f"Hear it at full strength before you raise {source_name(view)}."


def _raising_buys(view: ChannelView) -> bool:
    """The word length's noise: 6.02 dB a bit and 1.76 dB, re a full-scale sine, for uniform rounding (Bennett 1948);
    4.77 dB more with triangular dither, which NEAR_DB allows for."""
    assert view.track is not None
    bits, floor = view.track.measurement.effective_bits, view.track.whole.noise_floor_dbfs
    if bits is None or bits > COARSE_BITS or floor is None:
        return False
    return floor <= -(6.02 * bits + 1.76) + NEAR_DB
