"""Report formats: they turn the result into something to look at, and compute nothing.

`check` always has the text (`as_text`); a format below is written where its option is given. A new format is a module
with OPTION, METAVAR, HELP, FOLDER, STANDARD_OUTPUT and `write(report, target)` (with WITH_EXCERPTS set, also
`excerpts`), and one line here: the commands take their options from this list. Modules listed here import nothing heavy
before they write.
"""

from __future__ import annotations

from replay.report import as_corrected, as_csv, as_json, as_page

FORMATS = (
    as_json,
    as_csv,
    as_page,
    as_corrected,
)
