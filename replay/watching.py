"""Checking again whenever the recorder's folder has changed and come to rest.

Folders are looked at, not watched by the system: that works on every drive, shared ones too. What counts are names,
sizes and times of audio files below the show and its take, and of the patch's own files.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from replay.errors import ReplayError
from replay.patch.from_toml import read_patch
from replay.take.walk import is_audio_name
from replay.terminal import complain_of, say

LOOK_EVERY_S = 2.0
REST_S = 10.0
"""A folder that has not changed for so long is at rest: a recorder writes every second, a copy all the time."""
MOST_FILES = 20_000

State = frozenset[tuple[str, int, int]]


def check_again(
    show: str,
    check: Callable[[], int],
    *,
    wait: Callable[[float], None] = time.sleep,
    clock: Callable[[], float] = time.monotonic,
) -> int:
    """Run `check` at once, and again after every change that has come to rest; until interrupted.

    What `check` raises of what can be told (no take yet, a mistake in the patch) is told, and waiting goes on. Returns
    the exit status of the last check: 2 where it could not be answered.
    """
    status = 2
    try:
        while True:
            seen = state_of(show)
            try:
                status = check()
            except ReplayError as error:
                status = 2
                complain_of(error)
            at = time.strftime("%H:%M:%S")
            say(f"\nChecked at {at}. Waiting for the take or the patch to change (Ctrl-C ends).\n")
            _until_changed(show, seen, wait, clock)
    except KeyboardInterrupt:
        say("\n")
        return status


def _until_changed(show: str, seen: State, wait: Callable[[float], None], clock: Callable[[], float]) -> None:
    """Returns when what is there differs from `seen` and has not changed for a while."""
    last, since = state_of(show), clock()
    while True:
        wait(LOOK_EVERY_S)
        now = state_of(show)
        if now != last:
            last, since = now, clock()
        elif now != seen and clock() - since >= REST_S:
            return


def state_of(show: str) -> State:
    """Names, sizes and times of all that a check of the show reads; what cannot be looked at is left out."""
    path = Path(show)
    folder = path if path.is_dir() else path.parent
    roots, files = [folder], [folder / "patch.toml" if path.is_dir() else path]
    try:
        patch = read_patch(path)
    except (ReplayError, OSError):
        pass
    else:
        files += [patch.inputs_path, *patch.house_inputs, *(house.path for house in patch.houses)]
        if patch.take.folder is not None:
            roots.append(patch.folder / patch.take.folder)
    found = {_state(str(one)) for one in files}
    for root in roots:
        for where, _, names in os.walk(root):
            found.update(_state(os.path.join(where, name)) for name in names if is_audio_name(name))
            if len(found) > MOST_FILES:
                break
    return frozenset(one for one in found if one is not None)


def _state(path: str) -> tuple[str, int, int] | None:
    try:
        status = os.stat(path)
    except OSError:
        return None
    return path, status.st_size, status.st_mtime_ns
