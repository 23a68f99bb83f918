"""Where the data files that come with splitwright stand: ``specs/`` in a clone, ``sim/data/`` once installed."""

from __future__ import annotations

from pathlib import Path


def data_dir(name: str) -> Path:
    """The folder of the data called ``name`` ("rules", "schema")."""
    here = Path(__file__).resolve().parent
    installed = here / "data" / name
    return installed if installed.is_dir() else here.parent / "specs" / name
