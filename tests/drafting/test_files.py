"""Where a draft goes, that nothing is written over, and that both files appear or none."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from replay import cli
from replay.drafting import put as putting
from replay.drafting import taking
from replay.errors import CallError, OutputError, TakeError
from replay.opening import open_show
from replay.patch.from_toml import read_patch
from replay.patch.readers import suffixes
from tests.drafting.making import drafted, numbered, tracks

LIST = "Ch,Source,Socket\n1,Kick,A 1\n2,Snare,A 2\n3,Bass,A 3\n"


def files(folder: Path) -> dict[str, str]:
    """Every file below a folder with a hash of its bytes."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_a_folder_of_recordings_gets_a_show_beside_it(tmp_path: Path) -> None:
    take = numbered(tmp_path / "sound  check", 3)
    before = files(take)
    found = drafted(take, LIST)
    assert found.show == tmp_path / "sound  check-show"
    assert sorted(path.name for path in found.show.iterdir()) == ["inputs.csv", "patch.toml"]
    assert files(take) == before
    assert found.patch.title == "sound check"
    assert open_show(found.show).take.folder == take


def test_a_folder_with_takes_in_it_is_the_show(tmp_path: Path) -> None:
    numbered(tmp_path / "saturday" / "audio" / "one", 3)
    found = drafted(tmp_path / "saturday", LIST)
    assert found.show == tmp_path / "saturday"
    assert found.patch.take.folder is None
    assert open_show(found.show).take.folder == tmp_path / "saturday" / "audio" / "one"


def test_a_place_of_ones_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    numbered(tmp_path / "one", 3)
    (tmp_path / "list.csv").write_text(LIST)
    monkeypatch.chdir(tmp_path)
    assert cli.run(["draft", "one", "--inputs", "list.csv", "--to", "shows/my gig"]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[0] == f"Written  {Path('shows/my gig/patch.toml')}"
    assert out.rstrip().endswith("Now: replay check 'shows/my gig'")
    assert open_show(tmp_path / "shows" / "my gig").take.folder == tmp_path / "one"


@pytest.mark.parametrize("inside", [".", "show", "deep/er"])
def test_never_into_a_take(tmp_path: Path, inside: str) -> None:
    take = numbered(tmp_path / "one", 3)
    with pytest.raises(
        CallError, match=r"holds recordings, and nothing is ever written into a take \(a folder outside it\)$"
    ):
        taking.where(take, take / inside)


def test_never_into_another_take(tmp_path: Path) -> None:
    numbered(tmp_path / "two", 3)
    with pytest.raises(CallError, match="two holds recordings, and nothing is ever written into a take"):
        taking.where(numbered(tmp_path / "one", 3), tmp_path / "two")


def test_a_link_into_the_take_is_seen_for_what_it_is(tmp_path: Path) -> None:
    take = numbered(tmp_path / "one", 3)
    (take / "inner").mkdir()
    (tmp_path / "link").symlink_to(take / "inner")
    with pytest.raises(CallError, match="nothing is ever written into a take"):
        taking.where(take, tmp_path / "link")


def test_nothing_is_written_over_without_force(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    numbered(tmp_path / "one", 3)
    (tmp_path / "list.csv").write_text(LIST)
    (tmp_path / "one-show").mkdir()
    (tmp_path / "one-show" / "patch.toml").write_text("mine")
    monkeypatch.chdir(tmp_path)
    assert cli.run(["draft", "one", "--inputs", "list.csv"]) == 2
    path = Path("one-show") / "patch.toml"
    assert capsys.readouterr().err == (f"replay: {path}: is there already (--force writes over it, or give --to DIR)\n")
    assert files(tmp_path / "one-show") == {"patch.toml": hashlib.sha256(b"mine").hexdigest()}
    assert cli.run(["draft", "one", "--inputs", "list.csv", "--force"]) == 0
    assert sorted(files(tmp_path / "one-show")) == ["inputs.csv", "patch.toml"]
    assert len(read_patch(tmp_path / "one-show").channels) == 3


def test_the_list_that_was_given_is_never_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    numbered(tmp_path / "saturday" / "audio", 3)
    own = tmp_path / "saturday" / "inputs.csv"
    own.write_text(LIST)
    assert cli.run(["draft", str(tmp_path / "saturday"), "--inputs", str(own), "--force"]) == 2
    assert capsys.readouterr().err == (
        f"replay: {own}: is the list that was given, and is not written over (give --to DIR)\n"
    )
    assert own.read_text() == LIST


@pytest.mark.parametrize("fails_at", [1, 2, 3, 4])
def test_both_files_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int) -> None:
    """Whatever rename fails: what was there before is there again, and nothing else."""
    for name in ("inputs.csv", "patch.toml"):
        (tmp_path / name).write_text(f"old {name}")
    before = files(tmp_path)
    calls = []
    rename = os.replace

    def failing(old: object, new: object) -> None:
        calls.append(new)
        if len(calls) == fails_at:
            raise OSError(28, "No space left on device")
        rename(old, new)

    monkeypatch.setattr(putting.os, "replace", failing)
    with pytest.raises(
        OutputError, match=r"cannot be written: No space left on device \(give another place with --to DIR\)$"
    ):
        putting.put({tmp_path / "inputs.csv": b"new", tmp_path / "patch.toml": b"new"})
    assert files(tmp_path) == before


def test_a_folder_that_was_made_goes_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(old: object, new: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(putting.os, "replace", failing)
    with pytest.raises(OutputError):
        putting.put({tmp_path / "show" / "inputs.csv": b"new", tmp_path / "show" / "patch.toml": b"new"})
    assert list(tmp_path.iterdir()) == []


def test_nothing_appears_where_the_list_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = numbered(tmp_path / "one", 3)
    (tmp_path / "list.csv").write_text("nothing here")
    assert cli.run(["draft", str(take), "--inputs", str(tmp_path / "list.csv")]) == 2
    assert "list.csv: no list of inputs can be seen in it" in capsys.readouterr().err
    assert not (tmp_path / "one-show").exists()


def test_what_is_not_there_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["draft", str(tmp_path / "nowhere")]) == 2
    assert (
        capsys.readouterr().err == f"replay: FOLDER: {tmp_path / 'nowhere'} does not exist (the folder of the tracks)\n"
    )
    (tmp_path / "file.txt").write_text("")
    assert cli.run(["draft", str(tmp_path / "file.txt")]) == 2
    assert (
        capsys.readouterr().err
        == f"replay: FOLDER: {tmp_path / 'file.txt'} is not a folder (the folder of the tracks)\n"
    )
    take = numbered(tmp_path / "one", 1)
    missing = tmp_path / "list.csv"
    assert cli.run(["draft", str(take), "--inputs", str(missing)]) == 2
    wanted = f"the input list, as {suffixes()}"
    assert capsys.readouterr().err == f"replay: {missing}: does not exist ({wanted})\n"


def test_a_folder_without_tracks(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(TakeError, match="there is no take in"):
        drafted(tmp_path / "empty", LIST)


def test_the_files_say_what_was_guessed(tmp_path: Path) -> None:
    take = tracks(tmp_path / "one", "01 Kick", "02 Keys L", "03 Keys R")
    found = drafted(take, "Ch,Source,Socket\n1,Kick,1\n2/3,Keys,2\n")
    patch = (found.show / "patch.toml").read_text("utf-8")
    assert "sockets = 8  # GUESSED: the highest in use is 3" in patch
    assert 'of = "soundcheck"  # GUESSED: or line-check, or show' in patch
    last = [line.rsplit(",", 1)[1] for line in (found.show / "inputs.csv").read_text("utf-8-sig").splitlines()]
    assert last == [
        "guessed", "box's name", "box's name; sockets counted on; two channels of one line",
        "box's name; sockets counted on; two channels of one line",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "of"), [("Friday soundcheck", "soundcheck"), ("line check", "line-check"), ("Gig 2", "show"), ("x", None)]
)
def test_what_was_recorded_by_the_folders_name(tmp_path: Path, name: str, of: str | None) -> None:
    found = drafted(numbered(tmp_path / name, 3), LIST)
    assert found.patch.take.of == (of or "soundcheck")
    told = f"the take is of a {of or 'soundcheck'}" + (", by its folder's name" if of else "")
    assert f"{told}: levels are judged by it (of, in [take])" in found.guessed()
