"""Who may import whom: the world (`sim`) knows no proposer, and neither room knows the commands."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

FORBIDDEN = {"sim": {"synth", "splitwright"}, "synth": {"splitwright"}}
DYNAMIC_IMPORTS = {"import_module", "__import__"}


def imported_names(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Each absolute module name that a module imports, with its line; a dynamic import only with a literal name."""
    for node in ast.walk(tree):
        match node:
            case ast.Import(names=names):
                yield from ((node.lineno, alias.name) for alias in names)
            case ast.ImportFrom(module=str(module), level=0):
                yield node.lineno, module
            case ast.Call(func=ast.Name(id=called) | ast.Attribute(attr=called)) if called in DYNAMIC_IMPORTS:
                arguments = [*node.args[:1], *(word.value for word in node.keywords if word.arg == "name")]
                for argument in arguments:
                    if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                        yield node.lineno, argument.value


def forbidden_imports(folder: Path, forbidden: set[str]) -> list[str]:
    """`file:line: module` for each import below `folder` of a package in `forbidden`."""
    return [
        f"{path.relative_to(folder)}:{line}: {name}"
        for path in sorted(folder.rglob("*.py"))
        for line, name in imported_names(ast.parse(path.read_text(encoding="utf-8"), filename=str(path)))
        if name.partition(".")[0] in forbidden
    ]


LEVELS = {
    "sim": ("world", "analysis"),
    "synth": ("ask", "schemes", "model", "solving", "confirm", "read", "sizing", "search", "hall", "improve", "answer"),
    "splitwright": ("words", "page", "drawing", "cli", "sheet", "proposing", "compare", "commands"),
}
"""The inner rooms of each, from the ground up: none imports one that is named after it."""


@pytest.mark.parametrize("room", LEVELS)
def test_no_arrow_points_upwards(repository: Path, room: str) -> None:
    levels = LEVELS[room]
    inner = {path.name for path in (repository / room).iterdir() if (path / "__init__.py").is_file()}
    assert inner == set(levels)
    for i, level in enumerate(levels):
        above = tuple(f"{room}.{other}" for other in levels[i + 1 :])
        for path in sorted((repository / room / level).rglob("*.py")):
            for line, name in imported_names(ast.parse(path.read_text(encoding="utf-8"))):
                met = [other for other in above if f"{name}.".startswith(f"{other}.")]
                assert met == [], f"{path.relative_to(repository)}:{line}"


@pytest.mark.parametrize("room", FORBIDDEN)
def test_room_imports_nothing_forbidden(repository: Path, room: str) -> None:
    assert (repository / room / "__init__.py").is_file()
    assert forbidden_imports(repository / room, FORBIDDEN[room]) == []


@pytest.mark.parametrize("room", FORBIDDEN)
def test_loading_a_whole_room_loads_nothing_forbidden(repository: Path, room: str) -> None:
    """What no reading of the source sees: a name that is put together at run time."""
    script = (
        "import importlib, pkgutil, sys\n"
        f"room = importlib.import_module({room!r})\n"
        "found = [m.name for m in pkgutil.walk_packages(room.__path__, room.__name__ + '.')]\n"
        "for name in found:\n"
        "    if not name.endswith('__main__'):\n"
        "        importlib.import_module(name)\n"
        f"print(*sorted({FORBIDDEN[room]!r} & set(sys.modules)))\n"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=repository, capture_output=True, text=True, check=False)
    assert (run.returncode, run.stdout.strip()) == (0, ""), run.stderr


@pytest.mark.parametrize(
    "source",
    [
        "import synth",
        "import json, synth.model as m",
        "from synth import model",
        "from synth.x import y",
        "def later():\n    from synth.x import y",
        "import importlib\nimportlib.import_module('synth')",
        "from importlib import import_module\nimport_module(name='synth.x')",
        "__import__('synth')",
    ],
)
def test_detector_catches(tmp_path: Path, source: str) -> None:
    module = tmp_path / "inner" / "module.py"
    module.parent.mkdir()
    module.write_text(source, encoding="utf-8")
    found = forbidden_imports(tmp_path, {"synth"})
    assert len(found) == 1
    assert found[0].startswith(f"{module.relative_to(tmp_path)}:{len(source.splitlines())}: synth")


@pytest.mark.parametrize(
    "source",
    ["import synthesis", "from .synth import x", "from sim import synth_free", "'import synth'", "import_module(name)"],
)
def test_detector_lets_pass(tmp_path: Path, source: str) -> None:
    (tmp_path / "module.py").write_text(source, encoding="utf-8")
    assert forbidden_imports(tmp_path, {"synth"}) == []
