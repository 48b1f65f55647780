"""What `hear` makes of channels, before any device."""

from __future__ import annotations

import numpy as np
import pytest

from replay.errors import CallError
from replay.hear import Listening, bus_item, channel_item
from replay.listening.hear import _live, _obey, sounding
from replay.opening import Opened, open_show
from tests.sound.shows import make_show, noise
from tests.sound.test_timecode import biphase

LEVEL = 0.1  # -20 dB


@pytest.fixture
def show(tmp_path) -> Opened:
    cells = {1: "-6,normal,2,stereo,", 2: "0,inverted,1,stereo,", 3: "0,normal,,,main:-20", 4: "0,inverted,,,main:0"}
    make_show(tmp_path / "show", 4, noise(96000, 4), columns="trim,polarity,pair,pairing,bus", cells=cells)
    patch = tmp_path / "show" / "patch.toml"
    patch.write_text(patch.read_text() + "[bus.main]\n")
    return open_show(tmp_path / "show")


def samples() -> np.ndarray:
    return noise(96000, 4) / 2.0**31


def heard(listening: Listening, blocks: int = 1000) -> np.ndarray:
    source = listening.blocks()
    out = [block.copy() for block, _ in zip(source, range(blocks), strict=False)]
    source.close()
    return np.concatenate(out)


def listening(show: Opened, *channels: int, start: int = 0) -> Listening:
    item = channel_item(show, [show.patch.channel(number) for number in channels])
    return Listening([item], 48000, show.take.frames, start=start)


def test_both_sides_of_a_stereo_pair_are_left_and_right(show):
    out = heard(listening(show, 1, 2))
    wanted = samples()[:, :2] * [10 ** (-6 / 20), -1.0] * LEVEL
    steady = slice(4800, -4800)
    assert np.abs(out[steady] - wanted[steady]).max() < 1e-12


def test_one_side_alone_and_a_sum_are_in_the_middle(show):
    steady = slice(4800, -4800)
    out = heard(listening(show, 2))
    assert np.array_equal(out[:, 0], out[:, 1])
    assert np.abs(out[steady, 0] + samples()[steady, 1] * LEVEL).max() < 1e-12
    out = heard(listening(show, 3, 4))
    assert np.abs(out[steady, 0] - (samples()[:, 2] - samples()[:, 3])[steady] * LEVEL).max() < 1e-12


def test_a_bus_is_its_channels_at_their_levels(show):
    out = heard(Listening([bus_item(show, "main")], 48000, 96000, start=0))
    wanted = (samples()[:, 2] * 0.1 - samples()[:, 3]) * LEVEL
    assert np.abs(out[4800:-4800, 0] - wanted[4800:-4800]).max() < 1e-12
    with pytest.raises(CallError, match=r"^the patch has no bus 'man' \(there are: main\)$"):
        bus_item(show, "man")


def test_it_begins_and_ends_softly(show):
    out = np.abs(heard(listening(show, 3)))
    assert out[:48].max() < LEVEL * 0.4 * 0.001
    assert out[-48:].max() < LEVEL * 0.4 * 0.001


def test_keys_change_what_comes_next(show):
    item = channel_item(show, [show.patch.channel(3)])
    other = channel_item(show, [show.patch.channel(4)])
    ears = Listening([item, other], 48000, 96000, start=0)
    source = ears.blocks()

    def blocks(count: int) -> np.ndarray:
        return np.concatenate([next(source).copy() for _ in range(count)])

    blocks(2)
    _obey(ears, "+")
    blocks(1)  # rises along a straight line
    third = samples()[:, 2]
    assert blocks(1)[:, 0] == pytest.approx(third[3 * 4800 : 4 * 4800] * 10 ** (-18 / 20))
    _obey(ears, "p")
    fading = blocks(1)[:, 0]
    assert np.abs(fading[-48:]).max() < 0.001 * LEVEL
    assert not blocks(3).any()
    _obey(ears, "p")
    again = blocks(2)[:, 0]  # goes on where it stopped, the first 100 ms fading in
    assert again[4800:] == pytest.approx(third[6 * 4800 : 7 * 4800] * 10 ** (-18 / 20))
    _obey(ears, "n")
    blocks(1)  # fades out; the other channel goes on from the moment of the key
    after = blocks(2)[:, 0]
    assert ears.index == 1
    assert after[4800:] == pytest.approx(-samples()[:, 3][8 * 4800 : 9 * 4800] * 10 ** (-18 / 20))
    _obey(ears, "b")
    blocks(1)
    assert blocks(2)[4800:, 0] == pytest.approx(-samples()[:, 3][4800:9600] * 10 ** (-18 / 20))
    _obey(ears, "v")
    blocks(2)
    assert ears.index == 0
    _obey(ears, "f")
    rest = list(source)  # beyond the end: the end
    assert sum(map(len, rest)) <= 2 * 4800


def test_loudness_has_bounds(show):
    ears = listening(show, 3)
    for _ in range(100):
        _obey(ears, "+")
    assert ears.gain_db == 0.0
    for _ in range(100):
        _obey(ears, "-")
    assert ears.gain_db == -60.0


def test_moments_say_where_and_how_loud(show):
    ears = listening(show, 1, start=48000)
    heard(ears)
    moment = ears.moment(0.25)
    assert moment.take_s == pytest.approx(1.2)
    wanted = np.abs(samples()[57600:62400, 0]).max() * 10 ** (-6 / 20)
    assert moment.peak_dbfs == pytest.approx(20 * np.log10(wanted))
    assert not moment.clipped
    assert ears.moment(-1.0) is None


def test_the_live_line_says_channel_time_level_and_marks(tmp_path):
    codes = np.zeros((3 * 48000, 1), np.int32)
    codes[:, 0] = noise(3 * 48000, 1, peak=0.5)[:, 0]
    codes[48000:52800, 0] = 2**29  # -12.04 dBFS
    codes[96000:96100, 0] = (2**23 - 1) * 256
    codes[134400:, 0] = 0
    make_show(tmp_path / "show", 1, codes)
    ears = listening(open_show(tmp_path / "show"), 1)
    assert _live(ears, 0.0, 0) == "..."
    heard(ears)
    assert _live(ears, 1.05, 0) == "ch 1 Source 1  0:01.0   -12.0 dBFS  heard at -20 dB  "
    assert _live(ears, 2.05, 2) == "ch 1 Source 1  0:02.0     0.0 dBFS  heard at -20 dB  CLIP  UNDERRUNS 2"
    ears.paused, ears.gain_db = True, -26.0
    assert _live(ears, 2.95, 0) == "ch 1 Source 1  0:02.9    silent     heard at -26 dB  PAUSED"


@pytest.mark.parametrize("kind", ["timecode", "vocal"], ids=["declared", "on a channel that says something else"])
def test_timecode_is_never_heard_at_level(tmp_path, kind):
    code = (np.round(biphase(2000, 2.0, 0.5)[:96000] * 2**23) * 256).astype(np.int32)
    codes = np.stack([code, np.roll(code, 5)], axis=1)
    codes[:, 1] = noise(96000, 1)[:, 0]
    make_show(tmp_path / "show", 2, codes, columns="kind", cells={1: kind, 2: "vocal"})
    ears = listening(open_show(tmp_path / "show"), 1)
    out = heard(ears)
    # -20 dB, and 50 dB less again: 0.5 becomes 0.5 x 10^(-70/20).
    assert np.abs(out).max() <= 0.5 * 10 ** (-70 / 20) * 1.001
    assert ears.moment(1.0).quiet
    ears = listening(open_show(tmp_path / "show"), 2)
    assert np.abs(heard(ears)).max() > 0.03
    assert not ears.moment(1.0).quiet


@pytest.mark.parametrize("begins", [4800 * 3, 4800 * 3 + 1, 4800 * 4 - 1199, 4800 * 4 - 40])
def test_not_even_the_beginning_of_timecode_is_heard_at_level(tmp_path, begins):
    code = (np.round(biphase(2400, 2.0, 0.5)[:96000] * 2**23) * 256).astype(np.int32)
    code[:begins] = 0
    make_show(tmp_path / "show", 1, code[:, None])
    out = heard(listening(open_show(tmp_path / "show"), 1))
    assert np.abs(out).max() == pytest.approx(0.5 * 10 ** (-70 / 20), rel=0.001)


def test_what_reaches_the_device_never_passes_the_ceiling(tmp_path):
    codes = noise(96000, 4, peak=0.9)
    make_show(tmp_path / "show", 4, codes, columns="trim", cells={1: "20", 2: "20", 3: "20", 4: "20"})
    show = open_show(tmp_path / "show")
    for rate in (48000, 44100):
        ears = listening(show, 1, 2, 3, 4)
        ears.gain_db = 0.0
        out = np.concatenate(list(sounding(ears, rate)))
        assert out.dtype == np.float32
        assert len(out) == pytest.approx(2 * rate, abs=2)
        assert np.abs(out).max() <= np.float32(10 ** (-10 / 20))
        assert np.abs(out).max() > 0.2


def test_channels_that_cannot_be_heard_are_all_told(tmp_path):
    make_show(tmp_path / "show", 3, noise(4800, 3), columns="return", cells={1: "live", 3: "live"})
    show = open_show(tmp_path / "show")
    with pytest.raises(CallError) as caught:
        channel_item(show, show.patch.channels)
    assert [str(problem) for problem in caught.value.problems] == [
        "channel 1 Source 1 has no track in this take",
        "channel 3 Source 3 has no track in this take",
    ]
