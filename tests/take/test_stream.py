"""The same audio gives the same figures, to the bit, whatever files it lies in and however the reading is cut."""

from __future__ import annotations

import hashlib
import io
import os
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from replay.grid import hop_start, hops_of, longest_hop
from replay.take import source, stream
from replay.take.block import HALO, Block
from replay.take.model import Track
from replay.take.source import Source
from replay.take.stream import Reader
from tests.tracks import as_samples, codes, everything, measured, mono, track, write

RATE = 48000


def band(channels: int, frames: int, bits: int = 24, seed: int = 4) -> np.ndarray:
    """Left-justified int32 (frames, channels): loud and soft passages, silence, clipped peaks, unlike on each track."""
    rng = np.random.default_rng(seed)
    swell = np.interp(np.arange(frames), np.linspace(0, frames, 12), rng.uniform(0, 1.3, 12))
    samples = rng.uniform(-1, 1, (frames, channels)) * swell[:, None] * rng.uniform(0.2, 1, channels)
    samples[frames // 3 : frames // 3 + min(frames // 4, 12000)] = 0.0
    for n in range(channels):
        for run in range(8):
            at = (n * 977 + run * 6113) % max(1, frames - 20)
            samples[at : at + 3 + run, n] = 1.5 if run % 2 else -1.5
    return codes(samples, bits)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> tuple[np.ndarray, list[dict[str, object]]]:
    """Codes of twenty tracks of 1.37 s, and what is measured of each alone in a mono file."""
    folder = tmp_path_factory.mktemp("mono")
    left_justified = band(20, 65777)
    tracks = [mono(folder, n + 1, left_justified[:, n], encoding="s24") for n in range(20)]
    return left_justified, [everything(measured([one], RATE, folder)[0]) for one in tracks]


def same(tracks: list[Track], expected: list[dict[str, object]], folder: Path, rate: int = RATE, **how) -> None:
    for one in measured(tracks, rate, folder, **how):
        found, wanted = everything(one), expected[one.track - 1]
        assert [name for name in wanted if found[name] != wanted[name]] == []


def test_the_reference_has_something_to_compare(reference) -> None:
    _, expected = reference
    assert len({one["energy"] for one in expected}) == 20
    assert all(one["hops"] == 14 for one in expected)
    assert expected[0]["counts"]["clip-run"] > 5


class TestForms:
    def test_mono_files_together(self, reference, tmp_path: Path) -> None:
        left_justified, expected = reference
        same([mono(tmp_path, n + 1, left_justified[:, n], encoding="s24") for n in range(20)], expected, tmp_path)

    @pytest.mark.parametrize("channels", [2, 8, 20])
    def test_polyphonic(self, reference, tmp_path: Path, channels: int) -> None:
        left_justified, expected = reference
        tracks = []
        for first in range(0, 20, channels):
            cut = left_justified[:, first : first + channels]
            file = write(tmp_path / f"{first}.wav", cut, encoding="s24")
            tracks += [track(first + c + 1, (file, c, 0)) for c in range(cut.shape[1])]
        same(tracks, expected, tmp_path)

    @pytest.mark.parametrize("cuts", [[1], [4800], [4799, 4801, 9600], [31, 32, 33, 30011, 65776]])
    @pytest.mark.parametrize("channels", [1, 10])
    def test_segments(self, reference, tmp_path: Path, cuts: list[int], channels: int) -> None:
        left_justified, expected = reference
        edges = [0, *cuts, len(left_justified)]
        tracks = []
        for first in range(0, 20, channels):
            files = [
                write(tmp_path / f"{first} {a}.wav", left_justified[a:b, first : first + channels], encoding="s24")
                for a, b in pairwise(edges)
            ]
            tracks += [
                track(first + c + 1, *((file, c, a) for file, a in zip(files, edges, strict=False)))
                for c in range(channels)
            ]
        same(tracks, expected, tmp_path)

    @pytest.mark.parametrize(
        ("suffix", "more"),
        [
            ("flac", {"subtype": "PCM_24"}),
            ("w64", {"subtype": "PCM_24"}),
            ("aiff", {"subtype": "PCM_24"}),
            ("caf", {"subtype": "PCM_24"}),
            ("wav", {"subtype": "PCM_32"}),
            ("wav", {"subtype": "FLOAT"}),
            ("wav", {"subtype": "DOUBLE"}),
            ("w64", {"subtype": "DOUBLE"}),
            ("rf64", {"subtype": "PCM_24", "format": "RF64"}),
        ],
        ids=lambda value: value if isinstance(value, str) else value["subtype"],
    )
    @pytest.mark.parametrize("channels", [1, 5])
    def test_containers(self, reference, tmp_path: Path, suffix: str, more: dict, channels: int) -> None:
        left_justified, expected = reference
        data = as_samples(left_justified) if more["subtype"] in ("FLOAT", "DOUBLE") else left_justified
        tracks = []
        for first in range(0, 10, channels):
            name = tmp_path / f"{first}.{'wav' if suffix == 'rf64' else suffix}"
            file = write(name, data[:, first : first + channels], **more)
            tracks += [track(first + c + 1, (file, c, 0)) for c in range(channels)]
        same(tracks, expected, tmp_path)

    def test_sixteen_bits_in_all_that_holds_them(self, tmp_path: Path) -> None:
        left_justified = band(1, 30000, bits=16)[:, 0]
        forms: list[tuple[str, str]] = [
            ("a.wav", "PCM_16"),
            ("b.wav", "PCM_24"),
            ("c.wav", "FLOAT"),
            ("d.flac", "PCM_16"),
        ]
        forms += [("e.aiff", "PCM_16"), ("f.w64", "PCM_24"), ("g.flac", "PCM_24"), ("h.wav", "PCM_32")]
        found = []
        for name, subtype in forms:
            data = as_samples(left_justified) if subtype == "FLOAT" else left_justified
            (one,) = measured([track(1, (write(tmp_path / name, data, subtype=subtype), 0, 0))], RATE, tmp_path)
            found.append(everything(one))
        assert found[0]["effective_bits"] == 16
        assert found[0]["counts"]["clip-run"] > 0
        assert all(one == found[0] for one in found)

    def test_names_that_are_not_utf8(self, tmp_path: Path) -> None:
        """Card readers leave names of any bytes; the library takes them all the same."""
        left_justified = band(1, 9600)[:, 0]
        plain = write(tmp_path / "plain.flac", left_justified, subtype="PCM_24")
        odd = os.fsencode(tmp_path) + b"/S\xfcd.flac"
        try:
            os.rename(plain.path, odd)
        except OSError:
            pytest.skip("this file system refuses such names")
        from replay.take.header import read_header

        file = read_header(Path(os.fsdecode(odd))).file
        assert file is not None
        (one,) = measured([track(1, (file, 0, 0))], RATE, tmp_path)
        (expected,) = measured([mono(tmp_path, 1, left_justified, encoding="s24")], RATE, tmp_path)
        assert everything(one) == everything(expected)


def mixed(folder: Path, left_justified: np.ndarray) -> list[Track]:
    """Twenty tracks in a mixture of forms."""
    poly = write(folder / "poly.wav", left_justified[:, :9], encoding="s24")
    flac = write(folder / "more.flac", left_justified[:, 9:12], subtype="PCM_24")
    tracks = [track(n + 1, (poly, n, 0)) for n in range(9)] + [track(n + 10, (flac, n, 0)) for n in range(3)]
    for n in range(12, 16):
        a, b = (write(folder / f"{n} {i}.wav", left_justified[cut, n], encoding="s24") for i, cut in
                enumerate((slice(0, 20000 + n), slice(20000 + n, None))))  # fmt: skip
        tracks.append(track(n + 1, (a, 0, 0), (b, 0, 20000 + n)))
    for n in range(16, 20):
        data = as_samples(left_justified[:, n]).astype(np.float32)
        tracks.append(track(n + 1, (write(folder / f"{n}.wav", data, encoding="f32"), 0, 0)))
    return tracks


class TestCutting:
    @pytest.mark.parametrize(("read_bytes", "ahead"), [(1, 1), (20000, 2), (1 << 16, 3), (1 << 20, 7), (1 << 24, 50)])
    def test_read_sizes(self, reference, tmp_path: Path, monkeypatch, read_bytes: int, ahead: int) -> None:
        monkeypatch.setattr(stream, "READ_BYTES", read_bytes)
        monkeypatch.setattr(stream, "AHEAD_HOPS", ahead)
        same(mixed(tmp_path, reference[0]), reference[1], tmp_path)

    @pytest.mark.parametrize("seed", range(4))
    def test_any_order_of_tracks(self, reference, tmp_path: Path, seed: int) -> None:
        tracks = mixed(tmp_path, reference[0])
        order = np.random.default_rng(seed).permutation(20)
        same([tracks[i] for i in order], reference[1], tmp_path)

    @pytest.mark.parametrize("size", [1, 3, 7, 8, 9])
    def test_any_grouping(self, reference, tmp_path: Path, size: int) -> None:
        tracks = mixed(tmp_path, reference[0])
        for first in range(0, 20, size):
            same(tracks[first : first + size], reference[1], tmp_path)

    @pytest.mark.parametrize("workers", [1, 2, 3, 8])
    def test_any_number_of_workers(self, reference, tmp_path: Path, workers: int) -> None:
        same(mixed(tmp_path, reference[0]), reference[1], tmp_path, workers=workers)

    def test_threads(self, reference, tmp_path: Path) -> None:
        with ThreadPoolExecutor(3) as pool:
            same(mixed(tmp_path, reference[0]), reference[1], tmp_path, executor=pool, workers=3)

    def test_processes(self, reference, tmp_path: Path) -> None:
        import multiprocessing

        with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
            same(mixed(tmp_path, reference[0]), reference[1], tmp_path, executor=pool, workers=2)

    def test_a_dead_track_among_them(self, reference, tmp_path: Path) -> None:
        tracks = mixed(tmp_path, reference[0])
        silence = np.zeros(len(reference[0]), np.int32)
        dead = [mono(tmp_path, 21 + i, silence[: len(silence) // (i + 1)], encoding="s24") for i in range(2)]
        expected = [*reference[1], *(everything(one) for one in measured(dead, RATE, tmp_path))]
        assert expected[-1]["totals"] == {"sample_peak": 0.0, "not_a_number": 0.0, "over_full_scale": 0.0}
        same([dead[0], *tracks[:3], dead[1], *tracks[3:]], expected, tmp_path)

    def test_progress_ends_at_one(self, reference, tmp_path: Path) -> None:
        from replay.measuring.measure import measure

        shares: list[float] = []
        measure(mixed(tmp_path, reference[0]), RATE, tmp_path, progress=shares.append, workers=1)
        assert shares == sorted(shares)
        assert shares[-1] == 1.0


def aligned(folder: Path, samples: np.ndarray, rate: int) -> dict[str, object]:
    """What is measured of float samples that begin with the take, in one file without holes."""
    return everything(measured([mono(folder, 1, samples, rate)], rate, folder)[0])


COLUMNS_OF_SOUND = ("high", "low", "energy", "sum", "k_energy_10ms", "k_energy", "true_peak", "true_peak_limit")


class TestTime:
    @pytest.mark.parametrize("start", [1, 479, 4800, 4801, 20011])
    def test_a_late_start_is_missing_sound_before_it(self, tmp_path: Path, start: int) -> None:
        left_justified = band(1, 33333)[:, 0]
        late = track(1, (write(tmp_path / "late.wav", left_justified, encoding="s24"), 0, start))
        (one,) = measured([late], RATE, tmp_path)
        padded = np.concatenate([np.zeros(start), as_samples(left_justified)])
        found, expected = everything(one), aligned(tmp_path, padded, RATE)
        assert [name for name in COLUMNS_OF_SOUND if found[name] != expected[name]] == []
        assert found["events"] == expected["events"]
        assert one.coverage == ((start, start + 33333),)
        assert one.hops == hops_of(start + 33333, RATE)
        assert one.present().sum() == 33333

    @pytest.mark.parametrize("gap", [1, 100, 4800, 30007])
    def test_a_gap_between_segments_is_missing_sound(self, tmp_path: Path, gap: int) -> None:
        left_justified = band(1, 40000)[:, 0]
        first = write(tmp_path / "a.wav", left_justified[:17001], encoding="s24")
        second = write(tmp_path / "b.wav", left_justified[17001:], encoding="s24")
        (one,) = measured([track(1, (first, 0, 0), (second, 0, 17001 + gap))], RATE, tmp_path)
        samples = as_samples(left_justified)
        padded = np.concatenate([samples[:17001], np.zeros(gap), samples[17001:]])
        found, expected = everything(one), aligned(tmp_path, padded, RATE)
        assert [name for name in COLUMNS_OF_SOUND if found[name] != expected[name]] == []
        assert one.coverage == ((0, 17001), (17001 + gap, 40000 + gap))
        assert one.whole_hops().tolist() == [
            all(frame < 17001 or frame >= 17001 + gap for frame in range(a, a + 4800)) and a + 4800 <= 40000 + gap
            for a in range(0, 4800 * one.hops, 4800)
        ]

    def test_tracks_of_unlike_length_and_start(self, tmp_path: Path) -> None:
        left_justified = band(9, 60000)
        spans = [(0, 60000), (0, 1), (0, 4799), (5000, 5001), (100, 30000), (59999, 60000), (4800, 9600), (0, 4801),
                 (33, 44444)]  # fmt: skip
        tracks = [
            track(n + 1, (write(tmp_path / f"{n}.wav", left_justified[a:b, n], encoding="s24"), 0, a))
            for n, (a, b) in enumerate(spans)
        ]
        expected = [everything(measured([one], RATE, tmp_path)[0]) for one in tracks]
        same(tracks, expected, tmp_path)
        same(tracks[::-1], expected, tmp_path, workers=1)

    @pytest.mark.parametrize("rate", [8000, 11025, 22050, 44100, 96000, 192000])
    def test_odd_rates_in_any_form(self, tmp_path: Path, rate: int) -> None:
        left_justified = band(3, rate * 7 // 10 + 13)
        tracks = [mono(tmp_path, n + 1, left_justified[:, n], rate, "s24") for n in range(3)]
        expected = [everything(measured([one], rate, tmp_path)[0]) for one in tracks]
        poly = write(tmp_path / "poly.wav", left_justified, rate, "s24")
        same([track(n + 1, (poly, n, 0)) for n in range(3)], expected, tmp_path, rate)
        cut = rate // 3
        files = [
            write(tmp_path / f"part {i}.flac", part, rate, subtype="PCM_24")
            for i, part in enumerate((left_justified[:cut], left_justified[cut:]))
        ]
        same([track(n + 1, (files[0], n, 0), (files[1], n, cut)) for n in range(3)], expected, tmp_path, rate)
        # Nothing falls between two hops.
        samples = as_samples(left_justified)
        for n, one in enumerate(measured(tracks, rate, tmp_path)):
            assert one.present().sum() == len(samples)
            starts = [hop_start(hop, rate) for hop in range(one.hops + 1)]
            parts = [samples[a:b, n] for a, b in pairwise(starts)]
            assert one.column("high").tolist() == [max(0.0, part.max()) for part in parts]
            assert one.column("low").tolist() == [min(0.0, part.min()) for part in parts]

    @pytest.mark.parametrize("frames", [0, 1, 31, 4799, 4800, 4801])
    @pytest.mark.parametrize("encoding", ["s24", "f32"])
    def test_very_short_tracks(self, tmp_path: Path, frames: int, encoding: str) -> None:
        samples = as_samples(codes(np.linspace(0.9, -0.5, frames), 24)) if frames else np.zeros(0)
        (one,) = measured([mono(tmp_path, 1, samples, encoding=encoding)], RATE, tmp_path)
        assert one.hops == -(-frames // 4800)
        assert one.present().tolist() == [min(4800, frames - 4800 * hop) for hop in range(one.hops)]
        assert len(one.column("k_energy_10ms")) == 10 * one.hops
        assert one.totals["sample_peak"] == (abs(samples).max() if frames else 0)
        assert one.column("energy").sum() == pytest.approx((samples**2).sum(), rel=1e-12)

    def test_an_empty_track_beside_others(self, reference, tmp_path: Path) -> None:
        tracks = [mono(tmp_path, 1, reference[0][:, 0], encoding="s24"), mono(tmp_path, 2, np.zeros(0), encoding="s24")]
        one, none = measured(tracks, RATE, tmp_path)
        assert everything(one) == reference[1][0]
        assert (none.hops, none.totals["sample_peak"]) == (0, 0.0)

    def test_no_tracks(self, tmp_path: Path) -> None:
        assert measured([], RATE, tmp_path) == []


class TestBlocks:
    def test_rows_before_the_hop_repeat_the_end_of_the_one_before(self, tmp_path: Path) -> None:
        left_justified = band(1, 22050)[:, 0]
        samples = as_samples(left_justified)
        one = mono(tmp_path, 1, left_justified, 22050, "s24")
        with Reader([one], 22050) as reader:
            group, block = reader.group([0]), Block(22050)
            for hop in range(10):
                group.fill(block, hop)
                start, stop = hop_start(hop, 22050), hop_start(hop + 1, 22050)
                assert (block.start, block.rows) == (start, stop - start)
                padded = np.concatenate([np.zeros(HALO), samples])[start : stop + HALO]
                assert block.samples[: HALO + block.rows, 0].tolist() == padded.tolist()
                assert (block.samples[:, 1:] == 0).all()

    def test_stretches_apart_are_read_and_nothing_between_them(self, tmp_path: Path, monkeypatch) -> None:
        samples = band(1, 60 * 4800)[:, 0]
        one = mono(tmp_path, 1, samples, encoding="s24")
        asked: list[tuple[int, int]] = []
        fadvise = []
        monkeypatch.setattr(os, "posix_fadvise", lambda *given: fadvise.append(given), raising=False)
        monkeypatch.setattr("replay.take.source._in_memory", lambda *given: False)
        load = Source._load
        monkeypatch.setattr(Source, "_load", lambda self, at, n: (asked.append((at, n)), load(self, at, n))[1])
        with Reader([one], RATE, apart=3) as reader:
            group, block = reader.group([0]), Block(RATE)
            for hop in (4, 5, 6, 30, 31, 32):
                group.fill(block, hop)
                part = as_samples(samples)[hop * 4800 : hop * 4800 + 4800]
                assert block.samples[HALO : HALO + block.rows, 0].tolist() == part.tolist()
        assert asked == [(4 * 4800, 3 * longest_hop(RATE)), (30 * 4800, 3 * longest_hop(RATE))]
        assert fadvise == []
        with Reader([one], RATE) as reader:
            reader.group([0]).fill(Block(RATE), 0)
        assert len(fadvise) == 1

    def test_reading_on_after_the_end_is_silence(self, tmp_path: Path) -> None:
        one = mono(tmp_path, 1, np.full(100, 0.5), encoding="s24")
        with Reader([one], RATE) as reader:
            group, block = reader.group([0]), Block(RATE)
            for hop in range(3):
                group.fill(block, hop)
                assert block.samples[HALO:, 0].sum() == (50.0 if hop == 0 else 0.0)
            assert reader.lost(0) == ()


class TestFilesThatBreak:
    """A file that can be read no further is missing from there on; all that lies before and behind it counts."""

    @pytest.mark.parametrize("channels", [1, 10])
    @pytest.mark.parametrize("encoding", ["s24", "f32"])
    def test_cut_short_after_opening(self, tmp_path: Path, channels: int, encoding: str) -> None:
        left_justified = band(channels, 60000)
        samples = as_samples(left_justified)
        file = write(tmp_path / "a.wav", samples, encoding=encoding)
        whole = [track(n + 1, (file, n, 0)) for n in range(channels)]
        # Five bytes into frame 31234.
        os.truncate(file.path, file.data_offset + 31234 * file.frame_bytes + (5 if channels > 1 else 1))
        short = write(tmp_path / "b.wav", samples[:31234], encoding=encoding)
        expected = measured([track(n + 1, (short, n, 0)) for n in range(channels)], RATE, tmp_path)
        for one, wanted in zip(measured(whole, RATE, tmp_path), expected, strict=True):
            assert one.coverage == ((0, 31234),)
            assert one.hops == 13
            for name in ("high", "low", "energy", "sum"):
                assert one.column(name)[:7].tobytes() == wanted.column(name).tobytes()
                assert not one.column(name)[7:].any()
            assert one.events.tolist() == wanted.events.tolist()

    def test_gone_after_opening(self, tmp_path: Path) -> None:
        for name, subtype in (("a.wav", "PCM_24"), ("a.flac", "PCM_24")):
            file = write(tmp_path / name, band(1, 9600)[:, 0], subtype=subtype)
            file.path.unlink()
            (one,) = measured([track(1, (file, 0, 0))], RATE, tmp_path)
            assert (one.coverage, one.hops, one.totals["sample_peak"]) == ((), 2, 0.0)

    def test_the_segment_behind_a_broken_one_counts(self, tmp_path: Path) -> None:
        left_justified = band(1, 60000)[:, 0]
        first = write(tmp_path / "a.wav", left_justified[:30000], encoding="s24")
        second = write(tmp_path / "b.wav", left_justified[30000:], encoding="s24")
        os.truncate(first.path, first.data_offset + 12000 * 3)
        (one,) = measured([track(1, (first, 0, 0), (second, 0, 30000))], RATE, tmp_path)
        assert one.coverage == ((0, 12000), (30000, 60000))
        samples = as_samples(left_justified)
        samples[12000:30000] = 0.0
        expected = aligned(tmp_path, samples, RATE)
        found = everything(one)
        assert [name for name in COLUMNS_OF_SOUND if found[name] != expected[name]] == []

    @pytest.mark.parametrize(("read_bytes", "ahead"), [(1, 1), (1 << 18, 10), (1 << 24, 50)])
    @pytest.mark.parametrize("channels", [1, 3])
    def test_a_damaged_frame_in_a_compressed_file(
        self, tmp_path: Path, monkeypatch, read_bytes: int, ahead: int, channels: int
    ) -> None:
        """What lies before the damage is there to the last frame, however much is read at a time."""
        monkeypatch.setattr(stream, "READ_BYTES", read_bytes)
        monkeypatch.setattr(stream, "AHEAD_HOPS", ahead)
        left_justified = codes(np.random.default_rng(1).uniform(-0.5, 0.5, (96000, channels)), 24)
        file = write(tmp_path / "a.flac", left_justified, subtype="PCM_24")
        content = bytearray(file.path.read_bytes())
        middle = len(content) // 2
        for place in range(middle, middle + 200):
            content[place] ^= 0x5A
        file.path.write_bytes(content)
        found = measured([track(n + 1, (file, n, 0)) for n in range(channels)], RATE, tmp_path)
        # libFLAC's blocks have 4096 frames; the one in the middle is the twelfth.
        (there,) = {one.coverage for one in found}
        assert len(there) == 1
        start, stop = there[0]
        assert start == 0
        assert 11 * 4096 - 1 <= stop <= 11 * 4096
        for n, one in enumerate(found):
            samples = as_samples(left_justified[:stop, n])
            sums = np.add.reduceat(samples, np.arange(0, len(samples), 4800))
            assert one.column("sum")[: len(sums)] == pytest.approx(sums, abs=1e-9)
            assert not one.column("energy")[len(sums) :].any()

    @pytest.mark.parametrize(("read_bytes", "ahead"), [(1, 1), (1 << 18, 10)])
    def test_a_bad_sector(self, tmp_path: Path, monkeypatch, read_bytes: int, ahead: int) -> None:
        """Reads come back short up to the bad place and fail there: what came before is kept."""
        monkeypatch.setattr(stream, "READ_BYTES", read_bytes)
        monkeypatch.setattr(stream, "AHEAD_HOPS", ahead)
        left_justified = band(1, 48000)[:, 0]
        file = write(tmp_path / "a.wav", left_justified, encoding="s24")
        bad = file.data_offset + 3 * 23456 + 1

        class Disk(io.FileIO):
            def readinto(self, buffer) -> int:  # type: ignore[override]
                if self.tell() >= bad:
                    raise OSError(5, "Input/output error")
                return super().readinto(memoryview(buffer)[: min(1000, bad - self.tell())]) or 0

        monkeypatch.setattr(source, "open", lambda path, mode, buffering: Disk(path), raising=False)
        (one,) = measured([track(1, (file, 0, 0))], RATE, tmp_path)
        assert one.coverage == ((0, 23456),)
        samples = as_samples(left_justified)
        assert one.column("sum")[4] == pytest.approx(samples[19200:23456].sum(), abs=1e-9)

    def test_a_file_system_that_takes_no_hints(self, reference, tmp_path: Path, monkeypatch) -> None:
        def refuse(*_: object) -> None:
            raise OSError(22, "Invalid argument")

        if hasattr(os, "posix_fadvise"):
            monkeypatch.setattr(os, "posix_fadvise", refuse)
        same(mixed(tmp_path, reference[0]), reference[1], tmp_path)


def test_nothing_is_written_into_a_take(reference, tmp_path: Path) -> None:
    take, elsewhere = tmp_path / "take", tmp_path / "elsewhere"
    take.mkdir()
    elsewhere.mkdir()
    tracks = mixed(take, reference[0])

    def state() -> dict[str, tuple]:
        return {
            path.name: (path.stat().st_mtime_ns, path.stat().st_size, hashlib.sha256(path.read_bytes()).hexdigest())
            for path in sorted(take.iterdir())
        }

    before = state()
    for path in take.iterdir():
        path.chmod(0o444)
    take.chmod(0o555)
    try:
        same(tracks, reference[1], elsewhere)
        assert state() == before
    finally:
        take.chmod(0o755)


def test_every_file_is_closed(reference, tmp_path: Path, monkeypatch) -> None:
    opened: list = []
    plain, library = open, source.open_file

    def watched(path, mode, buffering):
        opened.append(plain(path, mode, buffering=buffering))
        return opened[-1]

    def watched_library(path):
        opened.append(library(path))
        return opened[-1]

    monkeypatch.setattr(source, "open", watched, raising=False)
    monkeypatch.setattr(source, "open_file", watched_library)
    same(mixed(tmp_path, reference[0]), reference[1], tmp_path)
    assert len(opened) >= 14
    assert any(isinstance(handle, soundfile.SoundFile) for handle in opened)
    assert all(handle.closed for handle in opened)
