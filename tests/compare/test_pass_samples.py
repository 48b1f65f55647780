"""Reading two takes side by side, and the sums of alignment."""

from __future__ import annotations

import numpy as np
import pytest

from replay.compare.same_pass.answer import open_side
from replay.compare.same_pass.match import fitted, reduce
from replay.compare.same_pass.samples import chunks, envelope, likeness, stretch
from replay.take.model import Take
from tests.compare.passes import RATE, sound, write

CODES = sound(1.3, 3, seed=6)


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    return open_side("A", str(write(tmp_path_factory.mktemp("take") / "audio", CODES)))


def truth(start: int, stop: int) -> np.ndarray:
    """The samples of any stretch, with zeros around the take."""
    out = np.zeros((stop - start, CODES.shape[1]))
    for frame in range(max(start, 0), min(stop, len(CODES))):
        out[frame - start] = CODES[frame] / 2**23
    return out


@pytest.mark.parametrize("start", [-5000, -1, 0, 4799, 30_000, len(CODES) - 10, len(CODES) + 5])
@pytest.mark.parametrize("frames", [0, 1, 4801, 20_000])
def test_a_stretch(take: Take, start: int, frames: int) -> None:
    assert (stretch(take, take.tracks, start, frames) == truth(start, start + frames)).all()


@pytest.mark.parametrize(
    ("start", "stop"), [(0, len(CODES)), (-7001, 9000), (777, 50_001), (len(CODES) - 100, len(CODES) + 9000)]
)
@pytest.mark.parametrize("length", [1000, 4800, RATE])
def test_chunks_are_the_stretch_in_pieces(take: Take, start: int, stop: int, length: int) -> None:
    found = [chunk.copy() for chunk in chunks(take, take.tracks, start, stop, length)]
    assert {len(chunk) for chunk in found[:-1]} <= {length}
    assert (np.concatenate(found) == truth(start, stop)).all()


def test_chunks_beyond_the_take_are_silent(take: Take) -> None:
    found = [chunk.copy() for chunk in chunks(take, take.tracks, len(CODES) + 100, len(CODES) + 5100, 1000)]
    assert [(len(chunk), chunk.any()) for chunk in found] == [(1000, False)] * 5


def test_an_envelope_is_the_level_of_every_10_ms(take: Take) -> None:
    found = envelope(take, take.tracks)
    assert len(found) == 130
    cell = CODES[480 * 57 : 480 * 58, 1] / 2**23
    assert found[57, 1] == pytest.approx(10 * np.log10((cell * cell).mean()), abs=1e-3)


def test_likeness_is_the_correlation_of_every_shift() -> None:
    rng = np.random.default_rng(1)
    x, y = rng.standard_normal(50), rng.standard_normal(90)
    y[20:70] = -2 * x
    found = likeness(x, y)
    by_hand = [
        float(x @ y[k : k + 50]) / np.sqrt(float(x @ x) * float(y[k : k + 50] @ y[k : k + 50])) for k in range(41)
    ]
    assert found == pytest.approx(by_hand)
    assert (int(np.argmin(found)), found.min()) == (20, pytest.approx(-1))


def test_likeness_of_silence_is_none() -> None:
    x = np.ones(10)
    y = np.concatenate([np.full(30, 1e6), np.zeros(40)])
    assert (likeness(x, np.zeros(30)) == 0).all()
    assert (likeness(x, y)[30:] == 0).all()


@pytest.mark.parametrize(
    ("kind", "value", "expected"),
    [("cut", -1, -256), ("cut", 255, 0), ("rounded", 127, 0), ("rounded", 128, 256), ("rounded", 8388607, 8388352)],
)
def test_sixteen_of_twenty_four_bits(kind: str, value: int, expected: int) -> None:
    """The greatest code does not round up beyond full scale."""
    assert reduce(np.array([value / 2**23]), kind, 16)[0] * 2**23 == expected


@pytest.mark.parametrize("delay", [0.0, 0.4, -0.75])
def test_the_best_gain_at_a_part_of_a_frame(delay: float) -> None:
    rng = np.random.default_rng(2)
    spectrum = np.fft.rfft(rng.standard_normal(2048) * np.hanning(2048))
    spectrum[600:] = 0
    turn = np.exp(-2j * np.pi * np.arange(len(spectrum)) * delay / 2048)
    x, y = np.fft.irfft(spectrum), np.fft.irfft(spectrum * turn) * -0.5
    gain, rest = fitted(x, y)
    assert gain == pytest.approx(-0.5, abs=0.005)
    assert rest < 1e-3 * float(y @ y)
