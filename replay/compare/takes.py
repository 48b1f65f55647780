"""Two takes of one show: checked, held against each other, told."""

from __future__ import annotations

import sys
from pathlib import Path

from replay.commands import FAULT, NO_FAULT
from replay.compare.options import STANDARD_OUTPUT, Options
from replay.errors import OutputError, Problem
from replay.terminal import Progress, cells, hush, say, takes_colour


def compare(first: str, second: str, options: Options) -> int:
    """Say what changed from one take to the other. Returns the exit status."""
    import replay.compare.as_json as as_json
    from replay.compare import as_text, put_together, sides, words

    with Progress() as progress:
        a, b = sides.both(first, second, fresh=options.fresh, kept=options.kept, progress=progress)
        comparison = put_together.compare(a, b)
    if options.json == STANDARD_OUTPUT:
        try:
            sys.stdout.write(as_json.text(comparison))
            sys.stdout.flush()
        except BrokenPipeError:
            hush()
    elif options.quiet:
        say(words.verdict(comparison) + "\n")
    else:
        say(as_text.text(comparison, cells=cells(), colour=takes_colour()))
    failed: list[Problem] = []
    for target, write in ((options.json, as_json.write), (options.page, _page)):
        if target is not None and target != STANDARD_OUTPUT:
            try:
                write(comparison, Path(target))
            except OutputError as error:
                failed += error.problems
    if failed:
        raise OutputError(failed)
    return FAULT if comparison.verdict == "worse" else NO_FAULT


def _page(comparison, target: Path) -> None:
    import replay.compare.as_page as as_page

    as_page.write(comparison, target)
