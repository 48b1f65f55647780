"""From a patch and the evidence to a status for every channel, and to what is misplaced. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from replay.evidence.model import Evidence
from replay.mapping.content import best_family
from replay.mapping.model import MappingResult, Misplacement
from replay.mapping.names import NAMED, NameScores, score_names
from replay.mapping.places import Places, places_of
from replay.mapping.statuses import Statuses
from replay.mapping.weigh import Weighing
from replay.patch.model import Channel, Patch
from replay.patch.routes import Routes


def judge(patch: Patch, routes: Routes, names: Mapping[int, Sequence[str]], evidence: Evidence) -> MappingResult:
    """Weigh the patch against the evidence.

    Parameters
    ----------
    names : track number -> its names, the best first
    """
    scores = score_names(
        [(track, tuple(names.get(track, ()))) for track in evidence.tracks],
        [(channel.number, channel.name, channel.kind) for channel in patch.channels],
    )
    places, channels = places_of(patch, routes, evidence, scores)
    if not places.channels:
        return MappingResult(judged=True)
    weighing = Weighing(places)
    misplaced = weighing.told()
    proven = [one for one in misplaced if _beyond_names(one)]
    by_names = [one for one in misplaced if not _beyond_names(one)]
    taken = {number for one in proven for number in (*one.channels, *one.perhaps)}
    statuses = Statuses(places, channels, evidence, scores, weighing, proven)
    return MappingResult(
        channels={channel.number: statuses.of(place, channel) for place, channel in channels.items()},
        misplaced=tuple(proven),
        by_names=tuple(by_names),
        line_check=statuses.line_check_sentence(),
        names=_names_sentence(scores, [tuple(names.get(track, ())) for track in evidence.tracks]),
        misnamed=tuple(_misnamed(places, channels, scores, misplaced)),
        unlikely={
            channel.number: best_family(statuses.fits[place])
            for place, channel in channels.items()
            if channel.number not in taken and statuses.is_gross(place, channel)
        },
        judged=True,
    )


def _beyond_names(one: Misplacement) -> bool:
    """Whether something that was heard speaks for it, and not the names alone."""
    return any(kind != "names" for kind in one.agreeing)


def _misnamed(
    places: Places, channels: Mapping[int, Channel], scores: NameScores, told: Sequence[Misplacement]
) -> list[tuple[int, int, str]]:
    """(track, channel, the channel that the track's name fits) where names contradict and nothing explains it."""
    if scores.other_show:
        return []
    taken = {number for one in told for number in (*one.channels, *one.perhaps)}
    out = []
    for place, channel in channels.items():
        track = places.tracks[place]
        if track not in scores.informative or channel.number in taken:
            continue
        best = max(channels.values(), key=lambda other: scores.score(track, other.number))
        if scores.score(track, channel.number) < 0.35 and scores.score(track, best.number) >= NAMED:
            out.append((track, channel.number, f"{best.number} {best.name}"))
    return out


def _names_sentence(scores: NameScores, names: Sequence[Sequence[str]]) -> str:
    """What is to be said of the tracks' names as a whole; "" where they are worth comparing."""
    if scores.other_show:
        return "the track names belong to another show"
    if len(names) > 1 and all(one == names[0] for one in names):
        # One polyphonic file: all that its tracks are called is the file.
        return "the take has no names for its tracks"
    if names and len(scores.informative) < 0.2 * len(names):
        return "the track names say nothing about sources"
    return ""
