"""The documentation as a site (Sphinx with MyST): `make docs` builds it into build/docs.

Pages are the Markdown files of docs/. The reference pages are made from the commands, the schemas and the rulebook at
each build (``reference``), so that none can be left behind. Every page works offline: styles, scripts and pictures are
its own, and its Content Security Policy lets in nothing else.
"""

from __future__ import annotations

import re
import sys
from importlib.metadata import version as version_of
from pathlib import Path
from typing import Any, Final

from docutils import nodes
from sphinx.addnodes import pending_xref
from sphinx.application import Sphinx

HERE: Final = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from reference import CAUTION, write_reference  # noqa: E402

from splitwright.app import COMMANDS  # noqa: E402

project = "splitwright"
version = release = version_of("splitwright")
html_title = "splitwright"
extensions = ["myst_parser"]
exclude_patterns = ["site"]
myst_heading_anchors = 4
nitpicky = True
pygments_style = "bw"
highlight_language = "none"
html_theme = "theme"
html_theme_path = [str(HERE)]
html_permalinks = False
html_copy_source = False
html_show_sphinx = False
html_show_search_summary = False  # it would have to fetch pages, which a browser refuses for files
html_use_index = False
html_context = {"caution": CAUTION}

COMMAND: Final = re.compile(rf"(?:splitwright )?({'|'.join(COMMANDS)})(?: .*)?", re.DOTALL)


def setup(app: Sphinx) -> dict[str, bool]:
    """What is done beside Sphinx's own work."""
    app.connect("builder-inited", lambda app: write_reference(Path(app.srcdir) / "reference"))
    app.connect("source-read", _with_pages_outside)
    app.connect("doctree-read", _commands_linked)
    app.connect("html-page-context", _scrollable)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def _with_pages_outside(app: Sphinx, page: str, source: list[str]) -> None:
    """DEVELOPERS.md stands outside of docs/ and is a page of the site all the same; the README is its first page."""
    text = source[0]
    if page == "inside/developers":
        path = HERE.parent.parent / "DEVELOPERS.md"
        app.env.note_dependency(path)
        text = path.read_text(encoding="utf-8").replace("](docs/", "](../")
        text = re.sub(r"\[([^\]]*)\]\(benchmarks/README.md\)", r"\1", text)
    root = "../" * page.count("/")
    text = text.replace("](../DEVELOPERS.md", f"]({root}inside/developers.md")
    source[0] = text.replace("](../README.md", f"]({root}index.md")


def _commands_linked(app: Sphinx, tree: nodes.document) -> None:
    """``splitwright NAME ...`` in a sentence leads to the page of that command."""
    page = app.env.current_document.docname
    for literal in list(tree.findall(nodes.literal)):
        found = COMMAND.fullmatch(literal.astext())
        if not found or not literal.astext().startswith("splitwright "):
            continue
        target = f"reference/commands/{found[1]}"
        if target != page and not isinstance(literal.parent, nodes.reference | pending_xref | nodes.title):
            link = pending_xref(
                "", refdomain="std", reftype="doc", reftarget=f"/{target}", refexplicit=True, refdoc=page
            )
            literal.replace_self(link)
            link += literal


def _scrollable(_: Sphinx, __: str, ___: str, context: dict[str, Any], ____: object) -> None:
    """Wide tables and code scroll in boxes of their own, by keyboard too."""
    body = context.get("body")
    if body:
        body = re.sub(r"<table[^>]*>", r'<div class="wide" tabindex="0">\g<0>', body)
        body = body.replace("</table>", "</table></div>")
        context["body"] = body.replace('<div class="highlight"><pre>', '<div class="highlight"><pre tabindex="0">')
