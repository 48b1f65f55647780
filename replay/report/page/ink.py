"""How words get onto the page: templates that escape, data that cannot end its element, a policy that names its script.

A name from a file or a patch may hold anything. Here it becomes text: every value that a template prints is made
harmless (control and direction characters) and escaped; data for the script travels as JSON in which no character can
close the element; and the page's own policy lets nothing run or load but the one script and the one style sheet in it,
named by their hashes.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from replay.text import harmless

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent
SCRIPTS = ("base.js", "follow.js", "ticks.js", "levels.js", "time.js", "cards.js", "sound.js")
"""In the order in which they are joined into the one script."""

_LONGEST = 4000


def environment() -> Environment:
    """Templates of this folder; whatever they print is harmless and escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_finalized,
    )


def _finalized(value: Any) -> Any:
    """Text from outside made harmless; markup of our own templates stays."""
    if isinstance(value, str) and not hasattr(value, "__html__"):
        return harmless(value, _LONGEST)
    return "" if value is None else value


def embedded(data: Any) -> str:
    """`data` as JSON that may stand inside a script element, whatever is in its texts.

    >>> embedded({"name": "</script>"})
    '{"name":"\\\\u003c/script\\\\u003e"}'
    """
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


@cache
def script() -> str:
    """The page's script."""
    parts = [(FOLDER / name).read_text(encoding="utf-8") for name in SCRIPTS]
    return '(() => {\n"use strict";\n' + "\n".join(parts) + "\n})();\n"


@cache
def style() -> str:
    """The page's style sheet."""
    return "\n".join((FOLDER / name).read_text(encoding="utf-8") for name in ("screen.css", "print.css"))


def policy() -> str:
    """The content security policy: nothing is loaded, nothing runs, except what is named by its hash. Excerpts are
    played from memory (`blob:`); the empty icon keeps browsers from asking for one."""
    return (
        f"default-src 'none'; script-src '{_hash(script())}'; style-src '{_hash(style())}'; "
        "media-src blob:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
