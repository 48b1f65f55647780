"""Two patches at a changeover: read, compared, told."""

from __future__ import annotations

import os
from pathlib import Path

from replay.compare.changeover import as_json, as_text
from replay.compare.changeover.sockets import changeover
from replay.compare.options import STANDARD_OUTPUT, Options
from replay.errors import OutputError, PatchError, Place, Problem
from replay.patch.from_toml import read_patch
from replay.patch.model import Patch
from replay.report import whole
from replay.terminal import cells, say, takes_colour
from replay.text import harmless


def compare(first: str, second: str, options: Options) -> int:
    """Say what changes from one patch to the other. A changeover is no fault: the status is 0.

    Raises PatchError with everything that is wrong in either patch, OutputError where a file cannot be written.
    """
    before, after = _both(first, second)
    change = changeover(before, after)
    files: dict[Path, bytes] = {}
    if options.json is not None and options.json != STANDARD_OUTPUT:
        files[Path(options.json)] = as_json.text(change).encode("utf-8")
    if options.page is not None:
        from replay.compare.changeover import as_page

        files[Path(options.page)] = as_page.text(change).encode("utf-8")
    _protect(files, (before, after))
    whole.write(files)
    if options.json == STANDARD_OUTPUT:
        say(as_json.text(change))
    elif options.quiet:
        say(as_text.first_line(change) + "\n")
    else:
        say(as_text.text(change, cells=cells(), colour=takes_colour()))
    return 0


def _both(first: str, second: str) -> tuple[Patch, Patch]:
    """Both patches; what is wrong with either is told with the letter of its side."""
    found: list[Patch] = []
    problems: list[Problem] = []
    for letter, typed in (("A", first), ("B", second)):
        try:
            found.append(read_patch(Path(typed).expanduser()))
        except PatchError as error:
            problems += [_of_side(letter, problem) for problem in error.problems]
    if problems:
        raise PatchError(problems)
    return found[0], found[1]


def _of_side(letter: str, problem: Problem) -> Problem:
    place = problem.place
    file = f"{letter}: {place.file}" if place.file else letter
    return Problem(problem.message, Place(file, place.line, place.column, place.key), problem.hint)


def _protect(files: dict[Path, bytes], patches: tuple[Patch, Patch]) -> None:
    """OutputError where a target is one of the patches' own files."""
    own = {os.path.realpath(path) for patch in patches for path in patch.files}
    for target in files:
        if os.path.realpath(target) in own:
            place = Place(harmless(str(target)))
            raise OutputError(Problem("is part of a show and is never written over", place, "give another name"))
