"""What every report format must do, and where its option is told."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

import replay.report
from replay.errors import OutputError
from replay.report import FORMATS
from tests.report import pages
from tests.report.shows import in_folder

FOLDER = Path(replay.report.__file__).parent
DOCS = FOLDER.parents[1] / "docs"
PAGES = ("reading.md", "json.md", "page.md")


def test_every_module_with_an_option_is_listed():
    having = {path.stem for path in FOLDER.glob("as_*.py") if "\nOPTION = " in path.read_text(encoding="utf-8")}
    listed = {one.__name__.rsplit(".", 1)[-1] for one in FORMATS}
    missing = sorted(having - listed)
    assert not missing, f"import and list {missing} in FORMATS of replay/report/__init__.py"
    assert listed == having
    assert len({one.OPTION for one in FORMATS}) == len(FORMATS)


@pytest.mark.parametrize("one", FORMATS, ids=[one.OPTION for one in FORMATS])
class TestEveryFormat:
    def test_is_told_of(self, one):
        text = "".join((DOCS / page).read_text(encoding="utf-8") for page in PAGES)
        written = f"`{one.OPTION}`", f"`{one.OPTION} {one.METAVAR}`"
        assert any(word in text for word in written), f"none of {', '.join(PAGES)} tells of {' or '.join(written)}"

    def test_is_written_beside_the_take_and_never_into_it(self, one, tmp_path):
        made = in_folder(tmp_path, pages.small())
        one.write(made, str(tmp_path / "new"))
        assert (tmp_path / "new").is_dir() == one.FOLDER
        for target in ("audio", "audio/new") if one.FOLDER else ("audio/new",):
            with pytest.raises(OutputError, match="lies inside the take, and nothing is ever written into a take"):
                one.write(made, str(tmp_path / target))
        assert list((tmp_path / "audio").iterdir()) == []

    def test_appears_whole_or_not_at_all(self, one, tmp_path, monkeypatch):
        def full(*_):
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(OutputError, match="the disk is full"):
            one.write(pages.small(), str(tmp_path / "new"))
        assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize("one", [one for one in FORMATS if not one.FOLDER], ids=lambda one: one.OPTION)
@pytest.mark.parametrize("name", ["patch.toml", "inputs.csv"])
def test_a_file_is_never_written_over_the_show_s_own(tmp_path, one, name):
    made = in_folder(tmp_path, pages.small())
    with pytest.raises(OutputError, match="is part of the show and is never written over"):
        one.write(made, str(tmp_path / name))
    assert (tmp_path / name).read_text() == "mine"


@pytest.mark.parametrize("one", [one for one in FORMATS if one.STANDARD_OUTPUT], ids=lambda one: one.OPTION)
def test_standard_output_gets_what_a_file_gets(tmp_path, capsys, one):
    one.write(pages.small(), str(tmp_path / "new"))
    one.write(pages.small(), one.STANDARD_OUTPUT)
    assert capsys.readouterr().out == (tmp_path / "new").read_text(encoding="utf-8")
