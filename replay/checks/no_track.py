"""The take has no track for a channel.

What it is
    The channel comes back from a slot whose track is not in the take.

Why it matters before a show
    The channel stays silent on playback, and its source was not recorded.

How it is told
    By the track number that the patch gives the slot. A fault for channels that must play, a note for spares and
    guests (`may`), nothing for `off`. Neighbouring tracks that are all missing are told once. A file that cannot be
    read, is empty or clashes with another explains it.

What can fool it
    Track numbers that start elsewhere than the patch thinks; files that were renamed.

What to do
    Look for the file on the recorder's medium; if the track was not armed, record the source again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from replay.checks.shared.files import lists_track
from replay.checks.shared.limit import Limit
from replay.checks.shared.place import of_channels, slot_name
from replay.desk.model import ChannelView, Show
from replay.findings.finding import Finding
from replay.text import ranges

CODE = "no-track"
TITLE = "the take has no track for a channel"
LIMITS: Mapping[str, Limit] = {}


def check(show: Show) -> Iterator[Finding]:
    missing = [view for view in show.channels if view.status == "no-track" and view.channel.use != "off"]
    missing = [view for view in missing if view.playback is not None or view.slot is not None]
    for severity in ("fault", "note"):
        views = [view for view in missing if (view.channel.use == "must") == (severity == "fault")]
        for run in _runs(show, sorted(views, key=lambda view: _track(show, view))):
            tracks = [_track(show, view) for view in run]
            yield Finding(
                code=CODE,
                severity=severity,
                confidence="certain",
                message=_sentence(show, run, tracks),
                action=_action(run),
                **of_channels(show, [view.channel.number for view in run]),
            )


def _track(show: Show, view: ChannelView) -> int:
    slot = view.playback or view.slot
    assert slot is not None
    return show.routes.track_of(slot)


def _alone(show: Show, view: ChannelView) -> bool:
    """Where something else may explain the missing track, it stands alone, so that only this one is explained."""
    return lists_track(show, _track(show, view)) or view.playback != view.slot


def _runs(show: Show, views: list[ChannelView]) -> Iterator[list[ChannelView]]:
    """Channels whose tracks follow each other without a gap."""
    run: list[ChannelView] = []
    for view in views:
        joins = run and not _alone(show, view) and not _alone(show, run[-1])
        if joins and _track(show, view) <= _track(show, run[-1]) + 1:
            run.append(view)
            continue
        if run:
            yield run
        run = [view]
    if run:
        yield run


def _sentence(show: Show, run: list[ChannelView], tracks: list[int]) -> str:
    several = len(set(tracks)) > 1
    text = f"The take has no track{'s' if several else ''} {ranges(tracks)}"
    view = run[0]
    if view.playback is not None and view.slot is not None and view.playback != view.slot:
        return f"{text}: the channel returns from {slot_name(show, view.playback)}, but is recorded on " + (
            f"{slot_name(show, view.slot)} (track {show.routes.track_of(view.slot)})."
        )
    whose = [view.channel.number for view in run]
    return f"{text} (channel{'s' if len(whose) > 1 else ''} {ranges(whose)})."


def _action(run: list[ChannelView]) -> str:
    view = run[0]
    if view.playback is not None and view.slot is not None and view.playback != view.slot:
        return "Correct the return in the input list, or set it so on the desk's side of the recorder."
    them = "the files" if len(run) > 1 else "the file"
    return f"Look for {them} on the recorder's medium; if not there, arm and record again."
