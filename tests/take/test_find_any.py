"""Whatever lies in a folder, a take keeps its promises: numbers once, parts in order, nothing before the start."""

from __future__ import annotations

import shutil

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replay.errors import TakeError
from replay.take.find import open_take
from replay.take.model import Take
from tests.take.making import put
from tests.take.shows import recorded

PIECES = (
    "Kick",
    "Vox 1",
    "Vox",
    "Track",
    "TRK",
    "Take 1",
    "take 2",
    "part 2",
    "20261120-203000",
    "20261120-203001",
    "ü",
)
NUMBERS = ("0", "1", "01", "2", "07", "7", "12", "0001", "0002", "1025", "05-06", "(2)", "99999")
SEPARATORS = (" ", "_", "-", "")

names = st.lists(st.one_of(st.sampled_from(PIECES), st.sampled_from(NUMBERS)), min_size=1, max_size=4).flatmap(
    lambda pieces: st.sampled_from(SEPARATORS).map(lambda mark: mark.join(pieces))
)
contents = st.one_of(
    st.just(b""),
    st.just(b"no audio"),
    st.builds(
        recorded,
        st.sampled_from((0.0, 0.001, 0.002, 0.01)),
        channels=st.sampled_from((1, 1, 1, 2, 4)),
        bits=st.sampled_from((16, 24)),
        rate=st.sampled_from((48000, 48000, 44100)),
        at=st.sampled_from((None, 0.0, 0.001, 0.002, 86_399.999, 5_000.0)),
        date=st.sampled_from(("2026-11-20", "2026-11-21", "")),
    ),
)
files = st.dictionaries(names, contents, min_size=1, max_size=9)


def check(take: Take) -> None:
    assert take.tracks
    numbers = [track.number for track in take.tracks]
    assert numbers == sorted(set(numbers))
    assert numbers[0] >= 1
    assert min(track.start for track in take.tracks) >= 0
    assert take.frames == max(track.stop for track in take.tracks)
    for track in take.tracks:
        assert all(segment.frames > 0 for segment in track.segments)
        assert all(segment.file.rate == take.rate for segment in track.segments)
        assert all(0 <= segment.channel < segment.file.channels for segment in track.segments)
        for before, after in zip(track.segments, track.segments[1:], strict=False):
            assert after.start >= before.stop


def everything_is_told(take: Take, given_files: dict[str, bytes]) -> None:
    """Every readable file is in the take, or a trouble names it (where there are no other takes)."""
    used = {segment.file.path.name for track in take.tracks for segment in track.segments}
    named = {name for trouble in take.troubles for name in trouble.files}
    assert {f"{name}.wav" for name in given_files} <= used | named


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(given_files=files, wanted=st.sampled_from((1, 8)), rate=st.sampled_from((None, 48000, 44100)))
def test_any_folder(tmp_path, given_files, wanted, rate):
    folder = tmp_path / "take"
    shutil.rmtree(folder, ignore_errors=True)
    for name, content in given_files.items():
        put(folder / f"{name}.wav", content)
    try:
        take = open_take(folder, None, wanted_tracks=wanted, rate=rate)
    except TakeError:
        return
    check(take)
    if not take.others:
        everything_is_told(take, given_files)
