"""The one door to the compiler: what the hot loops are compiled with, and where the result is kept.

A kernel is compiled when it is first called, and the compiler is imported then and not before: what only reads kept
results, or reads no audio at all, starts without it. Compiled code is kept in a folder named by a hash of all kernels'
sources and the compiler's version, since the compiler itself does not notice when a function that a kernel calls has
changed in another file.
"""

from __future__ import annotations

import hashlib
import importlib
import os
import threading
from collections.abc import Callable
from functools import cache, update_wrapper
from pathlib import Path
from types import FunctionType
from typing import Any

_LOCK = threading.RLock()


MEASURING = (
    "compiled.py",
    "grid.py",
    "ranks.py",
    "lanes*.py",
    "measuring/**/*.py",
    "meters/**/*.py",
    "take/**/*.py",
    "desk/bus.py",
)
OTHER_KERNELS = ("evidence/alignment.py", "evidence/outline.py")
"""Sources, beside those that decide what a measurement says, that have kernels."""


def _digest(patterns: tuple[str, ...]) -> str:
    here, digest = Path(__file__).parent, hashlib.sha256()
    for source in (path for pattern in patterns for path in sorted(here.glob(pattern))):
        digest.update(source.name.encode() + source.read_bytes())
    return digest.hexdigest()[:16]


@cache
def source_digest() -> str:
    """A hash of all that decides what a measurement says: every kernel, reader and meter."""
    return _digest(MEASURING)


@cache
def _numba() -> Any:
    import numba
    import numba.core.config

    return numba


def uncompiled() -> bool:
    """True under NUMBA_DISABLE_JIT=1: kernels then run as plain Python, for coverage and for hunting mistakes."""
    return bool(_numba().core.config.DISABLE_JIT)


def cache_base() -> Path:
    """The folder for everything that is kept between runs: REPLAY_CACHE_DIR, or the platform's cache folder."""
    import platformdirs

    given = os.environ.get("REPLAY_CACHE_DIR")
    return Path(given or platformdirs.user_cache_dir("replay-soundcheck", appauthor=False))


def results_folder() -> Path:
    """Where measurements are kept unless another folder is given."""
    return cache_base() / "kept"


def _folder_name() -> str:
    from importlib.metadata import version

    kernels = f"{source_digest()} {_digest(OTHER_KERNELS)} {version('numba')}"
    return hashlib.sha256(kernels.encode()).hexdigest()[:16]


@cache
def kept_folder() -> Path | None:
    """The folder of compiled code; None where none can be written (then every run compiles anew)."""
    try:
        folder = cache_base() / "compiled" / _folder_name()
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


def is_kept() -> bool:
    """Whether an earlier run has left compiled code here, so that this one starts at once."""
    folder = kept_folder()
    return folder is not None and any(folder.rglob("*.nbc"))


class Operation:
    """A name that stands for an operation inside kernels, found in the compiler's or the plain module when needed."""

    def __init__(self, name: str, compiled: str, plain: str) -> None:
        self._name, self._compiled_module, self._plain_module = name, compiled, plain

    def real(self) -> Any:
        module = importlib.import_module(self._plain_module if uncompiled() else self._compiled_module)
        return getattr(module, self._name)

    def __call__(self, *arguments: Any) -> Any:
        """Outside kernels only the plain operation can be called."""
        return getattr(importlib.import_module(self._plain_module), self._name)(*arguments)


class Kernel:
    """A compiled function of arrays and numbers; it runs without Python's global lock."""

    def __init__(self, function: FunctionType) -> None:
        update_wrapper(self, function)
        self._function = function
        self._compiled: Any = None

    def real(self) -> Any:
        """The compiler's function, made when first asked for."""
        with _LOCK:
            if self._compiled is None:
                self._compiled = self._compile()
        return self._compiled

    def _compile(self) -> Any:
        function = self._function
        names = {**function.__globals__}
        for name in function.__code__.co_names:
            if isinstance(names.get(name), (Kernel, Operation)):
                names[name] = names[name].real()
        whole = FunctionType(function.__code__, names, function.__name__, function.__defaults__, function.__closure__)
        whole.__module__, whole.__qualname__ = function.__module__, function.__qualname__
        config = _numba().core.config
        folder = kept_folder()
        # The compiler picks the folder when a function is decorated; other users of it in this process keep theirs.
        before, config.CACHE_DIR = config.CACHE_DIR, str(folder or "")
        try:
            return _numba().njit(nogil=True, cache=folder is not None, error_model="numpy")(whole)
        finally:
            config.CACHE_DIR = before

    def __call__(self, *arguments: Any) -> Any:
        return (self._compiled or self.real())(*arguments)


def kernel(function: Callable[..., Any]) -> Kernel:
    """Make a kernel of a function. It may use operations of `replay.lanes` and other kernels by their names."""
    assert isinstance(function, FunctionType)
    return Kernel(function)
