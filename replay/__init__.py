"""Replays recorded multitracks through a modeled patch and says whether the recording can be trusted.

>>> from replay import check                        # doctest: +SKIP
>>> report = check("demo_audio")                    # doctest: +SKIP
>>> report.verdict                                  # doctest: +SKIP
'not-ready'
"""

from __future__ import annotations

from typing import Any

from replay._version import VERSION as __version__

__all__ = ["__version__", "check"]


def __getattr__(name: str) -> Any:
    """`check`, imported when asked for: the package itself must load at once."""
    if name == "check":
        from replay.simulate import check

        return check
    raise AttributeError(f"module 'replay' has no attribute {name!r}")
