"""How the kernel's functions are compiled, and where the machine code is kept between runs.

Numba stamps a kept function with its own file only, not with those of the functions that it calls. So the folder that
machine code is kept in carries a digest of all the kernel's sources: a change to any of them starts afresh.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import numba

F = TypeVar("F", bound=Callable[..., Any])
_DIGITS: Final = 12


def _sources_digest() -> str:
    """A digest of every source file of this package."""
    digest = hashlib.sha256(numba.__version__.encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:_DIGITS]


def _folder() -> Path | None:
    """Where machine code can be kept: under NUMBA_CACHE_DIR, else the user's cache folder, else the temporary one."""
    homes = [
        os.environ.get("NUMBA_CACHE_DIR"),
        os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"),
        tempfile.gettempdir(),
    ]
    for home in filter(None, homes):
        folder = Path(home) / "splitwright" / f"kernel-{_sources_digest()}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError:
            continue
    return None


FOLDER: Final = _folder()
if FOLDER is not None:
    setattr(numba.config, "CACHE_DIR", str(FOLDER))  # noqa: B010 (made at import, unknown to type checkers)


def compiled(function: F) -> F:
    """``function`` compiled for the arrays that it is first called with, without the interpreter's lock.

    Compiled functions own no memory (``_nrt``): counting who holds which array would cost more than the work itself.
    """
    options: dict[str, Any] = {"nogil": True, "cache": FOLDER is not None, "_nrt": False}
    made: F = numba.njit(**options)(function)
    return made
