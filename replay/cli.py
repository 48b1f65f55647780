"""The commands: each is parsed here, its work done in `replay.commands`; exceptions become messages and statuses, once.

A command function only takes the words of the call and hands back the work to be done, so that parsing and working
fail in the same place (`run`). Everything that needs numbers or audio is imported by the work, not by the parsing:
`replay --help` answers at once.

Exit statuses: 0 no fault, 1 at least one fault, 2 it could not be answered, 130 interrupted.
"""

from __future__ import annotations

import contextlib
import inspect
import os
import signal
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from replay import cli_compare, cli_draft, cli_listening, commands
from replay import report as formats
from replay.cli_help import App, Group
from replay.commands import INTERRUPTED, NO_FAULT, NOT_ANSWERED
from replay.errors import ReplayError
from replay.terminal import complain, complain_of, hush, say
from replay.text import harmless

Work = Callable[[], int]

app = App(
    cls=Group,
    name="replay",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    pretty_exceptions_enable=False,
    help=(
        "Reads a multitrack recording and its patch, with no desk connected, and says whether the recording can be "
        "trusted for a virtual soundcheck, and which preamps to turn before the show.\n\n"
        "Begin with: replay check SHOW, where SHOW is a folder with patch.toml, the input list and the take. Without a "
        "patch: replay draft FOLDER --inputs LIST. Without a recording: replay demo DIR."
    ),
)

Show = Annotated[str, typer.Argument(metavar="SHOW", help="The show's folder, or its patch file.")]


@app.callback(invoke_without_command=True)
def _replay(
    version: Annotated[bool, typer.Option("--version", help="Print the version and end.", is_eager=True)] = False,
) -> Work | None:
    if version:
        from replay._version import VERSION

        say(f"replay {VERSION}\n")
        raise typer.Exit(NO_FAULT)
    return None


def _with_formats(command: Callable[..., Work]) -> Callable[..., Work]:
    """`command` with one more option for each report format, handed to it as keywords."""
    signature = inspect.signature(command, eval_str=True)
    fixed = [parameter for parameter in signature.parameters.values() if parameter.kind is not parameter.VAR_KEYWORD]
    options = [
        inspect.Parameter(
            _keyword(one),
            inspect.Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[str | None, typer.Option(one.OPTION, metavar=one.METAVAR, help=one.HELP)],
        )
        for one in formats.FORMATS
    ]
    command.__signature__ = signature.replace(parameters=[*fixed, *options])  # type: ignore[attr-defined]
    return command


def _keyword(one: Any) -> str:
    return one.OPTION.lstrip("-").replace("-", "_")


@app.command(
    help="Say whether the take can be trusted, and which preamps to turn.\n\n"
    "Example: replay check saturday --from 4:30 --csv sheets\n\n"
    "Ends with status 0 if there is no fault, 1 if there is one, 2 if it could not be answered."
)
@_with_formats
def check(
    shows: Annotated[
        list[str], typer.Argument(metavar="SHOW", help="The show's folder, or its patch file. Several: a line each.")
    ],
    take: Annotated[
        str | None, typer.Option(metavar="TAKE", help="The take to read: its folder, name or number.")
    ] = None,
    from_: Annotated[
        str | None, typer.Option("--from", metavar="TIME", help="Judge levels from here on: 4:30.")
    ] = None,
    to: Annotated[str | None, typer.Option(metavar="TIME", help="Judge levels up to here: 58:00.")] = None,
    trim: Annotated[
        list[str] | None, typer.Option(metavar="CH=DB", help="Take this trim for a channel: 7=-3.5. Repeatable.")
    ] = None,
    gain: Annotated[
        list[str] | None, typer.Option(metavar="CH=DB", help="Take this preamp gain for a channel: 7=28. Repeatable.")
    ] = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Measure again, whatever was kept of this take.")] = False,
    kept: Annotated[
        str | None, typer.Option(metavar="DIR", help="The folder for kept measurements, in place of the usual one.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print the verdict only.")] = False,
    watch: Annotated[
        bool, typer.Option("--watch", help="Check again whenever the take has changed and come to rest.")
    ] = False,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Leave the excerpts to hear out of the page.")] = False,
    **targets: str | None,
) -> Work:
    wanted = [(one, target) for one in formats.FORMATS if (target := targets[_keyword(one)]) is not None]
    return partial(
        commands.check,
        shows,
        take=take,
        part=(from_, to),
        trims=trim or [],
        gains=gain or [],
        fresh=fresh,
        kept=kept,
        quiet=quiet,
        wanted=wanted,
        sound=not no_sound,
        watch=watch,
    )


@app.command(
    short_help="Say where each channel comes from.",
    help="Say where each channel comes from, what is not recorded, and how long there is room to record.\n\n"
    "Example: replay routes saturday",
)
def routes(show: Show) -> Work:
    return partial(commands.routes, show)


@app.command(
    short_help="Print what a finding means and what to do.",
    help="Print a finding's page: what it is, how it is told, what can fool it, what to do.\n\n"
    "Example: replay explain clipped. Without a code, all codes are listed.",
)
def explain(
    code: Annotated[
        str | None,
        typer.Argument(
            metavar="CODE", help="The word that a finding begins with, such as clipped.", autocompletion=commands.codes
        ),
    ] = None,
) -> Work:
    return partial(commands.explain, code)


@app.command(
    short_help="Write an example show with planted faults.",
    help="Write an example show with planted faults: patch, input list and a made-up take.\n\n"
    "Example: replay demo mill-yard --minutes 2, then: replay check mill-yard",
)
def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to write it to.")],
    minutes: Annotated[
        float,
        typer.Option(metavar="N", min=1.0, max=240.0, help="How long the take is to be, 1 to 240; 10 if not given."),
    ] = 10.0,
    pocket: Annotated[bool, typer.Option("--pocket", help="Write the small show of a few seconds instead.")] = False,
) -> Work:
    return partial(commands.demo, folder, minutes, pocket)


@app.command(
    short_help="Say which measurements are kept between runs, or remove them.",
    help="Say which measurements are kept between runs, where, and how much room they take.\n\n"
    "Example: replay kept --empty. Nothing is lost by it: the next check of a take measures it again.",
)
def kept(
    folder: Annotated[
        str | None, typer.Argument(metavar="DIR", help="A folder that was given to check --kept; else the usual one.")
    ] = None,
    empty: Annotated[bool, typer.Option("--empty", help="Remove them.")] = False,
) -> Work:
    return partial(commands.kept, folder, empty)


cli_listening.register(app)
cli_draft.register(app)
cli_compare.register(app)


def run(words: Sequence[str]) -> int:
    """Do what the words of a call say. Returns the exit status; whatever goes wrong is told on standard error."""
    try:
        work = app(args=list(words), prog_name="replay", standalone_mode=False)
        return work() if callable(work) else int(work or NO_FAULT)
    except (KeyboardInterrupt, typer.Abort):
        complain("Interrupted.")
        return INTERRUPTED
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else NOT_ANSWERED
    except ReplayError as error:
        complain_of(error)
    except BrokenPipeError:
        hush()
    except OSError as error:
        what = f"{harmless(str(error.filename), 4096)}: " if error.filename else ""
        complain(f"replay: {what}{harmless(error.strerror or str(error), 1000)}")
    except MemoryError:
        complain("replay: this machine has not enough memory for it (close other programs and try again)")
    except Exception as error:
        if hasattr(error, "exit_code"):
            return _usage(error)
        from replay.defect import tell

        tell(error, words)
    return NOT_ANSWERED


def _usage(error: Any) -> int:
    """A call that could not be parsed (typer's and click's own exceptions, whichever of them is installed)."""
    if type(error).__name__ == "NoArgsIsHelpError":
        complain(error.message)
        return NOT_ANSWERED
    command = getattr(getattr(error, "ctx", None), "command_path", "replay")
    complain(f"replay: {harmless(error.format_message(), 1000).rstrip('.')} (see {command} --help)")
    return NOT_ANSWERED


def _stop(signal_number: int, frame: Any) -> None:
    raise KeyboardInterrupt


def main() -> None:
    """The `replay` command."""
    with contextlib.suppress(ValueError):  # not in the main thread
        signal.signal(signal.SIGTERM, _stop)
    for stream in (sys.stdout, sys.stderr):  # what a terminal cannot show becomes a question mark, and no error
        with contextlib.suppress(AttributeError, OSError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        status = run(sys.argv[1:])
    except KeyboardInterrupt:  # a second one, while the first was being told
        status = INTERRUPTED
    if status == INTERRUPTED:
        # Threads may be in the middle of a long stretch of audio; nothing of theirs is worth waiting for.
        with contextlib.suppress(AttributeError, OSError, ValueError):
            sys.stdout.flush()
        os._exit(status)
    sys.exit(status)
