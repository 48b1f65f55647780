"""A changeover as JSON: a versioned contract (docs/changing-shows.md). Within version 1 keys are only ever added."""

from __future__ import annotations

import json
from typing import Any

from replay.compare.changeover.desk import ChannelChange, TrackChange
from replay.compare.changeover.sockets import BoxChange, Changeover, Plugged, SocketChange
from replay.patch.model import Patch, Slot, Socket
from replay.text import harmless

FORMAT = "replay-changeover"
VERSION = "1.0"


def text(change: Changeover) -> str:
    """The document as ASCII text that ends with a line end."""
    return json.dumps(document(change), indent=2, allow_nan=False) + "\n"


def document(change: Changeover) -> dict[str, Any]:
    """The document as plain dicts, lists, strings, numbers and None."""
    sockets = change.sockets
    return {
        "format": FORMAT,
        "version": VERSION,
        "from": _patch(change.before),
        "to": _patch(change.after),
        "counts": {
            "sockets": len(sockets),
            "change": sum(not one.stays for one in sockets),
            "stay": sum(one.stays for one in sockets),
            "replugged": sum(one.is_replugged for one in sockets),
            "channels": len(change.channels),
            "tracks": len(change.tracks),
        },
        "boxes": [_box(box) for box in change.boxes],
        "channels": [_channel(one) for one in change.channels],
        "tracks": [_track(one) for one in change.tracks],
    }


def _patch(patch: Patch) -> dict[str, Any]:
    return {
        "title": harmless(patch.title),
        "patch": harmless(str(patch.path), 4096),
        "extends": [harmless(house.called) for house in patch.houses],
    }


def _box(box: BoxChange) -> dict[str, Any]:
    return {
        "box": harmless(box.name),
        "gains_before": None if box.before is None else box.before.gains,
        "gains_after": None if box.after is None else box.after.gains,
        "mute_channels": list(box.mute),
        "steps": [{"step": step, "sockets": [one.socket.number for one in sockets]} for step, sockets in box.steps],
        "sockets": [_socket(one) for one in box.sockets],
    }


def _socket(one: SocketChange) -> dict[str, Any]:
    return {
        "socket": one.socket.number,
        "stays": one.stays,
        "changes": list(one.changes),
        "replugged": one.is_replugged,
        "may_stay_plugged": one.may_stay,
        "before": _plugged(one.before),
        "after": _plugged(one.after),
    }


def _plugged(side: Plugged | None) -> dict[str, Any] | None:
    if side is None:
        return None
    return {
        "channels": list(side.channels),
        "name": harmless(side.name),
        "input": side.input,
        "mic": harmless(side.mic),
        "phantom": side.phantom,
        "pad": side.pad,
        "gain_db": side.gain,
        "gains": side.gains,
        "recorded": [{**slot_of(one.slot), "track": one.track} for one in side.recorded],
        "returns": [one if isinstance(one, str) else slot_of(one) for one in side.returns],
    }


def slot_of(slot: Slot) -> dict[str, Any]:
    """A slot with its link."""
    return {"link": harmless(slot.link), "slot": slot.number}


def _channel(one: ChannelChange) -> dict[str, Any]:
    return {
        "channel": one.number,
        "before": None if one.before is None else harmless(one.before.name),
        "after": None if one.after is None else harmless(one.after.name),
        "differs": [{"what": word, "before": harmless(was), "after": harmless(now)} for word, was, now in one.differs],
    }


def _track(one: TrackChange) -> dict[str, Any]:
    return {
        **slot_of(one.slot),
        "track_before": one.track_before,
        "track_after": one.track_after,
        "source_before": _source(one.source_before),
        "source_after": _source(one.source_after),
        "name_before": harmless(one.name_before),
        "name_after": harmless(one.name_after),
    }


def _source(source: Socket | int | None) -> dict[str, Any] | None:
    if source is None:
        return None
    if isinstance(source, Socket):
        return {"box": harmless(source.box), "socket": source.number}
    return {"channel": source}
