"""How pages are put together: everything inside, nothing from outside, labels inert."""

from __future__ import annotations

import base64
import hashlib
import re

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.world.statement import Mention
from splitwright.drawing.svg import el, markup
from splitwright.page.assembly import HERE, cell_id, linked, page, policy, static
from splitwright.words import english
from splitwright.words.labels import words_from

NASTY = [
    '<script>document.title="hit"</script>',
    '"><img src=x onerror=document.title="hit">',
    "</style></script></title><svg onload=alert(1)>",
    "]]> --> <!-- {{ 7 * 7 }} {% raw %} {0} {cell}",
    "javascript:alert(1)",
    "a\x00b\x1b[31m\u202ec\ufffe",
]


def parsed(text: str):  # type: ignore[no-untyped-def]
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(text)


def base_page(heading: str, words=english()) -> str:  # type: ignore[no-untyped-def]  # noqa: B008
    return page("base.html.j2", words, scripts=("marks.js",), heading=heading)


@pytest.mark.parametrize("heading", NASTY)
def test_a_title_stays_text(heading: str) -> None:
    tree = parsed(base_page(heading))
    shown = re.sub("[\x00\x1b\ufffe]", "\ufffd", heading)
    assert tree.find("head/title").text == shown
    assert tree.find("body/header/h1").text == shown
    assert len(tree.findall(".//script")) == 1
    assert tree.findall(".//img") == []


@given(st.text())
def test_any_label_gives_a_page_that_conforms(label: str) -> None:
    words = words_from({"phrases": {"sheet.skip": label.replace("{", "{{").replace("}", "}}")[:500]}})
    parsed(base_page(label, words))


def test_the_policy_lets_in_the_page_s_own_styles_and_scripts_alone() -> None:
    tree = parsed(base_page("kilns"))
    stated = next(meta.get("content") for meta in tree.iter("meta") if meta.get("http-equiv"))
    for kind, tag in (("style-src", "style"), ("script-src", "script")):
        digests = {
            f"'sha256-{base64.b64encode(hashlib.sha256(element.text.encode()).digest()).decode()}'"
            for element in tree.iter(tag)
        }
        directive = next(part.split() for part in stated.split(";") if part.strip().startswith(kind))
        assert set(directive[1:]) == digests
    assert stated.startswith("default-src 'none';")


def test_a_page_without_scripts_runs_none() -> None:
    assert "script-src 'none'" in policy(["a{}"], [])


def test_mentions_link_to_the_plans() -> None:
    words = words_from({"parts": {"node": "<b>hop</b>"}})
    nodes = (Mention("node", (1, 0, 2)), Mention("node", (2, 0, 2)))
    source = Mention("bin", (0, 0, 3))  # not on the plans
    said = linked(words.say("sheet.does", item="a & b", source=source, outputs=nodes), [node.at for node in nodes])
    link = '<a class="cells" href="#c1-0-2" data-cells="c1-0-2 c2-0-2">&lt;b&gt;hop&lt;/b&gt; at 1,0,2 and 2,0,2</a>'
    assert link in said
    assert "a &amp; b from the bin at 0,0,3 evenly" in said
    assert cell_id((1, 0, 2)) == "c1-0-2"


@pytest.mark.parametrize("path", sorted((HERE / "static").iterdir()), ids=lambda path: path.name)
def test_styles_and_scripts_can_stand_in_a_page(path) -> None:  # type: ignore[no-untyped-def]
    text = static(path.name)
    assert "\r" not in text
    outside = r"https?://(?!www\.w3\.org/)|@import|url\((?!#)"
    assert not re.search(rf"{outside}|eval\(|innerHTML|document\.write", text), path.name


@given(st.text(), st.text())
def test_svg_keeps_any_text(label: str, name: str) -> None:
    text = markup(el("svg", el("title", label), el("text", name, class_=label)))
    tree = parsed(f"<!DOCTYPE html><title>x</title>{text}")
    assert len(list(tree.iter())) == 7  # html head title body svg title text
