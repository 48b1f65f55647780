"""What `play` sends, before any device: wiring, fades, loops."""

from __future__ import annotations

import numpy as np
import pytest

from replay.errors import CallError
from replay.opening import open_show
from replay.play import Playback, ahead_s, wiring
from tests.sound.shows import make_show, noise


def sent(playback: Playback, frames: int) -> np.ndarray:
    blocks, count = [], 0
    source = iter(playback)
    for block in source:
        blocks.append(block.copy())
        count += len(block)
        if count >= frames:
            break
    source.close()
    return np.concatenate(blocks)[:frames]


def test_a_loop_goes_on_to_the_sample_with_a_seam_of_10_ms(tmp_path):
    codes = noise(96000, 3)
    make_show(tmp_path / "show", 3, codes)
    show = open_show(tmp_path / "show")
    start, stop = 10007, 79999  # on no border of anything
    out = sent(Playback(wiring(show), 48000, start, stop, True), 4 * (stop - start))
    length = stop - start
    assert out.dtype == np.int32
    for turn in range(4):
        part = out[turn * length : (turn + 1) * length]
        begin = 24000 + 10996 if turn == 0 else 480  # the first second fades in, or half of a short loop
        assert np.array_equal(part[begin:-480], codes[start:stop][begin:-480])
        assert (np.abs(part[:begin]) <= np.abs(codes[start:stop][:begin])).all()
        assert (np.abs(part[-480:]) <= np.abs(codes[start:stop][-480:])).all()
        assert np.abs(part[-1]).max() < 2**31 * 1e-5


def test_outputs_without_a_channel_are_silent_and_links_count_on(tmp_path):
    codes = noise(9600, 4)
    make_show(tmp_path / "show", 4, codes, columns="return", cells={2: "none"})
    patch = tmp_path / "show" / "patch.toml"
    text = patch.read_text().replace("slots = 4", "slots = 2")
    text = text.replace('sockets = "1-4"', 'sockets = "1-2"').replace('slots = "1-4"', 'slots = "1-2"')
    text += '[[link]]\nname = "second"\nslots = 2\n'
    text += '[[feed]]\nbox = "deck"\nsockets = "3-4"\nlink = "second"\nslots = "1-2"\n'
    patch.write_text(text)
    plan = wiring(open_show(tmp_path / "show"))
    assert [(wire.output, wire.track.number, wire.channels) for wire in plan.wires] == [
        (1, 1, (1,)), (3, 3, (3,)), (4, 4, (4,)),
    ]  # fmt: skip
    assert (plan.live, plan.missing, plan.unused) == ((2,), (), (2,))
    out = sent(Playback(plan, 48000, 0, 9600, False), 9600)
    assert out.shape == (9600, 4)
    assert not out[:, 1].any()
    middle = slice(4795, 4805)  # half of it fades in, half of it out
    assert np.abs(out[middle] - codes[middle] * [1, 0, 1, 1]).max() < 2**31 * 1e-4


def test_a_track_that_the_take_lacks_is_told(tmp_path):
    make_show(tmp_path / "show", 3, noise(4800, 3))
    (tmp_path / "show" / "audio" / "002 Source 2.wav").unlink()
    plan = wiring(open_show(tmp_path / "show"))
    assert plan.missing == (2,)
    assert plan.outputs == 3


def test_nothing_to_play(tmp_path):
    make_show(tmp_path / "show", 2, noise(4800, 2), columns="return", cells={1: "live", 2: "none"})
    with pytest.raises(CallError, match=r"^no channel of this patch has a track in this take"):
        wiring(open_show(tmp_path / "show"))


@pytest.mark.parametrize(("outputs", "seconds"), [(2, 6.0), (56, 6.0), (128, 4.096)])
def test_how_far_the_reader_stays_ahead(outputs, seconds):
    # 96 MiB hold 4.096 s of 128 outputs of 4 bytes at 48 kHz.
    assert ahead_s(outputs, 48000) == pytest.approx(seconds, abs=0.001)


def test_where_a_loop_is(tmp_path):
    make_show(tmp_path / "show", 1, noise(4800, 1))
    plan = wiring(open_show(tmp_path / "show"))
    assert Playback(plan, 48000, 1000, 3000, True).at(4500) == 1500
    assert Playback(plan, 48000, 1000, 3000, False).at(1500) == 2500
