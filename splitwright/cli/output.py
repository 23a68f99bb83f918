"""What goes to standard output and standard error, and how: JSON, text, tables."""

from __future__ import annotations

import errno
import json
import os
import shutil
import sys
from collections.abc import Iterable
from io import StringIO
from typing import Any, Final, TextIO

from rich.console import Console, RenderableType
from rich.table import Table

from sim.errors import InputError
from sim.world.files.places import printable
from splitwright.cli.tables import fitting

PIPED_WIDTH: Final = 160
"""Columns of what is no terminal: tables are only as wide as they need to be, long lines are left whole."""


def emit(text: str) -> None:
    """Write to standard output, at once. A reader that has gone away is no fault: the rest goes nowhere.

    Raises InputError when it cannot be written for another reason (a full disk).
    """
    if sys.stdout is None:
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        give_up_on(sys.stdout)
        if error.errno != errno.EPIPE:
            raise InputError(f"cannot be written ({error.strerror})", file="standard output") from None


def complain(text: str) -> None:
    """One line on standard error, after the program's name."""
    say(f"splitwright: {text}")


def say(text: str) -> None:
    """One line on standard error, as it is: news while work goes on."""
    if sys.stderr is None:
        return
    try:
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()
    except OSError:
        give_up_on(sys.stderr)


def emit_json(document: dict[str, Any]) -> None:
    """One JSON document on standard output, on one line."""
    plain = not (getattr(sys.stdout, "encoding", None) or "utf-8").lower().startswith("utf")
    emit(json.dumps(document, ensure_ascii=plain) + "\n")


def show(*renderables: RenderableType) -> None:
    """Text and tables on standard output, in the colours that it bears (``NO_COLOR`` is heeded)."""
    file = StringIO()
    console = _stdout_console(file)
    for renderable in renderables:
        if isinstance(renderable, Table):
            renderable = fitting(renderable, console.width)
        console.print(renderable, soft_wrap=isinstance(renderable, str) and not console.is_terminal)
    text = file.getvalue()
    if not console.is_terminal:  # tables are padded on the right
        text = "".join(f"{line.rstrip()}\n" for line in text.splitlines())
    emit(text)


def written(files: Iterable[str | os.PathLike[str]]) -> str:
    """``Written: kilns.json, kilns.plan``: what a command has put where."""
    return f"Written: {', '.join(printable(os.fspath(file)) for file in files)}"


def stdout_width() -> int:
    """Columns of standard output."""
    return _stdout_console(StringIO()).width


def _stdout_console(file: TextIO) -> Console:
    """A console that writes to ``file`` what suits standard output."""
    terminal = sys.stdout is not None and sys.stdout.isatty()
    size = shutil.get_terminal_size()
    width = size.columns if terminal else None if "COLUMNS" in os.environ else PIPED_WIDTH
    return Console(
        file=file,
        force_terminal=True if terminal else None,
        width=width,
        height=size.lines if terminal else None,  # with no height rich takes a dumb terminal for one of 80 columns
        highlight=False,
        markup=False,
        emoji=False,
    )


def stderr_is_terminal() -> bool:
    """Somebody may be watching standard error."""
    return sys.stderr is not None and sys.stderr.isatty()


def bear_any_text() -> None:
    """Let standard output take characters that its encoding lacks, escaped, instead of failing on them."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def give_up_on(stream: TextIO) -> None:
    """Send what is still to come to nowhere, the interpreter's own flush at its end too."""
    try:
        descriptor = stream.fileno()
    except (OSError, ValueError):
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, descriptor)
    os.close(nowhere)
