"""`confirm` on devices that fail: one clear line, status 2, no hang, and nothing that was answered is lost."""

from __future__ import annotations

import os
import sys

import pytest

from replay import cli
from replay.confirm import answers
from replay.sound import player
from tests.sound.fake import FakeSound
from tests.sound.shows import make_show, noise

pty = pytest.importorskip("pty", reason="needs pseudo-terminals")


@pytest.fixture
def show(tmp_path) -> str:
    make_show(tmp_path / "show", 2, noise(48000 * 3, 2))
    return str(tmp_path / "show")


@pytest.fixture
def keyboard(monkeypatch):
    """A terminal on standard input; what is written to it is typed."""
    ours, theirs = pty.openpty()
    with open(theirs, encoding="utf-8") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        yield ours
    os.close(ours)


def with_device(monkeypatch, **how) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", FakeSound(**how))


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ({"outputs": 0}, "replay: this machine has no device that plays sound (plug one in and try again)\n"),
        ({"outputs": 1}, "replay: Fake?[2J has 1 outputs, and 2 are needed (choose another with --device; "),
        ({"refuses": "Error opening OutputStream: Device unavailable"},
         "replay: Fake?[2J cannot be opened with 2 outputs at 48 kHz: device unavailable "),
    ],
    ids=["none", "too few outputs", "busy"],
)  # fmt: skip
def test_a_device_that_cannot_be_used(monkeypatch, capsys, show, keyboard, how, told):
    with_device(monkeypatch, **how)
    assert cli.run(["confirm", show]) == 2
    assert capsys.readouterr().err.startswith(told)


def test_without_portaudio(monkeypatch, capsys, show, keyboard):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    assert cli.run(["confirm", show]) == 2
    assert capsys.readouterr().err == (
        "replay: the Python package sounddevice is missing, without which nothing can be played "
        "(pip install sounddevice)\n"
    )


@pytest.mark.parametrize("tells", [True, False])
def test_a_device_that_is_unplugged_while_it_plays(monkeypatch, capsys, tmp_path, show, keyboard, tells):
    device = FakeSound(plays=0)
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    monkeypatch.setattr(player, "STALLED_S", 60.0)
    asked = []

    def first_answered(self, seconds):
        # The first channel is answered at once; only then, under the second, does the device go away.
        asked.append(seconds)
        if len(asked) > 1:
            return None
        device.plays, device.tells = 5, tells
        monkeypatch.setattr(player, "STALLED_S", 0.3)
        return "r"

    monkeypatch.setattr("replay.sound.keys.Keys.get", first_answered)
    assert cli.run(["confirm", show]) == 2
    out, err = capsys.readouterr()
    assert err.startswith("replay: Fake?[2J went away while playing, after 0.")
    assert "1 right, 0 wrong, 0 unsure. Kept in " in out
    assert [(one.channel, one.answer) for one in answers.read(tmp_path / "show")] == [(1, "right")]
