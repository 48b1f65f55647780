"""What a finding refuses, and what it is called."""

from __future__ import annotations

import pytest

from replay.findings.finding import Finding


def make(**more):
    return Finding(**{"code": "x", "severity": "note", "confidence": "certain", "message": "m", "action": "a", **more})


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"severity": "fatal"}, "no such severity: fatal"),
        ({"confidence": "sure"}, "no such confidence: sure"),
        ({"confidence": "possible", "severity": "warning"}, "x: what is only possible is a note"),
    ],
)
def test_refused(facts, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        make(**facts)


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ({}, "x-take"),
        ({"channels": (7,), "tracks": (9,)}, "x-ch7"),
        ({"channels": (1, 2, 3, 4, 5)}, "x-ch1-ch2-ch3+2"),
        ({"tracks": (31,)}, "x-t31"),
        ({"key": "main"}, "x-take-main"),
    ],
)
def test_ids(facts, name):
    assert make(**facts).id == name
