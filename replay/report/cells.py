"""Text measured in terminal cells: wide characters take two, combining marks none.

Everything printed for people goes through here, so that a name in any script neither breaks a column nor wraps in the
middle of a character.
"""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size


def width(text: str) -> int:
    """The number of terminal cells that `text` takes.

    >>> width("Kick"), width("太鼓"), width("e\\u0301")
    (4, 4, 1)
    """
    return cell_len(text)


def fit(text: str, cells: int, *, right: bool = False) -> str:
    """`text` in exactly `cells` cells: padded with spaces (on the left if `right`), or cut with a mark at the cut.

    >>> fit("Kick", 6), fit("28", 4, right=True), fit("Overhead left", 8)
    ('Kick  ', '  28', 'Overhea…')
    """
    taken = width(text)
    if taken > cells:
        if cells < 1:
            return ""
        return set_cell_size(set_cell_size(text, cells - 1).rstrip() + "…", cells)
    padding = " " * (cells - taken)
    return padding + text if right else text + padding


def wrap(text: str, cells: int, *, first: str = "", rest: str = "") -> list[str]:
    """`text` as lines of at most `cells` cells, the first beginning with `first`, the others with `rest`.

    Words longer than a line are cut into pieces. An empty text gives no line.
    """
    lines: list[str] = []
    line, begun = first, False
    for word in text.split():
        for piece in _pieces(word, max(cells - max(width(first), width(rest)), 8)):
            if begun and width(line) + 1 + width(piece) > cells:
                lines.append(line)
                line, begun = rest, False
            line += (" " if begun else "") + piece
            begun = True
    if begun:
        lines.append(line)
    return lines


def _pieces(word: str, cells: int) -> list[str]:
    """`word` cut into pieces of at most `cells` cells."""
    pieces = []
    while width(word) > cells:
        end = cells
        while width(word[:end]) > cells:
            end -= 1
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]
