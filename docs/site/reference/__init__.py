"""The reference pages, made from what commands, schemas, rulebooks and examples say of themselves."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from reference.commands import command_pages
from reference.documents import document_pages
from reference.tables import examples_page, numbers, signs

CAUTION: Final = (
    "Models a block world; no guide to real kilns, furnaces or wiring, where local codes and licensed practice rule."
)


def reference_pages() -> dict[str, str]:
    """Text of every page, by its path in docs/reference."""
    return {
        **command_pages(),
        **document_pages(),
        "examples.md": examples_page(),
        "numbers.md": numbers(),
        "signs.md": signs(),
    }


def write_reference(folder: Path) -> None:
    """Bring the folder up to date: what is right already is left alone, what is no page any more goes."""
    pages = reference_pages()
    for old in folder.rglob("*.md"):
        if old.relative_to(folder).as_posix() not in pages:
            old.unlink(missing_ok=True)
    for name, text in pages.items():
        path = folder / name
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
