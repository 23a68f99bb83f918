"""What is to be done side by side, and what can come of it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Final, Generic, Literal, Protocol, TypeVar

from synth.solving.budget import Stop

J = TypeVar("J")
R = TypeVar("R")
Tell = Callable[[Any], None]
"""Called with what a job has come to so far, or with a line on what it does."""
Do = Callable[[J, float, Tell], R]
"""Does a job within so many seconds. A function at the top level of a module: it is sent by its name."""
STOPPED: Final = "stopped by the time limit"


def _whole(_job: Any) -> Sequence[Any]:
    return ()


def _same(_job: Any) -> Hashable:
    return None


def _last(results: Sequence[R]) -> R:
    return results[-1]


@dataclass(frozen=True, slots=True)
class Work(Generic[J, R]):
    """One kind of work. A job's result depends on the job alone, so it may be done twice.

    ``cut_short``: the result of a job that ended early, from what it told last (None: nothing) and why it ended.
    ``split``: smaller jobs that come to the same (none: it is as small as it gets); ``joined``: their results as one.
    ``key``: the same for equal jobs and seldom for others; of jobs with one key no more than one is begun early.
    """

    do: Do[J, R]
    cut_short: Callable[[Any, str], R]
    split: Callable[[J], Sequence[J]] = _whole
    joined: Callable[[Sequence[R]], R] = _last
    key: Callable[[J], Hashable] = _same


@dataclass(frozen=True, slots=True)
class End:
    """How one go at a job ended: ``value`` is its result where it is "done", else what it told last; ``why``: in one
    sentence. "died": the process did, for want of memory or of a signal; "failed": the work raised an exception;
    "lost": whatever it was done on cannot be reached any more."""

    how: Literal["done", "stopped", "died", "failed", "lost"]
    value: Any = None
    why: str = ""


class Slots(Protocol):
    """Where jobs are done, each in a slot of its own."""

    @property
    def count(self) -> int:
        """Jobs that can be done at once, by now."""

    @property
    def lost(self) -> str:
        """Why nothing can be done there any more, in a sentence; "" while all is well."""

    @property
    def faults(self) -> Sequence[str]:
        """What was amiss, a sentence each."""

    def start(self, do: Do[Any, Any], job: Any, seconds: float, stop: Stop, tell: Tell) -> Future[End]:
        """Begin a job; not more than ``count`` at once. It ends early when ``stop`` is set."""

    def close(self) -> None:
        """End everything that still runs."""
