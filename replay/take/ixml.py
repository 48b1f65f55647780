"""Track names and numbers from an iXML chunk (iXML specification 3: BWFXML / TRACK_LIST / TRACK).

The text comes from a file that may hold anything, so it is read by events, without a tree: no document type, no
entities, a bounded number of tracks, names cut short. Whatever is wrong with it, it is ignored.
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.parsers import expat

MOST_TRACKS = 1024
LONGEST_NAME = 200
LARGEST_NUMBER = 1024


@dataclass(frozen=True)
class IxmlTrack:
    """One TRACK: the recorder's track number, its place in the file (both from 1, None if absent), its name."""

    number: int | None
    place: int | None
    name: str


class _NotWanted(Exception):
    pass


def read_ixml(body: bytes) -> tuple[IxmlTrack, ...]:
    """The tracks listed in an iXML body, in its order; empty where the text is malformed or holds declarations."""
    text, encoding = _as_text(body)
    upper = text.upper()
    if not text or b"<!DOCTYPE" in upper or b"<!ENTITY" in upper:
        return ()
    tracks: list[IxmlTrack] = []
    path: list[str] = []
    fields: dict[str, str] = {}

    def start(tag: str, _attributes: object) -> None:
        if len(path) >= 32:
            raise _NotWanted
        path.append(tag)
        if path[-2:] == ["TRACK_LIST", "TRACK"]:
            fields.clear()

    def end(tag: str) -> None:
        if path[-2:] == ["TRACK_LIST", "TRACK"]:
            tracks.append(
                IxmlTrack(
                    _number(fields.get("CHANNEL_INDEX", "")),
                    _number(fields.get("INTERLEAVE_INDEX", "")),
                    fields.get("NAME", "").strip(),
                )
            )
            if len(tracks) > MOST_TRACKS:
                raise _NotWanted
        path.pop()

    def characters(text: str) -> None:
        if len(path) >= 2 and path[-2] == "TRACK" and path[-1] in ("CHANNEL_INDEX", "INTERLEAVE_INDEX", "NAME"):
            held = fields.get(path[-1], "")
            fields[path[-1]] = held + text[: LONGEST_NAME - len(held)]

    def refuse(*_: object) -> None:
        raise _NotWanted

    parser = expat.ParserCreate(encoding)
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = characters
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    try:
        parser.Parse(text, True)
    except (expat.ExpatError, _NotWanted, ValueError, LookupError):
        return ()
    return tuple(tracks)


def place_tracks(tracks: tuple[IxmlTrack, ...], channels: int) -> tuple[tuple[str, ...], tuple[int | None, ...]]:
    """(names, numbers) of the `channels` channels of a file, from its iXML tracks.

    INTERLEAVE_INDEX says which channel of the file a track is. Where it does not make sense (as in mono files that
    keep the index of the whole set), the order counts if there are as many tracks as channels; else nothing is told.
    """
    places = [track.place for track in tracks]
    by_channel: dict[int, IxmlTrack] = {}
    if all(place is not None and 1 <= place <= channels for place in places) and len(set(places)) == len(places):
        by_channel = {track.place - 1: track for track in tracks if track.place is not None}
    elif len(tracks) == channels:
        by_channel = dict(enumerate(tracks))
    names = tuple(by_channel[c].name if c in by_channel else "" for c in range(channels))
    numbers = tuple(by_channel[c].number if c in by_channel else None for c in range(channels))
    return names, numbers


def _number(text: str) -> int | None:
    text = text.strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        return None
    number = int(text)
    return number if 1 <= number <= LARGEST_NUMBER else None


def _as_text(body: bytes) -> tuple[bytes, str | None]:
    """The text without padding, and the encoding to read it by (None: as it says itself)."""
    if body[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return body.decode("utf-16", "replace").strip("\0 \t\r\n").encode("utf-8", "replace"), "utf-8"
    text = body.strip(b"\0 \t\r\n")
    try:
        text.decode("utf-8")
    except UnicodeDecodeError:
        # Some recorders write names in an 8-bit code page under a header that promises UTF-8.
        return text, "iso-8859-1"
    return text, None
