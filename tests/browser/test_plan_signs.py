"""Plans as a browser draws them: letters and marks stand clear of the signs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from browser.opened import Opener
from drawn import every_code
from sim.world.layout import Layout
from sim.world.parts import Node
from splitwright.drawing.layer_plan import layer_plans
from splitwright.drawing.standalone import standalone
from splitwright.words import Words, english

COVERED = """() => {
    const found = [];
    for (const part of document.querySelectorAll(".part")) {
        const code = part.querySelector(".code"), box = code.getBBox();
        const shapes = [...part.querySelectorAll("path, circle, rect")].filter((one) => one !== code);
        for (const shape of shapes) {
            const there = shape.getCTM().inverse().multiply(code.getCTM());
            for (let i = 0; i <= 40; i += 1) {
                for (let j = 3; j <= 12; j += 1) {
                    const at = code.ownerSVGElement.createSVGPoint();
                    at.x = box.x + box.width * i / 40;
                    at.y = box.y + box.height * j / 15;
                    const point = at.matrixTransform(there);
                    const style = getComputedStyle(shape);
                    const inked = (style.fill !== "none" && shape.isPointInFill(point))
                        || (style.stroke !== "none" && shape.isPointInStroke(point));
                    if (inked) { found.push(part.dataset.cell + " " + code.textContent); i = j = 99; }
                }
            }
        }
    }
    return found;
}"""
"""Cells whose code has ink of a shape of the same cell below it, from a fifth to four fifths of the line's height."""


def filled() -> Layout:
    parts = [replace(part, holds=(("clay", 1),)) if isinstance(part, Node) else part for part in every_code().parts]
    return replace(every_code(), parts=tuple(parts))


@pytest.mark.parametrize("letter", ["E", "Ost"])
@pytest.mark.parametrize("layout", [every_code(), filled()], ids=["empty", "filled"])
def test_letters_are_clear_of_signs(layout: Layout, letter: str, open_page: Opener, tmp_path: Path) -> None:
    words = Words("en", {**english().phrases, "letter.E": letter})
    for z, plan in enumerate(layer_plans(layout, words)):
        path = tmp_path / f"{z}.svg"
        path.write_text(standalone(plan), encoding="utf-8")
        page = open_page(path).page
        assert page.locator(".part .code").count() == sum(part.at[2] == z for part in layout.parts)
        assert page.evaluate(COVERED) == []


def test_a_sign_over_its_letters_would_be_found(open_page: Opener, tmp_path: Path) -> None:
    found = []
    for z, plan in enumerate(layer_plans(every_code(), english())):
        path = tmp_path / f"{z}.svg"
        path.write_text(standalone(plan).replace("scale(.66)", "scale(.9)"), encoding="utf-8")
        found += open_page(path).page.evaluate(COVERED)
    assert len(found) > 5
