"""A check's manual page, made from its docstring and its limits."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Mapping
from typing import Protocol

from replay.checks.shared.limit import Limit
from replay.desk.model import Show
from replay.findings.finding import Finding

SECTIONS = (
    "What it is",
    "Why it matters before a show",
    "How it is told",
    "What can fool it",
    "What to do",
)
"""The sections of every page, in this order: lines of their own in the docstring, their text indented below."""


class Check(Protocol):
    """What a module needs to be a check. Its docstring is its manual page (one sentence, then SECTIONS)."""

    CODE: str
    TITLE: str
    LIMITS: Mapping[str, Limit]

    def check(self, show: Show) -> Iterator[Finding]:
        """All findings of this code (in a module: a plain function of the show)."""


def summary(check: Check) -> str:
    """The first sentence of the page."""
    return inspect.cleandoc(check.__doc__ or "").split("\n\n", 1)[0].replace("\n", " ")


def sections(check: Check) -> dict[str, str]:
    """The text of each section by its heading, in the order of the docstring."""
    found: dict[str, list[str]] = {}
    lines: list[str] = []
    for line in inspect.cleandoc(check.__doc__ or "").splitlines():
        if line and not line.startswith(" ") and line in SECTIONS:
            lines = found.setdefault(line, [])
        else:
            lines.append(line)
    return {heading: inspect.cleandoc("\n" + "\n".join(text)).strip() for heading, text in found.items()}


def limit_lines(check: Check) -> list[str]:
    """The check's limits, one a line, as `[limits]` takes them."""
    return [f"{name} = {limit.default:g}  # {limit.what}, in {limit.unit}" for name, limit in check.LIMITS.items()]


def as_text(check: Check) -> str:
    """The page for a terminal."""
    parts = [f"{check.CODE}: {check.TITLE}", summary(check)]
    for heading, text in sections(check).items():
        parts.append(heading + "\n" + "\n".join(f"    {line}".rstrip() for line in text.splitlines()))
    if check.LIMITS:
        parts.append(
            "Limits (a patch may set them)\n    [limits]\n" + "\n".join(f"    {x}" for x in limit_lines(check))
        )
    return "\n\n".join(parts) + "\n"


def as_markdown(check: Check) -> str:
    """The page for docs/findings.md."""
    parts = [f"## {check.CODE}", f"**{check.TITLE[0].upper()}{check.TITLE[1:]}.** {summary(check)}"]
    for heading, text in sections(check).items():
        parts.append(f"### {heading}\n\n{text}")
    if check.LIMITS:
        parts.append("### Limits\n\n```toml\n[limits]\n" + "\n".join(limit_lines(check)) + "\n```")
    return "\n\n".join(parts) + "\n"
