"""The digest of source files: results that are kept hold for the sources that they were found with."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path


@cache
def sources_digest(*names: str) -> str:
    """SHA-256 over the sources of packages and modules ("sim/signals", "synth/judge.py") of this very installation."""
    root, hashed = Path(__file__).parents[1], hashlib.sha256()
    for name in names:
        place = root / name
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            hashed.update(path.read_bytes())
    return hashed.hexdigest()
