"""An act on a house patch, through the commands."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from replay.cli import run

DEMO = Path(__file__).parents[2] / "demo_audio"


@pytest.fixture
def act(tmp_path: Path) -> Path:
    """An act on the boxes of the pocket show, with that show's list and take."""
    shutil.copytree(DEMO, tmp_path / "house")
    folder = tmp_path / "act"
    folder.mkdir()
    (folder / "patch.toml").write_text('extends = "../house"\ntitle = "An act"\n[take]\nfolder = "../house/audio"\n')
    shutil.copy(DEMO / "inputs.csv", folder)
    return folder


def test_a_check_is_that_of_the_whole_patch(act: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = []
    for show in (tmp_path / "house", act):
        assert run(["check", str(show), "--json", "-", "--kept", str(tmp_path / "kept")]) == 1
        found.append(json.loads(capsys.readouterr().out))
    whole, on_a_house = found
    assert on_a_house["title"] == "An act"
    assert on_a_house["channels"] == whole["channels"]
    assert [finding["code"] for finding in on_a_house["findings"]] == [finding["code"] for finding in whole["findings"]]


def test_a_limit_of_the_house_is_told_where_it_stands(
    act: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house = tmp_path / "house" / "patch.toml"
    house.write_text(house.read_text() + "\n[limits]\nhot_abov = -1\n")
    assert run(["check", str(act)]) == 2
    assert capsys.readouterr().err == (
        "replay: ../house/patch.toml, limits.hot_abov: there is no limit 'hot_abov' (did you mean 'hot_above'?)\n"
    )


def test_the_house_patch_is_never_written_over(act: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    house = tmp_path / "house" / "patch.toml"
    before = house.read_bytes()
    assert run(["check", str(act), "--json", str(house), "--kept", str(tmp_path / "kept")]) == 2
    assert "is part of the show and is never written over" in capsys.readouterr().err
    assert house.read_bytes() == before


def test_routes_say_where_the_house_is(act: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["routes", str(act)]) == 0
    said = "".join(capsys.readouterr().out.split())  # a long path may be cut at the end of a line
    where = "".join(f"{tmp_path.resolve()}/house/patch.toml".split())
    assert said.startswith(f"Anact:11channels.Extends../house/patch.toml({where}).")
