"""Names from files and patches, made harmless to show; and times in words.

File names and metadata can hold control characters, terminal escape sequences and marks that reverse the reading
direction. Whatever shows a name shows `harmless(name)`.
"""

from __future__ import annotations

import unicodedata

_UNSAFE_CATEGORIES = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def harmless(name: str, longest: int = 200) -> str:
    """`name` with control, format, direction and surrogate characters replaced by `?`, cut to `longest` characters.

    >>> harmless("Kick\\x1b[31m")
    'Kick?[31m'
    """
    shown = "".join("?" if unicodedata.category(c) in _UNSAFE_CATEGORIES else c for c in name[: longest + 1])
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def no_formula(text: str) -> str:
    """`text` with an apostrophe in front where a spreadsheet would take it for a formula and run it.

    Wide forms of the signs count too (some spreadsheets read them as the plain ones), and so do spaces before them.

    >>> no_formula("=1+1"), no_formula("Kick"), no_formula(" -3")
    ("'=1+1", 'Kick', "' -3")
    """
    begin = unicodedata.normalize("NFKC", text.lstrip()[:1] or text[:1])
    return "'" + text if begin.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def clock(seconds: float) -> str:
    """A time on the take as minutes and seconds, with hours where there are some.

    >>> clock(272.4), clock(3725)
    ('4:32', '1:02:05')
    """
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def size(count: int) -> str:
    """A number of bytes in the units that file managers show.

    >>> size(0), size(1), size(999_999), size(310_400_000), size(4 << 30)
    ('0 bytes', '1 byte', '1000 kB', '310 MB', '4.3 GB')
    """
    if count < 1000:
        return f"{count} byte{'' if count == 1 else 's'}"
    power = 1
    while count >= 1000 ** (power + 1) and power < 4:
        power += 1
    amount, unit = count / 1000**power, ("kB", "MB", "GB", "TB")[power - 1]
    return f"{amount:.1f} {unit}" if amount < 9.95 else f"{amount:.0f} {unit}"


def ranges(numbers: list[int] | tuple[int, ...]) -> str:
    """Numbers in ascending order as runs.

    >>> ranges([1, 2, 3, 7])
    '1-3, 7'
    """
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
