"""What was typed after the names of the two sides."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from replay.errors import OutputError, Problem
from replay.report import whole

STANDARD_OUTPUT = "-"
"""The target of --json that means standard output, in place of the text."""


@dataclass(frozen=True, kw_only=True)
class Options:
    """Targets and switches of `replay compare`; None or False where not given.

    `json` and `page` are files to write (`json` may be STANDARD_OUTPUT), `fresh` measures again whatever was kept,
    `kept` is the folder for kept measurements, `quiet` prints the first line only.
    """

    json: str | None = None
    page: str | None = None
    fresh: bool = False
    kept: Path | None = None
    quiet: bool = False

    def tell_unusable(self) -> None:
        """OutputError with every target that can be told beforehand not to be writable."""
        problems: list[Problem] = []
        for target in (self.json, self.page):
            if target is not None and not (target == STANDARD_OUTPUT and target is self.json):
                try:
                    whole.usable(Path(target))
                except OutputError as error:
                    problems += error.problems
        if problems:
            raise OutputError(problems)
