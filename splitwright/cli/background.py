"""Work in a thread of its own, so that Ctrl-C is heard while compiled code and solvers run."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TypeVar

from splitwright.cli.interrupt import Interruption

T = TypeVar("T")


def in_background(work: Callable[[], T], stop: threading.Event) -> T:
    """What ``work`` returns; ``stop`` is set when Ctrl-C has come. What it raises is raised."""
    answers: list[T] = []
    faults: list[BaseException] = []

    def run() -> None:
        try:
            answers.append(work())
        except BaseException as fault:
            faults.append(fault)

    with Interruption() as interruption:
        thread = threading.Thread(target=run)
        thread.start()
        while thread.is_alive():
            thread.join(0.1)
            if interruption.asked:
                stop.set()
    if faults:
        raise faults[0]
    return answers[0]
