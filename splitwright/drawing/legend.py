"""Signs and what they mean: those that occur on the plans of a layout, no others."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.files.picture import is_to_fill
from sim.world.files.plan_cells import CODES, code_of
from sim.world.geometry import HORIZONTAL, Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Line, Node, Part, Support
from sim.world.signals.structure import links, links_on, points_into
from splitwright.drawing.glyphs import fill_mark, glyph, outline, taken_sign
from splitwright.drawing.naming import meaning, plan_code
from splitwright.drawing.svg import el
from splitwright.words import Said, Words

LINE_SIGNS: Final = (("link", "M-18 0H18"), ("points", "M0 0H12"), ("step", "M11-7L17 0L11 7"))


def legend_entries(layout: Layout, words: Words, blocked: Collection[Cell] = ()) -> list[tuple[Element, Said]]:
    """A sign for each kind of part with its direction, delay or finish, in the order of the plan's codes; then for what
    is to be filled first and what is taken, the strokes of lines, the outlines of the layer below and the ground.
    Linear in the parts."""
    return [
        *_parts(layout, words), *_marks(layout, words, blocked), *_strokes(layout, words), *_below(layout, words),
    ]  # fmt: skip


def _marks(layout: Layout, words: Words, blocked: Collection[Cell]) -> Iterator[tuple[Element, Said]]:
    if any(is_to_fill(part) for part in layout.parts):
        yield _sign(fill_mark(), class_="part"), words.say("drawing.legend_fill")
    if blocked:
        yield _sign(*taken_sign(), class_="blocked"), words.say("drawing.legend_taken")


def _parts(layout: Layout, words: Words) -> Iterator[tuple[Element, Said]]:
    occurring = {code_of(part) for part in layout.parts}
    for code, model in CODES.items():
        if code in occurring:
            key = "drawing.legend_down" if isinstance(model, Node) and model.outlet == "D" else "drawing.legend"
            sign = _sign(*glyph(model, {model.at: model}), class_=f"part k-{model.kind}")
            yield sign, words.say(key, code=plan_code(model, words), meaning=str(meaning(model, words)))


def _strokes(layout: Layout, words: Words) -> Iterator[tuple[Element, Said]]:
    build = layout.by_cell
    lines = [part.at for part in layout.parts if isinstance(part, Line)]
    occurs = {
        "link": any(links(build, at) for at in lines),
        "points": any(side in points_into(build, at) and not links_on(build, at, side)
                      for at in lines for side in HORIZONTAL),
        "step": any(cell[2] != at[2] for at in lines for cell in links(build, at)),
    }  # fmt: skip
    for name, path in LINE_SIGNS:
        if occurs[name]:
            run = [el("path", class_="link", d="M-18 0H18")] if name == "step" else []
            hub = [el("circle", class_="hub", r=4.5)]
            yield _sign(*run, el("path", class_=name, d=path), *hub, class_="part k-line"), words.say(
                f"drawing.legend_{name}"
            )


def _below(layout: Layout, words: Words) -> Iterator[tuple[Element, Said]]:
    shown: dict[str, Part] = {}
    for part in layout.parts:
        if part.at[2] < layout.size[2] - 1:
            full = isinstance(part, (Support, Bin, Furnace))
            shown.setdefault("full" if full else "node" if isinstance(part, Node) else "signal", part)
    for name in ("full", "node", "signal"):
        if name in shown:
            yield _sign(outline(shown[name]), class_="below"), words.say(f"drawing.legend_below_{name}")
    ground = el("rect", x=-19, y=-19, width=38, height=38, class_="frame on-ground")
    yield _sign(ground, class_="grid"), words.say("drawing.legend_ground")


def _sign(*drawn: Element, class_: str) -> Element:
    """A cell of its own. Hidden from screen readers: its meaning stands beside it."""
    return el(
        "svg", el("g", *drawn, class_=class_),
        class_="drawing sign", viewBox="-20 -20 40 40", width=40, height=40, aria_hidden="true",
    )  # fmt: skip
