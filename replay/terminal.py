"""The terminal: how wide it is, whether it takes colour, and a line of progress that leaves nothing behind."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from types import TracebackType
from typing import Any

from replay.errors import ReplayError
from replay.text import harmless

USUAL_CELLS = 80
"""The width of text that goes to a pipe or a file."""


def cells(stream: Any = None) -> int:
    """The width of the terminal on `stream` (standard output, if left out); COLUMNS overrides, 80 where there is
    none."""
    stream = sys.stdout if stream is None else stream
    stated = os.environ.get("COLUMNS", "")
    if stated.isdecimal() and 0 < int(stated) <= 10_000:
        return int(stated)
    try:
        return os.get_terminal_size(stream.fileno()).columns or USUAL_CELLS
    except (AttributeError, OSError, ValueError):
        return USUAL_CELLS


def takes_colour() -> bool:
    """Whether standard output is a terminal that wants colour (https://no-color.org)."""
    return _is_terminal(sys.stdout) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _is_terminal(stream) -> bool:
    try:
        return stream is not None and stream.isatty()
    except ValueError:  # closed
        return False


def say(text: str) -> None:
    """Print to standard output. A reader that has gone away (`| head`) is no error: the rest is not wanted."""
    if sys.stdout is None:
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        hush()


def hush() -> None:
    """Let what is still to be printed go nowhere, so that Python does not complain about it when it ends."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
    except (AttributeError, OSError, ValueError):
        pass


def complain(text: str) -> None:
    """Print a message to standard error, if there is one; on a terminal, broken between words."""
    with contextlib.suppress(AttributeError, OSError, ValueError):
        print(fitted(text, sys.stderr), file=sys.stderr, flush=True)


def complain_of(error: ReplayError, who: str = "replay") -> None:
    """Tell everything that is wrong on standard error, a line each, with `who` in front."""
    for problem in error.problems:
        complain(f"{who}: {harmless(str(problem), 4000)}")


def fitted(text: str, stream: Any) -> str:
    """`text` broken between words to the width of a terminal; as it is where `stream` is none. Words that are longer
    than a line, such as paths, stay whole, to be copied."""
    if not _is_terminal(stream):
        return text
    import textwrap

    width = max(cells(stream), 20)
    return "\n".join(
        line if len(line) < width else textwrap.fill(line, width, break_long_words=False, break_on_hyphens=False)
        for line in text.split("\n")
    )


class Progress:
    """A line on standard error saying how far the work is: only on a terminal, only past the first second.

    Call it with a fraction from 0 to 1 and what is being done; leaving the `with` block wipes the line.
    """

    AFTER_S = 1.0
    EVERY_S = 0.1

    def __init__(self) -> None:
        self._active = _is_terminal(sys.stderr)
        self._begun = self._shown = time.monotonic()
        self._drawn = False

    def __enter__(self) -> Progress:
        return self

    def __call__(self, fraction: float, doing: str) -> None:
        now = time.monotonic()
        if not self._active or now - self._begun < self.AFTER_S or now - self._shown < self.EVERY_S:
            return
        from replay.report.cells import fit

        self._shown, self._drawn = now, True
        try:
            room = os.get_terminal_size(sys.stderr.fileno()).columns - 1
        except (OSError, ValueError):
            room = USUAL_CELLS - 1
        percent = round(100 * min(max(fraction, 0.0), 1.0))
        self._put("\r" + fit(f"{percent:3d} %  {harmless(doing)}", max(room, 10)))

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._drawn:
            self._put("\r\x1b[K")

    def _put(self, text: str) -> None:
        try:
            sys.stderr.write(text)
            sys.stderr.flush()
        except (OSError, ValueError):
            self._active = False
