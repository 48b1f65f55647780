"""Faults of the machine: killed and interrupted at any moment, a disk that fills, a drive that is pulled.

Outputs are whole or absent, the take's bytes stay as they are, and the message says what to do.
"""

from __future__ import annotations

import errno
import hashlib
import io
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import replay.take.reachable as reachable
import replay.take.source as source
from replay.cli import run
from replay.report import FORMATS
from tests.need import need

ROOT = Path(__file__).parents[2]
NAMES = {"--json": "report.json", "--csv": "sheets", "--page": "page.html", "--corrected": "corrected.csv"}
OUTPUTS = [word for pair in NAMES.items() for word in pair]


def test_every_format_is_among_what_is_stopped_and_starved():
    """A new one gets a name above, and a line in `whole_or_absent` that tells a whole one from a part."""
    assert set(NAMES) == {one.OPTION for one in FORMATS}


@pytest.fixture
def show(tmp_path: Path) -> Path:
    return shutil.copytree(ROOT / "demo_audio", tmp_path / "show")


def digest(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def call(folder: Path, *words: str, **how) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "replay", *words],
        cwd=folder,
        env={**os.environ, "COLUMNS": "80", "PYTHONPATH": str(ROOT)},
        stdin=subprocess.DEVNULL,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **how},
    )


def check_words(folder: Path) -> tuple[str, ...]:
    return ("check", str(folder / "show"), "--kept", str(folder / "kept"), *OUTPUTS)


def answer(folder: Path) -> dict:
    """The report as JSON, without what depends on when it was made."""
    process = call(folder, *check_words(folder))
    out, err = process.communicate(timeout=300)
    assert (process.returncode, err) == (1, b""), out
    told = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    told["take"].pop("age_s", None)
    for finding in told["findings"]:
        if finding["code"] == "old-take":
            finding.update(amount=None, message="")
    return told


def whole_or_absent(folder: Path) -> None:
    """Every output is either not there, or complete; and nothing half written lies about under another name."""
    if (folder / "report.json").exists():
        json.loads((folder / "report.json").read_text(encoding="utf-8"))
    if (folder / "page.html").exists():
        assert (folder / "page.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
    for name, columns in (("stage-sheet.csv", 12), ("channels.csv", 20), ("findings.csv", 10)):
        path = folder / "sheets" / name
        if path.exists():
            lines = path.read_text(encoding="utf-8").splitlines()
            assert lines[0].count(",") >= columns
            assert path.read_bytes().endswith(b"\n")
    if (folder / "corrected.csv").exists():
        assert (folder / "corrected.csv").read_bytes().endswith(b"\n")


@pytest.mark.parametrize("stop", [signal.SIGKILL, signal.SIGINT])
def test_stopped_at_any_moment(tmp_path, show, stop):
    before = digest(show)
    wanted = answer(tmp_path)
    begun = time.monotonic()
    for path in ("report.json", "page.html", "corrected.csv"):
        (tmp_path / path).unlink(missing_ok=True)
    shutil.rmtree(tmp_path / "kept")
    assert call(tmp_path, *check_words(tmp_path)).communicate(timeout=300)[1] == b""
    lasts = time.monotonic() - begun
    moments = random.Random(stop)
    statuses = set()
    for _ in range(4):
        shutil.rmtree(tmp_path / "kept", ignore_errors=True)
        shutil.rmtree(tmp_path / "sheets", ignore_errors=True)
        for name in ("report.json", "page.html", "corrected.csv"):
            (tmp_path / name).unlink(missing_ok=True)
        process = call(tmp_path, *check_words(tmp_path))
        time.sleep(moments.uniform(0, lasts))
        process.send_signal(stop)
        _, err = process.communicate(timeout=60)
        statuses.add(process.returncode)
        assert b"Traceback" not in err or process.returncode == -signal.SIGINT  # Python itself was still starting
        whole_or_absent(tmp_path)
        assert digest(show) == before
    ended = {signal.SIGKILL: {-signal.SIGKILL}, signal.SIGINT: {130, -signal.SIGINT}}[stop]
    assert statuses & ended
    assert statuses <= ended | {1}
    # What a killed run left of kept results is used or thrown away, and changes no figure.
    assert answer(tmp_path) == wanted
    assert digest(show) == before


def test_a_disk_that_fills_while_reports_are_written(tmp_path, show):
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("needs root to mount a small disk")
    need("mount", "umount")
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=200k", "none", disk], capture_output=True).returncode != 0:
        pytest.skip("cannot mount here")
    before = digest(show)
    try:
        # The page is larger than the disk, the JSON is not.
        words = ("check", str(show), "--page", str(disk / "page.html"), "--json", str(disk / "report.json"))
        process = call(tmp_path, *words, "--kept", str(tmp_path / "kept"))
        out, err = process.communicate(timeout=300)
        assert process.returncode == 2
        assert out.startswith(b"NOT READY: ")  # the answer is given all the same
        assert b"page.html: cannot be written: No space left on device (the disk is full" in err
        assert sorted(path.name for path in disk.iterdir()) in ([], ["report.json"])
        whole_or_absent(disk)
    finally:
        subprocess.run(["umount", disk], check=True)
    assert digest(show) == before


class Pulled(io.FileIO):
    """A file on a drive that is pulled after so many reads: from then on every read fails."""

    left = 0

    def readinto(self, buffer) -> int | None:
        Pulled.left -= 1
        if Pulled.left < 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return super().readinto(buffer)

    def read(self, size: int | None = -1) -> bytes | None:
        if Pulled.left < 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return super().read(size)


@pytest.mark.parametrize("reads", [0, 1, 5])
def test_a_drive_that_is_pulled_while_it_is_read(tmp_path, show, capsys, monkeypatch, reads):
    before = digest(show)
    for module in (source, reachable):
        monkeypatch.setattr(module, "open", lambda path, mode, buffering: Pulled(path), raising=False)
    Pulled.left = reads
    assert run(["check", str(show), "--kept", str(tmp_path / "kept"), "--json", str(tmp_path / "a.json")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "the take could not be read to its end: Input/output error (see whether its drive is still connected" in err
    assert not (tmp_path / "a.json").exists()
    monkeypatch.undo()
    # Nothing of the broken reading was kept: the next check, with the drive back, is that of a healthy take.
    assert run(["check", str(show), "--kept", str(tmp_path / "kept"), "--json", str(tmp_path / "a.json")]) == 1
    codes = {finding["code"] for finding in json.loads((tmp_path / "a.json").read_text())["findings"]}
    assert not codes & {"truncated", "unreadable"}
    assert digest(show) == before


def test_one_file_that_cannot_be_read_on_is_a_finding_and_no_error(tmp_path, show, capsys, monkeypatch):
    bad = sorted(show.rglob("*.wav"))[3]

    def opened(path, mode, buffering):
        Pulled.left = -1
        return Pulled(path) if Path(path) == bad else io.FileIO(path)

    for module in (source, reachable):
        monkeypatch.setattr(module, "open", opened, raising=False)
    assert run(["check", str(show), "--kept", str(tmp_path / "kept"), "--json", str(tmp_path / "a.json")]) == 1
    findings = json.loads((tmp_path / "a.json").read_text())["findings"]
    (told,) = [finding for finding in findings if finding["code"] in ("truncated", "unreadable")]
    assert told["message"].startswith(f"{bad.name} could not be read from 0.0 s on")
