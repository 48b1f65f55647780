"""The pages about the reports name what the reports hold."""

from __future__ import annotations

import json
import re
from pathlib import Path

import replay.report
from replay.report import as_json
from replay.report.channel_table import FIGURES, MARKS

ROOT = Path(replay.report.__file__).parents[2]


def words_in_code(page: str) -> set[str]:
    text = (ROOT / "docs" / page).read_text(encoding="utf-8")
    return set(re.findall(r"[a-z][a-z0-9_]*", " ".join(re.findall(r"`([^`]+)`", text))))


def test_every_key_of_the_schema_is_described():
    schema = json.loads((Path(replay.report.__file__).parent / "schema.json").read_text(encoding="utf-8"))

    def keys(part) -> set[str]:
        found = set(part.get("required", ())) | set(part.get("properties", ()))
        below = [*part.get("properties", {}).values(), *part.get("$defs", {}).values()]
        return found.union(*(keys(one) for one in below))

    pairs_only = {"integrated_lufs", "momentary_max_lufs", "short_term_max_lufs", "loudness_range_lu"}
    assert sorted(keys(schema) - words_in_code("json.md") - pairs_only) == []
    assert f"`format` is `{as_json.FORMAT}`" in (ROOT / "docs" / "json.md").read_text(encoding="utf-8")


def test_every_mark_and_column_of_the_table_is_described():
    page = (ROOT / "docs" / "reading.md").read_text(encoding="utf-8")
    for mark in MARKS.values():
        assert f"| `{mark}` |" in page
    for figure in FIGURES:
        assert re.search(rf"^\| {figure.above}( {figure.below})? \|", page, re.M), figure.above
