"""The one digest of what proofs rest on. A claim that is kept (in checkpoints, pieces, cross-sections, the atlas,
certificates) counts only while this is unchanged.

A proof rests on the code that made it: the module that searches and all that it imports, at whatever place in a file,
of this project, with the packages that these are in. A module is known by its content, imported ones included, as in a
Merkle tree (R. C. Merkle, CRYPTO '87): so neither its name and place, nor comments, docstrings, the way code is laid
out, or the version of Python make a difference. A proof rests on the numbers of the rulebook as well, but for the
handover: claims state the handovers that they are about.
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

FOUND_BY_THEMSELVES: Final = {
    "synth.schemes.registry": "synth.schemes",
    "synth.solving.parallel.processes": "synth.solving.parallel.worker",
}
"""Modules that load others without importing them: every module of a package, or one in a process of its own."""

NO_MATTER: Final = {
    "sim.datafiles": "reads and writes",
    "sim.errors": "tells",
    "sim.world.case_file": "tells",
    "sim.world.files": "reads and writes",
    "sim.world.statement": "tells",
    "synth.search.exact.ladder": "tells",
    "synth.search.known": "what is kept, each under a digest of its own; candidates are judged like all others",
    "synth.search.request": "carries limits and what is told to whom",
    "synth.search.result": "tells",
    "synth.hall.pieces": "the record of what is kept",
    "synth.solving.proofs_rest_on": "what is kept",
}
"""Modules and packages that proofs do not rest on, though they are imported; what they import in their turn is not
followed."""

PACKAGES: Final = ("synth", "sim")
DIGITS: Final = 64
ROOT: Final = Path(__file__).parents[2]
NUMBERS: Final = tuple(name for name in RULE_NAMES if name != "handover")


@dataclass(frozen=True, slots=True)
class _Source:
    """``imports``: (module, name in it or "", name here), those of this project apart from ``code``, a digest of all
    else but comments and docstrings."""

    imports: frozenset[tuple[str, str, str]]
    code: str


def proofs_digest(rules: Rules, roots: tuple[str, ...] = SEARCH) -> str:
    """The same (SHA-256) where a claim that ``roots`` proved under the one holds under the other."""
    numbers = [(name, getattr(rules, name)) for name in NUMBERS]
    return hashlib.sha256(f"{code_digest(roots)} {numbers}".encode()).hexdigest()


@cache
def code_digest(roots: tuple[str, ...], root: Path = ROOT) -> str:
    """SHA-256 over the contents of ``modules_behind(roots)``.

    To parse them takes half a second, so it is kept as Python keeps its byte code: beside the sources, under a digest
    of their names and bytes, where that can be written.
    """
    of_bytes = hashlib.sha256(repr(roots).encode())
    for path in sorted(path for package in PACKAGES for path in (root / package).rglob("*.py")):
        content = path.read_bytes()
        of_bytes.update(f"{path.relative_to(root)} {len(content)}\0".encode() + content)
    kept = root / PACKAGES[0] / "__pycache__" / f"rests-on-{of_bytes.hexdigest()[:32]}.txt"
    with suppress(OSError, ValueError):
        if len(text := kept.read_text(encoding="ascii")) == DIGITS:
            return text
    contents = _contents(_sources_behind(roots, root))
    digest = _hashed([contents[name] for name in roots])
    with suppress(InputError, OSError):
        kept.parent.mkdir(exist_ok=True)
        write_text(kept, digest)
    return digest


def modules_behind(roots: Iterable[str], root: Path = ROOT) -> list[str]:
    """The modules in the folder ``root`` that these import, and the ones that those import, by name, themselves and
    the packages that they are in among them; not those of ``NO_MATTER``."""
    return sorted(_sources_behind(roots, root))


def makes_no_matter(name: str) -> bool:
    """The module, or a package that it is in, is among ``NO_MATTER``."""
    return any(name == one or name.startswith(f"{one}.") for one in NO_MATTER)


def _sources_behind(roots: Iterable[str], root: Path) -> dict[str, _Source]:
    found: dict[str, _Source] = {}
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name not in found and not makes_no_matter(name):
            found[name] = _read(name, root)
            waiting += [module for module, _, _ in found[name].imports]
    return found


def _contents(sources: dict[str, _Source]) -> dict[str, str]:
    """A digest of each module with all that it imports. Modules that import each other (a package its modules, and
    they, being in it, the package) are taken together: strongly connected components, from the leaves up."""
    import networkx as nx  # only where nothing is kept

    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(sources)
    graph.add_edges_from((name, one) for name, by in sources.items() for one, _, _ in by.imports if one in sources)
    parts = nx.condensation(graph)
    contents: dict[str, str] = {}
    for part in reversed(list(nx.topological_sort(parts))):
        members = parts.nodes[part]["members"]
        known = {**contents, **{name: sources[name].code for name in members}}
        alone = {name: _hashed([sources[name].code, *_imported(sources[name], known)]) for name in members}
        whole = _hashed(sorted(alone.values()))
        contents |= {name: _hashed([alone[name], whole]) for name in members}
    return contents


def _imported(source: _Source, contents: dict[str, str]) -> list[str]:
    """What is imported, by content; what does not matter, by no more than the name of what is taken from it."""
    return sorted(f"{contents.get(module, '')} {name} {here}" for module, name, here in source.imports)


def _hashed(texts: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()


def _read(name: str, root: Path) -> _Source:
    tree, imports = ast.parse(_file_of(name, root).read_bytes()), set[tuple[str, str, str]]()
    for block in _blocks(tree):
        for one in list(block):
            if of_house := list(_imports_of(one, root)):
                imports.update(of_house)
                block.remove(one)
            elif _is_docstring(one):
                block.remove(one)
    for other in _others(name, root):
        imports.add((other, "", ""))
    # later versions of Python have more fields and leave empty ones out
    said = re.sub(r", (?=\))", "", re.sub(r"\b\w+=\[\](, )?", "", ast.dump(tree)))
    return _Source(frozenset(imports), hashlib.sha256(said.encode()).hexdigest())


def _imports_of(statement: ast.stmt, root: Path) -> Iterator[tuple[str, str, str]]:
    """What it imports of this project."""
    if isinstance(statement, ast.Import):
        for alias in statement.names:
            if _is_module(alias.name, root):
                yield alias.name, "", alias.asname or alias.name
    elif isinstance(statement, ast.ImportFrom) and statement.module and _is_module(statement.module, root):
        for alias in statement.names:
            inner, here = f"{statement.module}.{alias.name}", alias.asname or alias.name
            yield (inner, "", here) if _is_module(inner, root) else (statement.module, alias.name, here)


def _others(name: str, root: Path) -> Iterator[str]:
    """What is loaded with it: the packages that it is in, where there is more in them than words, and those of
    ``FOUND_BY_THEMSELVES``."""
    package = name.rpartition(".")[0]
    while package:
        if any(not _is_docstring(one) for one in ast.parse(_file_of(package, root).read_bytes()).body):
            yield package
        package = package.rpartition(".")[0]
    if found := FOUND_BY_THEMSELVES.get(name):
        place = _file_of(found, root)
        inside = place.parent.glob("*.py") if place.name == "__init__.py" else []
        yield from [found, *(f"{found}.{one.stem}" for one in inside if one.stem != "__init__")]


def _is_module(name: str, root: Path) -> bool:
    return name.partition(".")[0] in PACKAGES and _file_of(name, root).exists()


def _file_of(name: str, root: Path) -> Path:
    place = root.joinpath(*name.split("."))
    return place / "__init__.py" if place.is_dir() else place.with_suffix(".py")


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
