"""The work that the commands do: each function takes what was typed, says its answer on standard output, and hands back
the exit status. What needs numbers or audio is imported inside, so that `replay --help` answers at once.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from replay.call import Values, is_no_folder
from replay.errors import CallError, OutputError, Place, Problem
from replay.terminal import Progress, cells, fitted, hush, say, takes_colour
from replay.text import harmless, size

if TYPE_CHECKING:
    from replay.ear import Ear
    from replay.patch.model import Patch

NO_FAULT, FAULT, NOT_ANSWERED, INTERRUPTED = 0, 1, 2, 130
"""Exit statuses: no fault, at least one fault, it could not be answered, interrupted."""


def check(
    shows: Sequence[str],
    *,
    take: str | None,
    part: tuple[str | None, str | None],
    trims: Sequence[str],
    gains: Sequence[str],
    fresh: bool,
    kept: str | None,
    quiet: bool,
    wanted: Sequence[tuple[Any, str]],
    sound: bool = True,
    watch: bool = False,
) -> int:
    """The main job. `wanted` are report formats with what was given for their options; `sound` says whether a format
    that can carry excerpts to hear gets them. Several shows are answered with a line each; `watch` goes on checking."""
    from replay.report import whole

    values = Values()
    from_s, to_s = values.time("--from", part[0]), values.time("--to", part[1])
    if from_s is not None and to_s is not None and to_s <= from_s:
        values.wrong("--to", f"{part[1]} is not after --from {part[0]}", "give a later time")
    how: dict[str, Any] = {
        "take": take,
        "from_s": from_s,
        "to_s": to_s,
        "trims": values.settings("--trim", trims),
        "gains": values.settings("--gain", gains),
        "fresh": fresh,
        "kept_in": None if kept is None else Path(kept),
    }
    if kept is not None and is_no_folder(Path(kept)):
        values.wrong("--kept", f"{kept} is not a folder", "give a folder; it is made where there is none")
    for one, target in wanted:
        if target != one.STANDARD_OUTPUT:
            try:
                whole.usable(Path(target), folder=one.FOLDER)
            except OutputError as error:
                values.problems += error.problems
    if len(shows) > 1:
        for option, given in [("--watch", watch), *((one.OPTION, True) for one, _ in wanted)]:
            if given:
                values.wrong(option, "works with one show at a time", "give one SHOW")
    values.settle()
    if len(shows) > 1:
        from replay.several import check_each

        return check_each(shows, how)
    if watch:
        from replay.watching import check_again

        return check_again(shows[0], lambda: _check_one(shows[0], how, quiet, wanted, sound))
    return _check_one(shows[0], how, quiet, wanted, sound)


def _check_one(show: str, how: Mapping[str, Any], quiet: bool, wanted: Sequence[tuple[Any, str]], sound: bool) -> int:
    import replay.simulate as simulate

    with Progress() as progress:
        report = simulate.check(show, **how, progress=progress)
    # The text comes first: should a file not be writable after all, the answer has been given.
    if all(target != one.STANDARD_OUTPUT for one, target in wanted):
        say(_answer(report, quiet))
    failed: list[Problem] = []
    for one, target in wanted:
        try:
            one.write(report, target, **_beside(one, report, sound))
        except BrokenPipeError:
            hush()
        except OutputError as error:
            failed += error.problems
    if failed:
        raise OutputError(failed)
    return NO_FAULT if report.verdict == "ready" else FAULT


def _answer(report: Any, quiet: bool) -> str:
    from replay.report import as_text, verdict

    if quiet:
        return fitted(verdict.verdict(report), sys.stdout) + "\n"
    return as_text.text(report, cells=cells(), colour=takes_colour())


def _beside(one: Any, report: Any, sound: bool) -> dict[str, Any]:
    """What a format takes beside the report: excerpts to hear, which no report format cuts by itself."""
    if not sound or not getattr(one, "WITH_EXCERPTS", False):
        return {}
    from replay import excerpts

    with Progress() as progress:
        return {"excerpts": excerpts.cut(report, progress)}


def routes(show: str) -> int:
    """Where each channel comes from."""
    import shutil

    from replay.compiled import results_folder
    from replay.patch.from_toml import read_patch
    from replay.patch.routes import routes as work_out
    from replay.report import as_routes

    patch = read_patch(Path(show))
    medium = None
    with contextlib.suppress(OSError):
        medium = as_routes.Medium(str(patch.folder), shutil.disk_usage(patch.folder).free)
    mapping = None
    ear = _said_by_ear(patch)
    if results_folder().is_dir():
        # Only where an earlier check may have left something is what reads it loaded.
        from replay.mapped import kept_mapping

        mapping = kept_mapping(patch)
    say(
        as_routes.text(
            patch,
            work_out(patch),
            medium=medium,
            mapping=mapping,
            ear=ear,
            cells=cells(),
            colour=takes_colour(),
        )
    )
    return NO_FAULT


def _said_by_ear(patch: Patch) -> Ear:
    """What was answered by ear about the take that a check would choose; nothing where there is none."""
    from replay.confirm import answers
    from replay.ear import NOTHING_SAID

    if not (patch.folder / answers.NAME).exists():
        return NOTHING_SAID
    from replay.confirm.holding import ear_of
    from replay.errors import TakeError
    from replay.opening import find_take
    from replay.patch.routes import routes as work_out

    ways = work_out(patch)
    try:
        return ear_of(patch, ways, find_take(patch, ways))
    except TakeError:
        return NOTHING_SAID


def codes() -> list[str]:
    """The words of all findings, in order: what a shell completes with."""
    from replay import checks

    return sorted({check.CODE for check in checks.CHECKS})


def explain(code: str | None) -> int:
    """A finding's page, or the list of all."""
    from replay import checks

    if code is not None:
        say(checks.explain(code))
        return NO_FAULT
    titles = {check.CODE: check.TITLE for check in checks.CHECKS}
    longest = max(map(len, titles))
    say("".join(f"{one:{longest}}  {title}\n" for one, title in sorted(titles.items())))
    return NO_FAULT


def demo(folder: Path, minutes: float, pocket: bool) -> int:
    """An example show, written."""
    from replay.demo import write_demo

    with Progress() as progress:
        write_demo(folder, minutes=minutes, pocket=pocket, progress=progress)
    say(f"Written to {harmless(str(folder), 4096)}. Now try: replay check {harmless(str(folder), 4096)}\n")
    return NO_FAULT


def kept(folder: str | None, empty: bool) -> int:
    """What is kept of earlier measurements, or its removal."""
    from replay.measuring.store import Store, default_folder

    place = default_folder() if folder is None else Path(folder)
    if folder is not None and is_no_folder(place):
        raise CallError(Problem(f"{harmless(folder, 4096)} is not a folder", Place(key="DIR")))
    store = Store(place)
    shown = harmless(str(place), 4096)
    if not empty:
        held = store.usage()
        say(
            f"Folder     {shown}\n"
            f"Tracks     {held.entries} measured\n"
            f"Size       {size(held.bytes)}, at most {size(store.limit_bytes)}: then what was unused for longest goes\n"
        )
        return NO_FAULT
    gone, left = store.empty()
    say(f"Removed the measurements of {gone.entries} tracks from {shown}: {size(gone.bytes)} are free again.\n")
    if left.bytes:
        say(f"{size(left.bytes)} could not be removed.\n")
        return NOT_ANSWERED
    return NO_FAULT
