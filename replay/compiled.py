"""The one door to the compiler: what the hot loops are compiled with, and where the result is kept.

Compiled code is kept in a folder named by a hash of every kernel's source, the compiler's version and this file, since
the compiler itself does not notice when a function that a kernel calls has changed in another file. Import this
module only where audio is read: it imports numba.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numba
import numba.core.config

_config: Any = numba.core.config

COMPILED = not _config.DISABLE_JIT
"""False under NUMBA_DISABLE_JIT=1: kernels then run as plain Python, for coverage and for hunting mistakes."""


def _kernel_sources() -> list[Path]:
    here = Path(__file__).parent
    patterns = ("compiled.py", "lanes*.py", "meters/*.py", "take/*.py", "desk/bus.py")
    return [path for pattern in patterns for path in sorted(here.glob(pattern))]


@cache
def kept_folder() -> Path | None:
    """The folder of compiled code; None where none can be written (then every run compiles anew)."""
    import platformdirs

    digest = hashlib.sha256(f"{numba.__version__}".encode())
    for source in _kernel_sources():
        digest.update(source.name.encode() + source.read_bytes())
    base = os.environ.get("REPLAY_CACHE_DIR") or platformdirs.user_cache_dir("replay-soundcheck", appauthor=False)
    folder = Path(base) / "compiled" / digest.hexdigest()[:16]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not os.access(folder, os.W_OK):
            return None
    except OSError:
        return None
    return folder


def is_kept() -> bool:
    """Whether an earlier run has left compiled code here, so that this one starts at once."""
    folder = kept_folder()
    return folder is not None and any(folder.rglob("*.nbc"))


def kernel(function: Callable[..., Any]) -> Any:
    """Compile a function of arrays and numbers on first use; it runs without Python's global lock."""
    folder = kept_folder()
    # The compiler picks the folder when a function is decorated; other users of it in this process keep theirs.
    before, _config.CACHE_DIR = _config.CACHE_DIR, str(folder or "")
    try:
        return numba.njit(nogil=True, cache=folder is not None, error_model="numpy")(function)
    finally:
        _config.CACHE_DIR = before


def helper(function: Callable[..., Any]) -> Any:
    """A function for use inside kernels: compiled into each of them."""
    return numba.njit(inline="always" if COMPILED else "never")(function)
