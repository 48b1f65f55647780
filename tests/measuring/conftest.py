"""A small show and a folder for its kept results."""

from __future__ import annotations

from pathlib import Path

import pytest

from replay.measuring import kept
from tests.material.recording import Recording
from tests.material.show import write_show
from tests.material.stage import record
from tests.measuring.answers import BUS, change_list


@pytest.fixture(scope="session")
def small_band(shelf) -> Recording:
    """Eight inputs by twelve seconds, pairs of all kinds among them, one clipped. Shared: not to be changed."""

    def build(_: Path) -> Recording:
        from tests.material.faults import plant_clip

        made = record(12, seed=3, seconds=12, extras=False).part([1, 2, 3, 6, 7, 8, 10, 11])
        plant_clip(made, 6, 3.0)
        return made

    return shelf.get("small band", build)


@pytest.fixture
def show(tmp_path, small_band) -> Path:
    folder = write_show(tmp_path / "show", small_band, more=BUS[1:])
    change_list(folder, "bus", {number: f"main:{-6 - number}" for number in range(1, 9)})
    return folder


@pytest.fixture
def folder(tmp_path) -> Path:
    return tmp_path / "kept"


@pytest.fixture
def measured(monkeypatch) -> list[list[int]]:
    """The numbers of the tracks of every pass that is made from now on."""
    passes: list[list[int]] = []
    real = kept.measure

    def spy(tracks, *rest, **more):
        passes.append([track.number for track in tracks])
        return real(tracks, *rest, **more)

    monkeypatch.setattr(kept, "measure", spy)
    return passes
