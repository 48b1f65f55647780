"""The ring and the thread that feeds it."""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from types import SimpleNamespace

import numpy as np
import pytest

from replay import cli
from replay.listening.words import underruns
from replay.sound.device import Device
from replay.sound.player import Player, Ring, fade
from tests.sound.fake import FakeSound
from tests.sound.shows import make_show, noise

FINE = SimpleNamespace(output_underflow=False)


@pytest.mark.parametrize("sizes", [(7, 5), (1, 1), (10, 10), (3, 10), (10, 3)])
def test_what_goes_in_comes_out_in_order(sizes):
    ring = Ring(10, 2, "int32")
    put, take = sizes
    given = np.arange(200, dtype=np.int32).reshape(100, 2)
    got, at = [], 0
    while len(got) < 90:
        while at < 100 and ring.frames - ring.held >= min(put, 100 - at):
            ring.put(given[at : at + put])
            at += put
        out = np.full((take, 2), -1, np.int32)
        count = ring.take(out)
        got += out[:count].tolist()
    assert got == given[: len(got)].tolist()


def test_fading_out_keeps_a_margin_and_ends_in_silence():
    ring = Ring(64, 1, "float32")
    ring.put(np.ones((50, 1), np.float32))
    ring.take(np.zeros((20, 1), np.float32))
    ring.put(np.ones((30, 1), np.float32))  # over the ring's end
    ring.fade_and_end(margin=10, length=20)
    out = np.zeros((64, 1), np.float32)
    assert ring.take(out) == 30
    assert (out[:10] == 1).all()
    assert (np.diff(out[9:30, 0]) < 0).all()
    assert 0 < out[29, 0] < 0.01
    assert ring.ended
    assert ring.held == 0


def test_a_fade_rises_from_nothing_to_everything():
    ramp = fade(1000)
    assert (np.diff(ramp) > 0).all()
    assert 0 < ramp[0] < 1e-5
    assert 1 - 1e-5 < ramp[-1] < 1
    assert ramp + ramp[::-1] == pytest.approx(np.ones(1000))
    assert len(fade(0)) == 0


class Clocked(FakeSound):
    """A device that takes no more than time allows: the test's thread is its clock."""

    def OutputStream(self, **how):
        self.stream = SimpleNamespace(
            latency=0.01, start=lambda: None, close=lambda ignore_errors: None, callback=how["callback"],
            finished=how["finished_callback"],
        )  # fmt: skip
        return self.stream


def test_a_reader_that_falls_behind_leaves_all_outputs_silent_and_skips_nothing(monkeypatch):
    clocked = Clocked()
    monkeypatch.setitem(sys.modules, "sounddevice", clocked)
    more = threading.Event()

    def source():
        for number in range(1, 9):
            if number == 7:
                more.wait(30)
            yield np.full((1000, 2), number, np.int32)

    player = Player(Device(0, "d", 2, 48000), 48000, 2, source(), dtype="int32", ahead_s=0.2)
    with player:
        while player.ring.held < 6000:
            time.sleep(0.001)
        heard = []
        out = np.full((1000, 2), -1, np.int32)
        for _ in range(7):
            # As if this second had passed: the device's clock is right.
            player._begun -= 1.0
            clocked.stream.callback(out, 1000, None, FINE)
            heard += out.tolist()
        assert player.underruns == 1
        more.set()
        while not player.ring.ended:
            time.sleep(0.001)
        for _ in range(2):
            player._begun -= 1.0
            clocked.stream.callback(out, 1000, None, FINE)
            heard += out.tolist()
        with pytest.raises(clocked.CallbackStop):
            clocked.stream.callback(out, 1000, None, FINE)
        assert not out.any()
        clocked.stream.finished()
        assert player.wait(1.0)
    wanted = [1, 2, 3, 4, 5, 6, 0, 7, 8]
    assert heard == [[number, number] for number in wanted for _ in range(1000)]


@pytest.mark.parametrize(
    ("count", "told"),
    [(0, "no underrun."), (1, "the reader fell behind once, "), (3, "the reader fell behind 3 times, ")],
)
def test_underruns_in_words(count, told):
    assert underruns(count).startswith(told)


@pytest.mark.parametrize("command", ["play", "hear"])
def test_underruns_are_told_at_the_end(monkeypatch, capsys, tmp_path, command):
    """A device that says that it got its frames too late, four times."""
    make_show(tmp_path / "show", 2, noise(48000, 2))
    monkeypatch.setitem(sys.modules, "sounddevice", Late(plays=400))
    words = ["--yes"] if command == "play" else ["--from", "0"]
    assert cli.run([command, str(tmp_path / "show"), "--device", "0", *words]) == 0
    out = capsys.readouterr().out
    assert "the reader fell behind 4 times, and all outputs were silent for a moment each time. " in out


class Late(FakeSound):
    def OutputStream(self, **how):
        calls = iter(range(10**9))
        real, done = how["callback"], how["finished_callback"]

        def late(out, frames, when, status):
            real(out, frames, when, SimpleNamespace(output_underflow=next(calls) < 4))

        stream = super().OutputStream(**{**how, "callback": late})

        def run():
            with contextlib.suppress(self.CallbackStop):
                while True:
                    stream.callback(stream.out, len(stream.out), None, None)
            done()

        stream._run = run
        return stream


def test_an_underflow_that_the_device_reports_is_counted(monkeypatch):
    clocked = Clocked()
    monkeypatch.setitem(sys.modules, "sounddevice", clocked)
    blocks = iter([np.ones((5000, 2), np.int32)])
    with Player(Device(0, "d", 2, 48000), 48000, 2, blocks, dtype="int32", ahead_s=0.2) as player:
        clocked.stream.callback(np.zeros((100, 2), np.int32), 100, None, SimpleNamespace(output_underflow=True))
        assert player.underruns == 1
        clocked.stream.finished()


def test_what_the_reader_raises_is_raised_again(monkeypatch):
    clocked = Clocked()
    monkeypatch.setitem(sys.modules, "sounddevice", clocked)

    def source():
        yield np.ones((10, 2), np.int32)
        raise RuntimeError("the drive is gone")

    def play():
        with Player(Device(0, "d", 2, 48000), 48000, 2, source(), dtype="int32", ahead_s=0.2) as player:
            clocked.stream.finished()
            player.wait(1.0)

    with pytest.raises(RuntimeError, match=r"^the drive is gone$"):
        play()
