"""Questions to a person: on a terminal until the answer will do, else one line of standard input each."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext, redirect_stdout
from dataclasses import dataclass
from typing import Generic, TypeVar

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from splitwright.cli.output import complain

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Question(Generic[T]):
    """``option``: where the answer may stand instead; ``default``: what an empty line stands for; ``read`` makes the
    answer of a text, and raises InputError that says what is wrong with it. ``is_long``: an answer may have several
    lines, up to an empty one. ``may_lack``: where piped input has ended, what is offered is taken."""

    option: str
    text: str
    default: str
    read: Callable[[str], T]
    is_long: bool = False
    may_lack: bool = False


def answer_to(question: Question[T], given: str | None) -> T:
    """The answer: what the option ``given`` says, else what is asked for.

    On a terminal a bad answer is told in one line and asked for again. Raises InputError for a bad one from an option
    or from piped input, and where that has ended.
    """
    if given is not None:
        return _read(question, given, question.option)
    if not is_terminal():
        return _read(question, _piped(question) or question.default, f"answer for {question.option}")
    while True:
        try:
            return question.read(_typed(question).strip())
        except InputError as error:
            complain(printable(str(error)))


def confirmed(text: str) -> bool:
    """Whether a person on a terminal says yes to it (an empty answer does). No terminal: nobody is asked, and no."""
    if not is_terminal():
        return False
    with _prompts_apart():
        return bool(typer.confirm(text, default=True, err=True))


def is_terminal() -> bool:
    """Somebody is there to be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def _typed(question: Question[T]) -> str:
    """What is typed; the prompt goes to standard error, all of it, also where standard output is a file."""
    with _prompts_apart():
        lines = [str(typer.prompt(question.text, default=question.default, err=True))]
        while question.is_long and lines[-1].strip() and lines != [question.default]:
            lines.append(str(typer.prompt("", default="", prompt_suffix="", show_default=False, err=True)))
    return "\n".join(lines)


def _prompts_apart() -> AbstractContextManager[object]:
    elsewhere = sys.stdout is None or not sys.stdout.isatty()
    return redirect_stdout(sys.stderr) if elsewhere else nullcontext()


def _read(question: Question[T], text: str, source: str) -> T:
    try:
        return question.read(text.strip())
    except InputError as error:
        raise InputError(error.fault, file=source) from None


def _piped(question: Question[T]) -> str:
    """What standard input has for the question. Raises InputError at its end, or where it is no text."""
    line = _next_line()
    if line is None and question.may_lack:
        return ""
    if line is None:
        fault = f"ends before the answer for {question.option}; give the option instead"
        raise InputError(fault, file="standard input")
    lines = [line]
    while question.is_long and lines[-1]:
        lines.append(_next_line() or "")
    return "\n".join(lines).strip()


def _next_line() -> str | None:
    """A line of standard input, which may be empty; None: it has ended. Raises InputError where it is no text."""
    try:
        line = sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeDecodeError:
        raise InputError("is no UTF-8 text", file="standard input") from None
    return line.strip() if line else None
