"""How the commands' help pages are laid out: the same for every command, whatever typer is installed.

typer adds the type in Python's words to each argument (`SHOW <str>`) and puts what is needed in braces; other versions
of it do neither. Here what is needed stands bare, what may be left out in brackets, what repeats has dots.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

ORDER = ("check", "draft", "compare", "routes", "explain", "hear", "confirm", "play", "render", "ident", "demo", "kept")
"""The commands as the list of all names them: what is needed every day, then sound and files, then the rest."""


_WORKINGS = re.compile(r"\s*\[[^\[\]]*\]$")
"""What typer appends in brackets, such as `[default: -20.0; -60.0<=x<=-20.0]`: the help's own words say it."""


class Command(TyperCommand):
    """A command whose help page is laid out as above."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        return ["[OPTIONS]", *(_name(param) for param in self.get_params(ctx) if _is_argument(param))]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        arguments, options = [], []
        for param in self.get_params(ctx):
            if _is_argument(param):
                arguments.append((_name(param), param.help or ""))  # type: ignore[attr-defined]
            elif (record := param.get_help_record(ctx)) is not None:
                options.append((record[0], _WORKINGS.sub("", record[1])))
        for title, rows in (("Arguments", arguments), ("Options", options)):
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)


class Group(TyperGroup):
    """All commands, listed in `ORDER`; one that is not in it comes last."""

    def list_commands(self, ctx: Any) -> list[str]:
        names = super().list_commands(ctx)
        return sorted(names, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))


class App(typer.Typer):
    """A typer application whose commands are of the class above."""

    def command(self, *args: Any, **settings: Any) -> Callable[..., Any]:
        settings.setdefault("cls", Command)
        return super().command(*args, **settings)


def _is_argument(param: Any) -> bool:
    return bool(param.param_type_name == "argument")


def _name(param: Any) -> str:
    name = param.metavar or param.name.upper()
    return (name if param.required else f"[{name}]") + "..." * (param.nargs != 1)
