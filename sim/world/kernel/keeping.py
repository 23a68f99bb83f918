"""Where the kernel's machine code is kept between runs, found without loading the compiler.

Numba stamps a kept function with its own file only, not with those of the functions that it calls. So the folder that
machine code is kept in carries a digest of all the kernel's sources: a change to any of them starts afresh.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from importlib.metadata import version
from pathlib import Path
from typing import Final

_DIGITS: Final = 12


def folder() -> Path | None:
    """Where machine code can be kept: under NUMBA_CACHE_DIR, else the user's cache folder, else the temporary one."""
    homes = [
        os.environ.get("NUMBA_CACHE_DIR"),
        os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"),
        tempfile.gettempdir(),
    ]
    for home in filter(None, homes):
        found = Path(home) / "splitwright" / f"kernel-{_sources_digest()}"
        try:
            found.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=found):
                return found
        except OSError:
            continue
    return None


def is_first_use() -> bool:
    """Nothing has been compiled on this machine, or nothing can be kept: that takes a while."""
    found = folder()
    return found is None or not any(found.iterdir())


def _sources_digest() -> str:
    """A digest of every source file of this package."""
    digest = hashlib.sha256(version("numba").encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:_DIGITS]
