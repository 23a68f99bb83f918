"""Specs as the searching commands take them: read, checked, and refused where no scheme does what they ask."""

from __future__ import annotations

from pathlib import Path

from sim.errors import InputError
from synth.schemes.registry import admissible, no_scheme
from synth.spec import Spec
from synth.spec_file import load_spec


def known_spec(path: Path) -> Spec:
    """The spec in a file. Raises InputError for bad input, and for a split that no scheme serves."""
    spec = load_spec(path)
    if not admissible(spec):
        raise InputError(no_scheme(spec), file=str(path), field="split")
    return spec
