"""Octave bands, mains lines and jumps: what known signals must read, and that no cutting changes a figure."""

from __future__ import annotations

import numpy as np
import pytest

from replay.grid import hop_start, hops_of
from replay.meters import bands, jumps, mains
from replay.take.block import HALO, Block


def measured(samples: np.ndarray, rate: int) -> dict[str, np.ndarray]:
    """Columns of the three meters over (frames, 8) samples, fed as the pass does; 10 ms columns end to end."""
    meters = [one.Meter(rate) for one in (bands, mains, jumps)]
    columns = [column for one in (bands, mains, jumps) for column in one.COLUMNS]
    block = Block(rate)
    found: dict[str, list[np.ndarray]] = {column.name: [] for column in columns}
    for hop in range(hops_of(len(samples), rate)):
        start, stop = hop_start(hop, rate), hop_start(hop + 1, rate)
        block.samples[:HALO] = block.samples[block.rows : block.rows + HALO]
        block.samples[HALO:] = 0.0
        part = samples[start:stop]
        block.samples[HALO : HALO + len(part)] = part
        block.start, block.rows = start, stop - start
        block.cells[:] = [HALO + (2 * (10 * hop + k) * rate + 100) // 200 - start for k in range(11)]
        out = {one.name: np.zeros((10, 8)) if one.period_ms == 10 else np.zeros(8) for one in columns}
        for meter in meters:
            meter.feed(block, out)
        for one in columns:
            found[one.name].append(np.atleast_2d(out[one.name]))
    return {name: np.concatenate(values) for name, values in found.items()}


def sines(rate: int, seconds: float, *hz: float, peak: float = 0.5) -> np.ndarray:
    time = np.arange(round(seconds * rate)) / rate
    out = np.zeros((len(time), 8))
    for lane, one in enumerate(hz):
        out[:, lane] = peak * np.sin(2 * np.pi * one * time)
    return out


@pytest.mark.parametrize("rate", [48000, 44100, 96000])
def test_a_tone_in_the_middle_of_an_octave_reads_its_own_energy_in_its_band(rate):
    edges = bands.edges(rate)
    middles = [float(np.sqrt(edges[band] * edges[band + 1])) for band in range(2, 9)]
    found = measured(sines(rate, 2.0, *middles), rate)
    for lane, band in enumerate(range(2, 9)):
        expected = 0.125 * rate / 10
        levels = np.array([found[f"band_{k}"][10:, lane].mean() for k in range(bands.BANDS)])
        # Within half a decibel of the sine's own energy, and what leaks over the edges is 10 dB down.
        assert levels[band] == pytest.approx(expected, rel=0.12), (band, middles[lane])
        assert np.delete(levels, band).max() < 0.1 * expected


def test_edges_at_48_kilohertz():
    assert list(bands.edges(48000)) == [0, 46.875, 93.75, 187.5, 375, 750, 1500, 3000, 6000, 12000, 24000, 24000]
    assert bands.edges(96000)[-2:].tolist() == [24000, 48000]


@pytest.mark.parametrize("rate", [8000, 22050, 48000, 192000])
def test_bands_of_noise_add_up_to_its_energy(rate):
    """But for what lies near the edges: there a tone loses half its energy between both bands."""
    noise = np.random.default_rng(4).standard_normal((4 * rate, 8)) * 0.1
    found = measured(noise, rate)
    total = sum(found[f"band_{k}"][10:] for k in range(bands.BANDS)).mean(axis=0)
    assert np.all(total < 0.01 * rate / 10 * 1.02)
    assert np.all(total > 0.01 * rate / 10 * 0.75)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_hum_is_read_at_its_frequency_and_level(rate):
    samples = sines(rate, 6.0, 50.1, 59.9, 50.0, peak=0.1) + sines(rate, 6.0, 100.2, 119.8, peak=0.02)
    samples += 1e-5 * np.random.default_rng(1).standard_normal(samples.shape)
    columns = measured(samples, rate)
    names = [column.name for column in mains.COLUMNS]
    # (seconds, multiples, lanes)
    found = {name: columns[name][:60].reshape(6, mains.PER_SECOND, 8) for name in names}
    fifty, sixty = found["mains_50"][4], found["mains_60"][4]
    # A Hann window's own loss between two bins is 1.4 dB at most.
    level = 10 * np.log10(np.array([fifty[0, 0], fifty[1, 0], sixty[0, 1], sixty[1, 1]]))
    expected = 10 * np.log10(np.array([0.005, 0.0002, 0.005, 0.0002]))
    assert np.all(level <= expected + 0.05)
    assert np.all(level >= expected - 1.5)
    assert found["mains_hz"][4, 0, :1] == pytest.approx([50.1], abs=0.03)
    assert found["mains_hz"][4, 1, 1:2] == pytest.approx([59.9], abs=0.03)
    assert np.all(fifty[0, 2] > 1e4 * found["mains_50_beside"][4, 0, 2])


def test_one_jump_stands_out_by_the_root_of_the_cell():
    samples = np.zeros((4800, 8))
    samples[700:, 0] = 0.25
    found = measured(samples, 48000)
    assert found["jump"][1, 0] == 0.25
    assert found["jump_crest"][1, 0] == pytest.approx(480**0.5)
    assert found["jump"][[0, 2]].max() == 0


def test_nothing_depends_on_neighbours_lanes_or_powers_of_two():
    rate = 22050
    noise = np.random.default_rng(2).standard_normal((5 * rate, 8)) * 0.2
    order = [3, 1, 7, 0, 2, 6, 5, 4]
    whole, moved, alone = measured(noise, rate), measured(noise[:, order], rate), noise.copy()
    alone[:, 1:] = 0.0
    single, louder = measured(alone, rate), measured(2.0 * noise, rate)
    laws = {column.name: column.law for one in (bands, mains, jumps) for column in one.COLUMNS}
    for name, values in whole.items():
        assert np.array_equal(values[..., order], moved[name]), name
        assert np.array_equal(values[..., 0], single[name][..., 0]), name
        factor = {"shift": 2.0, "square": 4.0, "same": 1.0}[laws[name]]
        assert np.array_equal(values * factor, louder[name]), name
