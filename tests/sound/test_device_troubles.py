"""Whatever is wrong with the sound device: one clear line, status 2, no hang."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time

import pytest

from replay import cli
from replay.sound import player
from tests.sound.alsa import ROOT
from tests.sound.fake import FakeSound
from tests.sound.shows import make_show, noise


@pytest.fixture
def show(tmp_path) -> str:
    make_show(tmp_path / "show", 4, noise(48000 * 3, 4))
    return str(tmp_path / "show")


def with_device(monkeypatch, **how) -> FakeSound:
    fake = FakeSound(**how)
    monkeypatch.setitem(sys.modules, "sounddevice", fake)
    return fake


WORDS = [["play", "--device", "0", "--yes"], ["hear", "--from", "0"]]


@pytest.mark.parametrize("words", WORDS, ids=["play", "hear"])
def test_a_machine_without_a_device(monkeypatch, capsys, show, words):
    with_device(monkeypatch, outputs=0)
    assert cli.run([words[0], show, *words[1:]]) == 2
    assert (
        capsys.readouterr().err == "replay: this machine has no device that plays sound (plug one in and try again)\n"
    )


@pytest.mark.parametrize("words", WORDS, ids=["play", "hear"])
def test_a_busy_device(monkeypatch, capsys, show, words):
    with_device(monkeypatch, refuses="Error opening OutputStream: Device unavailable")
    assert cli.run([words[0], show, *words[1:]]) == 2
    err = capsys.readouterr().err
    outputs = 4 if words[0] == "play" else 2
    assert err == (
        f"replay: Fake?[2J cannot be opened with {outputs} outputs at 48 kHz: device unavailable "
        "(another program may hold it, or it may have been unplugged; "
        "close the other program, or choose another device with --device)\n"
    )


def test_too_few_outputs(monkeypatch, capsys, show):
    with_device(monkeypatch, outputs=3)
    assert cli.run(["play", show, "--device", "0", "--yes"]) == 2
    assert capsys.readouterr().err == (
        "replay: Fake?[2J has 3 outputs, and 4 are needed (choose another with --device; "
        "there are: 0 Fake?[2J (3 outputs))\n"
    )


@pytest.mark.parametrize("tells", [True, False])
@pytest.mark.parametrize("words", WORDS, ids=["play", "hear"])
def test_a_device_that_is_unplugged_while_it_plays(monkeypatch, capsys, show, words, tells):
    monkeypatch.setattr(player, "STALLED_S", 0.3)
    fake = with_device(monkeypatch, plays=30, tells=tells)
    assert cli.run([words[0], show, *words[1:]]) == 2
    # 30 times 480 frames: 0.3 s.
    assert capsys.readouterr().err == (
        "replay: Fake?[2J went away while playing, after 0.3 s "
        "(plug it in again, and see that outputs are muted before playing on)\n"
    )
    assert fake.closed
    assert not [thread for thread in threading.enumerate() if thread.name == "reader"]


def test_a_device_that_never_closes_holds_nobody_up(monkeypatch, capsys, show):
    monkeypatch.setattr(player, "STALLED_S", 0.2)
    monkeypatch.setattr(player, "CLOSING_S", 0.2)
    fake = with_device(monkeypatch)
    never = threading.Event()
    monkeypatch.setattr("tests.sound.fake.Stream.close", lambda self, ignore_errors=True: never.wait(20))
    begun = time.monotonic()
    assert cli.run(["play", show, "--device", "0", "--yes"]) == 2
    assert time.monotonic() - begun < 15
    assert not fake.closed
    never.set()


@pytest.mark.parametrize("words", WORDS, ids=["play", "hear"])
def test_without_portaudio(tmp_path, show, words):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    environment = {**os.environ, "PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}"}
    done = subprocess.run(
        [sys.executable, "-m", "replay", words[0], show, *words[1:]],
        cwd=tmp_path, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == (
        "replay: the PortAudio library is missing, without which nothing can be played "
        "(on Debian and Ubuntu: apt install libportaudio2; on macOS: brew install portaudio)\n"
    )


def test_without_the_package(monkeypatch, capsys, show):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    assert cli.run(["hear", show, "--from", "0"]) == 2
    assert capsys.readouterr().err == (
        "replay: the Python package sounddevice is missing, without which nothing can be played "
        "(pip install sounddevice)\n"
    )
