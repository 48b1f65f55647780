"""Two recorders' recordings of one pass: opened, compared to the sample, told."""

from __future__ import annotations

import os
from pathlib import Path

from replay.compare.options import STANDARD_OUTPUT, Options
from replay.errors import CallError, OutputError, Place, Problem, ReplayError
from replay.report import whole
from replay.take.model import Take
from replay.terminal import Progress, cells, say, takes_colour
from replay.text import harmless


def compare(first: str, second: str, options: Options) -> int:
    """Say where two recordings of one pass part. Returns 0 where both hold the same, as far as their formats can, and
    to the end; 1 where they do not.

    Raises ReplayError where they are no two recordings of one pass, or a file cannot be written.
    """
    from replay.compare.same_pass import as_json, as_text
    from replay.compare.same_pass.answer import answer, open_side

    if options.page is not None:
        raise CallError(
            Problem("two recordings of one pass make no page", Place(key="--page"), "leave it out, or --json")
        )
    takes: list[Take] = []
    problems: list[Problem] = []
    for letter, typed in (("A", first), ("B", second)):
        try:
            takes.append(open_side(letter, typed))
        except ReplayError as error:
            problems += [_of_side(letter, one) for one in error.problems]
    if problems:
        raise CallError(problems)
    _protect(options.json, takes)
    with Progress() as progress:
        found = answer(takes[0], takes[1], progress)
    if options.json is not None and options.json != STANDARD_OUTPUT:
        whole.write({Path(options.json): as_json.text(found).encode("utf-8")})
    if options.json == STANDARD_OUTPUT:
        say(as_json.text(found))
    elif options.quiet:
        say(as_text.first_line(found) + "\n")
    else:
        say(as_text.text(found, cells=cells(), colour=takes_colour()))
    return 0 if found.same else 1


def _of_side(letter: str, problem: Problem) -> Problem:
    """A problem with the letter of its side, unless it says so itself."""
    if problem.place.key == letter:
        return problem
    return Problem(f"{letter}: {problem.message}", problem.place, problem.hint)


def _protect(target: str | None, takes: list[Take]) -> None:
    """OutputError where a file would be written into a take."""
    if target is None or target == STANDARD_OUTPUT:
        return
    place = Path(os.path.realpath(target))
    for take in takes:
        if Path(os.path.realpath(take.folder)) in place.parents:
            where = Place(harmless(target))
            raise OutputError(
                Problem("lies inside a take, and nothing is ever written into a take", where, "give a place outside it")
            )
