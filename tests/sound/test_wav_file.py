"""Files that we write, read by two others: the sound-file library and our own header reader."""

from __future__ import annotations

import numpy as np
import pytest

from replay.sound.wav_file import Shape, WavFile, encode, file_name, header
from replay.take.header import read_header

CODES = np.random.default_rng(5).integers(-(2**23), 2**23, (1001, 3))


def shape(frames=1001, encoding="s24", channels=3, **more) -> Shape:
    names = ["Kick <in> & out", "Snåre", ""][:channels]
    return Shape(frames=frames, rate=48000, encoding=encoding, names=names, numbers=[4, 2, 9][:channels], **more)


@pytest.mark.parametrize("encoding", ["s24", "s32", "f32", "f64"])
@pytest.mark.parametrize("channels", [1, 2, 3])
@pytest.mark.parametrize("largest", [2**32 - 1, 3000], ids=["RIFF", "RF64"])
def test_samples_and_names_come_back(tmp_path, encoding, channels, largest):
    import soundfile

    path = tmp_path / "x.wav"
    samples = CODES[:, :channels] / 2.0**23
    told = shape(encoding=encoding, channels=channels, reference=123456789012, recorded=1_790_000_000.0)
    with WavFile(path, told, largest) as file:
        for part in np.split(samples, [1, 100, 700]):
            file.write(part)
    assert path.read_bytes()[:4] == (b"RIFF" if largest > 3000 else b"RF64")
    read, rate = soundfile.read(path, dtype="float64", always_2d=True)
    assert rate == 48000
    assert np.array_equal(read, samples)
    opened = read_header(path)
    assert opened.troubles == ()
    held = opened.file
    assert (held.channels, held.frames, held.encoding, held.rate) == (channels, 1001, encoding, 48000)
    assert held.names == ("Kick <in> & out", "Snåre", "")[:channels]
    assert held.numbers == (4, 2, 9)[:channels]
    assert held.start_frame == 123456789012
    assert held.made == 1_790_000_000.0


def test_without_a_date_there_is_no_bext(tmp_path):
    with WavFile(tmp_path / "x.wav", shape(2, channels=1)) as file:
        file.write(np.zeros((2, 1)))
    assert read_header(tmp_path / "x.wav").file.start_frame is None


@pytest.mark.parametrize(("frames", "form"), [(1_431_655_000, b"RIFF"), (1_431_655_700, b"RF64")])
def test_what_32_bits_hold_is_riff_and_no_more(frames, form):
    # 2^32 bytes are 1 431 655 765 frames of 24-bit mono; the chunks before them take some hundred.
    head = header(shape(frames, channels=1))
    assert head[:4] == form
    if form == b"RIFF":
        assert int.from_bytes(head[4:8], "little") == len(head) - 8 + frames * 3 + frames % 2
    else:
        assert head[4:8] == head[-4:] == b"\xff\xff\xff\xff"
        assert head[12:16] == b"ds64"
        riff, data, count = (int.from_bytes(head[at : at + 8], "little") for at in (20, 28, 36))
        assert (riff, data, count) == (len(head) - 8 + frames * 3 + frames % 2, frames * 3, frames)


def test_beyond_full_scale_integers_are_flat_and_floats_are_not():
    high = np.array([[1.0], [2.0], [-1.0], [-3.0]])
    assert encode(high, "s24") == b"\xff\xff\x7f" * 2 + b"\x00\x00\x80" * 2
    assert np.frombuffer(encode(high, "f32"), "<f4").tolist() == [1.0, 2.0, -1.0, -3.0]


def test_a_file_that_is_not_finished_is_an_error_and_nothing_is_written_over(tmp_path):
    def short():
        with WavFile(tmp_path / "x.wav", shape(2, channels=1)) as file:
            file.write(np.zeros((1, 1)))

    with pytest.raises(ValueError, match=r"^1 frames are missing$"):
        short()
    with pytest.raises(FileExistsError):
        short()


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("Kick", "03 Kick.wav"),
        ("../../etc\\x", "03 -..-etc-x.wav"),
        ("a\x1b[2Jb", "03 a-[2Jb.wav"),
        ("", "03.wav"),
        ("x" * 300, f"03 {'x' * 59}.wav"),
        ("dot. . ", "03 dot.wav"),
    ],
)
def test_names_that_every_disk_takes(name, wanted):
    assert file_name(3, name, 2) == wanted
