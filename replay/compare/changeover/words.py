"""What is set anew at the desk and at the recorder, in words that text and page share."""

from __future__ import annotations

from replay.compare.changeover.desk import ChannelChange, TrackChange
from replay.compare.changeover.sockets import Changeover
from replay.patch.model import Socket
from replay.text import harmless


def channel_words(one: ChannelChange) -> str:
    """What is set anew at a channel."""
    if one.after is None:
        return f"{harmless(one.before.name)} goes" if one.before else ""
    if one.before is None:
        where = f", {harmless(str(one.after.socket))}" if one.after.socket else ""
        return f"{harmless(one.after.name)} comes{where}"
    # The name first: it is how the channel is found.
    rest = [f"{word} {harmless(was)} -> {harmless(now)}" for word, was, now in one.differs if word != "name"]
    named = [f"{harmless(was)} -> {harmless(now)}" for word, was, now in one.differs if word == "name"]
    return ", ".join([*(named or [harmless(one.after.name)]), *rest])


def about_links(change: Changeover) -> list[str]:
    """Links that come, go, or have other slots or tracks."""
    old = {link.name: link for link in change.before.links}
    new = {link.name: link for link in change.after.links}
    said = [f"Link {harmless(name)} goes." for name in old if name not in new]
    for name, link in new.items():
        was = old.get(name)
        if was is None:
            said.append(f"Link {harmless(name)} comes, with {link.slots} slots.")
        elif was.slots != link.slots:
            said.append(f"Link {harmless(name)} had {was.slots} slots and has {link.slots}.")
    return said


def track_words(one: TrackChange, change: Changeover) -> str:
    """What becomes of a track."""
    track = one.track_after if one.track_after is not None else one.track_before
    was_track = (
        f" (was {one.track_before})"
        if None not in (one.track_before, one.track_after) and one.track_before != track
        else ""
    )
    several = len(change.before.links) > 1 or len(change.after.links) > 1
    slot = f"{harmless(one.slot.link)} {one.slot.number}" if several else f"slot {one.slot.number}"
    moved = one.source_before != one.source_after
    was, now = (
        _recorded(name, source, moved)
        for name, source in ((one.name_before, one.source_before), (one.name_after, one.source_after))
    )
    return f"track {track}{was_track}, {slot}: {was} -> {now}"


def _recorded(name: str, source: Socket | int | None, with_socket: bool) -> str:
    if source is None:
        return "nothing"
    place = f"channel {source}" if isinstance(source, int) else str(source)
    if not name:
        return harmless(f"{place}, not in use")
    return harmless(f"{name} ({place})") if with_socket else harmless(name)
