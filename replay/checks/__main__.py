"""docs/findings.md, made from the checks' docstrings: `python -m replay.checks > docs/findings.md`."""

from __future__ import annotations

from replay.checks import CHECKS
from replay.checks.shared.page import as_markdown

INTRODUCTION = """\
# Findings

This page is made from the checks' docstrings by `python -m replay.checks > docs/findings.md`; change them there.
`replay explain CODE` prints one page of it.

A finding is one thing that the engineer must know, with what to do. Its severity is `fault` (do not rely on it),
`warning` (look at it) or `note` (good to know); beside it stands how sure it is: `certain`, `likely` or `possible`.
What is only possible is never more than a note. Where one cause shows in several ways it is told once, and the codes
of what it explains are listed with it as swallowed.

`must`, `may` and `off` are what the input list says of a channel's use. The part that is judged is the stretch given
by `from` and `to`, or the whole take; levels and clips are judged there, files and holes in the whole take.
"""


def manual() -> str:
    """The whole page."""
    rows = [f"| [{check.CODE}](#{check.CODE}) | {check.TITLE} |" for check in CHECKS]
    table = "\n".join(["| code | what |", "| --- | --- |", *rows])
    return "\n".join([INTRODUCTION, table, "", "\n".join(as_markdown(check) for check in CHECKS)]).rstrip() + "\n"


if __name__ == "__main__":
    print(manual(), end="")
