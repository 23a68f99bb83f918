"""How the kernel's functions are compiled; where the machine code is kept: ``keeping``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

import numba

from sim.world.kernel.keeping import folder

F = TypeVar("F", bound=Callable[..., Any])

FOLDER: Final = folder()
if FOLDER is not None:
    setattr(numba.config, "CACHE_DIR", str(FOLDER))  # noqa: B010 (made at import, unknown to type checkers)


def compiled(function: F) -> F:
    """``function`` compiled for the arrays that it is first called with, without the interpreter's lock.

    Compiled functions own no memory (``_nrt``): counting who holds which array would cost more than the work itself.
    """
    options: dict[str, Any] = {"nogil": True, "cache": FOLDER is not None, "_nrt": False}
    made: F = numba.njit(**options)(function)
    return made
