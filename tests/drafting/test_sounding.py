"""Tracks whose names say nothing: what their sound tells for certain, and what it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from replay.drafting import taking
from replay.drafting.draft import Draft, draft
from replay.drafting.sounding import listen, sure_kind
from tests.conftest import Shelf
from tests.drafting.making import numbered, tracks
from tests.material.recording import Input
from tests.material.stage import record
from tests.material.take import write


def silent(share: float, phrase: str) -> None:
    pass


@pytest.fixture(scope="module")
def nameless(shelf: Shelf) -> tuple[Draft, list[Input]]:
    """A band of another kit and seed than those on which the margins were chosen, every track called by its number; and
    what its tracks are."""

    def build(folder: Path) -> tuple[Draft, list[Input]]:
        recording = record(24, seed=41, seconds=45, kit="colombo")
        for path in write(folder / "one", recording):
            path.rename(path.with_name(f"Track {path.name[:2]}.wav"))
        place = taking.where(folder / "one", None)
        return draft(place, None, None, lambda take: listen(take, silent)), recording.inputs

    return shelf.get("a band without names, drafted", build)


def test_what_is_sure_is_said_and_nothing_wrong(nameless: tuple[Draft, list[Input]]) -> None:
    made, inputs = nameless
    truth = {one.number: one.kind for one in inputs}
    told = {one.number: one.kind for one in made.channels if one.kind}
    assert told == {number: truth[number] for number in told}
    assert {"timecode", "click"} <= set(told.values())
    assert "kind timecode by its sound" in {note.text for note in made.notes.inputs}


def test_an_empty_track_without_a_name_is_a_spare(nameless: tuple[Draft, list[Input]]) -> None:
    made, inputs = nameless
    spares = [one.number for one in inputs if one.name.startswith("Spare")]
    assert spares
    assert [one.number for one in made.channels if one.use == "may"] == spares


def test_a_sound_like_two_families_has_no_kind() -> None:
    assert sure_kind({"kick": 0.0, "bass": -5.0, "tom": -9.0}) == ""
    assert sure_kind({"kick": 0.0, "bass": -6.5, "tom": -9.0}) == "kick"
    assert sure_kind({"vocal": 0.0, "speech": -9.9, "kick": -9.9}) == ""


def test_names_that_say_something_are_not_listened_to(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Fiddle")
    made = draft(taking.where(take, None), None, None, lambda found: pytest.fail("listened"))
    assert [(one.name, one.kind) for one in made.channels] == [("Kick", "kick"), ("Fiddle", "strings")]


def test_without_listening_no_kind_is_told(tmp_path: Path) -> None:
    made = draft(taking.where(numbered(tmp_path / "one", 3), None), None, None, None)
    assert [(one.name, one.kind, one.use) for one in made.channels] == [
        ("Track 1", "", ""), ("Track 2", "", ""), ("Track 3", "", ""),
    ]  # fmt: skip
