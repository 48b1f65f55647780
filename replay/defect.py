"""A defect of ours: a line for the user, and a file with what is needed to mend it; never a traceback on the screen."""

from __future__ import annotations

import os
import platform
import tempfile
import traceback
from collections.abc import Sequence

from replay._version import VERSION
from replay.terminal import complain
from replay.text import harmless


def tell(error: Exception, words: Sequence[str]) -> None:
    """Say that `error` came up in the call with `words`, and keep the particulars in a temporary file."""
    complain(f"replay: this should not have happened: {type(error).__name__}: {harmless(str(error), 500)}")
    try:
        handle, name = tempfile.mkstemp(prefix="replay-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as file:
            file.write(f"replay {VERSION}, Python {platform.python_version()}, {platform.platform()}\n")
            file.write(f"called with {list(words)!r}\n\n{''.join(traceback.format_exception(error))}")
    except OSError:
        complain("replay: it is a defect of this program; please report it with the command and the line above")
    else:
        complain(f"replay: it is a defect of this program; please report it and send {name} along")
