"""The commands on a real PortAudio: what arrives at the device is what the model says, to the sample."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.sound.alsa import ROOT, SoundSystem
from tests.sound.shows import make_show, noise


@pytest.fixture
def sound(tmp_path) -> SoundSystem:
    return SoundSystem(tmp_path)


def replay(sound: SoundSystem, *words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "replay", *words],
        cwd=ROOT,
        env=sound.environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
    )


def place_in(whole: np.ndarray, part: np.ndarray) -> int:
    """Where `part` begins in `whole`: at the one place at which its first frame stands."""
    (places,) = np.nonzero((whole == part[0]).all(axis=1))
    assert len(places) == 1
    return int(places[0])


@pytest.mark.parametrize("outputs", [32, 128])
def test_what_arrives_is_what_was_recorded(sound, tmp_path, outputs):
    codes = noise(4 * 48000, outputs)
    make_show(tmp_path / "show", outputs, codes)
    done = replay(sound, "play", str(tmp_path / "show"), "--device", "desk", "--yes")
    assert done.stderr == ""
    assert done.returncode == 0
    assert done.stdout.endswith(f"Played 0:04 to {outputs} outputs: no underrun.\n")
    arrived = sound.arrived(outputs, "<i4")
    # Between the second of fading in and the 0.3 s of fading out, every sample of every output, in one piece.
    steady = codes[48000 : 4 * 48000 - 14400]
    at = place_in(arrived, steady[:1])
    assert np.array_equal(arrived[at : at + len(steady)], steady)
    # The fades: as long as they should be, and never louder than what was recorded.
    before, after = arrived[:at], arrived[at + len(steady) :]
    assert 47990 <= len(before) <= 48000
    assert 14390 <= len(after) <= 14400
    assert (np.abs(before) <= np.abs(codes[48000 - len(before) : 48000])).all()
    assert (np.abs(after) <= np.abs(codes[-14400:][: len(after)])).all()


def test_a_range_of_the_take_with_crossed_returns(sound, tmp_path):
    codes = noise(4 * 48000, 4)
    make_show(tmp_path / "show", 4, codes, columns="return,trim", cells={1: "3,-6", 2: "1,0", 3: "2,0", 4: "live,0"})
    done = replay(sound, "play", str(tmp_path / "show"), "--device", "desk", "--yes", "--from", "0.5", "--to", "3.5")
    assert done.returncode == 0
    assert "Not played, for they are live on playback: channels 4." in done.stdout
    assert "Not played, for no channel returns from them: tracks 4." in done.stdout
    assert "     1      1  2 Source 2\n" in done.stdout
    # The list crosses the returns: the channel's return says which output, and the slot's own track goes there.
    arrived = sound.arrived(3, "<i4")
    steady = codes[24000 + 48000 : 3 * 48000 + 24000 - 14400, :3]
    at = place_in(arrived, steady[:1])
    assert np.array_equal(arrived[at : at + len(steady)], steady)


def test_float_takes_are_flat_beyond_full_scale_and_told(sound, tmp_path):
    import soundfile

    codes = noise(3 * 48000, 2)
    samples = make_show(tmp_path / "show", 2, codes, subtype="FLOAT")
    samples[70000:70010, 0] = 1.5
    path = tmp_path / "show" / "audio" / "001 Source 1.wav"
    soundfile.write(path, samples[:, 0].astype(np.float32), 48000, subtype="FLOAT")
    done = replay(sound, "play", str(tmp_path / "show"), "--device", "desk", "--yes")
    assert "10 samples were beyond full scale (a float take) and left flat.\n" in done.stdout
    arrived = sound.arrived(2, "<i4")
    steady = codes[48000 : 3 * 48000 - 14400].copy()
    steady[70000 - 48000 : 70010 - 48000, 0] = 2**31 - 1
    at = place_in(arrived, steady[:1])
    assert np.array_equal(arrived[at : at + len(steady)], steady)


def test_hear_begins_20_db_down_in_the_middle(sound, tmp_path):
    samples = make_show(tmp_path / "show", 2, noise(2 * 48000, 2), columns="trim,polarity", cells={2: "-6,inverted"})
    done = replay(sound, "hear", str(tmp_path / "show"), "2", "--from", "0", "--device", "desk")
    assert (done.returncode, done.stderr) == (0, "")
    arrived = sound.arrived(2, "<f4").astype(float)
    wanted = samples[:, 1] * -(10 ** (-6 / 20)) * 10 ** (-20 / 20)
    assert np.array_equal(arrived[:, 0], arrived[:, 1])
    # Beyond the fades of 100 ms at both ends.
    middle = wanted[9600 : 2 * 48000 - 9600]
    begin = int(np.argmin([np.abs(arrived[at : at + 500, 0] - middle[:500]).max() for at in range(9500, 9700)])) + 9500
    assert np.abs(arrived[begin : begin + len(middle), 0] - middle).max() < 1e-7


def test_hear_begins_at_the_loudest_stretch_and_says_the_cautions_first(sound, tmp_path):
    codes = noise(24 * 48000, 1, peak=0.02)
    codes[11 * 48000 : 19 * 48000] = noise(8 * 48000, 1, seed=5, peak=0.4)
    samples = make_show(tmp_path / "show", 1, codes)
    done = replay(sound, "hear", str(tmp_path / "show"), "1", "--to", "12.5", "--device", "desk")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(
        "Begin with the headphones turned down: it starts at -20 dB and never passes -10 dBFS, but an amplifier "
        "follows.\nOver loudspeakers, mute the show's amplifiers first. "
    )
    arrived = sound.arrived(2, "<f4").astype(float)
    # Up to 12.5 s the loudest eight seconds are the last eight.
    assert len(arrived) == pytest.approx(8 * 48000, abs=20)
    wanted = samples[int(4.5 * 48000) :, 0] * 0.1
    ahead = len(wanted[: 8 * 48000]) - len(arrived)
    assert arrived[48000:96000, 0] == pytest.approx(wanted[48000 + ahead : 96000 + ahead], abs=1e-7)


@pytest.mark.parametrize("words", [("1", "2"), ("--bus", "main")], ids=["several channels", "a bus"])
def test_hear_several_together(sound, tmp_path, words):
    show = tmp_path / "show"
    samples = make_show(show, 2, noise(2 * 48000, 2), columns="bus", cells={1: "main:0", 2: "main:0"})
    (show / "patch.toml").write_text((show / "patch.toml").read_text() + "\n[bus.main]\n")
    done = replay(sound, "hear", str(show), *words, "--from", "0", "--level", "-30", "--device", "desk")
    assert (done.returncode, done.stderr) == (0, "")
    arrived = sound.arrived(2, "<f4").astype(float)
    wanted = samples.sum(axis=1) * 10 ** (-30 / 20)
    middle = wanted[9600:19200]
    begin = int(np.argmin([np.abs(arrived[at : at + 500, 0] - middle[:500]).max() for at in range(9500, 9700)])) + 9500
    assert np.abs(arrived[begin : begin + len(middle), 0] - middle).max() < 1e-7


def test_hear_converts_a_rate_that_the_device_lacks(sound, tmp_path):
    # The null device takes every rate; the number of frames says at which one it was opened.
    make_show(tmp_path / "show", 1, noise(44100, 1), rate=44100)
    program = (
        "import sys; import replay.sound.device as d; d.takes_rate = lambda *a: False;"
        "from replay.cli import run; sys.exit(run(sys.argv[1:]))"
    )
    words = ["hear", str(tmp_path / "show"), "1", "--from", "0", "--device", "desk"]
    done = subprocess.run(
        [sys.executable, "-c", program, *words],
        env=sound.environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    import sounddevice  # noqa: F401 - the rate that PortAudio gives a device by default is 44.1 or 48 kHz

    arrived = sound.arrived(2, "<f4")
    # One second, whatever the rate; fades and the filter's ends are all but silent.
    assert min(abs(len(arrived) - rate) for rate in (44100, 48000)) < 200


def test_hear_begins_just_before_a_finding(sound, tmp_path):
    codes = noise(6 * 48000, 1, peak=0.3)
    codes[4 * 48000 : 4 * 48000 + 100] = (2**23 - 1) * 256
    make_show(tmp_path / "show", 1, codes)
    show = str(tmp_path / "show")
    done = replay(sound, "hear", show, "--finding", "clipped-ch1", "--device", "desk")
    assert (done.returncode, done.stderr) == (0, "")
    arrived = sound.arrived(2, "<f4")
    # The clip, at -20 dB, comes 2 s after the beginning, and 2 s are left behind it.
    at = int(np.argmax(arrived[:, 0] > 0.0999))
    assert at == pytest.approx(2 * 48000, abs=10)
    assert len(arrived) == pytest.approx(4 * 48000, abs=20)
    done = replay(sound, "hear", show, "--finding", "clipped-ch2", "--device", "desk")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "replay: this take has no finding clipped-ch2 (did you mean clipped-ch1?)\n"


def test_nobody_to_ask_and_nothing_is_played(sound, tmp_path):
    make_show(tmp_path / "show", 2, noise(48000, 2))
    done = replay(sound, "play", str(tmp_path / "show"), "--device", "desk")
    assert done.returncode == 2
    assert done.stderr == "replay: nobody can be asked before it plays (add --yes where that is meant)\n"
    assert "CAUTION Mute all outputs" in done.stdout
    assert not sound.capture.exists() or not np.fromfile(sound.capture, "<i4").any()


def test_without_a_device_the_list_of_them_is_told(sound, tmp_path):
    make_show(tmp_path / "show", 2, noise(48000, 2))
    done = replay(sound, "play", str(tmp_path / "show"))
    assert done.returncode == 2
    assert done.stderr.startswith("replay: say with --device which device goes into the desk (there are: ")
    assert "desk (128 outputs)" in done.stderr


def test_an_unknown_device_and_too_few_outputs(sound, tmp_path):
    make_show(tmp_path / "show", 130, noise(4800, 130))
    done = replay(sound, "play", str(tmp_path / "show"), "--device", "desk", "--yes")
    assert done.returncode == 2
    assert done.stderr.startswith("replay: desk has 128 outputs, and 130 are needed (choose another with --device; ")
    done = replay(sound, "hear", str(tmp_path / "show"), "--device", "headphones")
    assert done.returncode == 2
    assert done.stderr.startswith("replay: no device is called 'headphones' (there are: ")


MEMORY = """
import sys, threading, time
def resident():
    for line in open('/proc/self/status'):
        if line.startswith('VmRSS'):
            return int(line.split()[1]) // 1024
import replay.sound.player as player
marks = {}
feed = player.Player._callback
def watched(self, out, frames, when, status):
    minute = self.delivered // self.rate // 60
    if minute not in marks:
        marks[minute] = resident()
    return feed(self, out, frames, when, status)
player.Player._callback = watched
from replay.cli import run
status = run(sys.argv[1:])
print('minutes', max(marks), 'at 5', marks[5], 'most', max(v for k, v in marks.items() if k >= 5), file=sys.stderr)
sys.exit(status)
"""


def test_an_hour_of_play_needs_no_more_memory_than_its_first_minutes(sound, tmp_path):
    if not Path("/proc/self/status").exists():
        pytest.skip("needs /proc")
    from replay.sound.wav_file import Shape, header

    make_show(tmp_path / "show", 8, noise(4800, 8))
    frames = 3600 * 48000
    for path in (tmp_path / "show" / "audio").iterdir():
        # An hour with holes in it: the disk stores nothing, and reads it as silence.
        shape = Shape(frames=frames, rate=48000, encoding="s24", names=["x"], numbers=[int(path.name[:3])])
        with path.open("wb") as file:
            head = header(shape)
            file.write(head)
            file.truncate(len(head) + shape.data_bytes)
    done = subprocess.run(
        [sys.executable, "-c", MEMORY, "play", str(tmp_path / "show"), "--device", "nowhere", "--yes"],
        env=sound.environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=500,
    )  # fmt: skip
    assert done.returncode == 0
    assert done.stdout.endswith("Played 1:00:00 to 8 outputs: no underrun.\n")
    told = done.stderr.split()
    assert int(told[1]) >= 59
    assert int(told[6]) - int(told[4]) < 10
