"""From a show's folder to its take: files found, opened, sorted into takes, one chosen, its tracks numbered and put on
one clock."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from replay.errors import Place, Problem, TakeError
from replay.take.assemble import assemble
from replay.take.chains import Piece
from replay.take.choose import Candidate, best, by_number, named, newest_first, take_name, when_recorded
from replay.take.group import group
from replay.take.header import read_header
from replay.take.model import FileTrouble, Take
from replay.take.names import take_apart
from replay.take.number import number
from replay.take.walk import SUFFIXES, AudioFolder, Walked, is_audio_name, walk
from replay.text import harmless

MOST_OTHERS = 50


def open_take(
    show_folder: Path,
    folder: str | None,
    *,
    wanted_tracks: int,
    placed: Mapping[str, int] | None = None,
    choice: str | None = None,
    rate: int | None = None,
    now: float | None = None,
) -> Take:
    """Find the take of a show and open it, read-only.

    Parameters
    ----------
    show_folder : folder of the patch.
    folder : the patch's take folder, relative to it; None looks in the show folder and all below.
    wanted_tracks : tracks that the patch records; the default take has at least half of them.
    placed : file name -> first track number, from the patch's table.
    choice : the take asked for (--take): its name, its number, or a path to its folder or one file.
    rate : the patch's rate in Hz; decides only where as many files have it as any other.
    now : seconds since the epoch (the clock's by default), for files still being written.

    Raises TakeError where there is no take, with what was looked for and where, or why its files cannot be read.
    """
    now = time.time() if now is None else now
    show_folder = Path(os.path.abspath(show_folder))
    root = Path(os.path.abspath(show_folder / folder)) if folder is not None else show_folder
    only: Path | None = None
    if choice is not None:
        path = _as_path(choice, root, show_folder)
        if path is not None:
            only = path if path.is_file() else None
            root, choice = (path.parent if only else path), None
    elif root.is_file():
        only, root = root, root.parent
    found = _only(only) if only is not None else walk(root)
    if not found.folders:
        raise _nothing(root, found, folder)
    chosen, others = _choose(root, found, choice, wanted_tracks, now)
    chains = chosen.group.chains
    numbered = number(chains, placed or {}, wanted_tracks)
    try:
        assembled = assemble(chains, numbered, rate)
    except ValueError:
        raise TakeError(_reasons(chosen)) from None
    take = Take(
        folder=chosen.folder,
        rate=assembled.rate,
        frames=assembled.frames,
        tracks=assembled.tracks,
        troubles=chosen.group.notes + numbered.troubles + assembled.troubles,
        recorded=chosen.recorded,
        others=others,
        clock_source=assembled.clock_source,
        label=chosen.label,
    )
    return _still_growing(take)


def _as_path(choice: str, root: Path, show_folder: Path) -> Path | None:
    """The path that --take means, if it is one: below the take folder, below the show, or from where we are."""
    for base in (root, show_folder, Path.cwd()):
        try:
            path = Path(os.path.abspath(base / Path(choice).expanduser()))
            # From where we are, a folder of that name may be anything: only one with recordings in it is meant.
            if path.exists() and (base != Path.cwd() or path.is_file() or walk(path).folders):
                return path
        except (OSError, ValueError, RuntimeError):
            continue
    return None


def _only(path: Path) -> Walked:
    return Walked(folders=(AudioFolder(path=path.parent, files=(path,), newest=0.0),), closed=(), cut=False)


def _choose(
    root: Path, found: Walked, choice: str | None, wanted_tracks: int, now: float
) -> tuple[Candidate, tuple[str, ...]]:
    """The take that is meant, and what the others are called. Folders are opened from the newest on, and no further
    than needed; those never opened count as one take each."""
    waiting = newest_first(found.folders, now)
    if choice is not None:  # a folder of that name is opened first
        waiting.sort(key=lambda folder: folder.path.name.casefold() != choice.strip("/\\").casefold())
    opened: list[Candidate] = []
    chosen: Candidate | None = None
    while waiting and chosen is None:
        candidates = _candidates(root, waiting.pop(0), wanted_tracks, now)
        opened.extend(candidates)
        if choice is not None:
            chosen = best(named(candidates, choice), wanted_tracks)
        else:
            chosen = best([candidate for candidate in candidates if candidate.fits(wanted_tracks)], wanted_tracks)
    if chosen is None and choice is not None:
        same = named(opened, choice) or by_number(opened, choice)
        chosen = best(same, wanted_tracks)
    if chosen is None and choice is not None:
        if same:
            raise TakeError([problem for candidate in same for problem in _reasons(candidate)])
        in_order = sorted(opened, key=lambda candidate: (candidate.recorded, candidate.name))
        there = ", ".join(f"{n} {harmless(one.name, 60)}" for n, one in enumerate(in_order[:20], 1))
        raise TakeError(
            f"there is no take called {harmless(choice)!r} in {harmless(str(root))}", hint=f"there are: {there}"
        )
    chosen = chosen or best(opened, wanted_tracks)
    if chosen is None:
        raise TakeError([problem for candidate in opened for problem in _reasons(candidate)])
    names = [candidate.name for candidate in opened if candidate is not chosen]
    names += [take_name(root, folder.path, "") for folder in waiting]
    names += [f"{take_name(root, folder, '')} (cannot be opened: {why})" for folder, why in found.closed]
    if found.cut:
        names.insert(0, f"more in {harmless(root.name)}, which holds too much to be looked through")
    if len(names) > MOST_OTHERS:
        names[MOST_OTHERS:] = [f"and {len(names) - MOST_OTHERS} more"]
    return chosen, tuple(names)


def _candidates(root: Path, folder: AudioFolder, wanted_tracks: int, now: float) -> list[Candidate]:
    pieces = [Piece(path=path, name=take_apart(path), opened=read_header(path, now=now)) for path in folder.files]
    groups = group(pieces, wanted_tracks)
    candidates = []
    for one in groups:
        if folder.left_out:
            text = f"{folder.left_out} more audio files lie there; the first {len(folder.files)} by name were read."
            one = replace(one, notes=one.notes + (FileTrouble(code="track-order", detail=text),))
        label = one.label if len(groups) > 1 else ""
        candidates.append(
            Candidate(
                name=take_name(root, folder.path, label),
                folder=folder.path,
                group=one,
                recorded=when_recorded(one, now),
                label=label,
            )
        )
    return candidates


def _still_growing(take: Take) -> Take:
    """A second look at every file: one that has grown since is still being recorded (or copied), and whatever its
    header seemed to lack is not a loss."""
    tracks: dict[Path, list[int]] = {}
    sizes = {}
    for track in take.tracks:
        for segment in track.segments:
            tracks.setdefault(segment.file.path, []).append(track.number)
            sizes[segment.file.path] = segment.file.size
    growing = [path for path in sizes if _size(path) > sizes[path]]
    names = {harmless(path.name) for path in growing}
    told = [trouble for trouble in take.troubles if trouble.code == "still-recording"]
    names |= {name for trouble in told for name in trouble.files}
    if not names:
        return take
    numbers = {number for path in growing for number in tracks[path]} | {n for trouble in told for n in trouble.tracks}
    rest = [
        trouble
        for trouble in take.troubles
        if trouble.code != "still-recording" and not (trouble.code == "truncated" and set(trouble.files) <= names)
    ]
    files = tuple(sorted(names))
    who = files[0] if len(files) == 1 else f"{files[0]} and {len(files) - 1} more"
    text = f"{who} {'is' if len(files) == 1 else 'are'} still being recorded; read up to {take.duration_s:.1f} s."
    rest.append(FileTrouble(code="still-recording", detail=text, files=files, tracks=tuple(sorted(numbers))))
    return replace(take, troubles=tuple(rest))


def _size(path: Path) -> int:
    try:
        return os.stat(path).st_size
    except OSError:
        return 0


def _reasons(candidate: Candidate) -> list[Problem]:
    """Why a take cannot be used: what is wrong with each of its files."""
    problems = []
    for chain in candidate.group.chains:
        for piece in chain.pieces:
            for trouble in piece.opened.troubles:
                problems.append(Problem(trouble.detail, Place(file=harmless(str(candidate.folder)))))
    return problems or [Problem("none of its files holds samples", Place(file=harmless(str(candidate.folder))))]


def _nothing(root: Path, found: Walked, folder: str | None) -> TakeError:
    """Why no take was found, and what would be right."""
    where = harmless(str(root))
    place = Place(key="take.folder") if folder is not None else Place()
    if not root.exists():
        return TakeError(
            Problem(f"the take folder {where} does not exist", place, "record into it, or set take.folder")
        )
    problems = [
        Problem(f"the folder cannot be opened: {why}", Place(file=harmless(str(path)))) for path, why in found.closed
    ]
    if root.is_file() and not is_audio_name(root.name):
        problems.append(Problem(f"{where} is not an audio file", place, "give the folder that the take is in"))
    else:
        kinds = " ".join(sorted(SUFFIXES))
        problems.append(
            Problem(f"there is no take in {where} or the folders in it", place, f"looked for files named {kinds}")
        )
    return TakeError(problems)
