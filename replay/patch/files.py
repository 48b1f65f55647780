"""The bytes and the tables of a patch's files, or a message: bounded in size and time whatever the bytes are."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from replay.errors import Place
from replay.patch.problems import Problems
from replay.text import harmless

LARGEST = 10 * 1000 * 1000
"""Bytes of a patch file or an input list: thousands of times a large show's, and little enough to hold."""

DEEPEST = 16
"""Parts of a dotted key. A patch needs three; the TOML reader's time grows with the square of a key's parts."""


MOST_NEAR = 3


def read_bytes(
    path: Path, what: str, problems: Problems, called: str | None = None, named_at: Place | None = None
) -> bytes | None:
    """The whole of a regular file of at most LARGEST bytes; None, and a problem, where that is not to be had.

    `called` is how the file is shown (its name, if left out), `named_at` the key that names it.
    """
    called = harmless(path.name) if called is None else called
    place = Place(called) if named_at is None else named_at
    subject = "" if named_at is None else f"{called} "
    try:
        # Looked at before opening: to open a pipe or a device could wait for ever.
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            problems.add(f"{subject}is a folder", place, f"{what} is a file")
            return None
        if not stat.S_ISREG(mode):
            problems.add(f"{subject}is not a file", place, f"{what} is a file")
            return None
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        # A path that another file names may wind; what is wanted is where it leads.
        looked_for = str(path) if named_at is None else os.path.realpath(path)
        hint = f"{what} is looked for as {harmless(looked_for)}"
        if named_at is None and what == "a patch":
            hint += _patches_near(path) or "; replay draft writes a first one"
        problems.add(f"{subject}does not exist", place, hint)
        return None
    except OSError as error:
        problems.add(f"{subject}cannot be read: {error.strerror or type(error).__name__}", place)
        return None
    except ValueError:
        problems.add(f"{subject}is not a file name", place, "no zero bytes in names")
        return None
    if len(data) > LARGEST:
        problems.add(f"{subject}is too large", place, f"{what} has at most {LARGEST // 1_000_000} MB")
        return None
    return data


def _patches_near(path: Path) -> str:
    """Where the patch may lie that was meant: beside a recording, as `draft` leaves it, or one folder further down."""
    folder = path.parent
    try:
        inside = sorted(one for one in folder.iterdir() if (one / path.name).is_file()) if folder.is_dir() else []
        beside = folder.with_name(f"{folder.name}-show")
        found = [*([beside] if (beside / path.name).is_file() else []), *inside]
    except (OSError, ValueError):
        return ""
    if not found:
        return ""
    names = ", ".join(f"'{harmless(str(one))}'" for one in found[:MOST_NEAR])
    return f"; there is one in {names}" + (f" and {len(found) - MOST_NEAR} more" if len(found) > MOST_NEAR else "")


def read_toml(
    path: Path, problems: Problems, called: str | None = None, named_at: Place | None = None
) -> dict[str, Any] | None:
    """The tables of a TOML file; None, and a problem with line and column, where it is none; else as read_bytes."""
    called = harmless(path.name) if called is None else called
    data = read_bytes(path, "a patch", problems, called, named_at)
    if data is None:
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        problems.add("is not UTF-8 text", Place(called, line, column), "save the patch as UTF-8")
        return None
    bare = _without_strings(text)
    deep = _too_deep(bare)
    if deep is not None:
        problems.add("a key has too many parts", Place(called, deep), f"at most {DEEPEST}")
        return None
    if (long := _LONG.search(bare)) is not None:
        place = Place(called, bare.count("\n", 0, long.start()) + 1)
        problems.add("a word or number is far too long", place, "text stands in quotes")
        return None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message, place = _located(str(error), text, called)
        problems.add(f"is not valid TOML: {message}", place, 'text and times stand in quotes: "4:30"')
    except RecursionError:
        problems.add("is nested too deeply", Place(called), "a patch has tables in tables, no deeper")
    except ValueError:
        problems.add("holds a number, date or time that cannot be", Place(called), "numbers have at most 4300 digits")
    return None


def _located(message: str, text: str, called: str) -> tuple[str, Place]:
    """The TOML reader's message in two: what, and where."""
    match = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    if match is None:
        return message, Place(called)
    # The reader counts lines after making line ends one character, and so does an editor.
    what = message[: match.start()]
    what = what[:1].lower() + what[1:200]
    if match[1] is None:
        return what, Place(called, len(text.rstrip().splitlines()) or 1)
    return what, Place(called, int(match[1]), int(match[2]))


def _too_deep(bare: str) -> int | None:
    """The line of the first key of more than DEEPEST parts, or None. Takes time in proportion to the text.

    `bare` is the text without strings and comments."""
    # White space and the characters of bare keys go, so that a dotted key leaves its dots in a row.
    dots = re.sub(r"[\w \t-]+", "", bare)
    found = dots.find("." * DEEPEST)
    return None if found < 0 else dots.count("\n", 0, found) + 1


def _without_strings(text: str) -> str:
    """TOML text without strings and comments, line breaks kept."""
    parts = []
    position = 0
    while (opening := _OPENING.search(text, position)) is not None:
        parts.append(text[position : opening.start()])
        if opening[0] == "#":
            end = text.find("\n", opening.end())
            position = len(text) if end < 0 else end
            continue
        # An unclosed string is for the TOML reader to tell; it never reads on behind it.
        marks = _MARKS[opening[0]].finditer(text, opening.end())
        position = next((mark.end() for mark in marks if mark[0][0] != "\\"), len(text))
        parts.append("\n" * text.count("\n", opening.start(), position))
    parts.append(text[position:])
    return "".join(parts)


_LONG = re.compile(r"\b\w{10000}")
"""What the TOML reader would turn over for hundreds of bytes of memory a character."""

_OPENING = re.compile("\"\"\"|'''|[\"'#]")
# What ends a string, and the escapes that hide an end. The patterns look at every character once.
_MARKS = {
    '"""': re.compile(r'\\.|"""', re.DOTALL),
    "'" * 3: re.compile("'" * 3),
    '"': re.compile(r'\\.|["\n]'),
    "'": re.compile(r"['\n]"),
}
