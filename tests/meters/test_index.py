"""The list of meters, and what each of its modules must hold."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import numpy as np
import pytest

import replay.meters
from replay.meters import meters
from replay.meters.model import EVENT_KINDS

FOLDER = Path(replay.meters.__file__).parent
TESTS = Path(__file__).parents[1]


def test_every_module_with_a_meter_is_listed():
    having = {
        path.stem
        for path in FOLDER.glob("*.py")
        if any(isinstance(node, ast.ClassDef) and node.name == "Meter" for node in ast.parse(path.read_text()).body)
    }
    listed = [meter.NAME for meter in meters()]
    missing = sorted(having - set(listed))
    assert not missing, f"import and list {missing} in meters() of replay/meters/__init__.py"
    assert sorted(listed) == sorted(having), "a meter's NAME is its module's, and each stands once in the list"


def test_columns_are_what_the_pass_and_the_desk_can_take():
    columns = [column for meter in meters() for column in meter.COLUMNS]
    names = [column.name for column in columns]
    assert len(names) == len(set(names)), "two meters write a column of one name"
    for column in columns:
        assert column.period_ms in (10, 100), column
        assert column.law in ("shift", "square", "same", "none"), column
        assert np.dtype(column.dtype).kind in "fiu", column


@pytest.mark.parametrize("meter", meters(), ids=[meter.NAME for meter in meters()])
def test_every_meter_is_tested(meter):
    """By its own name in an import, or one of its columns or kinds of event by name."""
    files = [path for folder in ("meters", "standards", "take") for path in (TESTS / folder).glob("*.py")]
    text = "".join(path.read_text(encoding="utf-8") for path in files if path != Path(__file__))
    source = Path(meter.__file__).read_text(encoding="utf-8")
    what = [column.name for column in meter.COLUMNS] + [kind for kind in EVENT_KINDS if f'"{kind}"' in source]
    named = re.search(rf"import .*\b{meter.NAME}\b", text) or any(f'"{one}"' in text for one in what)
    assert named, f"no test in tests/meters is about {meter.NAME}, nor reads {' or '.join(what)}"
