"""Folders that appear whole or not at all: what demo, render and ident share. Each of them tests its own refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from replay.errors import OutputError
from replay.new_folder import new_folder


def fill(folder: Path) -> None:
    (folder / "audio").mkdir()
    (folder / "audio" / "01.wav").write_text("sound")
    (folder / "patch.toml").write_text("patch")


def test_a_new_folder_and_its_parents(tmp_path: Path) -> None:
    with new_folder(tmp_path / "deep" / "show") as unfinished:
        fill(unfinished)
        assert not (tmp_path / "deep" / "show").exists()
    assert (tmp_path / "deep" / "show" / "audio" / "01.wav").read_text() == "sound"
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["show"]


def test_an_empty_folder_stays_the_one_that_it_was(tmp_path: Path) -> None:
    """It may be a whole disk, whose own folder can be neither removed nor renamed."""
    inode = tmp_path.stat().st_ino
    with new_folder(tmp_path) as unfinished:
        assert unfinished.parent == tmp_path
        fill(unfinished)
    assert tmp_path.stat().st_ino == inode
    assert sorted(path.name for path in tmp_path.iterdir()) == ["audio", "patch.toml"]


@pytest.mark.parametrize("there", [False, True])
@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_nothing_is_left_of_what_was_not_finished(tmp_path: Path, there: bool, trouble: BaseException) -> None:
    folder = tmp_path / "show"
    if there:
        folder.mkdir()

    def work() -> None:
        with new_folder(folder) as unfinished:
            fill(unfinished)
            raise trouble

    with pytest.raises(OutputError if isinstance(trouble, OSError) else KeyboardInterrupt):
        work()
    assert [path.name for path in tmp_path.rglob("*")] == (["show"] if there else [])


def test_what_cannot_be_put_in_place_leaves_the_folder_empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    really = Path.rename

    def rename(path: Path, target: Path) -> Path:
        if path.name == "patch.toml":
            raise OSError(5, "Input/output error")
        return really(path, target)

    monkeypatch.setattr(Path, "rename", rename)
    with (
        pytest.raises(OutputError, match=r": cannot be written: Input/output error$"),
        new_folder(tmp_path) as unfinished,
    ):
        fill(unfinished)
    assert list(tmp_path.iterdir()) == []


def test_the_folder_one_stands_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with new_folder(Path()) as unfinished:
        fill(unfinished)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["audio", "patch.toml"]
