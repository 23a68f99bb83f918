"""The one digest of what proofs rest on. A claim that is kept (in checkpoints, pieces, cross-sections, the atlas,
certificates) counts only while this is unchanged.

A proof rests on the code that made it: the module that searches and all that it imports, at whatever place in a file,
of this project. Comments, docstrings and the way code is laid out make no difference, nor does the version of Python.
It rests on the numbers of the rulebook as well, but for the handover: claims state the handovers that they are about.
"""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from sim.errors import InputError
from sim.world.files.writing import write_text
from sim.world.rulebook import RULE_NAMES, Rules

SEARCH: Final = ("synth.search.exact.descent",)
"""The exact search: of checkpoints, the atlas and the results."""
PIECES: Final = ("synth.hall.piece_search",)
SECTIONS: Final = ("synth.hall.section_bounds",)

FOUND_BY_THEMSELVES: Final = {"synth.schemes.registry": "synth.schemes"}
"""Modules that import every module of a package without naming it."""

NO_MATTER: Final = {
    "sim.world.case_file": "tells",
    "sim.datafiles": "reads and writes",
    "sim.errors": "tells",
    "sim.world.files": "reads and writes",
    "sim.world.kernel.keeping": "where machine code is kept",
    "sim.world.statement": "tells",
    "synth.solving.budget": "how a search is run",
    "synth.search.exact.ladder": "tells",
    "synth.hall.pieces": "the record of what is kept",
    "synth.search.known": "what is kept",
    "synth.confirm.measures": "measures what was found",
    "synth.solving.parallel": "how a search is run",
    "synth.solving.proofs_rest_on": "what is kept",
    "synth.search.request": "how a search is run",
    "synth.search.result": "tells",
    "synth.ask.spec": "what is asked; what of it a claim is about stands in the claim",
}
"""Modules and packages that proofs do not rest on, though they are imported; what they import in their turn is not
followed."""

PACKAGES: Final = ("synth", "sim")
DIGITS: Final = 64
ROOT: Final = Path(__file__).parents[2]
NUMBERS: Final = tuple(name for name in RULE_NAMES if name != "handover")


@dataclass(frozen=True, slots=True)
class _Source:
    """``imports``: names of modules, or of what is in them; ``code``: a digest of all but comments and docstrings."""

    imports: tuple[str, ...]
    code: str


def proofs_digest(rules: Rules, roots: tuple[str, ...] = SEARCH) -> str:
    """The same (SHA-256) where a claim that ``roots`` proved under the one holds under the other."""
    numbers = [(name, getattr(rules, name)) for name in NUMBERS]
    return hashlib.sha256(f"{code_digest(roots)} {numbers}".encode()).hexdigest()


@cache
def code_digest(roots: tuple[str, ...], root: Path = ROOT) -> str:
    """SHA-256 over the names and the code of ``modules_behind(roots)``.

    To parse them takes half a second, so it is kept as Python keeps its byte code: beside the sources, under a digest
    of their bytes, where that can be written.
    """
    of_bytes = hashlib.sha256(repr(roots).encode())
    for path in sorted(path for package in PACKAGES for path in (root / package).rglob("*.py")):
        of_bytes.update(path.read_bytes())
    kept = root / PACKAGES[0] / "__pycache__" / f"rests-on-{of_bytes.hexdigest()[:32]}.txt"
    with suppress(OSError, ValueError):
        if len(text := kept.read_text(encoding="ascii")) == DIGITS:
            return text
    hashed = hashlib.sha256()
    for name, source in sorted(_sources_behind(roots, root).items()):
        hashed.update(f"{name} {source.code}\n".encode())
    digest = hashed.hexdigest()
    with suppress(InputError, OSError):
        kept.parent.mkdir(exist_ok=True)
        write_text(kept, digest)
    return digest


def modules_behind(roots: Iterable[str], root: Path = ROOT) -> list[str]:
    """The modules in the folder ``root`` that these import, and the ones that those import, by name, themselves among
    them; not those of ``NO_MATTER``."""
    return sorted(_sources_behind(roots, root))


def _sources_behind(roots: Iterable[str], root: Path) -> dict[str, _Source]:
    found: dict[str, _Source] = {}
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name in found or makes_no_matter(name) or not (path := _file_of(name, root)).exists():
            continue
        found[name] = _read(path)
        waiting += found[name].imports
        if package := FOUND_BY_THEMSELVES.get(name):
            waiting += [f"{package}.{one.stem}" for one in _file_of(package, root).parent.glob("*.py")]
    return found


def makes_no_matter(name: str) -> bool:
    """The module, or a package that it is in, is among ``NO_MATTER``."""
    return any(name == one or name.startswith(f"{one}.") for one in NO_MATTER)


def _file_of(name: str, root: Path) -> Path:
    place = root.joinpath(*name.split("."))
    return place / "__init__.py" if place.is_dir() else place.with_suffix(".py")


def _read(path: Path) -> _Source:
    tree, imports = ast.parse(path.read_bytes()), list[str]()
    for block in _blocks(tree):
        for one in block:
            if isinstance(one, ast.Import):
                imports += [alias.name for alias in one.names]
            elif isinstance(one, ast.ImportFrom) and one.module:
                imports += [one.module, *(f"{one.module}.{alias.name}" for alias in one.names)]
        block[:] = [one for one in block if not _is_docstring(one)]
    # later versions of Python have more fields and leave empty ones out
    said = re.sub(r", (?=\))", "", re.sub(r"\b\w+=\[\](, )?", "", ast.dump(tree)))
    return _Source(tuple(imports), hashlib.sha256(said.encode()).hexdigest())


def _blocks(node: ast.AST) -> Iterator[list[ast.stmt]]:
    """The lists of statements in it, the outer ones first."""
    for name in ("body", "orelse", "finalbody", "handlers", "cases"):
        inner = getattr(node, name, None)
        if isinstance(inner, list):
            if name not in ("handlers", "cases"):
                yield inner
            for one in inner:
                yield from _blocks(one)


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
