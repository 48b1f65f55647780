"""Under which names evidence is kept: they cover the tracks' keys and the sources of all that gathers it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence

from replay.meters.notes import sources
from replay.take.model import Track


def name_of(what: str, tracks: Sequence[Track], keys: Mapping[int, str], *facts: object) -> str | None:
    """The name for `what` was found on these tracks, given some more facts; None where a track has no key."""
    if not all(track.number in keys for track in tracks):
        return None
    named = [what, sources(), *facts, [[track.number, keys[track.number]] for track in tracks]]
    return hashlib.sha256(json.dumps(named).encode()).hexdigest()[:40]
