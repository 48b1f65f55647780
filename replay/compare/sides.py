"""From what was typed for A and B to two checked takes."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from replay.errors import CallError, Place, Problem, ReplayError
from replay.findings.result import Report
from replay.text import harmless

PATCH = "patch.toml"
FURTHEST_UP = 12
"""Folders above a take in which its show's patch is looked for."""


@dataclass(frozen=True, kw_only=True)
class Meant:
    """A show (its folder or patch file) and the take in it: None for the one that `check` would choose."""

    show: Path
    take: str | None = None


@dataclass(frozen=True, kw_only=True)
class Side:
    """One take, checked. `letter` is A or B, `name` what a reader calls it."""

    letter: str
    name: str
    report: Report


Progress = Callable[[float, str], None]


def meant(letter: str, typed: str) -> Meant:
    """What a name means: a show's folder or patch file, or a take (folder or file) below a show's folder.

    Raises CallError where it is none of these.
    """
    place = Place(key=letter)
    path = Path(os.path.abspath(Path(typed).expanduser())) if "\0" not in typed else Path()
    try:
        if "\0" in typed or not path.exists():
            raise CallError(Problem(f"{harmless(typed, 4096)} does not exist", place, _HINT))
        if path.is_file() and path.suffix.casefold() == ".toml":
            return Meant(show=path)
        if path.is_dir() and (path / PATCH).is_file():
            return Meant(show=path)
        for above in list(path.parents)[:FURTHEST_UP]:
            if (above / PATCH).is_file():
                return Meant(show=above, take=str(path))
    except (OSError, ValueError, RuntimeError) as error:
        raise CallError(Problem(f"{harmless(typed, 4096)} cannot be looked at: {error}", place)) from error
    raise CallError(Problem(f"{harmless(typed, 4096)} is no show, and no folder above it has a {PATCH}", place, _HINT))


_HINT = "give a show's folder, a take inside a show's folder, or a patch file"


def both(
    first: str, second: str, *, fresh: bool, kept: Path | None, progress: Progress, now: float | None = None
) -> tuple[Side, Side]:
    """Both takes, checked. Raises ReplayError with everything that is wrong with either."""
    import replay.simulate as simulate

    now = time.time() if now is None else now
    problems: list[Problem] = []
    wanted: list[Meant] = []
    for letter, typed in (("A", first), ("B", second)):
        try:
            wanted.append(meant(letter, typed))
        except CallError as error:
            problems += error.problems
    if problems:
        raise CallError(problems)
    reports: list[Report] = []
    for number, (letter, one) in enumerate(zip("AB", wanted, strict=True)):
        try:
            reports.append(
                simulate.check(
                    one.show,
                    take=one.take,
                    fresh=fresh,
                    kept_in=kept,
                    progress=_half(progress, number),
                    now=now,
                )
            )
        except ReplayError as error:
            problems += [
                Problem(f"{letter}: {problem.message}", problem.place, problem.hint) for problem in error.problems
            ]
    if problems:
        raise CallError(problems)
    before, after = reports
    for letter, report in (("A", before), ("B", after)):
        if report.show.returns_heard is not None:
            problem = "an ident take: its bursts are no music, and there is nothing to compare"
            raise CallError(Problem(f"{letter} is {problem}", hint="give takes of the band"))
    if _tracks(before) == _tracks(after) and before.show.patch.path == after.show.patch.path:
        others = ", ".join(harmless(name, 60) for name in before.show.take.others[:5])
        raise CallError(
            Problem(
                f"A and B are the same take, {harmless(before.show.take.folder.name)}",
                hint=f"other takes of the show: {others}" if others else "give two takes",
            )
        )
    names = _names(before, after)
    return Side(letter="A", name=names[0], report=before), Side(letter="B", name=names[1], report=after)


def _half(progress: Progress, number: int) -> Progress:
    return lambda share, doing: progress((share + number) / 2, doing)


def _tracks(report: Report) -> tuple:
    return tuple(track.segments for track in report.show.take.tracks)


def _names(before: Report, after: Report) -> tuple[str, str]:
    """The shortest names that tell the two apart: the take's folder, with as many folders above it as that needs."""
    a, b = before.show.take.folder, after.show.take.folder
    for parts in range(1, 6):
        one, other = "/".join(a.parts[-parts:]), "/".join(b.parts[-parts:])
        if one != other:
            return harmless(one), harmless(other)
    return harmless(a.name), harmless(b.name)
