"""The work of `replay draft`."""

from __future__ import annotations

import os
from pathlib import Path

from replay.errors import CallError
from replay.terminal import Progress, cells, say


def run(folder: str, inputs: str | None, to: str | None, sheet: str | None, *, force: bool) -> int:
    """Draft a show, write it, and tell what was guessed. Returns the exit status."""
    from replay.drafting import put, taking, tell
    from replay.drafting.draft import draft, encoded, no_list
    from replay.drafting.sounding import listen

    list_path = None if inputs is None else Path(inputs)
    place = taking.where(Path(folder), None if to is None else Path(to))
    if list_path is not None and not list_path.exists():
        raise CallError(no_list(list_path))
    targets = [place.show / name for name in ("inputs.csv", "patch.toml")]
    shown = _as_typed(place.show, folder, to)
    put.free(targets, shown, force=force, read=list_path)
    with Progress() as progress:
        made = draft(place, list_path, sheet, lambda take: listen(take, progress))
    put.put({place.show / name: data for name, data in encoded(made).items()})
    say(tell.answer(made, shown, cells=cells()))
    return 0


def _as_typed(show: Path, folder: str, to: str | None) -> Path:
    """The show's folder, relative where what was typed was."""
    if os.path.isabs(to if to is not None else folder):
        return show
    try:
        return Path(os.path.relpath(show))
    except ValueError:
        return show
