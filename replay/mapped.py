"""Patch and evidence joined: what the sound of a take says of its patch, now or as kept from an earlier check, and what
the engineer's ears say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from replay.desk.model import Show
from replay.ear import Ear
from replay.errors import ReplayError
from replay.evidence import kept as kept_evidence
from replay.mapping.by_ear import with_ears
from replay.mapping.judge import judge
from replay.mapping.model import MappingResult
from replay.measuring import kept
from replay.measuring.store import Store, default_folder
from replay.opening import find_take
from replay.patch.model import Patch
from replay.patch.routes import routes
from replay.take.model import Take
from replay.take.names import spoken, take_apart


def mapped(show: Show, known: kept.Known, store: Store | None, fresh: bool) -> Show:
    """The show with what the sound itself says of the patch."""
    take = show.take
    within = _line_check_part(show.patch, take)
    evidence = kept_evidence.known(
        take.tracks, known.measurements, take.rate, store, known.keys, within_s=within, fresh=fresh
    )
    result = judge(show.patch, show.routes, _track_names(take), evidence)
    views = tuple(
        replace(view, mapping=result.channels.get(view.channel.number, view.mapping)) for view in show.channels
    )
    return replace(show, evidence=evidence, mapping=result, channels=views)


def by_ear(show: Show, ear: Ear) -> Show:
    """The show with what the engineer's ears say of the patch."""
    own = {
        view.channel.number: view.track.track.number
        for view in show.channels
        if view.track is not None and view.playback in show.routes.of(view.channel.number).slots
    }
    return replace(show, ear=ear, mapping=with_ears(show.mapping, ear.answers, own))


def kept_mapping(patch: Patch, *, kept_in: Path | None = None, now: float | None = None) -> MappingResult | None:
    """What an earlier check of the show's take said of its mapping; None where none is kept. Measures nothing."""
    ways = routes(patch)
    try:
        found = find_take(patch, ways, now=now)
    except ReplayError:
        return None
    store = Store(kept_in or default_folder())
    evidence = kept_evidence.kept(found.tracks, found.rate, store, _line_check_part(patch, found))
    return None if evidence is None else judge(patch, ways, _track_names(found), evidence)


def _line_check_part(patch: Patch, take: Take) -> tuple[float, float] | None:
    """Where the patch says that the line check was."""
    plan = patch.line_check
    if plan is None or (plan.from_s is None and plan.to_s is None):
        return None
    return plan.from_s or 0.0, take.duration_s if plan.to_s is None else plan.to_s


def _track_names(take: Take) -> dict[int, tuple[str, str]]:
    return {track.number: (track.name, spoken(take_apart(Path(track.file_name)).base)) for track in take.tracks}
