"""A buzz of the mains on a channel.

What it is
    Many multiples of 50 or 60 Hz, the upper ones about as strong as the lower: dimmers, switched power supplies,
    rectifiers, a guitar's pickups near a screen.

Why it matters before a show
    Unlike a low hum it sits where the ear is sharp, and no filter takes it out.

How it is told
    As `hum` (see there), where at least three multiples from the fourth on stand within 12 dB of the strongest of the
    first three; down to 66 dB below the played peak: with the weighting A of IEC 61672-1, a buzz up to 2 kHz is 23 dB
    louder than a hum of five falling lines whose first nine multiples measure the same. A warning, likely; a note for
    guitars and bass, and for spares.

What can fool it
    A drone rich in overtones exactly on a multiple of the mains' frequency that never rests.

What to do
    Have the dimmers moved up and down while you listen. Part audio from light: outlets, cables, distance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.hum import told
from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "buzz"
TITLE = "a buzz of dimmers or power supplies"
LIMITS: Mapping[str, Limit] = {
    "buzz_below_played": Limit(66.0, "dB", "lines further below the played peak are not told", 0, 120),
    "buzz_level": Limit(-84.0, "dBFS", "lines below this are not told", -200, 0),
}


def check(show: Show) -> Iterator[Finding]:
    yield from told(show, CODE, upper=True)
