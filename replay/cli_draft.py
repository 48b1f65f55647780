"""The words of `replay draft`; `register` adds it to the other commands."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Annotated

import typer

from replay.patch.readers import suffixes

Work = Callable[[], int]


def draft(
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="The folder of the recorded tracks.")],
    inputs: Annotated[
        str | None, typer.Option(metavar="LIST", help=f"The input list as you keep it: {suffixes()}.")
    ] = None,
    to: Annotated[str | None, typer.Option(metavar="DIR", help="The show's folder, in place of the usual one.")] = None,
    sheet: Annotated[str | None, typer.Option(metavar="NAME", help="The sheet of the list, if not the best.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over patch.toml and inputs.csv.")] = False,
) -> Work:
    return partial(_draft, folder, inputs, to, sheet, force=force)


def _draft(folder: str, inputs: str | None, to: str | None, sheet: str | None, *, force: bool) -> int:
    from replay.drafting.run import run

    return run(folder, inputs, to, sheet, force=force)


def register(app: typer.Typer) -> None:
    """Add the command to `app`."""
    app.command(
        short_help="Write a first patch from a folder of tracks and your input list.",
        help="Write a first patch.toml and inputs.csv from a folder of tracks and the input list that you keep anyway, "
        "and tell everything that was guessed. The show's folder is made beside the tracks (FOLDER-show); where FOLDER "
        "holds takes in folders of their own, it is the show's folder itself.\n\n"
        "Example: replay draft soundcheck --inputs friday.xlsx, then: replay check soundcheck-show",
    )(draft)
