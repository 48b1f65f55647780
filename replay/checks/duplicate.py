"""The same signal on two tracks.

What it is
    One source was recorded twice: the two tracks are copies of each other, whatever their gain, polarity and delay.

Why it matters before a show
    Where both belong to channels of their own, the source of one of them was not recorded at all.

How it is told
    In every moment compared, what is left of one track after the other is taken off, at its best delay and gain, is
    40 dB below it or less. Two microphones on one source never come nearer than 20 dB. A fault where the two channels
    have sources of their own, a note for declared and natural pairs (a stereo source that was mono all the time).

What can fool it
    Nothing known: two microphones do not hear the same, and two preamps have noise of their own.

What to do
    Follow both channels from the socket to the recorder: a doubled patch point, a copied route, a Y cable.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.copies import copies, natural
from replay.checks.shared.fed_wrong import then_gains
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import channel_name, of_tracks, source_name
from replay.desk.model import ChannelView, Show
from replay.evidence.model import Likeness
from replay.findings.finding import Finding

CODE = "duplicate"
TITLE = "one signal on two tracks"
LIMITS: Mapping[str, Limit] = {
    "duplicate_residual": Limit(-40.0, "dB", "what may be left of a copy after its original is taken off", -140, -20),
}


def check(show: Show) -> Iterator[Finding]:
    for one, here, there in copies(show):
        yield _finding(show, one, here, there)


def _finding(show: Show, one: Likeness, here: tuple[ChannelView, ...], there: tuple[ChannelView, ...]) -> Finding:
    meant = natural(show, one, here, there)
    must = any(view.channel.use == "must" for view in (*here, *there))
    severity = "note" if meant else "fault" if must else "warning"
    how = "inverted " * one.inverted + "copy"
    level = "" if abs(one.gain_db) < 0.1 else f", {words.plain(abs(one.gain_db))} dB {_than(one.gain_db)}"
    late = "" if abs(one.lag_s) < 1e-5 else f", {words.plain(abs(one.lag_s) * 1000)} ms {_when(one.lag_s)}"
    message = f"Track {one.b} is a{'n' * one.inverted} {how} of track {one.a}{level}{late}"
    if meant:
        rest = ": a stereo source that was mono all the time" if here and there else ""
        action = "Nothing, if that is meant."
    else:
        rest = (
            f": the source of {words.listed([channel_name(view) for view in (here[0], there[0])])} is there once only"
        )
        action = (
            f"Follow {words.listed([source_name(view) for view in (here[0], there[0])])} to the recorder: "
            "one of them is not recorded." + then_gains(show, (view.channel.number for view in (*here, *there)))
        )
    return Finding(
        code=CODE,
        severity=severity,
        confidence="certain",
        message=f"{message}{rest}.",
        action=action,
        amount=round(one.residual_db or 0.0, 1),
        unit="dB",
        **of_tracks(show, [one.a, one.b]),
    )


def _than(gain_db: float) -> str:
    return "louder" if gain_db > 0 else "softer"


def _when(lag_s: float) -> str:
    return "later" if lag_s > 0 else "earlier"
