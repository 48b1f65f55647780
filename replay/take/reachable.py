"""Is the drive still there? Asked once reading has failed, to tell a drive that was pulled from a damaged file."""

from __future__ import annotations

from collections.abc import Sequence

from replay.errors import Problem, TakeError, at
from replay.take.model import Take, Track


def still_there(take: Take, broken: Sequence[Track]) -> None:
    """Raises TakeError where none of the files that could not be read on can be opened and read any more, and these are
    half of the take's tracks or more: what was measured is then no picture of the take.

    A single file that goes is damage, and told as a finding of its own.
    """
    if not broken or 2 * len(broken) < len(take.tracks):
        return
    why = ""
    for track in broken:
        error = _error(track)
        if error is None:
            return
        why = error
    raise TakeError(
        Problem(
            f"the take could not be read to its end: {why}",
            at(take.folder),
            "see whether its drive is still connected, then check again; nothing was changed on it",
        )
    )


def _error(track: Track) -> str | None:
    """Why a track's last file cannot be read any more; None where it can."""
    file = track.segments[-1].file
    try:
        with open(file.path, "rb", buffering=0) as handle:
            handle.seek(file.data_offset)
            handle.read(1)
    except OSError as error:
        return error.strerror or type(error).__name__
    return None
