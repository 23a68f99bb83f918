"""How a command ends: exit statuses, and one line for whatever went wrong."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable
from typing import Any, Final

import typer

from sim.errors import InputError, nearest, one_line
from sim.world.files.places import printable
from splitwright.cli.output import bear_any_text, complain, give_up_on

DONE: Final = 0
NO: Final = 1
BAD_INPUT: Final = 2
NO_ANSWER: Final = 3
INTERNAL: Final = 4
TYPER_INTERRUPTED: Final = 130
"""What typer makes of Ctrl-C outside of a command's own handling."""
DEBUG: Final = "SPLITWRIGHT_DEBUG"


def status_of(run: Callable[[], Any]) -> int:
    """Run a command and return its exit status, with one line on standard error for anything that went wrong."""
    bear_any_text()
    try:
        status = _told_of_faults(run)
    except (KeyboardInterrupt, typer.Abort):
        status = TYPER_INTERRUPTED
    except Exception as error:
        return _internal(error)
    if status == TYPER_INTERRUPTED:
        complain("interrupted")
        return NO_ANSWER
    return status


def _told_of_faults(run: Callable[[], Any]) -> int:
    """The status of a run in which the user's faults are told."""
    try:
        status = run()
    except InputError as error:
        complain(printable(str(error)))
        return BAD_INPUT
    except typer.TyperException as error:
        if line := usage_line(error):
            complain(printable(line))
        return BAD_INPUT
    except OSError as error:  # typer writes its help itself
        complain(printable(f"{error.filename or 'standard output'}: {error.strerror}"))
        give_up_on(sys.stdout)
        return BAD_INPUT
    return status if isinstance(status, int) else DONE


def usage_line(error: typer.TyperException) -> str:
    """One line for an error of typer's: where, what, and what would be right; empty when it has shown the help."""
    name = type(error).__name__
    context = getattr(error, "ctx", None)
    where = context.info_name if context is not None and context.parent is not None else ""
    option = getattr(error, "option_name", "")
    parameter = getattr(error, "param", None)
    if name == "NoArgsIsHelpError":
        return ""
    if name == "NoSuchOption":
        return one_line(where, option, f"there is no such option; {nearest(option, _options(context))}")
    if name == "BadOptionUsage":
        needs_none = "not take" in error.message
        return one_line(where, option, "takes no value" if needs_none else "needs a value behind it")
    if name == "MissingParameter" and parameter is not None:
        wanted = parameter.metavar or parameter.human_readable_name
        return one_line(where, f"{wanted} is missing; {_help_hint(context)}")
    if isinstance(error, typer.BadParameter) and parameter is not None:
        return one_line(where, max(parameter.opts, key=len), error.message.removeprefix("Value error, ").rstrip("."))
    message = error.format_message()
    return one_line(where, f"{message[:1].lower()}{message[1:].rstrip('.')}; {_help_hint(context)}")


def _options(context: Any) -> list[str]:
    """Every long option of the command in hand."""
    if context is None:
        return []
    parameters = context.command.get_params(context)
    return [name for parameter in parameters for name in parameter.opts if name.startswith("--")]


def _help_hint(context: Any) -> str:
    return f"see {context.command_path} --help" if context is not None else "see splitwright --help"


def _internal(error: Exception) -> int:
    """The last resort: a fault of ours, told in one line."""
    if os.environ.get(DEBUG):
        traceback.print_exc()
    kind = type(error).__name__
    text = one_line(kind, str(error))
    complain(printable(f"internal error ({text[:200]}); please report it, with what {DEBUG}=1 shows"))
    return INTERNAL
