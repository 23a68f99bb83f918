"""A page put together: a template filled, with its styles and scripts inside, and leave to load nothing else.

The page's Content Security Policy (W3C, CSP Level 3) lets in these styles and scripts alone, by their SHA-256 digests:
whatever a label may smuggle in stays text, because the templates escape it, and would not run if they did not.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Container, Sequence
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from sim.world.geometry import Cell
from sim.world.statement import Statement, Value
from splitwright.page.fit import fit
from splitwright.words import Said, Words

HERE: Final = Path(__file__).resolve().parent
STYLES_OF_ALL: Final = ("sheet.css", "drawing.css")


def page(
    template: str,
    words: Words,
    styles: Sequence[str] = (),
    scripts: Sequence[str] = (),
    *,
    drawn: Container[Cell] = (),
    **context: Any,
) -> str:
    """The page of a template in ``templates/``, with files of ``static/`` as its styles and scripts.

    ``drawn``: the cells that have a place on its plans, for text to link to.
    The template has, beside ``context``: ``words``, ``say(key, **values)`` and ``said(statement)`` (text that links to
    its cells), ``number``, ``cell_id``, and what its head needs (``base.html.j2``).
    """
    style_texts = [static(name) for name in (*STYLES_OF_ALL, *styles)]
    script_texts = [static(name) for name in scripts]

    def said(what: Statement | Said | str, **values: Value) -> Markup:
        return linked(what if isinstance(what, Said) else words.say(what, **values), drawn)

    template_of_page = environment().get_template(template)
    return fit(
        template_of_page.render(
            words=words,
            say=words.text,
            said=said,
            number=words.number,
            cell_id=cell_id,
            styles=[Markup(text) for text in style_texts],
            scripts=[Markup(text) for text in script_texts],
            policy=policy(style_texts, script_texts),
            version=version("splitwright"),
            **context,
        )
    )


def linked(said: Said, drawn: Container[Cell]) -> Markup:
    """Text whose mentions of parts link to the first of their cells on the plans; ``data-cells`` names several.

    ``drawn``: cells that are on the plans; what none of them is mentioned in stays plain.
    """
    made = Markup()
    for piece in said:
        cells = [cell for cell in piece.cells if cell in drawn]
        if cells:
            more = Markup(' data-cells="{}"').format(" ".join(map(cell_id, cells))) if len(cells) > 1 else ""
            made += Markup('<a class="cells" href="#{}"{}>{}</a>').format(cell_id(cells[0]), more, piece.text)
        else:
            made += piece.text
    return made


def cell_id(cell: Cell) -> str:
    """The id of a part on the layer plans, which sentences link to."""
    return "c" + "-".join(str(number) for number in cell)


def policy(styles: Sequence[str], scripts: Sequence[str]) -> str:
    """What the page may load and run: itself."""
    return (
        f"default-src 'none'; style-src {_digests(styles)}; script-src {_digests(scripts)}; "
        "base-uri 'none'; form-action 'none'"
    )


def _digests(texts: Sequence[str]) -> str:
    def digest(text: str) -> str:
        return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

    return " ".join(f"'sha256-{digest(text)}'" for text in texts) or "'none'"


@cache
def static(name: str) -> str:
    """A style or a script, as it stands in the page. Raises ValueError for one that would end its own element."""
    text = "\n" + (HERE / "static" / name).read_text(encoding="utf-8")
    if "</" in text or "<!--" in text:
        raise ValueError(f"{name} holds what ends a style or script element")
    return text


@cache
def environment() -> Environment:
    """The templates. All that they fill in is escaped; a name that is not there is a fault, not nothing."""
    return Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
