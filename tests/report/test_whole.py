"""Files appear whole or not at all, never inside a take, never over the show's own files."""

from __future__ import annotations

import errno
import os
import re
import select
import socket
import stat
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from replay.errors import OutputError
from replay.report import as_csv, as_json, whole
from tests.need import need
from tests.report.shows import in_folder, report

needs_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes by name on this system")


def left(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text() for path in folder.iterdir()}


def test_a_new_file(tmp_path):
    whole.write({tmp_path / "a.json": b"new"})
    assert left(tmp_path) == {"a.json": "new"}


def test_an_old_file_is_replaced_and_keeps_its_permissions(tmp_path):
    (tmp_path / "a.json").write_text("old")
    (tmp_path / "a.json").chmod(0o640)
    whole.write({tmp_path / "a.json": b"new"})
    assert left(tmp_path) == {"a.json": "new"}
    assert stat.S_IMODE((tmp_path / "a.json").stat().st_mode) == 0o640


def test_a_new_file_has_the_usual_permissions(tmp_path):
    before = os.umask(0o027)
    try:
        whole.write({tmp_path / "a.json": b"new"})
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.json").stat().st_mode) == 0o640


def test_a_link_is_followed_and_stays_a_link(tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "real.json").write_text("old")
    (tmp_path / "link.json").symlink_to(tmp_path / "there" / "real.json")
    whole.write({tmp_path / "link.json": b"new"})
    assert (tmp_path / "link.json").is_symlink()
    assert left(tmp_path / "there") == {"real.json": "new"}


@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch, call):
    (tmp_path / "a.json").write_text("old")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(whole.os, call, full)
    expected = "No space left on device (the disk is full: make room, or give a place on another disk)"
    with pytest.raises(OutputError, match=re.escape(expected)):
        whole.write({tmp_path / "a.json": b"new"})
    monkeypatch.undo()
    assert left(tmp_path) == {"a.json": "old"}


def test_if_the_third_table_does_not_fit_none_of_the_three_appears(tmp_path, monkeypatch):
    written = []
    really = os.write

    def nearly_full(descriptor, data):
        written.append(len(data))
        if len(written) == 3:
            raise OSError(errno.ENOSPC, "No space left on device")
        return really(descriptor, data)

    monkeypatch.setattr(whole.os, "write", nearly_full)
    (tmp_path / "channels.csv").write_text("old")
    with pytest.raises(OutputError, match=r"stage-sheet\.csv: cannot be written: No space left on device"):
        as_csv.write(report(), str(tmp_path))
    monkeypatch.undo()
    assert left(tmp_path) == {"channels.csv": "old"}


def test_a_disk_that_is_really_full(tmp_path):
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("needs root to mount a small disk")
    need("mount", "umount")
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16k", "none", tmp_path], capture_output=True)
    if mounted.returncode != 0:
        pytest.skip("cannot mount here")
    try:
        (tmp_path / "a.json").write_text("old")
        with pytest.raises(OutputError, match="the disk is full"):
            whole.write({tmp_path / "a.json": b"x" * 100_000})
        assert left(tmp_path) == {"a.json": "old"}
    finally:
        subprocess.run(["umount", tmp_path], check=True)


def test_a_device_is_written_into_and_not_replaced():
    whole.write({Path(os.devnull): b"x"})
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)


def test_a_device_that_is_full():
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    with pytest.raises(OutputError, match=r"/dev/full: cannot be written: No space left on device \(the disk is full"):
        whole.write({full: b"x"})
    assert full.is_char_device()


@needs_pipes
def test_a_pipe_that_somebody_reads_from_gets_everything(tmp_path):
    data = bytes(range(256)) * 4000  # more than a pipe holds
    os.mkfifo(tmp_path / "pipe")
    with ThreadPoolExecutor(1) as pool:
        read = pool.submit((tmp_path / "pipe").read_bytes)
        whole.usable(tmp_path / "pipe")
        whole.write({tmp_path / "pipe": data})
        assert read.result() == data
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


@needs_pipes
def test_a_pipe_that_nobody_reads_from_is_told_and_not_waited_for(tmp_path, monkeypatch):
    monkeypatch.setattr(whole, "READER_S", 0.1)
    os.mkfifo(tmp_path / "channels.csv")
    with pytest.raises(
        OutputError, match=r"channels\.csv: is a pipe that nobody reads from \(start what reads it first"
    ):
        as_csv.write(report(), str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["channels.csv"]


@needs_pipes
def test_a_pipe_whose_reader_goes_away_is_told(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    reader = os.open(tmp_path / "pipe", os.O_RDONLY | os.O_NONBLOCK)
    with ThreadPoolExecutor(1) as pool:
        written = pool.submit(whole.write, {tmp_path / "pipe": b"x" * 1_000_000})
        while not select.select([reader], [], [], 1)[0]:
            pass
        os.close(reader)
        with pytest.raises(OutputError, match=r"pipe: cannot be written: Broken pipe"):
            written.result()


@needs_pipes
def test_a_socket_is_refused(tmp_path):
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind(str(tmp_path / "s"))
        for write in (whole.usable, lambda target: whole.write({target: b"x"})):
            with pytest.raises(OutputError, match=r"s: is a socket \(give the name of a file\)"):
                write(tmp_path / "s")


@pytest.mark.parametrize(
    ("make", "target", "folder", "message"),
    [
        (lambda at: None, "no/where.json", False, "no/where.json: cannot be written (that folder does not exist: "),
        (lambda at: (at / "x").mkdir(), "x", False, "x: is a folder (give the name of a file)"),
        (lambda at: (at / "x").write_text(""), "x", True, "x: is a file (give the name of a folder)"),
        (lambda at: (at / "x").write_text(""), "x/y.json", False, "x/y.json: cannot be written (that folder does not"),
        (lambda at: None, "n" * 300, False, "cannot be written: File name too long (that name is too long"),
    ],
)
def test_a_target_that_cannot_be_written_is_known_beforehand(tmp_path, make, target, folder, message):
    make(tmp_path)
    with pytest.raises(OutputError, match=re.escape(message)):
        whole.usable(tmp_path / target, folder=folder)


def test_a_target_that_can_be_written(tmp_path):
    whole.usable(tmp_path / "new.json")
    whole.usable(tmp_path / "sheets", folder=True)
    whole.usable(tmp_path, folder=True)
    whole.usable(Path(os.devnull))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("target", ["audio/report.json", "audio/deep/../report.json", "link/report.json"])
def test_nothing_is_written_into_a_take(tmp_path, target):
    made = in_folder(tmp_path)
    (tmp_path / "audio" / "deep").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "audio")
    with pytest.raises(OutputError, match="lies inside the take, and nothing is ever written into a take"):
        as_json.write(made, str(tmp_path / target))
    with pytest.raises(OutputError, match="lies inside the take, and nothing is ever written into a take"):
        as_csv.write(made, str((tmp_path / target).parent))
    assert [path.name for path in (tmp_path / "audio").iterdir()] == ["deep"]


@pytest.mark.parametrize("name", ["patch.toml", "inputs.csv"])
def test_the_show_s_own_files_are_never_written_over(tmp_path, name):
    made = in_folder(tmp_path)
    with pytest.raises(OutputError, match="is part of the show and is never written over"):
        as_json.write(made, str(tmp_path / name))
    assert (tmp_path / name).read_text() == "mine"


def test_beside_the_take_is_allowed(tmp_path):
    made = in_folder(tmp_path)
    as_json.write(made, str(tmp_path / "report.json"))
    assert (tmp_path / "report.json").read_text() == as_json.text(made)
