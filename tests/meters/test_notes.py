"""Notes: a question is worked out once, and what is kept of it is used only where it can be believed."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from replay.meters import notes
from replay.meters.notes import MOST, Notes


def test_a_question_is_worked_out_once():
    asked = []
    one = Notes()
    for _ in range(3):
        assert one.once("sum 2 3", lambda: asked.append(1) or 5) == 5
    assert asked == [1]
    assert one.changed


def test_a_question_with_other_arguments_is_another_one():
    one = Notes()
    assert [one.once(f"twice {number}", lambda number=number: 2 * number) for number in (1, 2, 1)] == [2, 4, 2]


def test_what_was_found_is_not_worked_out_again_and_changes_nothing():
    one = Notes({"none": None, "false": False})
    assert one.once("none", lambda: pytest.fail("asked again")) is None
    assert one.once("false", lambda: pytest.fail("asked again")) is False
    assert not one.changed


def test_answers_are_the_same_kind_at_once_and_later():
    one = Notes()
    first = one.once("runs", lambda: [(1, 2.5), (3, math.inf)])
    later = notes.read(notes.written({4: one}))[4].once("runs", lambda: pytest.fail("asked again"))
    assert first == later == [[1, 2.5], [3, math.inf]]


@pytest.mark.parametrize("value", [0.1 + 0.2, 5e-324, 1.7976931348623157e308, -0.0, 2**62])
def test_numbers_come_back_to_the_last_bit(value):
    one = Notes()
    one.once("number", lambda: value)
    back = notes.read(notes.written({1: one}))[1].once("number", lambda: None)
    assert repr(back) == repr(value)


def test_what_is_no_plain_value_is_refused():
    with pytest.raises(TypeError, match="Object of type ndarray is not JSON serializable"):
        Notes().once("array", lambda: np.zeros(2))


def test_of_old_notes_the_youngest_are_kept():
    old = Notes({str(number): number for number in range(MOST)})
    old.once("new", lambda: 1)
    assert list(old.all()) == [*(str(number) for number in range(1, MOST)), "new"]


def test_all_that_was_asked_for_is_kept():
    one = Notes({"old": 0})
    for number in range(MOST + 5):
        one.once(str(number), lambda: 0)
    assert list(one.all()) == [str(number) for number in range(MOST + 5)]


def as_kept(text: str) -> np.ndarray:
    data = text.encode()
    return np.frombuffer(data + b" " * (-len(data) % 8), np.float64)


@pytest.mark.parametrize("text", ["", "[", "[1, 2]", '{"one": {}}', '{"1": 5}', '{"1": [1]}', "3", "null"])
def test_what_cannot_be_notes_is_no_notes(text):
    assert notes.read(as_kept(text)) == {}


def test_where_nothing_is_kept_there_are_no_notes():
    assert notes.read(None) == {}


def test_other_tracks_measurements_and_sources_have_other_names(monkeypatch):
    name = notes.name_of({1: "a", 2: "b"}, 2)
    assert name is not None
    assert len(name) == 40
    assert notes.name_of({2: "b", 1: "a"}, 2) == name
    others = [{1: "a", 2: "c"}, {1: "b", 2: "a"}, {1: "a", 3: "b"}, {1: "a"}]
    assert len({notes.name_of(keys, len(keys)) for keys in others} | {name}) == 5
    monkeypatch.setattr(notes, "sources", lambda: "other")
    assert notes.name_of({1: "a", 2: "b"}, 2) != name


def test_without_a_name_for_every_track_nothing_is_kept():
    assert notes.name_of({1: "a"}, 2) is None


def test_sources_cover_every_module_that_puts_questions():
    """A question whose words may change must not find the answer to the old ones."""
    from pathlib import Path

    import replay

    package = Path(replay.__file__).parent
    asking = {
        path.relative_to(package).parts[0]
        for path in package.rglob("*.py")
        if ".once(" in path.read_text() and path.name not in ("notes.py", "model.py", "simulate.py")
    }
    assert asking <= {"desk", "checks", "ident", "evidence", "sound", "meters"}
    assert len(json.dumps(notes.sources())) == 18


def test_sources_cover_folders_in_folders(monkeypatch):
    """A module that is moved one folder further down still counts."""
    from pathlib import Path

    import replay

    package = Path(replay.__file__).parent
    read: list[Path] = []
    really = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda path: (read.append(path), really(path))[1])
    notes.sources.__wrapped__()
    for folder in ("desk", "checks", "ident", "evidence", "sound"):
        assert set((package / folder).rglob("*.py")) <= set(read), folder
