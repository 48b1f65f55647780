"""The words of `replay compare`; `register` adds it to the other commands."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Annotated

import typer

Work = Callable[[], int]


def compare(
    first: Annotated[str, typer.Argument(metavar="A", help="The earlier: a show's folder, a take in it, or a patch.")],
    second: Annotated[str, typer.Argument(metavar="B", help="The later one, likewise.")],
    takes: Annotated[bool, typer.Option("--takes", help="Compare the takes of two patch files.")] = False,
    patches: Annotated[
        bool, typer.Option("--patches", help="Compare the patches and not the takes: a changeover.")
    ] = False,
    same_pass: Annotated[
        bool, typer.Option("--same-pass", help="A and B are two recorders' recordings of one pass: compare samples.")
    ] = False,
    json: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write the answer as JSON to FILE (- prints it).")
    ] = None,
    page: Annotated[
        str | None, typer.Option("--page", metavar="FILE", help="Also write a page to look at and print to FILE.html.")
    ] = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Measure again, whatever was kept of the takes.")] = False,
    kept: Annotated[
        str | None, typer.Option(metavar="DIR", help="The folder for kept measurements, in place of the usual one.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print the first line only.")] = False,
) -> Work:
    return partial(
        _compare,
        first,
        second,
        takes=takes,
        patches=patches,
        same_pass=same_pass,
        json=json,
        page=page,
        fresh=fresh,
        kept=kept,
        quiet=quiet,
    )


def _compare(
    first: str,
    second: str,
    *,
    takes: bool,
    patches: bool,
    same_pass: bool,
    json: str | None,
    page: str | None,
    fresh: bool,
    kept: str | None,
    quiet: bool,
) -> int:
    from pathlib import Path

    from replay.compare.options import Options
    from replay.compare.run import run

    options = Options(json=json, page=page, fresh=fresh, kept=None if kept is None else Path(kept), quiet=quiet)
    return run(first, second, options, takes=takes, patches=patches, same_pass=same_pass)


def register(app: typer.Typer) -> None:
    """Add the command to `app`."""
    app.command(
        short_help="Say what changed between two takes, or two patches.",
        help="Say what changed from one take of a show to another: what was fixed, what is new, what is worse. With "
        "two patch files (or --patches), what changes at the changeover; with --same-pass, where two recorders' "
        "recordings of one pass part.\n\n"
        "Example: replay compare friday saturday, or: replay compare saturday/audio/one saturday/audio/two\n\n"
        "Ends with status 0 if nothing is worse, 1 if something is, 2 if it could not be answered.",
    )(compare)
