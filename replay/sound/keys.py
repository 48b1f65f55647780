"""Single keys from a terminal, without Enter; and one line that is written over while something plays."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from typing import Any

from replay.text import harmless


class Keys:
    """Keys typed while the `with` block lasts. Where standard input is no terminal, none ever comes."""

    def __init__(self) -> None:
        self._kept: Any = None
        self._file = -1
        self.active = False

    def __enter__(self) -> Keys:
        try:
            if sys.stdin is None or not sys.stdin.isatty():
                return self
            self._file = sys.stdin.fileno()
        except (AttributeError, OSError, ValueError):
            return self
        if os.name == "nt":
            self.active = True
            return self
        import termios
        import tty

        try:
            self._kept = termios.tcgetattr(self._file)
            tty.setcbreak(self._file)  # Ctrl-C still interrupts
        except termios.error:
            return self
        self.active = True
        return self

    def __exit__(self, *_: object) -> None:
        if self._kept is not None:
            import termios

            with contextlib.suppress(termios.error, OSError):
                termios.tcsetattr(self._file, termios.TCSADRAIN, self._kept)

    def get(self, seconds: float) -> str | None:
        """The next key, waiting for at most `seconds`; None if there is none."""
        if not self.active:
            time.sleep(seconds)
            return None
        if os.name == "nt":
            return self._get_windows(seconds)
        import select

        ready, _, _ = select.select([self._file], [], [], seconds)
        if not ready:
            return None
        data = os.read(self._file, 32)
        if not data:  # the terminal has gone
            self.active = False
            return None
        # Arrow keys and the like come as sequences, which mean nothing here.
        return "" if data[:1] == b"\x1b" else data[:1].decode("ascii", "replace")

    def _get_windows(self, seconds: float) -> str | None:
        import importlib

        console: Any = importlib.import_module("msvcrt")
        until = time.monotonic() + seconds
        while not console.kbhit():
            if time.monotonic() >= until:
                return None
            time.sleep(0.02)
        return str(console.getwch())


class LiveLine:
    """A line on standard output that is written over. Where that is no terminal, it is not shown."""

    def __init__(self) -> None:
        try:
            self._active = sys.stdout is not None and sys.stdout.isatty()
        except ValueError:
            self._active = False
        self._shown = ""

    def show(self, text: str) -> None:
        if not self._active or text == self._shown:
            return
        from replay.report.cells import fit
        from replay.terminal import cells

        self._shown = text
        self._put("\r" + fit(harmless(text, 400), max(cells() - 1, 10)))

    def clear(self) -> None:
        """Wipe the line, so that something lasting can be printed."""
        if self._active and self._shown:
            self._put("\r\x1b[K")
            self._shown = ""

    def _put(self, text: str) -> None:
        try:
            sys.stdout.write(text)
            sys.stdout.flush()
        except (OSError, ValueError):
            self._active = False
