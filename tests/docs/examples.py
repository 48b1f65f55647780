"""Examples in Markdown: what a reader would type, and what the page says that comes back.

A block fenced as `console` holds commands after `$ ` (longer ones go on after `> `) and, under each, what it prints.
`...` stands for anything: on a line of its own for any number of lines, inside a line for any text. A block fenced as
`text` shows a stretch of what the last command before it printed. A block fenced as `python` is run; with `>>>` it is
compared as well. All blocks of a page run in order, in one folder.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

FENCE = re.compile(r"^```(\S*)[ \t]*\n(.*?)^```[ \t]*$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """One fenced block: the language after the fence, its text, and the line on which the text begins, from 1."""

    language: str
    text: str
    line: int


@dataclass(frozen=True)
class Typed:
    """A command, what is said to come back, and its line in the page."""

    command: str
    printed: str
    line: int


def blocks(page: str) -> list[Block]:
    """All fenced blocks of a page, in order."""
    return [Block(m[1], m[2], page.count("\n", 0, m.start()) + 2) for m in FENCE.finditer(page)]


def commands(block: Block) -> list[Typed]:
    """The commands of a `console` block. ValueError where something is printed before any command."""
    found: list[Typed] = []
    for number, line in enumerate(block.text.splitlines(), block.line):
        if line.startswith("$ "):
            found.append(Typed(line[2:], "", number))
        elif found and line.startswith("> "):
            last = found[-1]
            found[-1] = Typed(f"{last.command}\n{line[2:]}", last.printed, last.line)
        elif found:
            last = found[-1]
            found[-1] = Typed(last.command, last.printed + line + "\n", last.line)
        else:
            raise ValueError(f"line {number}: {line!r} stands before any command")
    return found


def agrees(said: str, printed: str) -> bool:
    """Whether what came back is what the page says. Blanks at ends of lines and empty lines at the end are nothing."""
    return re.fullmatch(_pattern(said), _tidy(printed)) is not None


def holds(printed: str, said: str) -> bool:
    """Whether what the page says is a stretch of whole lines of what came back."""
    return re.search("^" + _pattern(said), _tidy(printed), re.MULTILINE) is not None


def _pattern(said: str) -> str:
    lines = [line.rstrip() for line in said.rstrip().splitlines()]
    return "".join(r"(?:[^\n]*\n)*?" if line == "..." else _line(line) + r"\n" for line in lines)


def _line(line: str) -> str:
    return r"[^\n]*?".join(re.escape(piece) for piece in line.split("..."))


def _tidy(printed: str) -> str:
    return "".join(line.rstrip() + "\n" for line in printed.rstrip().splitlines())
