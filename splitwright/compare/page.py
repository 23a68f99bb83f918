"""The page of a comparison: one self-contained HTML file."""

from __future__ import annotations

from typing import Final

from splitwright.compare.account import Account
from splitwright.compare.cards import PLANS_MOST, cards_of
from splitwright.compare.columns import rows_of
from splitwright.compare.comparison import Comparison
from splitwright.compare.plots import plots_of
from splitwright.drawing.scatter import standing_sign
from splitwright.drawing.svg import markup
from splitwright.page.assembly import page
from splitwright.words import Words

STYLES: Final = ("compare.css",)
SCRIPTS: Final = ("sorting.js",)


def compare_html(comparison: Comparison, words: Words, *, title: str = "", account: Account | None = None) -> str:
    """The page. ``title``: what the layouts are for ("": they have nothing in common); ``account``: of the search that
    found them, or found none. Linear in the parts, quadratic in the layouts."""
    heading = words.text("compare.heading_of", title=title) if title else words.text("compare.heading")
    rows = rows_of(comparison, words)
    return page(
        "compare.html.j2",
        words,
        STYLES,
        SCRIPTS,
        heading=heading,
        order=", ".join(words.text(f"compare.by_{name}") for name in comparison.order),
        rate=comparison.rate,
        rows=rows,
        columns=[column for column, _ in rows[0].cells] if rows else [],
        cards=cards_of(comparison, words),
        plans_most=PLANS_MOST,
        plots=plots_of(comparison, words),
        sign=lambda standing: markup(standing_sign(standing)),
        account=account,
    )
