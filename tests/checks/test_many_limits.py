"""A patch with a great many limits that there are not."""

from __future__ import annotations

import pytest

from replay.checks import limits_of
from replay.errors import PatchError


def test_unknown_limits_without_end_are_counted_and_the_first_are_told():
    """To look for the name nearest to each of them would take minutes."""
    with pytest.raises(PatchError) as refused:
        limits_of({f"hot_above{number}": 1 for number in range(200_000)}, "patch.toml")
    told = [str(problem) for problem in refused.value.problems]
    assert told[0] == "patch.toml, limits.hot_above0: there is no limit 'hot_above0' (did you mean 'hot_above'?)"
    assert told[200:] == ["and 199800 more problems, not shown"]


def test_a_long_value_is_cut():
    with pytest.raises(PatchError) as refused:
        limits_of({"hot_above": "x" * 100_000}, "patch.toml")
    assert len(str(refused.value)) < 200
