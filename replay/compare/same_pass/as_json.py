"""The comparison of two recordings of one pass as JSON: a versioned contract (docs/changing-shows.md). Within version 1
keys are only ever added."""

from __future__ import annotations

import json
from typing import Any

from replay.compare.same_pass.model import Answer, Loss, Pair
from replay.take.model import Take, Track
from replay.text import harmless
from replay.units import db

FORMAT = "replay-same-pass"
VERSION = "1.0"


def text(answer: Answer) -> str:
    """The document as ASCII text that ends with a line end."""
    return json.dumps(document(answer), indent=2, allow_nan=False) + "\n"


def document(answer: Answer) -> dict[str, Any]:
    """The document as plain dicts, lists, strings, numbers and None. Frames and times are on the clock of A."""
    alignment = answer.alignment
    rate = answer.a.rate
    return {
        "format": FORMAT,
        "version": VERSION,
        "same": answer.same,
        "whole": [side for side in "AB" if answer.is_whole(side)],
        "a": _take(answer.a),
        "b": _take(answer.b),
        "rate": rate,
        "compared": {"from_frame": answer.both_from, "to_frame": answer.both_to},
        "drift_ppm": None if alignment.drift_ppm is None else round(alignment.drift_ppm, 3),
        "pieces": [{"from_frame": one.start, "to_frame": one.stop, "lag_frames": one.lag} for one in alignment.pieces],
        "losses": [_loss(loss, rate) for loss in answer.losses],
        "tracks": [_pair(pair) for pair in answer.pairs],
        "only_a": [_track(track) for track in answer.only_a],
        "only_b": [_track(track) for track in answer.only_b],
    }


def _take(take: Take) -> dict[str, Any]:
    return {"folder": harmless(str(take.folder), 4096), "tracks": len(take.tracks), "frames": take.frames}


def _track(track: Track) -> dict[str, Any]:
    return {"track": track.number, "file": harmless(track.file_name)}


def _loss(loss: Loss, rate: int) -> dict[str, Any]:
    return {
        "side": loss.side,
        "kind": loss.kind,
        "start_frame": loss.start,
        "start_s": None if loss.start is None else round(loss.start / rate, 6),
        "frames": loss.frames,
        "unsure_frames": loss.unsure,
        "tracks": list(loss.tracks),
    }


def _pair(pair: Pair) -> dict[str, Any]:
    how = pair.relation
    has_gain = how.kind in ("gain", "similar")
    return {
        "a": _track(pair.a),
        "b": _track(pair.b),
        "same": pair.same,
        "relation": how.kind,
        "bits": how.bits,
        "coarser": how.coarser,
        "gain_db": round(db(abs(how.gain)), 4) + 0.0 if has_gain else None,
        "inverted": how.gain < 0,
        "residual_db": None if how.residual_db is None else round(how.residual_db, 2),
        "compared_frames": pair.compared,
        "differing_frames": pair.differing,
        "parting_count": pair.parting_count,
        "partings": [
            {
                "start_frame": one.start,
                "to_frame": one.stop,
                "frames": one.frames,
                "kind": one.kind,
                "side": one.side or None,
            }
            for one in pair.partings
        ],
    }
