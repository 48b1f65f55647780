"""A show opened: its patch, the ways through it, and its take."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from replay.patch.from_toml import read_patch
from replay.patch.model import Channel, Patch, Slot
from replay.patch.routes import Routes, routes
from replay.take.find import open_take
from replay.take.model import Take, Track


@dataclass(frozen=True)
class Opened:
    """What is read of a show before any sample is."""

    patch: Patch
    ways: Routes
    take: Take

    def track_of(self, channel: Channel) -> Track | None:
        """The track that feeds a channel on playback; None where it stays with the stage, or the take lacks it."""
        slot = self.ways.of(channel.number).playback
        return self.take.track(self.ways.track_of(slot)) if isinstance(slot, Slot) else None


def slots_in_use(patch: Patch, ways: Routes) -> set[Slot]:
    """The slots that channels are recorded on."""
    return {slot for channel in patch.channels for slot in ways.of(channel.number).slots}


def find_take(patch: Patch, ways: Routes, take: str | None = None, now: float | None = None) -> Take:
    """The take of a patch; `take` is what --take says. TakeError where there is none."""
    return open_take(
        patch.folder,
        patch.take.folder,
        wanted_tracks=len(slots_in_use(patch, ways)),
        placed={name: ways.track_of(slot) for name, slot in patch.take.tracks.items()},
        choice=take,
        rate=patch.rate,
        now=now,
    )


def open_show(show: str | Path, take: str | None = None) -> Opened:
    """Read the patch and find the take. Raises PatchError, TakeError."""
    patch = read_patch(Path(show))
    ways = routes(patch)
    return Opened(patch, ways, find_take(patch, ways, take))
