"""`render` and `ident`: what is written."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from replay.commands import NO_FAULT
from replay.listening.words import MUTE_FIRST
from replay.terminal import Progress, say
from replay.text import clock, harmless, ranges, size

if TYPE_CHECKING:
    from replay.patch.model import Patch


def render(
    show: str,
    folder: Path,
    *,
    take: str | None,
    part: tuple[str | None, str | None],
    gains: Sequence[str],
    as_float: bool,
    poly: bool,
) -> int:
    """The modeled channels and buses, or the take at other gains, as WAV files."""
    from replay.call import Values

    values = Values()
    from_s, to_s = values.time("--from", part[0]), values.time("--to", part[1])
    chosen = values.settings("--gain", gains)
    values.settle()

    from replay.opening import open_show
    from replay.render import plan as plans
    from replay.render.write import frames_of, write
    from replay.simulate import track_shifts, tried_out

    opened = open_show(show, take)
    start, stop = frames_of(opened, from_s, to_s)
    if chosen:
        _, by_channel = tried_out(opened.patch, {}, chosen)
        plan = plans.regained(opened, track_shifts(opened.ways, by_channel), as_float=as_float)
        cure = "a preamp at that gain would have clipped: record again, or write --float, which keeps what is above"
    else:
        plan = plans.channels(opened, as_float=as_float)
        cure = "lower the trim, or write --float, which keeps what is above full scale"
    with Progress() as progress:
        done = write(opened, plan, folder, start=start, stop=stop, poly=poly, cure=cure, progress=progress)
    what = "tracks of the take" if chosen else "channels"
    buses = f" and {len(plan.buses)} bus{'es' if len(plan.buses) > 1 else ''}" if plan.buses else ""
    encodings = {line.encoding for line in plan.lines}
    depth = " and ".join(_DEPTHS[encoding] for encoding in sorted(encodings))
    lines = [
        f"Wrote {len(plan.lines)} {what}{buses} to {harmless(str(folder), 4096)}: {depth}, "
        f"{opened.take.rate / 1000:g} kHz, {clock((stop - start) / opened.take.rate)} long, {size(done.bytes)}.",
        "In the one file, channel n is track n; what lies between is silent."
        if poly
        else "Each file's number is its track: the recorder plays it to that return.",
    ]
    if chosen:
        lines.append("Trims are not applied: the take is as if it had been recorded at these gains.")
        lines.append("Set them in the input list, and check what was written with: replay check SHOW --take DIR")
        for number, at in sorted(done.clipped.items()):
            lines.append(f"Track {number} holds clips, the first at {clock(at)}: they stay. Record it again.")
    else:
        lines.append("Trim and polarity are in the files: for playback, set the trims to 0 and the polarity to normal.")
        for number, at in sorted(done.clipped.items()):
            lines.append(f"Track {number} holds clips, the first at {clock(at)}: no trim mends them.")
    lines += plan.left_out
    lines += _mistakable(opened.patch, folder)
    lines += [f"Bus {harmless(name, 60)} goes {over:.1f} dB above full scale; its file is float and keeps that."
              for name, over in done.over.items()]  # fmt: skip
    lines += [f"Track {number} could not be read from {clock(at)} on: silence stands for it."
              for number, at in done.broken.items()]  # fmt: skip
    if done.bad:
        lines.append(f"{done.bad} samples were not numbers and are written as 0.")
    say("\n".join(lines) + "\n")
    return NO_FAULT


def _mistakable(patch: Patch, folder: Path) -> list[str]:
    """A word about a folder that lies where takes are looked for."""
    root, place = os.path.realpath(patch.folder / (patch.take.folder or "")), os.path.realpath(folder)
    if not Path(place).is_relative_to(root):
        return []
    return ["It lies where takes are looked for, and is the newest now: --take says which one is meant."]


_DEPTHS = {"s24": "24 bit", "s32": "32 bit", "f32": "32-bit float", "f64": "64-bit float"}


def ident(show: str, folder: Path, *, rate: int | None) -> int:
    """A take whose every track names itself, and the lists that go with it."""
    from replay.ident.write import BACK_TO_LIVE, TO_PLAYBACK, write
    from replay.patch.from_toml import read_patch
    from replay.patch.routes import routes

    patch = read_patch(Path(show))
    used = rate or patch.rate or 48000
    plan = write(patch, routes(patch), folder, used)
    say(
        f"Wrote {plan.tracks} tracks to {harmless(str(folder), 4096)}: {used / 1000:g} kHz, "
        f"{clock(plan.seconds)} long; tracks {ranges(plan.sounding)} sound, each once, in channel order, at -30 dBFS.\n"
        f"{MUTE_FIRST}\n"
        f"Set the desk by {TO_PLAYBACK}, play the take to it: the channels' meters come up one by one, a second each.\n"
        "Record the channels back, then: replay check SHOW --take WHAT-WAS-RECORDED\n"
        f"Afterwards set the desk by {BACK_TO_LIVE}. Both lists are in the folder.\n"
    )
    return NO_FAULT
