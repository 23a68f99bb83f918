"""German: exact sentences of real layouts, and pages in German without a phrase left in English."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter
from typing import Any

import html5lib
import pytest

from commands import LAYOUTS, REPOSITORY, ROW, UNEVEN, run
from sim.analysis.building import build_order, instruction
from sim.analysis.mishap import mishaps
from sim.analysis.workings import workings
from sim.world.files.reading import load_layout
from sim.world.parts import PART_KINDS
from sim.world.recording import record
from sim.world.rulebook import load_rulebook
from sim.world.statement import ItemWord, Mention, Statement
from sim.world.trial import arrivals_for
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest
from splitwright.words import Words, english
from splitwright.words.catalogue import catalogue
from splitwright.words.labels import load_labels, words_from

HOUSE = REPOSITORY / "specs" / "labels" / "brickyard-de.toml"
SHOWN_ATTRIBUTES = ("aria-label", "title", "data-play", "data-pause")
WORD = re.compile(r"[^\W\d_]{2,}")


@pytest.fixture(scope="module")
def german() -> Words:
    return words_from({"language": "de"})


def said(statements: Any, words: Words) -> list[str]:
    return [words.text(statement) for statement in statements]


# --- sentences -----------------------------------------------------------------------------------------------


def test_how_the_burst_row_works(german: Words) -> None:
    topics = {topic.key: said(topic.statements, german) for topic in workings(load_layout(ROW))}
    assert topics["items"][:3] == [
        "Förderstrom feed (clay): Der Vorrat liegt in Kasten 0,1,3; darunter zieht Knoten 0,1,2 ihn heraus.",
        "Von Knoten 0,1,2 geht es weiter in Knoten 1,1,2; 2,1,2 und 3,1,2, in dieser Reihenfolge.",
        "Die Reihe endet bei Knoten 3,1,2: Der Auslass führt in keinen Behälter.",
    ]
    assert topics["gauges"][0] == "Sonde 0,2,2 misst, wie voll Knoten 0,1,2 ist."
    assert topics["logic"][1:] == [
        "Signale sperren Knoten 1,1,1; 2,1,1 und 3,1,1, solange beides gilt: etwas darin (Knoten 0,1,2), nichts darin"
        " (Knoten 3,1,2).",
        "Die Entleerung: Sobald in Knoten 0,1,2 nichts liegt, geben Signale Knoten 1,1,1; 2,1,1 und 3,1,1 frei, damit"
        " auch die letzten Stücke hinausgehen.",
        "Signale geben Knoten 1,1,1; 2,1,1 und 3,1,1 frei, sobald dort etwas liegt: Knoten 3,1,2.",
    ]
    assert topics["timing"][-2] == "Knoten warten nach jedem Zug 8 Takte bis zum nächsten."


def test_how_it_is_built(german: Words) -> None:
    layout = load_layout(ROW)
    steps = build_order(layout).steps
    by_cell = {(step.part.kind, step.part.at): step for step in steps if step.action == "place"}
    gauge, inverter = by_cell["gauge", (0, 2, 2)], by_cell["inverter", (5, 0, 2)]
    assert german.text(instruction(gauge, layout)) == (
        "Sonde 0,2,2 setzen, Ausgang nach Nord; liest dahinter: Knoten 0,1,2."
    )
    assert german.text(instruction(inverter, layout)) == "Inverter 5,0,2 setzen, Halteseite Nord."
    node = by_cell["node", (1, 1, 1)]
    assert said(node.why, german) == ["Ansetzen an Ofen 1,1,0; das gibt dem Auslass die Richtung unten."]
    temporary = next(step for step in steps if step.is_temporary)
    assert german.text(instruction(temporary, layout)).endswith("auf Zeit setzen.")


def test_where_a_split_goes_wrong(german: Words) -> None:
    layout = load_layout(UNEVEN)
    (mishap,) = mishaps(record(layout, arrivals=arrivals_for(layout, {"feed": 9})))
    assert said(mishap.statements, german) == [
        "In Takt 18 nahm Knoten 1,0,1 außer der Reihe ein Stück clay aus Knoten 1,0,2 und kam damit auf 2; Knoten 2,0,1"
        " stand bei 0.",
        "Kein Signal kann Knoten 1,0,1 sperren.",
        "Am Ende dieses Takts lag kein Stück clay dort, wo Knoten 2,0,1 sich bedient.",
        "Von da an holte Knoten 2,0,1 nicht mehr auf.",
    ]


def test_numbers_and_lists_are_written_as_in_german(german: Words) -> None:
    assert (german.number(12345), german.number(1.85, 2)) == ("12.345", "1,85")
    assert german.text("measure.latency_value", ticks=1200, seconds=german.number(60, 2)) == "1.200 Takte (60,00 s)"
    nodes = tuple(Mention("node", (i, 0, 2)) for i in range(9))
    assert german.text("workings.locks_never", nodes=nodes) == (
        "Nichts kann Knoten 0,0,2; 1,0,2; 2,0,2; 3,0,2; 4,0,2; 5,0,2 und 3 weitere sperren."
    )


def test_house_names_stand_in_german_sentences() -> None:
    words = load_labels(HOUSE)
    told = Statement(
        "sheet.does",
        {
            "item": ItemWord("clay"),
            "source": Mention("bin", (0, 1, 3)),
            "outputs": (Mention("furnace", (1, 1, 0)), Mention("furnace", (2, 1, 0))),
        },
    )
    assert words.text(told) == "Soll Lehm aus Lehmkasten 0,1,3 gleichmäßig auf Ziegelöfen 1,1,0 und 2,1,0 verteilen."
    assert words.text("sheet.plans_intro").startswith("Oben auf dem Blatt: Trockenschuppen.")


def test_no_phrase_hangs_an_article_on_a_part() -> None:
    """House names have any gender: no article, no pronoun with an ending stands before a part's name or its kind. Where
    there are none at all it is "keine" with the form for several, which is the same for every gender. (", die {nodes}
    sperren" is a relative clause.)"""
    article = (
        r"(?<!, )\b(?:[Dd](?:er|ie|as|en|em|es)"
        r"|[Ee]in(?:e[nmrs]?)?|[Kk]ein(?:e[nmrs])?|[Dd]iese[nmrs]?|[Jj]ede[nmrs]?)"
    )
    parts = (
        r"part|node|gauge|support|base|source|rival|container|furnaces?|lines?|solids?|relay|inverter|nodes|containers"
        r"|first|last|target|head|behind|sides|sources|output|outputs|one\.\w+"
    )
    before = re.compile(article + rf" \{{(?:{parts})\}}")
    families = ("building.", "mishap.", "workings.", "sheet.", "drawing.")
    found = {key: before.findall(text) for key, text in catalogue("de").items() if key.startswith(families)}
    assert {key: hits for key, hits in found.items() if hits} == {}
    assert before.search("Der {gauge} misst")


# --- whole pages ---------------------------------------------------------------------------------------------


def texts_of(element: Any, is_english: bool = False) -> Iterator[str]:
    """What a page shows, has read out or gives to its scripts, but for what is marked as English."""
    is_english = element.get("lang", "en" if is_english else "") == "en"
    if element.tag == "script" and element.get("type") == "application/json":
        yield from strings_of(json.loads(element.text))
    elif not is_english and isinstance(element.tag, str) and element.tag not in ("style", "script"):
        yield element.text or ""
        yield from (element.get(name) for name in SHOWN_ATTRIBUTES if element.get(name))
    for child in element:
        yield from texts_of(child, is_english)
        if not is_english:
            yield child.tail or ""


def strings_of(value: Any) -> Iterator[str]:
    """The strings of a JSON document, without the names of its fields and the codes of kinds of parts; what is to be
    filled in is no word."""
    if isinstance(value, str) and value not in PART_KINDS:
        yield re.sub(r"\{\w+\}", "", value)
    elif isinstance(value, list | dict):
        for one in value.values() if isinstance(value, dict) else value:
            yield from strings_of(one)


def body_of(html: str) -> Any:
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html).find("body")


def shown_in(html: str, *own: str) -> str:
    """The texts of a page without those that the layout and the rulebook bring along."""
    text = "\n".join(texts_of(body_of(html)))
    for title in own:
        text = text.replace(title, "")
    return text


def english_left_in(text: str) -> dict[str, str]:
    """English phrases, by key, of which the longest stretch between two fields stands in the text. A stretch that
    German phrases have too tells nothing."""
    ours = re.sub(r"\{[^}]*\}", "{}", "\n".join(catalogue("de").values()))
    found = {}
    for key, phrase in catalogue("en").items():
        for form in phrase.split(" | "):
            stretch = max((piece.strip() for piece, *_ in Formatter().parse(form)), key=len)
            whole = re.compile(rf"(?<!\w){re.escape(stretch)}(?!\w)")
            if WORD.search(stretch) and not whole.search(ours) and whole.search(text):
                found[key] = stretch
    return found


def sheet_text(path: str, words: Words) -> str:
    layout = load_layout(path)
    request = SheetRequest(words=words, limit_s=2.0)
    return shown_in(sheet_html(layout, request), layout.title, request.rulebook.title)


SHEETS = [UNEVEN, *(str(LAYOUTS / f"{name}.plan") for name in ("run-with-relay", "touching-runs"))]


@pytest.mark.parametrize("path", SHEETS)
def test_a_german_sheet_has_no_english_phrase(path: str, german: Words) -> None:
    assert english_left_in(sheet_text(path, german)) == {}


@pytest.mark.parametrize("path", [*SHEETS, ROW])
def test_no_text_of_a_german_sheet_stands_in_the_english_one_too(path: str, german: Words) -> None:
    """Every text that is to be seen or read out, but for names: nothing is marked as English to get past this."""
    layout = load_layout(path)
    taken = frozenset({(0, 0, layout.size[2] - 1)})
    pages = [
        sheet_html(layout, SheetRequest(words=words, limit_s=2.0, prices=dict.fromkeys(PART_KINDS, 2), blocked=taken))
        for words in (german, english())
    ]
    ours, theirs = (set(map(str.strip, texts_of(body_of(page)))) for page in pages)
    assert 'lang="en"' not in pages[0]
    names = {layout.title, *layout.items, *(stream.name for stream in layout.streams)}
    names |= {entry.name for entry in load_rulebook().entries}
    alike = {text for text in ours & theirs if WORD.search(text)} - names
    assert {text for text in alike if not re.fullmatch(CODES_AND_ITEMS, text)} == set()
    assert len(ours - theirs) > 100


CODES_AND_ITEMS = r"[BFnirg#][A-Z0-9*]*|[xy] [A-Z]|\d+ × \d+.*|(\d+ × )?\d+ (clay|charcoal|brick)(, .*)?"
"""Codes of plans, counts of items by their names: the same in every language."""


def test_an_english_sheet_has_many_of_them() -> None:
    """So the test above can fail."""
    found = english_left_in(sheet_text(UNEVEN, english()))
    assert len(found) > 150
    assert {"sheet.caution", "part.node", "join.mention", "replay.readout", "replay.pause"} <= found.keys()


def test_a_german_compare_page_has_no_english_phrase(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    result = run("compare", ROW, UNEVEN, "--labels", str(HOUSE), "--out", str(page))
    assert result.exit_code == 0, result.stderr
    titles = [load_layout(path).title for path in (ROW, UNEVEN)]
    html = page.read_text(encoding="utf-8")
    assert '<html lang="de"' in html
    assert english_left_in(shown_in(html, *titles, ROW, UNEVEN)) == {}
