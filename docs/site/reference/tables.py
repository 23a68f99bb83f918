"""Tables of the rulebook, of the signs of plans, and of what comes with the clone."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from reference.markdown import code, plain, table
from sim.world.files.picture import meaning
from sim.world.files.plan_cells import CODES, EMPTY
from sim.world.files.reading import load_layout
from sim.world.rulebook import DEFAULT_RULEBOOK, load_rulebook

REPOSITORY: Final = Path(__file__).resolve().parents[3]


def numbers() -> str:
    """Every number of the default rulebook."""
    book = load_rulebook(DEFAULT_RULEBOOK)
    rows = [(code(one.name), one.value, one.provenance, plain(one.about)) for one in book.entries]
    lines = [
        "# The numbers of the world",
        "",
        "From `specs/rules/default.toml`. Provenance: *practice* is a fact of the trade with no published source,"
        " *memory* is recalled with no source. A spec or layout may put others in their place.",
        "",
        *table(("number", "value", "provenance", "means"), rows),
    ]
    return "\n".join(lines)


def signs() -> str:
    """Every code of a plan's cells."""
    rows = [(code(EMPTY), "empty"), *((code(sign), meaning(part)) for sign, part in CODES.items())]
    return "\n".join(["# Signs of plans", "", *table(("sign", "stands for"), rows)])


def examples_page() -> str:
    """The specs and layouts that come with the clone."""
    lines = ["# What comes with the clone", "", "## Specs", "", *table(("file", "asks for"), _specs())]
    return "\n".join([*lines, "## Layouts", "", *table(("file", "is"), _layouts())])


def _specs() -> Iterator[tuple[str, str]]:
    for path in sorted((REPOSITORY / "specs").glob("*.toml")):
        title = tomllib.loads(path.read_text(encoding="utf-8"))["title"]
        yield code(path.relative_to(REPOSITORY)), plain(title)


def _layouts() -> Iterator[tuple[str, str]]:
    for path in sorted((REPOSITORY / "specs" / "layouts").glob("*.plan")):
        yield code(path.relative_to(REPOSITORY)), plain(load_layout(path).title)
