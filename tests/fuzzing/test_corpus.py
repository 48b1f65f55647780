"""What was once worth a second look while fuzzing, tried again: a small corpus, kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzzing.__main__ import CORPUS
from tests.fuzzing.targets import TARGETS
from tests.need import need_package

CASES = [(folder.name, path) for folder in sorted(CORPUS.iterdir()) for path in sorted(folder.iterdir())]


@pytest.mark.parametrize(("target", "path"), CASES, ids=lambda one: one.name if isinstance(one, Path) else one)
def test_corpus(target: str, path: Path, tmp_path: Path) -> None:
    if target == "workbook":
        need_package("openpyxl")
    TARGETS[target](path.read_bytes(), tmp_path)


def test_every_target_has_a_corpus_and_it_is_small() -> None:
    assert sorted(folder.name for folder in CORPUS.iterdir()) == sorted(TARGETS)
    assert all(any(folder.iterdir()) for folder in CORPUS.iterdir())
    assert sum(path.stat().st_size for _, path in CASES) < 200_000
