"""The take, or a file of it, has another sample rate than the desk.

What it is
    The patch says at which rate the show runs; the take was recorded at another. Or one file differs from the rest.

Why it matters before a show
    Played at the desk's clock it comes at another pitch and speed, or the player refuses it.

How it is told
    By the rates in the headers, against each other and against `rate` in the patch. A fault, certain.

What can fool it
    A header that names the wrong rate while the audio is right (some converters of files do that).

What to do
    Set recorder and desk to one rate and record again. If the patch is what is wrong, correct `rate` there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import from_troubles
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import nowhere
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "rate-mismatch"
TITLE = "sample rates differ"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    yield from from_troubles(
        show, CODE, "fault", "Record this source again at the rate of the others, or convert the file."
    )
    if show.patch.rate is not None and show.patch.rate != show.take.rate:
        yield Finding(
            code=CODE,
            severity="fault",
            confidence="certain",
            message=f"The take is at {show.take.rate} Hz, the patch says {show.patch.rate} Hz.",
            action="Set recorder and desk to one rate and record again, or correct 'rate' in the patch.",
            amount=float(show.take.rate),
            unit="Hz",
            key="patch",
            **nowhere(),
        )
