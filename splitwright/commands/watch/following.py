"""The round of a watcher: look at the file, tell, wait for a save; a save while a look is going on starts anew."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

from sim.errors import InputError
from splitwright.cli.interrupt import Interrupted, Interruption
from splitwright.commands.watch.saves import Saves

T = TypeVar("T")
GONE_NOTE = "is gone; waiting for it to come back"


def follow(
    path: Path,
    look: Callable[[threading.Event], T],
    tell: Callable[[T | InputError], None],
    began: Callable[[], None] = lambda: None,
) -> None:
    """Until Ctrl-C: ``look`` at the file, in a thread of its own, now and at each save, and ``tell`` what came of it.

    ``look`` is told by its event to stop, and may then return what it has or raise Interrupted. A look that a save has
    made old is told to nobody; one that Ctrl-C ended is, if it came to something. InputError of a look is told; any
    other fault of one is raised, also where a save or Ctrl-C ends it.
    ``began`` is called once, when the first look is on its way.
    """
    with Interruption() as interruption:
        saves = Saves(path)
        run: _Look[T] | None = _Look(look)
        began()
        for _ in saves.pulses():
            if interruption.asked:
                break
            if saves.has_come():
                if run is not None:
                    run.end()
                saves.note()
                run = _Look(look) if saves.is_there else None
                if run is None:
                    tell(InputError(GONE_NOTE, file=str(path)))
            elif run is not None and not run.is_alive:
                tell(run.outcome())
                run = None
        if run is not None:
            run.end()
            if run.came_to_something:
                tell(run.outcome())


class _Look(Generic[T]):
    """One look at the file, begun at once."""

    def __init__(self, look: Callable[[threading.Event], T]) -> None:
        self._look, self._stop = look, threading.Event()
        self._found: T | InputError | None = None
        self._fault: BaseException | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def is_alive(self) -> bool:
        return self._thread.is_alive()

    @property
    def came_to_something(self) -> bool:
        return self._found is not None

    def end(self) -> None:
        """Stop it and wait until it has stopped; a fault of ours is raised."""
        self._stop.set()
        self._thread.join()
        if self._fault is not None:
            raise self._fault

    def outcome(self) -> T | InputError:
        """What it came to, once it has ended; a fault of ours is raised."""
        if self._fault is not None:
            raise self._fault
        assert self._found is not None
        return self._found

    def _run(self) -> None:
        try:
            self._found = self._look(self._stop)
        except InputError as error:
            self._found = error
        except Interrupted:
            pass
        except BaseException as fault:  # told by the thread that waits
            self._fault = fault
