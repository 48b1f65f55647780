"""The directions of imports, held to a table: what is further down may import what is further up, and nothing else."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import replay

PACKAGE = Path(replay.__file__).parent

# Part of the package -> the parts that it may import. A part is a module or a folder directly under replay/.
ALLOWED: dict[str, set[str]] = {
    "_version": set(),
    "errors": {"text"},
    "units": set(),
    "text": set(),
    "grid": set(),
    "ranks": set(),
    "ear": {"errors", "text"},
    "new_folder": {"errors", "text"},
    "compiled": set(),
    "lanes": {"compiled"},
    "lanes_types": {"lanes"},
    "lanes_codes": {"lanes", "lanes_types"},
    "lanes_compiled": {"lanes", "lanes_types", "lanes_codes"},
    "lanes_plain": {"lanes"},
    "patch": {"errors", "text", "units"},
    "take": {"errors", "text", "units", "grid", "compiled", "lanes"},
    "meters": {"errors", "units", "grid", "ranks", "compiled", "lanes", "take"},
    "measuring": {"errors", "units", "grid", "compiled", "lanes", "take", "meters"},
    "evidence": {"errors", "units", "grid", "ranks", "compiled", "lanes", "take", "measuring", "meters"},
    "mapping": {"errors", "text", "ear", "patch", "evidence"},
    "desk": {
        "errors", "units", "grid", "compiled", "lanes", "ear", "patch", "take", "meters", "evidence",
        "mapping",
    },
    "findings": {"patch", "desk"},
    "checks": {
        "findings", "errors", "text", "units", "grid", "ranks", "ear", "patch", "take", "meters", "evidence", "mapping",
        "desk",
    },
    "report": {
        "_version", "errors", "text", "units", "grid", "ear", "patch", "take", "mapping", "desk", "findings", "checks",
    },
    "excerpts": {"units", "take", "desk", "findings", "report", "sound", "stands_out"},
    "demo": {"errors", "units", "new_folder"},
    "sound": {"errors", "text", "units", "grid", "lanes", "take", "report", "terminal"},
    "opening": {"patch", "take"},
    "stands_out": set(),
    "hear": {"errors", "text", "units", "take", "patch", "desk", "opening", "sound"},
    "play": {"errors", "take", "patch", "opening", "sound"},
    "render": {"errors", "text", "units", "new_folder", "take", "patch", "desk", "opening", "sound"},
    "ident": {"errors", "text", "units", "new_folder", "take", "patch", "meters", "sound"},
    "confirm": {"errors", "text", "ear", "patch", "take", "report"},
    "listening": {
        "errors", "compiled", "text", "units", "terminal", "call", "patch", "take", "measuring", "desk", "simulate",
        "commands", "sound", "opening", "stands_out", "hear", "play", "render", "ident", "confirm", "ear", "",
    },
    "cli_listening": {"listening"},
    "mapped": {"errors", "ear", "patch", "take", "opening", "measuring", "evidence", "mapping", "desk"},
    "simulate": {
        "errors", "text", "compiled", "patch", "take", "opening", "measuring", "evidence", "mapping", "mapped", "desk",
        "findings", "checks", "ident", "confirm",
    },
    "": {"_version", "simulate"},
    "several": {"errors", "text", "terminal", "report", "simulate"},
    "watching": {"errors", "text", "terminal", "patch", "take"},
    "terminal": {"errors", "text", "report"},
    "call": {"errors", "text"},
    "defect": {"_version", "text", "terminal"},
    "commands": {
        "compiled", "errors", "text", "terminal", "call", "patch", "take", "measuring", "checks", "report", "simulate",
        "demo", "", "excerpts", "mapped", "confirm", "ear", "opening", "several", "watching",
    },
    "compare": {
        "_version", "errors", "compiled", "text", "units", "grid", "lanes", "terminal", "call", "patch", "take",
        "desk", "findings", "checks", "report", "simulate", "opening", "sound", "commands", "",
    },
    "cli_compare": {"compare"},
    "drafting": {"errors", "text", "terminal", "patch", "take", "measuring", "evidence", "mapping"},
    "cli_draft": {"drafting", "patch"},
    "cli_help": set(),
    "cli": {
        "cli_help", "_version", "errors", "text", "terminal", "report", "commands", "cli_listening", "cli_compare",
        "cli_draft", "defect",
    },
    "__main__": {"cli"},
}  # fmt: skip


def part_of(name: str) -> str:
    """The part that a dotted module name belongs to: `replay.patch.model` is part of `patch`."""
    return name.split(".")[1] if "." in name else ""


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imports(path: Path) -> set[str]:
    """The dotted names of everything in the package that a file imports, wherever in the file it does."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.split(".")[0] == "replay"}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide directions"
            if node.module == "replay":
                # `from replay import lanes`: a part, unless it is one of the package's own names.
                own = {"check", "__version__"}
                found |= {"replay" if alias.name in own else f"replay.{alias.name}" for alias in node.names}
            elif node.module and node.module.startswith("replay."):
                found.add(node.module)
    return found


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@pytest.mark.parametrize("path", modules(), ids=lambda path: name_of(path))
def test_imports_point_one_way(path: Path) -> None:
    part = part_of(name_of(path))
    assert part in ALLOWED, f"{part} has no row in the table"
    wrong = sorted(name for name in imports(path) if part_of(name) != part and part_of(name) not in ALLOWED[part])
    assert wrong == []


def test_the_table_has_no_circle() -> None:
    # The lanes modules know each other by name only: the compiler's and the plain one take the width from `lanes`.
    rest = {part: set(allowed) for part, allowed in ALLOWED.items()}
    while rest:
        free = [part for part, allowed in rest.items() if not allowed & rest.keys() - {part}]
        assert free, f"these import each other in a circle: {sorted(rest)}"
        for part in free:
            del rest[part]


def test_checks_and_reports_never_touch_samples() -> None:
    readers = {
        "replay.take.stream",
        "replay.take.source",
        "replay.take.decode",
        "replay.take.block",
        "replay.measuring.group_pass",
        "replay.measuring.measure",
    }
    for folder in ("findings", "checks", "report"):
        for path in (PACKAGE / folder).rglob("*.py"):
            assert not imports(path) & readers, path
