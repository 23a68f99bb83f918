"""The command line: which commands there are, and how each one ends.

A command is the function ``NAME`` that returns its exit status, in ``splitwright/commands/NAME.py``, or where it has
more of its own in ``splitwright/commands/NAME/command.py``; its name in ``COMMANDS`` is all that is needed to offer
it. Its docstring is its help, ``EXAMPLE`` the last line of that. A command is imported when it is asked for, so that
none waits for the solvers and tables of the others.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from importlib.metadata import version
from typing import Annotated, Any, Final

import typer
from typer.core import TyperGroup
from typer.main import get_command_from_info
from typer.models import CommandInfo

from sim.errors import InputError, nearest
from sim.world.files.places import shown
from splitwright.cli.failures import status_of
from splitwright.cli.output import emit

PROGRAM: Final = "splitwright"
COMMANDS: Final = (
    "new", "propose", "tighter", "improve", "compare", "trial", "assure", "shift", "check", "draw", "sheet", "watch",
    "size", "labels", "laws", "probe",
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

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name in COMMANDS and cmd_name not in self.commands:
            self.add_command(_loaded(cmd_name), cmd_name)
        return super().get_command(ctx, cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        name = args[0]
        if name not in COMMANDS and not name.startswith("-") and not ctx.resilient_parsing:
            raise InputError(f"there is no such command; {nearest(name, COMMANDS)}", file=shown(name))
        return super().resolve_command(ctx, args)


def _loaded(name: str) -> Any:
    """The command of that name, out of its module."""
    module = import_module(f"{PROGRAM}.commands.{name}")
    if not hasattr(module, name):
        module = import_module(f"{module.__name__}.command")
    function = getattr(module, name)
    info = CommandInfo(name=name, callback=function, help=_unwrapped(function.__doc__), epilog=module.EXAMPLE)
    return get_command_from_info(info, pretty_exceptions_short=True, rich_markup_mode="rich")


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
