"""Specs as the searching commands take them: read, checked, and refused where they ask for what is not known yet."""

from __future__ import annotations

from pathlib import Path

from sim.errors import InputError
from synth.spec import Spec
from synth.spec_file import load_spec


def known_spec(path: Path) -> Spec:
    """The spec in a file. Raises InputError for bad input, and for an ``even_for`` that no scheme serves."""
    spec = load_spec(path)
    if spec.even_for != "burst":
        fault = 'only "burst" can be proposed as yet: a load that is there at once'
        raise InputError(fault, file=str(path), field="split.even_for")
    return spec
