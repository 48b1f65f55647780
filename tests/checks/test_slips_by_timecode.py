"""How much the clock lost, where the take holds timecode: whole takes through the program."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.checks.sick import RATE, SECONDS, healthy, noise, sines, told
from tests.material.ltc import ltc

KIND = ("timecode", "line")


def slipped(samples: np.ndarray, *slips: tuple[int, int]) -> np.ndarray:
    """Samples of which so many are lost (negative: repeated) before each of these frames of the result, given in order
    of time."""
    pieces, at, read = [], 0, 0
    for frame, lost in slips:
        pieces.append(samples[read : read + frame - at])
        read, at = read + frame - at + lost, frame
    whole = np.concatenate([*pieces, samples[read:]])
    return np.concatenate([whole, np.zeros(max(len(samples) - len(whole), 0))])[: len(samples)]


def take(folder: Path, *slips: tuple[int, int], code: np.ndarray | None = None) -> list:
    """What is told of the clock on four microphones and timecode that lose so much at these frames."""
    held = [sines(hz, {1: -20, 2: -26, 3: -32}) + noise(-85, int(hz)) for hz in (147, 197, 221, 263)]
    played = [slipped(one, *slips) for one in held]
    code = slipped(ltc(RATE, 0, RATE * SECONDS, peak=0.3), *slips) if code is None else code
    return told(folder, *played, (code, *KIND), code="clock-slip")


def test_the_loss_is_told_to_the_sample_with_its_place(tmp_path):
    (found,) = take(tmp_path, (599040, 64))
    assert found.message == (
        "The same break shows on 4 tracks at once (1-4), at 0:12. "
        "Timecode on slot 5 says 64 samples (1.3 ms) were lost at 0:12.480."
    )


def test_several_losses_and_repeats_are_told_one_by_one(tmp_path):
    (found,) = take(tmp_path, (240000, 1), (480000, -4800), (700000, 16), (900000, 441), (1300000, -1))
    assert found.message.endswith(
        " Timecode on slot 5 says 1 sample (0.02 ms) was lost at 0:05.000, 4800 samples (100 ms) were repeated at "
        "0:10.000, 16 samples (0.3 ms) were lost at 0:14.583, 441 samples (9.2 ms) were lost at 0:18.750 and 1 more."
    )


def test_what_is_the_same_each_time_is_told_once(tmp_path):
    (found,) = take(tmp_path, *((frame, 1) for frame in (240000, 480000, 720000, 960000)))
    assert found.message.endswith(
        "; they come evenly, as from two clocks 4.2 ppm apart. "
        "Timecode on slot 5 says 1 sample (0.02 ms) was lost each time."
    )


def test_how_far_clocks_run_apart_counts_the_samples_that_were_lost(tmp_path):
    # 48 samples every 5 s are 200 ppm.
    (found,) = take(tmp_path, *((frame, 48) for frame in (240000, 480000, 720000, 960000)))
    assert "two clocks 200 ppm apart. Timecode on slot 5 says 48 samples (1 ms) were lost each time." in found.message


def test_timecode_that_runs_on_says_that_nothing_was_lost(tmp_path):
    # Its own track is not on the path that slips.
    (found,) = take(tmp_path, (599040, 64), code=ltc(RATE, 0, RATE * SECONDS, peak=0.3))
    assert found.message.endswith(" Timecode on slot 5 says nothing was lost at 0:12.480.")


@pytest.mark.parametrize(
    "code",
    [
        pytest.param(healthy(5), id="none"),
        pytest.param(
            np.where(np.arange(RATE * SECONDS) < 590000, ltc(RATE, 0, RATE * SECONDS), 0), id="it has stopped"
        ),
    ],
)
def test_where_no_timecode_runs_across_nothing_is_said_of_it(tmp_path, code):
    (found,) = take(tmp_path, (599040, 64), code=slipped(code, (599040, 64)))
    assert "imecode" not in found.message
