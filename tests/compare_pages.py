"""Compare pages read back: as a parser of the HTML standard sees them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import html5lib

from sim.world.statement import Statement, Value
from splitwright.words import Said, Words, english
from splitwright.words.labels import fields_of

SVG = "{http://www.w3.org/2000/svg}"


def parsed(text: str) -> Any:
    """The tree of a page; a parse error fails."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)


def page_of(path: Path) -> Any:
    return parsed(path.read_text(encoding="utf-8"))


def text_of(element: Any) -> str:
    return " ".join("".join(element.itertext()).split())


def table_of(tree: Any) -> list[dict[str, str]]:
    """The rows of the table: the text of each cell by the name of its column."""
    [table] = [one for one in tree.iter("table") if "sortable" in one.get("class", "")]
    rows = []
    for row in table.find("tbody"):
        cells = {cell.get("data-column"): text_of(cell) for cell in row if cell.get("data-column")}
        [heading] = [cell for cell in row if cell.tag == "th"]
        rows.append({"number": row.get("data-number"), "layout": text_of(heading.find("a")), **cells})
    return rows


def links_of(tree: Any) -> list[str]:
    """Every address that is linked, each once."""
    return list(dict.fromkeys(link.get("href") for link in tree.iter("a") if link.get("href")))


class CheckedWords(Words):
    """English that fails on a phrase that is not filled with exactly its fields; it keeps the keys that were used."""

    used: set[str]

    def say(self, what: Statement | str, **values: Value) -> Said:
        if isinstance(what, str):
            assert set(values) == fields_of(self.phrases[what]), what
            self.used.add(what)
        return super().say(what, **values)


def checked_words(items: Mapping[str, str] | None = None) -> CheckedWords:
    words = CheckedWords("en", english().phrases, items or {})
    object.__setattr__(words, "used", set())
    return words
