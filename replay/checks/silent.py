"""A track is digital silence from start to end.

What it is
    Every sample of the track is zero. Not even the noise of a preamp is there.

Why it matters before a show
    The source was not recorded, and the channel plays nothing.

How it is told
    Sample peak 0 over the whole take; certain. A fault for channels that must play, one note for all spares, guests
    and talkback (`may`), whose silence is rightly so. Four or more neighbouring tracks from one box are told once:
    then it is the box or its link. An open preamp always has noise; all zeros mean that no preamp reached the track.

What can fool it
    A player that was never started, an instrument with a digital output that was not played.

What to do
    Check that the track was armed, that the patch from socket to slot is made, and that the link was up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_tracks, slot_name, source_name, views_of
from replay.checks.shared.spares import must_play, one_note
from replay.desk.model import ChannelView, Show, TrackView
from replay.findings.finding import Finding
from replay.text import harmless, ranges

CODE = "silent"
TITLE = "digital silence"
LIMITS: Mapping[str, Limit] = {}

FEWEST_TOGETHER = 4
"""Fewer neighbours may have died one by one; a box or a link takes eights with it."""

NEARLY_ALL = 0.9


def check(show: Show) -> Iterator[Finding]:
    dead = [track for track in show.tracks if track.all_zero and not _not_numbers(track)]
    must = [track for track in dead if must_play(views_of(show, track))]
    for run in _runs(show, must):
        yield _fault(show, run)
    yield from one_note(
        show,
        CODE,
        [track for track in dead if track not in must],
        "digital silence",
    )


def _not_numbers(track: TrackView) -> bool:
    """Samples that are not numbers were replaced by 0; where nearly all are, that is the cause and is told as such."""
    return track.measurement.totals.get("not_a_number", 0) >= NEARLY_ALL * max(track.track.frames, 1)


def _fault(show: Show, run: list[TrackView]) -> Finding:
    numbers = [track.track.number for track in run]
    view = views_of(show, run[0])[0]
    if len(run) > 1:
        message = f"Tracks {ranges(numbers)} are digital silence from start to end, all of box {_box(show, run[0])}."
        action = f"Check the link and the box {_box(show, run[0])}, and that these tracks were armed; record again."
    else:
        message = f"Track {numbers[0]} is digital silence from start to end: no preamp reached it."
        action = f"Check that track {numbers[0]} was armed and that {source_name(view)} reaches "
        action += f"{_slot_words(show, view, run[0])}; record again."
    return Finding(
        code=CODE, severity="fault", confidence="certain", message=message, action=action, **of_tracks(show, numbers)
    )


def _slot_words(show: Show, view: ChannelView, track: TrackView) -> str:
    slot = track.slot or view.slot
    return "the recorder" if slot is None else slot_name(show, slot)


def _box(show: Show, track: TrackView) -> str | None:
    views = views_of(show, track)
    return harmless(views[0].channel.socket.box, 60) if views and views[0].channel.socket else None


def _runs(show: Show, tracks: list[TrackView]) -> Iterator[list[TrackView]]:
    """Neighbouring tracks of one box, where there are enough of them; else each alone."""
    run: list[TrackView] = []
    for track in [*tracks, None]:
        if track is not None and run and _neighbours(show, run[-1], track):
            run.append(track)
            continue
        if len(run) >= FEWEST_TOGETHER:
            yield run
        else:
            yield from ([one] for one in run)
        run = [] if track is None else [track]


def _neighbours(show: Show, one: TrackView, next_one: TrackView) -> bool:
    box = _box(show, one)
    return next_one.track.number == one.track.number + 1 and box is not None and box == _box(show, next_one)
