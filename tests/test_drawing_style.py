"""Colours that can be told apart, and pictures as files of their own.

Contrast: WCAG 2.2, "relative luminance" and "contrast ratio" (definitions); success criteria 1.4.3 (text, 4.5 : 1)
and 1.4.11 (graphics, 3 : 1). Formulas from memory of the standard.
"""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest

from commands import LAYOUTS
from drawn import every_code
from splitwright.drawing.axonometry import axonometry
from splitwright.drawing.layer_plan import layer_plan
from splitwright.drawing.stage import stage
from splitwright.drawing.standalone import standalone
from splitwright.drawing.svg import markup
from splitwright.words import english

CSS = Path(LAYOUTS.parents[1], "splitwright", "page", "static", "drawing.css").read_text(encoding="utf-8")
INK, PAPER, GROUND = "#000000", "#ffffff", "#eeebe3"
KINDS = ("support", "bin", "furnace", "node", "line", "inverter", "relay", "gauge")


def rules() -> list[tuple[str, dict[str, str]]]:
    """Every selector with its declarations, variables filled in."""
    text = re.sub(r"/\*.*?\*/", "", CSS, flags=re.S)
    values = dict(re.findall(r"(--[a-z]+): (#[0-9a-f]{6});", text))
    found = []
    for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
        pairs = dict(re.findall(r"([a-z-]+): ([^;]+);", body))
        filled = {name: _filled(stated, values) for name, stated in pairs.items()}
        found += [(selector.strip(), filled) for selector in selectors.split(",")]
    return found


def _filled(stated: str, values: dict[str, str]) -> str:
    return re.sub(r"var\((--[a-z]+)\)", lambda one: values[one[1]], stated)


def value(selector: str, name: str) -> str:
    """What the last rule with exactly that selector states."""
    stated = [declared[name] for found, declared in rules() if found == selector and name in declared]
    assert stated, f"{selector} states no {name}"
    return stated[-1]


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_by_known_values() -> None:
    """White on black is 21 : 1 (WCAG 2.2, definition); #767676 is known as the lightest grey that reads on white."""
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_text_can_be_read() -> None:
    text = value(".drawing text", "fill")
    assert value(".drawing .code", "stroke") == PAPER, "codes have a rim of paper over whatever is below them"
    for behind in (PAPER, GROUND, value(".drawing .grid .frame.on-ground", "fill")):
        assert contrast(text, behind) >= 4.5


@pytest.mark.parametrize("kind", KINDS)
def test_outlines_stand_out_from_every_tone(kind: str) -> None:
    outline = value(".block .t", "stroke")
    tones = [value(f".k-{kind}.block .{face}", "fill") for face in "tlr"]
    assert all(contrast(outline, tone) >= 3 for tone in tones)
    assert luminance(tones[0]) > luminance(tones[1]) > luminance(tones[2]), "lit from above: told apart in grey"


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "line"])
def test_signs_stand_out(kind: str) -> None:
    assert contrast(value(".drawing .part .body", "stroke"), value(f".drawing .k-{kind} .body", "fill")) >= 3


def test_strokes_stand_out_from_paper_and_ground() -> None:
    strokes = [
        value(".drawing .k-line .link", "stroke"),
        value(".drawing .k-line .points", "stroke"),
        value(".drawing .stage-layer .k-line .link", "stroke"),
        value(".drawing .stage-layer .is-on.k-line .link", "stroke"),
        value(".drawing .below circle", "stroke"),
        value(".drawing .grid path", "stroke"),
        value(".drawing .part .body", "stroke"),
    ]
    for stroke in strokes:
        assert contrast(stroke, PAPER) >= 3
        assert contrast(stroke, value(".drawing .grid .frame.on-ground", "fill")) >= 3
    assert contrast(value(".block .w", "stroke"), value(".k-line.block .t", "fill")) >= 3


def test_what_is_on_shows_without_colour() -> None:
    """Strokes of what is on are at least half as wide again."""
    off, on = ".drawing .stage-layer .k-line .link", ".drawing .stage-layer .is-on.k-line .link"
    assert float(value(on, "stroke-width")) >= 1.5 * float(value(off, "stroke-width"))
    body = float(value(".drawing .part .body", "stroke-width"))
    for kind in ("relay", "gauge", "inverter"):
        assert float(value(f".drawing .stage-layer .is-on.k-{kind} .body", "stroke-width")) >= 1.5 * body


def test_pictures_are_named() -> None:
    layout, words = every_code(), english()
    for picture in (layer_plan(layout, 1, words), stage(layout, words), axonometry(layout, words)):
        assert picture.get("role") == "img"
        assert [child.tag for child in picture][:2] == ["title", "desc"]
        assert picture[0].text
        assert picture[1].text


def test_a_file_of_its_own_holds_its_styles_and_nothing_from_outside() -> None:
    picture = axonometry(every_code(), english())
    before = markup(picture)
    text = standalone(picture)
    assert markup(picture) == before, "the picture is not changed"
    read = fromstring(text)
    assert read.tag == "{http://www.w3.org/2000/svg}svg"
    (style,) = read.iter("{http://www.w3.org/2000/svg}style")
    assert (style.text or "").strip() == CSS.strip()
    assert "url(" not in text
    assert "@import" not in text
    assert set(re.findall(r'href="(.)', text)) == {"#"}


def test_every_class_that_is_drawn_has_a_rule() -> None:
    layout, words = every_code(), english()
    pictures = [layer_plan(layout, z, words) for z in range(3)] + [stage(layout, words), axonometry(layout, words)]
    drawn = {name for picture in pictures for one in picture.iter() for name in (one.get("class") or "").split()
             if one.tag in {"path", "circle", "rect", "text"}}  # fmt: skip
    ruled = set(re.findall(r"\.([a-z][\w-]*)", CSS))
    assert drawn - ruled == set()
