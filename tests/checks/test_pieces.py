"""The docstring examples of the small helpers."""

from __future__ import annotations

import doctest

import pytest

from replay.checks import old_take
from replay.checks.shared import words


@pytest.mark.parametrize("module", [words, old_take], ids=["words", "old_take"])
def test_examples(module):
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0
