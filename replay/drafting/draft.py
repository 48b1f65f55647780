"""From a folder of tracks, and a list where there is one, to the two files of a show."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from replay.drafting import layout, lines, marks, pairs, settings, taking, written
from replay.drafting.grid import Sheet, read_grid
from replay.drafting.inputs import STAGE, Input, from_lines
from replay.drafting.notes import Notes
from replay.drafting.placing import placed
from replay.drafting.sounding import Heard
from replay.errors import PatchError, Place, Problem, at
from replay.patch.from_table import MOST_CHANNELS
from replay.patch.from_toml import INPUTS_FILE, PATCH_FILE, read_patch
from replay.patch.kinds import kind_from_name, words_of
from replay.patch.readers import suffixes
from replay.patch.routes import routes
from replay.take.model import Take
from replay.text import harmless, ranges

Listen = Callable[[Take], dict[int, Heard]]
"""What tracks sound like, by number; asked for only where names say nothing."""

_AGAIN = 3
"""How often the take is read: which takes and numbers are found depends on how many tracks the patch wants."""


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A finished draft: the texts of the two files, the channels, the take it is for, and everything to be told."""

    patch: str
    inputs: str
    channels: tuple[Input, ...]
    take: Take
    notes: Notes


def draft(place: taking.Where, list_path: Path | None, sheet: str | None, listen: Listen | None) -> Draft:
    """Make a draft. Nothing is written but in a folder of its own that goes again.

    Raises TakeError where there are no tracks, PatchError where the list cannot be read or holds no sources.
    """
    grid, told = read_grid(list_path) if list_path is not None else ([], [])
    wanted = 0
    for _ in range(_AGAIN):
        take = taking.read_take(place, wanted)
        notes = Notes()
        for remark in told:
            notes.tell(remark)
        made = _made(place, take, list_path, grid, sheet, listen, notes)
        patch_wants = _wanted(made)
        found = taking.read_take(place, patch_wants)
        if [track.file_name for track in found.tracks] == [track.file_name for track in take.tracks]:
            break
        wanted = patch_wants
    return made


def _made(
    place: taking.Where,
    take: Take,
    list_path: Path | None,
    grid: Sequence[Sheet],
    sheet: str | None,
    listen: Listen | None,
    notes: Notes,
) -> Draft:
    if list_path is not None:
        inputs = _from_list(list_path, grid, sheet, notes)
        inputs = placed(inputs, taking.tracks_of(take), notes)
        listed = {tuple(words_of(one.name)) for one in inputs}
        inputs = [_told_by_track(one, take, listed, notes) for one in inputs]
        _tell_leftovers(inputs, take, notes)
        sources = f"the list {harmless(list_path.name, 100)} and the tracks in {harmless(take.folder.name, 100)}"
    else:
        inputs = _from_tracks(take, notes, listen)
        sources = f"the tracks in {harmless(take.folder.name, 100)} alone"
    open_pads = [one.number for one in inputs if not one.pad]
    inputs, attenuations = settings.pads(inputs, notes)
    inputs = settings.shared(inputs, notes)
    _tell_kinds(inputs, notes)
    _tell_unknown(inputs, open_pads, notes)
    if take.others:
        names = ", ".join(harmless(name, 60) for name in take.others[:5])
        notes.tell(f"other takes there, which the check does not take either: {names}")
    for trouble in take.troubles:
        if trouble.code in ("track-order", "track-clash"):
            notes.guess_patch(trouble.detail.rstrip("."))
    of = taking.kind_of_take(take)
    head = written.Head(
        title=place.title,
        rate=take.rate,
        below=place.below,
        of=of or "soundcheck",
        of_known=of is not None,
        slots=min(max([track.number for track in take.tracks] + [one.track or 1 for one in inputs]), MOST_CHANNELS),
        sources=sources,
    )
    patch = written.patch_text(head, inputs, attenuations, notes)
    return Draft(
        patch=patch,
        inputs=written.inputs_text(inputs, notes),
        channels=tuple(inputs),
        take=take,
        notes=notes,
    )


def _from_list(path: Path, grid: Sequence[Sheet], sheet: str | None, notes: Notes) -> list[Input]:
    table, others = layout.find(grid, sheet)
    if table is None:
        titles = ", ".join(harmless(one.title, 40) for one in grid if one.title)
        if sheet is not None and not any(one.title.casefold() == sheet.strip().casefold() for one in grid):
            message, hint = f"there is no sheet {harmless(sheet, 40)!r}", f"there are: {titles}" if titles else ""
        else:
            message = "no list of inputs can be seen in it"
            hint = "a line with headings such as Ch, Source, Box, Socket, and a line for each source below it"
        raise PatchError(Problem(message, at(path), hint))
    found = lines.read(table, notes)
    if not found:
        raise PatchError(Problem("the list has no sources", at(path), "a line for each source, with its name"))
    where = harmless(path.name, 60)
    if table.sheet.title:
        where += f", sheet “{harmless(table.sheet.title, 40)}”"
    head = (
        f"headings on line {table.header_line}" if table.header_line else "no headings, columns told by what they hold"
    )
    beside = f", {len(table.blocks)} lists side by side" if len(table.blocks) > 1 else ""
    notes.tell(f"{where}: {head}, {len(found)} sources on lines {found[0].line} to {found[-1].line}{beside}")
    if others:
        notes.tell(f"other sheets that hold a list: {', '.join(harmless(title, 40) for title in others)} (see --sheet)")
    understood = list(lines.heads(table))
    if understood:
        notes.tell("columns taken: " + ", ".join(harmless(words, 80) for words in understood))
    unread = table.blocks[0].unread
    if unread:
        notes.leave_out("columns: " + ", ".join(harmless(heading, 30) for heading in unread[:20]))
    block = table.blocks[0]
    inputs = from_lines(found, frozenset(block.places), notes)
    inputs = settings.with_settings(inputs, found, block.headings, notes)
    return pairs.with_pairs([one for one in inputs if one.name], found, notes)


def _told_by_track(one: Input, take: Take, listed: Collection[tuple[str, ...]], notes: Notes) -> Input:
    """A channel whose name tells no kind may be told by what the recorder calls its track, unless that is the name of
    another channel on the list."""
    track = take.track(one.track) if one.track is not None else None
    if track is None or one.kind or one.use == "may":
        return one
    names = [name for name in taking.names_of(track) if tuple(words_of(name)) not in listed]
    told = next((kind for name in names if (kind := kind_from_name(name)) != "other"), "")
    if told:
        notes.guess(f"kind {told} by the track's name", one.number, short="kind by track name")
    return replace(one, kind=told)


def _from_tracks(take: Take, notes: Notes, listen: Listen | None) -> list[Input]:
    """A channel for every track, on the socket of its number."""
    kept = [track for track in take.tracks if track.number <= MOST_CHANNELS]
    nameless = [track for track in kept if not taking.telling_name(track)]
    heard = listen(take) if nameless and listen is not None else {}
    inputs = []
    for track in kept:
        name = taking.telling_name(track)
        kind = kind_from_name(name) if name else "other"
        one = Input(
            number=track.number,
            name=settings.written(name) or f"Track {track.number}",
            box=STAGE,
            socket=track.number,
            track=track.number,
            kind="" if kind == "other" else kind,
            phantom=settings.UNKNOWN,
        )
        sound = heard.get(track.number) if not name else None
        if sound is not None and sound.kind:
            notes.guess(f"kind {sound.kind} by its sound", one.number, short="kind by sound")
            one = replace(one, kind=sound.kind)
        if sound is not None and sound.silent:
            notes.guess(
                "nothing on the track and no name: taken as a spare (use: may)", one.number, short="use: silent"
            )
            one = replace(one, use="may")
        elif marks.is_spare(one.name):
            notes.guess("a spare or a guest, silence is no fault (use: may)", one.number, short="use by name")
            one = replace(one, use="may")
        inputs.append(one)
    numbers = [one.number for one in inputs]
    notes.guess_patch(
        "no list was given: each track was taken as the channel of its number, on the socket of that number of one "
        f"box, called {STAGE}"
    )
    if nameless:
        notes.guess(
            "no name that says anything: called by the track", *(track.number for track in nameless), short="name"
        )
    notes.not_known("box and socket", *numbers)
    return _two_channel_files(pairs.with_pairs(inputs, [], notes), take, notes)


def _two_channel_files(inputs: list[Input], take: Take, notes: Notes) -> list[Input]:
    """The two channels of one file are a stereo pair."""
    by_file: dict[Path, list[int]] = {}
    for track in take.tracks:
        if track.segments[0].file.channels == 2:
            by_file.setdefault(track.segments[0].file.path, []).append(track.number)
    partner: dict[int, int] = {}
    for two in by_file.values():
        if len(two) == 2:
            partner |= {two[0]: two[1], two[1]: two[0]}
            notes.guess("the two sides of one file: a stereo pair", *two, short="pair by file")
    return [
        replace(one, pair=partner[one.number], pairing=one.pairing or "stereo") if one.number in partner else one
        for one in inputs
    ]


def _tell_leftovers(inputs: Sequence[Input], take: Take, notes: Notes) -> None:
    used = {one.track for one in inputs}
    missing = [one.number for one in inputs if one.track is None]
    if missing:
        notes.guess("no track in this take: not recorded", *missing, short="no track")
    extra = [track.number for track in take.tracks if track.number not in used]
    if extra:
        notes.guess_patch(f"track{'s' if len(extra) > 1 else ''} {ranges(extra)}: on no line of the list")


def _tell_kinds(inputs: Sequence[Input], notes: Notes) -> None:
    by_kind: dict[str, list[int]] = {}
    for one in inputs:
        if one.kind or one.use != "may":
            by_kind.setdefault(one.kind or "other", []).append(one.number)
    told = [f"{kind} {ranges(numbers)}" for kind, numbers in by_kind.items() if kind != "other"]
    if told:
        notes.guess("kinds, by names unless said otherwise: " + "; ".join(told))
    if "other" in by_kind:
        notes.not_known("what kind of source it is (kind), from which the expected rise follows", *by_kind["other"])


def _tell_unknown(inputs: Sequence[Input], open_pads: Sequence[int], notes: Notes) -> None:
    loose = [one.number for one in inputs if one.socket is None]
    if loose:
        notes.not_known("box and socket", *loose)
    preamps = [one for one in inputs if one.input != "digital" and one.socket is not None]
    gains = [one.number for one in preamps if one.gain is None]
    if gains:
        notes.not_known("gain: a change can be told, but not what to set", *gains)
    boxes = list(dict.fromkeys(one.box for one in preamps))
    if boxes:
        notes.not_known(f"the range of the preamps: {', '.join(harmless(box, 40) for box in boxes[:20])}")
    pads = [one.number for one in preamps if one.number in open_pads]
    if pads:
        notes.not_known("whether a pad is in", *pads)
    phantoms = [one.number for one in preamps if one.phantom == settings.UNKNOWN]
    if phantoms:
        notes.not_known("phantom power", *phantoms)


def _wanted(made: Draft) -> int:
    """How many tracks the draft wants, as the check will count them; so the draft is read as a patch. PatchError where
    it is none: a draft that `check` would refuse is never written."""
    with tempfile.TemporaryDirectory(prefix="replay-draft-") as folder:
        for name, data in encoded(made).items():
            (Path(folder) / name).write_bytes(data)
        patch = read_patch(Path(folder))
    ways = routes(patch)
    return len({slot for channel in patch.channels for slot in ways.of(channel.number).slots})


def encoded(made: Draft) -> dict[str, bytes]:
    """The files by name, the patch last: a folder without one is no show yet. The list has a byte order mark, without
    which common spreadsheets read UTF-8 as something else."""
    return {INPUTS_FILE: made.inputs.encode("utf-8-sig"), PATCH_FILE: made.patch.encode("utf-8")}


def no_list(path: Path) -> Problem:
    """There is no list where one was said to be."""
    return Problem("does not exist", Place(harmless(str(path), 4096)), f"the input list, as {suffixes()}")
