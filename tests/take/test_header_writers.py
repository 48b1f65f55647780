"""Files by real writers: the sound-file library, ffmpeg and sox."""

from __future__ import annotations

import datetime
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

from replay.take.header import read_header
from tests.need import need

RATE = 48000


def noise(frames: int, channels: int = 1) -> np.ndarray:
    return np.random.default_rng(7).uniform(-0.5, 0.5, (frames, channels))


def ffmpeg(*arguments: object) -> None:
    need("ffmpeg")
    subprocess.run(["ffmpeg", "-v", "error", "-y", *map(str, arguments)], check=True)


@pytest.fixture
def poly(tmp_path: Path) -> Path:
    """56 channels of 24 bits, 0.1 s."""
    path = tmp_path / "poly.wav"
    soundfile.write(path, noise(4800, 56), RATE, subtype="PCM_24")
    return path


@pytest.mark.parametrize(
    ("subtype", "encoding"),
    [("PCM_U8", "u8"), ("PCM_16", "s16"), ("PCM_24", "s24"), ("PCM_32", "s32"), ("FLOAT", "f32"), ("DOUBLE", "f64")],
)
@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64"])
def test_plain_files_of_the_library(tmp_path, form, subtype, encoding):
    path = tmp_path / "a.wav"
    soundfile.write(path, noise(1001, 3), RATE, format=form, subtype=subtype)
    opened = read_header(path)
    assert opened.troubles == ()
    file = opened.file
    assert (file.encoding, file.channels, file.frames, file.rate) == (encoding, 3, 1001, RATE)
    if subtype == "PCM_16":
        raw = np.frombuffer(path.read_bytes(), "<i2", 3003, file.data_offset).reshape(-1, 3)
        assert np.array_equal(raw, soundfile.read(path, dtype="int16", always_2d=True)[0])


@pytest.mark.parametrize(
    ("suffix", "form", "subtype", "bits", "is_float"),
    [
        ("flac", "FLAC", "PCM_24", 24, False),
        ("w64", "W64", "PCM_24", 24, False),
        ("aiff", "AIFF", "PCM_24", 24, False),
        ("caf", "CAF", "FLOAT", 32, True),
        ("ogg", "OGG", "VORBIS", 32, True),
        ("wav", "WAV", "ULAW", 16, False),
        ("wav", "WAV", "IMA_ADPCM", 32, True),
    ],
)
def test_what_only_the_library_decodes(tmp_path, suffix, form, subtype, bits, is_float):
    path = tmp_path / f"a.{suffix}"
    soundfile.write(path, noise(RATE, 2), RATE, format=form, subtype=subtype)
    opened = read_header(path)
    assert opened.troubles == ()
    file = opened.file
    assert (file.encoding, file.data_offset, file.bits, file.is_float) == (None, 0, bits, is_float)
    assert (file.channels, file.rate, file.frames) == (2, RATE, soundfile.info(path).frames)
    assert (file.names, file.numbers) == (("", ""), (None, None))


def test_the_title_of_a_mono_file_is_its_name(tmp_path):
    path = tmp_path / "a.flac"
    with soundfile.SoundFile(path, "w", RATE, 1) as file:
        file.title = "Snare top"
        file.write(noise(100))
    assert read_header(path).file.names == ("Snare top",)


@pytest.mark.parametrize("suffix", ["flac", "w64", "aiff"])
def test_a_broken_off_copy_is_told_with_its_seconds_and_what_is_there_can_be_read(tmp_path, suffix):
    whole, path = tmp_path / f"whole.{suffix}", tmp_path / f"a.{suffix}"
    soundfile.write(whole, noise(3 * RATE), RATE, subtype="PCM_16")
    content = whole.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    opened = read_header(path)
    (trouble,) = opened.troubles
    assert trouble.code == "truncated"
    assert 1.4 < opened.file.frames / RATE < 1.6
    assert trouble.lost_s == pytest.approx(3 - opened.file.frames / RATE, abs=1e-3)
    with soundfile.SoundFile(path) as file:
        assert len(file.read(opened.file.frames)) == opened.file.frames


def test_rf64_by_ffmpeg(tmp_path, poly):
    ffmpeg("-i", poly, "-rf64", "always", "-c:a", "pcm_s24le", tmp_path / "a.wav")
    assert (tmp_path / "a.wav").read_bytes()[:4] == b"RF64"
    opened = read_header(tmp_path / "a.wav")
    assert (opened.file.channels, opened.file.frames, opened.file.encoding) == (56, 4800, "s24")
    assert opened.troubles == ()


@pytest.mark.parametrize(("suffix", "codec"), [("w64", "pcm_s24le"), ("flac", "flac"), ("caf", "pcm_s24be")])
def test_other_forms_by_ffmpeg(tmp_path, suffix, codec):
    soundfile.write(tmp_path / "a.wav", noise(4800, 2), RATE, subtype="PCM_24")
    ffmpeg("-i", tmp_path / "a.wav", "-c:a", codec, tmp_path / f"b.{suffix}")
    opened = read_header(tmp_path / f"b.{suffix}")
    assert (opened.file.channels, opened.file.frames, opened.file.encoding) == (2, 4800, None)
    assert opened.troubles == ()


@pytest.mark.parametrize(("codec", "kind"), [("pcm_f32le", "f32"), ("pcm_f64le", "f64")])
@pytest.mark.parametrize("channels", [1, 3])
def test_floats_in_w64_by_ffmpeg_are_floats(tmp_path, codec, kind, channels):
    """libsndfile takes them for integers of 32 bits: a healthy take was noise near full scale on every channel."""
    written = noise(4801, channels).astype(np.float32)
    soundfile.write(tmp_path / "a.wav", written, RATE, subtype="FLOAT")
    ffmpeg("-i", tmp_path / "a.wav", "-c:a", codec, tmp_path / "b.w64")
    opened = read_header(tmp_path / "b.w64")
    assert opened.troubles == ()
    assert (opened.file.channels, opened.file.frames, opened.file.encoding) == (channels, 4801, kind)
    assert (opened.file.is_float, opened.file.bits) == (True, int(kind[1:]))
    count = 4801 * channels
    samples = np.fromfile(tmp_path / "b.w64", f"<f{int(kind[1:]) // 8}", count, offset=opened.file.data_offset)
    assert np.array_equal(samples.reshape(-1, channels), written)


def test_a_broken_off_w64_of_floats_is_told(tmp_path):
    soundfile.write(tmp_path / "a.wav", noise(RATE), RATE, subtype="FLOAT")
    ffmpeg("-i", tmp_path / "a.wav", "-c:a", "pcm_f32le", tmp_path / "b.w64")
    content = (tmp_path / "b.w64").read_bytes()
    for there in range(0, 160, 7):  # within the head: whatever is said, nothing is raised
        (tmp_path / "c.w64").write_bytes(content[:there])
        file = read_header(tmp_path / "c.w64").file
        assert file is None or file.frames == 0
    (tmp_path / "c.w64").write_bytes(content[: len(content) // 2])
    opened = read_header(tmp_path / "c.w64")
    (trouble,) = opened.troubles
    assert trouble.code == "truncated"
    assert trouble.lost_s == pytest.approx(0.5, abs=1e-3)
    assert opened.file.frames == pytest.approx(RATE / 2, abs=100)


def test_bext_by_ffmpeg(tmp_path):
    soundfile.write(tmp_path / "a.wav", noise(480), RATE)
    fields = (
        "description=Mill Yard",
        "origination_date=2026-11-20",
        "origination_time=20:30:00",
        "time_reference=3542400000",
    )
    metadata = [argument for field in fields for argument in ("-metadata", field)]
    ffmpeg("-i", tmp_path / "a.wav", "-write_bext", "1", *metadata, tmp_path / "b.wav")
    file = read_header(tmp_path / "b.wav").file
    assert (file.start_frame, file.description) == (3_542_400_000, "Mill Yard")
    assert file.made == datetime.datetime(2026, 11, 20, 20, 30).timestamp()


def test_wave_files_by_sox(tmp_path):
    need("sox")
    path = tmp_path / "a.wav"
    subprocess.run(["sox", "-n", "-r", "48000", "-b", "24", "-c", "2", path, "synth", "0.5", "sine", "440"], check=True)
    opened = read_header(path)
    assert (opened.file.encoding, opened.file.channels, opened.file.frames) == ("s24", 2, 24000)
    assert opened.troubles == ()


@pytest.mark.parametrize(
    "command",
    [
        ["sox", "-n", "-r", "48000", "-b", "16", "-t", "wav", "-", "synth", "1", "sine", "440"],
        ["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "sine=d=1:r=48000", "-f", "wav", "-"],
    ],
)
def test_writers_into_a_pipe_leave_no_length(tmp_path, command):
    need(command[0])
    written = subprocess.run(command, check=True, capture_output=True).stdout
    (tmp_path / "a.wav").write_bytes(written)
    opened = read_header(tmp_path / "a.wav", now=0.0)
    assert opened.file.frames == RATE
    assert [trouble.code for trouble in opened.troubles] == ["truncated"]
    assert "a.wav was never closed" in opened.troubles[0].detail


def test_a_big_endian_wave_file_by_sox(tmp_path):
    need("sox")
    path = tmp_path / "a.wav"
    subprocess.run(["sox", "-n", "-r", "48000", "-b", "16", "-B", path, "synth", "0.5", "sine", "440"], check=True)
    assert path.read_bytes()[:4] == b"RIFX"
    assert (read_header(path).file.encoding, read_header(path).file.frames) == (None, 24000)
