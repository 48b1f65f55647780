"""What the pages name is there: files, folders and modules of this repository in backticks, and where links lead."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
TOPS = ("replay", "tests", "docs", "demo_audio", ".ci")

MADE = {"friday.html", "axe.min.js"}
"""Files of no repository: the page of an example's show, and the accessibility checker's own."""

FOLDER = re.compile(r"[\w.]+(?:/[\w.]+)*/")
FILE = re.compile(r"(?:[\w.]+/)*\w[\w.]*\.(?:py|html|js|css|json|md)")
MODULE = re.compile(r"(?:replay|tests)(?:\.[A-Za-z_]\w*)+")
LINK = re.compile(r"\]\(([^)\s]+)\)")


def prose(page: Path) -> str:
    """A page without its fenced blocks, which the examples' own tests run."""
    return re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)


def words(text: str) -> list[str]:
    """What stands in backticks, without the arguments of calls and the words of a command."""
    return [word.split("(")[0] for quoted in re.findall(r"`([^`\n]+)`", text) for word in quoted.split()]


def places(word: str) -> list[Path]:
    """Where a path may lie: in the repository, in the package, or beside a module of any part."""
    found = [ROOT / word, ROOT / "replay" / word]
    if word.startswith(TOPS):
        return found
    return [*found, *(ROOT / "replay").rglob(word), ROOT / "tests" / word, ROOT / "docs" / word]


def is_module_or_name(dotted: str) -> bool:
    parts = dotted.split(".")
    for end in range(len(parts), 0, -1):
        try:
            found = importlib.import_module(".".join(parts[:end]))
        except ModuleNotFoundError:
            continue
        for part in parts[end:]:
            if not hasattr(found, part):
                return False
            found = getattr(found, part)
        return True
    return False


def is_gone(word: str) -> bool:
    if "NAME" in word:
        return False
    if MODULE.fullmatch(word) and Path(word).suffix not in (".py", ".html", ".js"):
        return not is_module_or_name(word)
    if FILE.fullmatch(word):
        return word not in MADE and not any(path.is_file() for path in places(word))
    if FOLDER.fullmatch(word):
        return not any(path.is_dir() for path in places(word))
    return word.startswith(tuple(f"{top}/" for top in TOPS)) and not (ROOT / word).exists()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_what_is_named_is_there(page: Path) -> None:
    assert [word for word in words(prose(page)) if is_gone(word)] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in LINK.findall(prose(page)):
        if target.startswith(("http:", "https:")):
            continue
        file, _, anchor = target.partition("#")
        there = page.parent / file if file else page
        assert there.exists(), target
        if anchor:
            assert anchor in headings(there), target


def headings(page: Path) -> set[str]:
    """The anchors of a page's headings, as they are usually made from Markdown."""
    lines = re.findall(r"^#+ (.+)$", prose(page), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", line.lower()).replace(" ", "-") for line in lines}


@pytest.mark.parametrize(
    ("word", "gone"),
    [
        ("replay/meters/peak.py", False),
        ("meters/peak.py", False),
        ("peak.py", False),
        ("replay.text.harmless", False),
        ("drafting/", False),
        ("replay/meters/loudnes.py", True),
        ("peek.py", True),
        ("replay.text.harmles", True),
        ("replay.texts", True),
        ("draughting/", True),
        ("tests/gone", True),
    ],
)
def test_what_would_be_told(word: str, gone: bool) -> None:
    assert is_gone(word) == gone
