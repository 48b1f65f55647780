"""Something sounds on a channel that the input list says is off.

What it is
    The channel's use is `off`, and its track holds a signal.

Why it matters before a show
    Either the source moved to another channel and its old line is still up, or the wrong socket is plugged.

How it is told
    The track is active for a second or more, its peaks are above -45 dBTP (the limits of `noise-only`), and it holds
    more than what an open microphone hears of the others (see `noise-only`). A note, certain.

What can fool it
    An open microphone that nobody uses still hears the stage. That is told from a signal of its own for microphones of
    singers, speakers, winds, strings and keys, and for those that the list gives no kind.

What to do
    Listen to it; unplug it, or change the channel's use.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared import words
from replay.checks.shared.heard import has_source, peak_of
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, source_name
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "unexpected-signal"
TITLE = "a signal on a channel that is off"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    for view in show.channels:
        if view.channel.use != "off" or view.track is None or not has_source(show, view.track):
            continue
        peak = peak_of(view.track)
        yield Finding(
            code=CODE,
            severity="note",
            confidence="certain",
            message=f"The channel is off in the input list, and its track holds a signal "
            f"(played peak {words.level(peak or 0.0)}).",
            action=f"Listen to it; unplug {source_name(view)} or change the channel's use.",
            amount=peak,
            unit="dBTP",
            **of_channels(show, [view.channel.number]),
        )
