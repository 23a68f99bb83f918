"""Pieces of Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def cell(text: object) -> str:
    """Text as it may stand in a table."""
    return " ".join(str(text).split()).replace("|", "\\|")


def plain(text: object) -> str:
    """Text without signs that Markdown would take as its own."""
    escaped = str(text)
    for sign in "\\`*_[]<>#$":
        escaped = escaped.replace(sign, f"\\{sign}")
    return escaped


def code(text: object) -> str:
    """As it is typed."""
    return f"`{text}`"


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Lines of a table, and an empty one."""
    return [
        f"| {' | '.join(head)} |",
        f"|{'---|' * len(head)}",
        *(f"| {' | '.join(map(cell, row))} |" for row in rows),
        "",
    ]


def contents(names: Iterable[str]) -> list[str]:
    """A list of pages, which the site's navigation takes up."""
    return ["```{toctree}", ":maxdepth: 1", "", *names, "```", ""]
