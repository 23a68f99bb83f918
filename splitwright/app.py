"""The command line: which commands there are, and how each one ends.

A command lives in ``splitwright/commands/NAME.py`` as the function ``NAME`` that returns its exit status; its name in
``COMMANDS`` is all that is needed to offer it. Its docstring is its help, ``EXAMPLE`` the last line of that.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from importlib.metadata import version
from importlib.util import find_spec
from typing import Annotated, Any, Final

import typer
from typer.core import TyperGroup

from sim.errors import InputError, nearest
from sim.files.places import shown
from splitwright.failures import status_of
from splitwright.output import emit

PROGRAM: Final = "splitwright"
COMMANDS: Final = (
    "new", "propose", "tighter", "improve", "compare", "trial", "assure", "shift", "check", "draw", "sheet", "watch",
    "size", "labels", "laws",
)  # fmt: skip


class Commands(TyperGroup):
    """The group of all commands: every way out of it is an exit status with at most one line of complaint."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        run = super().main
        status = status_of(lambda: run(args, PROGRAM, complete_var, False, windows_expand_args, **extra))
        if standalone_mode:
            sys.exit(status)
        return status

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        name = args[0]
        if name not in self.commands and not name.startswith("-") and not ctx.resilient_parsing:
            raise InputError(f"there is no such command; {nearest(name, self.commands)}", file=shown(name))
        return super().resolve_command(ctx, args)


app = typer.Typer(
    cls=Commands,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["--help", "-h"]},
    epilog="Example: splitwright trial kilns.plan --load feed=54",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        emit(f"{PROGRAM} {version(PROGRAM)}\n")
        raise typer.Exit


@app.callback()
def _splitwright(
    _: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """Propose, better, try, assure, check and draw layouts that split item streams evenly in a block world.

    Exit status: 0 yes or done; 1 the answer is no; 2 wrong use or bad input; 3 stopped without an answer.
    """


def _unwrapped(text: str) -> str:
    """A docstring with one line a paragraph, for the terminal to wrap."""
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in text.split("\n\n"))


for _name in COMMANDS:
    if find_spec(f"{PROGRAM}.commands.{_name}") is not None:
        _module = import_module(f"{PROGRAM}.commands.{_name}")
        _function = getattr(_module, _name)
        app.command(_name, help=_unwrapped(_function.__doc__), epilog=_module.EXAMPLE)(_function)
