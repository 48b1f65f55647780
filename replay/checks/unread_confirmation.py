"""Lines of `confirmed.csv` that make no sense, or the whole of it: what was answered there does not count.

What it is
    The list in which `replay confirm` keeps its answers was edited by hand, cut short or damaged.

Why it matters before a show
    A channel that was signed off counts as not confirmed, and one that was called wrong may pass for good.

How it is told
    Every line is read by itself; each place that makes no sense is told with line and column. Lines that make sense
    count all the same. One note, certain; `replay confirm` refuses to go on until the list is put right, so that no
    answer is lost.

What can fool it
    A spreadsheet that saves with semicolons, or another encoding, spoils all lines at once.

What to do
    Put the places right, or move the file away and confirm again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import nowhere
from replay.checks.shared.words import count
from replay.desk.model import Show
from replay.findings.finding import Finding

CODE = "unread-confirmation"
TITLE = "answers that cannot be read"
LIMITS: Mapping[str, Limit] = {}

_MOST = 5


def check(show: Show) -> Iterator[Finding]:
    problems = show.ear.problems
    if not problems:
        return
    told = [str(problem) for problem in problems[:_MOST]]
    rest = len(problems) - len(told)
    more = f"; and {rest} more" if rest else ""
    yield Finding(
        code=CODE,
        severity="note",
        confidence="certain",
        message=f"The list of answers by ear has {count(len(problems), 'place')} that cannot be read and "
        f"do{'es' if len(problems) == 1 else ''} not count: {'; '.join(told)}{more}.",
        action="Put the list right, or move it away and confirm again.",
        amount=float(len(problems)),
        unit="places",
        **nowhere(),
    )
