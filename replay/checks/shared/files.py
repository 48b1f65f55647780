"""Findings made of what the take itself reports about its files. One helper for all such checks."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator

from replay.checks.shared import words
from replay.checks.shared.place import of_tracks
from replay.desk.model import Show
from replay.findings.finding import Finding
from replay.take.model import FileTrouble
from replay.text import harmless


def from_troubles(
    show: Show,
    code: str,
    severity: str,
    action: str,
    *,
    together: Callable[[FileTrouble], Hashable] = lambda trouble: trouble.detail,
) -> Iterator[Finding]:
    """One finding for all troubles of `code` that `together` gives the same value: one cause, told once."""
    groups: dict[Hashable, list[FileTrouble]] = {}
    for trouble in show.take.troubles:
        if trouble.code == code:
            groups.setdefault(together(trouble), []).append(trouble)
    for troubles in groups.values():
        first = troubles[0]
        files = list(dict.fromkeys(name for trouble in troubles for name in trouble.files))
        tracks = sorted({track for trouble in troubles for track in trouble.tracks})
        lost = [trouble.lost_s for trouble in troubles if trouble.lost_s is not None]
        starts = [trouble.start_s for trouble in troubles if trouble.start_s is not None]
        message = harmless(first.detail, 400).removesuffix(".") + "."
        if len(troubles) > 1 and any(trouble.detail != first.detail for trouble in troubles):
            message += f" {words.count(len(troubles) - 1, 'more is like it', 'more are like it')}."
        yield Finding(
            code=code,
            severity=severity,
            confidence="certain",
            message=message,
            action=action,
            start_s=min(starts, default=None),
            amount=max(lost, default=None),
            unit="s" if lost else "",
            key=words.slug(files[0]) if files else "",
            **of_tracks(show, tracks),
        )


def lists_track(show: Show, track: int) -> bool:
    """True where some trouble of the files concerns that track."""
    return any(track in trouble.tracks for trouble in show.take.troubles)
