"""What benchmarks of whole commands share: a cache of their own, the machine's state, tables as Markdown."""

from __future__ import annotations

import os
import platform
import shlex
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from sim.world.kernel.keeping import folder

One = TypeVar("One")


@contextmanager
def fresh_cache(*, compiled: bool = True) -> Iterator[dict[str, str]]:
    """The environment of a user of whom nothing is kept but, where ``compiled``, the machine code."""
    kept = folder() if compiled else None
    with tempfile.TemporaryDirectory() as fresh:
        code = fresh if kept is None else str(kept.parents[1])
        yield {**os.environ, "XDG_CACHE_HOME": fresh, "NUMBA_CACHE_DIR": code}


def machine(module: str, words: Sequence[str]) -> dict[str, Any]:
    """What a figure depends on: the command, the machine's load as it began, cores, Python."""
    return {
        "command": f"python -m {module} {shlex.join(words)}".strip(),
        "load": load(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
    }


def load() -> list[float]:
    """Processes that wanted to run, on the average of 1, 5 and 15 minutes."""
    return [round(one, 2) for one in os.getloadavg()]


def machine_text(about: dict[str, Any]) -> str:
    """The same as a paragraph of Markdown, with the load as it is now."""
    begun, ended = (", ".join(map(str, one)) for one in (about["load"], load()))
    return f"`{about['command']}`; load {begun} at first, {ended} at last; {about['cores']} cores, {about['python']}."


def markdown_table(headings: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A table in Markdown."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "".join(f"| {' | '.join(map(str, line))} |\n" for line in lines)


def spread(every: Sequence[One], only: int | None) -> list[One]:
    """So many of them, spread over all (None: all)."""
    count = len(every) if only is None else min(only, len(every))
    return [every[number * len(every) // count] for number in range(count)]


def make_room(*files: Path | None) -> None:
    """The folders of files that are to be written, made before the work begins."""
    for file in filter(None, files):
        file.parent.mkdir(parents=True, exist_ok=True)
