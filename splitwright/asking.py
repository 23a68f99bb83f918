"""Questions to a person: on a terminal until the answer will do, else one line of standard input each."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import nullcontext, redirect_stdout
from dataclasses import dataclass
from typing import Generic, TypeVar

import typer

from sim.errors import InputError
from sim.files.places import printable
from splitwright.output import complain

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Question(Generic[T]):
    """``option``: where the answer may stand instead; ``default``: what an empty line stands for; ``read`` makes the
    answer of a text, and raises InputError that says what is wrong with it."""

    option: str
    text: str
    default: str
    read: Callable[[str], T]


def answer_to(question: Question[T], given: str | None) -> T:
    """The answer: what the option ``given`` says, else what is asked for.

    On a terminal a bad answer is told in one line and asked for again. Raises InputError for a bad one from an option
    or from piped input, and where that has ended.
    """
    if given is not None:
        return _read(question, given, question.option)
    if not _is_terminal():
        return _read(question, _next_line(question) or question.default, f"answer for {question.option}")
    while True:
        try:
            return question.read(_prompted(question).strip())
        except InputError as error:
            complain(printable(str(error)))


def _prompted(question: Question[T]) -> str:
    """What is typed; the prompt goes to standard error, all of it, also where standard output is a file."""
    elsewhere = sys.stdout is None or not sys.stdout.isatty()
    with redirect_stdout(sys.stderr) if elsewhere else nullcontext():
        return str(typer.prompt(question.text, default=question.default, err=True))


def _read(question: Question[T], text: str, source: str) -> T:
    try:
        return question.read(text.strip())
    except InputError as error:
        raise InputError(error.fault, file=source) from None


def _is_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _next_line(question: Question[T]) -> str:
    """A line of standard input, which may be empty. Raises InputError at its end, or where it is no text."""
    try:
        line = sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeDecodeError:
        raise InputError("is no UTF-8 text", file="standard input") from None
    if not line:
        fault = f"ends before the answer for {question.option}; give the option instead"
        raise InputError(fault, file="standard input")
    return line.strip()
