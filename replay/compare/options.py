"""What was typed after the names of the two sides."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from replay.call import is_no_folder
from replay.errors import OutputError, Place, Problem
from replay.report import whole
from replay.text import harmless

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
        """OutputError with every target that can be told beforehand not to be writable; a file given for --kept too."""
        problems: list[Problem] = []
        if self.kept is not None and is_no_folder(self.kept):
            where = harmless(str(self.kept), 4096)
            problems.append(
                Problem(
                    f"{where} is not a folder", Place(key="--kept"), "give a folder; it is made where there is none"
                )
            )
        for target in (self.json, self.page):
            if target is not None and not (target == STANDARD_OUTPUT and target is self.json):
                try:
                    whole.usable(Path(target))
                except OutputError as error:
                    problems += error.problems
        if problems:
            raise OutputError(problems)
