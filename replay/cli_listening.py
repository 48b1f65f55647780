"""The words of the commands that hear, play, confirm and write a take; `register` adds them to the others."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from replay.listening import confirm as confirming
from replay.listening import hear as hearing
from replay.listening import play as playing
from replay.listening import write as writing

Work = Callable[[], int]

Show = Annotated[str, typer.Argument(metavar="SHOW", help="The show's folder, or its patch file.")]
Take = Annotated[str | None, typer.Option(metavar="TAKE", help="The take to read: its folder, name or number.")]
From = Annotated[str | None, typer.Option("--from", metavar="TIME", help="Begin here: 4:30.")]
To = Annotated[str | None, typer.Option("--to", metavar="TIME", help="End here: 58:00.")]
NewFolder = Annotated[Path, typer.Argument(metavar="DIR", help="A folder that is new, or empty.")]


def render(
    show: Show,
    folder: NewFolder,
    take: Take = None,
    from_: From = None,
    to: To = None,
    gain: Annotated[
        list[str] | None,
        typer.Option(metavar="CH=DB", help="Write the take as if recorded at this preamp gain: 7=28. Repeatable."),
    ] = None,
    as_float: Annotated[bool, typer.Option("--float", help="Write 32-bit float instead of 24 bit.")] = False,
    poly: Annotated[bool, typer.Option("--poly", help="Write one file with all channels.")] = False,
) -> Work:
    return partial(
        writing.render, show, folder, take=take, part=(from_, to), gains=gain or [], as_float=as_float, poly=poly
    )


def ident(
    show: Show,
    folder: NewFolder,
    rate: Annotated[
        int | None,
        typer.Option(metavar="HZ", min=8000, max=384000, help="The sample rate, 8000 to 384000, if not the patch's."),
    ] = None,
) -> Work:
    return partial(writing.ident, show, folder, rate=rate)


Device = Annotated[
    str | None, typer.Option(metavar="NAME", help="The sound device: its name, a part of it, or its number.")
]


def play(
    show: Show,
    device: Device = None,
    take: Take = None,
    from_: From = None,
    to: To = None,
    loop: Annotated[bool, typer.Option("--loop", help="Begin again at the end, until stopped.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask before playing.")] = False,
) -> Work:
    return partial(playing.play, show, take=take, device=device, part=(from_, to), loop=loop, yes=yes)


def hear(
    show: Show,
    channels: Annotated[
        list[int] | None, typer.Argument(metavar="CHANNEL", help="One channel, or several together.")
    ] = None,
    bus: Annotated[str | None, typer.Option(metavar="NAME", help="Hear a bus.")] = None,
    from_: From = None,
    to: To = None,
    finding: Annotated[
        str | None, typer.Option(metavar="ID", help="Hear what a finding is about, from just before it.")
    ] = None,
    level: Annotated[
        float,
        typer.Option(
            metavar="DB", min=-60.0, max=-20.0, help="The level to begin with, -60 to -20 dB; -20 if not given."
        ),
    ] = -20.0,
    device: Device = None,
    take: Take = None,
) -> Work:
    return partial(
        hearing.hear,
        show,
        channels=channels or [],
        bus=bus,
        take=take,
        device=device,
        part=(from_, to),
        finding=finding,
        level=level,
    )


def confirm(
    show: Show,
    channels: Annotated[list[int] | None, typer.Argument(metavar="CHANNEL", help="Only these channels.")] = None,
    again: Annotated[bool, typer.Option("--again", help="Ask about channels that are answered already, too.")] = False,
    device: Device = None,
    take: Take = None,
) -> Work:
    return partial(confirming.confirm, show, channels=channels or [], take=take, device=device, again=again)


_COMMANDS = (
    (
        confirm,
        "Sign the channels off by ear.",
        "Walk the channels in order, hear each where it stands out most from all others, and say whether it is what "
        "the patch says. Every answer is kept at once, in confirmed.csv in the show's folder.\n\n"
        "Example: replay confirm saturday",
    ),
    (
        hear,
        "Hear channels through the modeled patch, on headphones.",
        "Hear channels or a bus through the modeled patch, on headphones; from the loudest stretch unless --from or "
        "--finding says otherwise.\n\n"
        "Example: replay hear saturday 7",
    ),
    (
        play,
        "Play the take into the desk: the virtual soundcheck.",
        "Play every track, as recorded, to the device's output that its channel returns from.\n\n"
        "Example: replay play saturday --device desk --from 4:30 --to 8:05 --loop",
    ),
    (
        render,
        "Write channels, or the take at other gains, as WAV files.",
        "Write the modeled channels (trim, polarity) and buses as WAV files; with --gain, the take as if it had been "
        "recorded at that gain.\n\n"
        "Example: replay render saturday for-the-recorder --gain 7=28",
    ),
    (
        ident,
        "Write a short take whose every track names itself.",
        "Write a short take in which every track in turn carries a quiet burst of its own, to find out which return "
        "feeds which channel; recorded back, check reads it.\n\n"
        "Example: replay ident saturday who-is-who",
    ),
)


def register(app: typer.Typer) -> None:
    """Add the commands to `app`."""
    for command, short, text in _COMMANDS:
        app.command(short_help=short, help=text)(command)
