"""What a draft guessed, could not know, and left out; collected on the way, told at the end.

Guesses of one kind are one line with the channels that it holds for.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from replay.text import ranges

MOST_LEFT_OUT = 200
"""Lines of the list that are told by themselves when they are left out; a list has a dozen such lines."""


@dataclass(frozen=True, kw_only=True)
class Note:
    """One sentence, without its full stop, and the channels that it holds for (none: the whole show).

    `short` is how it stands in the `guessed` column of the input list ("" for what stands in none).
    """

    text: str
    channels: tuple[int, ...] = ()
    short: str = ""

    def __str__(self) -> str:
        if not self.channels:
            return self.text
        return f"channel{'s' if len(self.channels) > 1 else ''} {ranges(self.channels)}: {self.text}"


@dataclass
class Notes:
    """The collection. `patch` and `inputs` are guesses by the file to correct them in, `unknown` what nothing says,
    `left_out` what of the list was not used, `read` how the list was understood."""

    patch: list[Note] = field(default_factory=list)
    inputs: list[Note] = field(default_factory=list)
    unknown: list[Note] = field(default_factory=list)
    left_out: list[Note] = field(default_factory=list)
    read: list[Note] = field(default_factory=list)

    def guess(self, text: str, *channels: int, short: str = "") -> None:
        """Note a guess about lines of the input list."""
        _add(self.inputs, text, channels, short)

    def guess_patch(self, text: str, *channels: int) -> None:
        """Note a guess about the patch file."""
        _add(self.patch, text, channels, "")

    def not_known(self, text: str, *channels: int) -> None:
        """Note what neither list nor tracks say."""
        _add(self.unknown, text, channels, "")

    def leave_out(self, text: str) -> None:
        """Note something of the list that was not used."""
        if len(self.left_out) < MOST_LEFT_OUT:
            _add(self.left_out, text, (), "")
        elif len(self.left_out) == MOST_LEFT_OUT:
            self.left_out.append(Note(text="and more"))

    def tell(self, text: str) -> None:
        """Note how the list was read."""
        _add(self.read, text, (), "")


def _add(notes: list[Note], text: str, channels: tuple[int, ...], short: str) -> None:
    for i, note in enumerate(notes):
        if note.text == text and note.short == short:
            together = tuple(sorted({*note.channels, *channels}))
            notes[i] = Note(text=text, channels=together, short=short)
            return
    notes.append(Note(text=text, channels=tuple(sorted(set(channels))), short=short))
