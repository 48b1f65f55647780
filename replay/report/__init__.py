"""Report formats: they turn the result into something to look at, and compute nothing.

`check` always has the text (`as_text`); a format below is written where its option is given. A new format is a module
as `Format` says, imported and listed here: the commands take their options from this list. Modules listed here import
nothing heavy before they write.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from replay.report import as_corrected, as_csv, as_json, as_page

if TYPE_CHECKING:
    from replay.findings.result import Report


class Format(Protocol):
    """What a module needs to be a report format.

    OPTION is its option of `check`, METAVAR and HELP what help shows of it. FOLDER says that the target is a folder and
    no file, STANDARD_OUTPUT which target means standard output ("-", or None for a format that is never written there).
    A format with WITH_EXCERPTS = True has a `write` that also takes `excerpts`: what `replay.excerpts.cut` made.
    """

    OPTION: str
    METAVAR: str
    HELP: str
    FOLDER: bool

    @property
    def STANDARD_OUTPUT(self) -> str | None:
        """The target that means standard output."""

    def write(self, report: Report, target: str) -> None:
        """Write it whole or not at all, and never into the take or over the show's own files (`whole.protect`, then
        `whole.write`). OutputError where that is impossible."""


FORMATS: tuple[Format, ...] = (
    as_json,
    as_csv,
    as_page,
    as_corrected,
)
