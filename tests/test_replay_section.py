"""The replay's part of the page: its words, its form, and that names stay text."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from xml.etree.ElementTree import Element

import html5lib
import pytest

from commands import LAYOUTS
from halls import locked_hall
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.recording import Recording, record
from sim.world.statement import Statement, Value
from sim.world.trial import Arrival
from splitwright.drawing.wave_view import ROWS_AT_ALL
from splitwright.page.assembly import environment, linked
from splitwright.sheet.replay_data import natural_end
from splitwright.sheet.replay_section import extent, replay_section
from splitwright.words import Said, Words, english
from splitwright.words.labels import fields_of
from test_replay_data import blinker
from test_wave_view import many_idle_inverters

SPLITWRIGHT = Path(__file__).parent.parent / "splitwright"
ROW = LAYOUTS / "burst-row-of-three.plan"
FRAGMENT = "{% include 'replay.html.j2' %}"


class Heard(Words):
    """Words that note which phrases are said, and hold that each gets exactly its fields."""

    keys: set[str]

    def say(self, what: Statement | str, **values: Value) -> Said:
        key, given = (what.key, what.values) if isinstance(what, Statement) else (what, values)
        assert set(given) == fields_of(self.phrases[key]), key
        self.keys.add(key)
        return super().say(what, **values)


def heard(**changes: str) -> Heard:
    words = english()
    found = Heard(words.language, {**words.phrases, **changes}, words.items)
    object.__setattr__(found, "keys", set())
    return found


def fragment(recording: Recording, words: Words, budget: int = 600_000) -> str:
    """The section as the page has it."""

    def said(what: Statement | Said | str, **values: Value) -> str:
        return linked(what if isinstance(what, Said) else words.say(what, **values), recording.layout.by_cell)

    sheet = SimpleNamespace(is_long=False, replay=replay_section(recording, words, budget))
    return environment().from_string(FRAGMENT).render(sheet=sheet, say=words.text, said=said, number=words.number)


def parsed(html: str) -> Element:
    """By the HTML standard's own rules, without any fault."""
    page = f"<!DOCTYPE html><html lang=en><head><title>x</title></head><body>{html}</body></html>"
    root: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = element.tag.rpartition("}")[2]
    return root


def cases() -> list[tuple[Layout, Recording, int]]:
    row = load_layout(ROW)
    uneven = load_layout(LAYOUTS / "row-of-three-unlocked.plan")
    hall, swinging, idle = locked_hall(3, 12), blinker(), many_idle_inverters(50)
    relay, crowd = load_layout(LAYOUTS / "burst-row-of-three-one-relay-more.plan"), many_idle_inverters(ROWS_AT_ALL + 5)
    each_once = {part.at: ((0, 0), (tick, 1)) for tick, part in enumerate(crowd.parts, 1)}
    single = replace(row, streams=(replace(row.streams[0], outputs=row.streams[0].outputs[:1]),))
    coming = [Arrival(0, "feed", 1), Arrival(40, "feed", 2)]
    return [
        (row, record(row), 600_000),
        (row, record(row), 3000),
        (row, record(row, loads={"feed": 0}), 600_000),
        (row, record(row, arrivals=coming), 600_000),
        (row, record(row, ticks=30), 600_000),
        (uneven, record(uneven), 600_000),
        (single, record(single, loads={"feed": 3}), 600_000),
        (hall, record(hall), 600_000),
        (swinging, record(swinging, loads={"s": 1}, ticks=400), 600_000),
        (idle, record(idle), 600_000),
        (relay, record(relay), 600_000),
        (crowd, replace(record(crowd), signals=each_once, last_tick=100), 600_000),
    ]


CASES = cases()


def test_every_phrase_is_used_with_its_fields() -> None:
    """Every key of the family is said in some case."""
    words = heard()
    for _, recording, budget in CASES:
        fragment(recording, words, budget)
    family = {key for key in english().phrases if key.startswith("replay.")}
    assert family == {key for key in words.keys if key.startswith("replay.")}


@pytest.mark.parametrize("number", range(len(CASES)))
def test_section_is_html_without_faults(number: int) -> None:
    _, recording, budget = CASES[number]
    page = parsed(fragment(recording, english(), budget))
    assert len(page.findall(".//svg[@role='img']")) == 3
    labels = [region.get("aria-label") for region in page.findall(".//div[@role='region']")]
    assert len(labels) == len(set(labels)) == 4


def test_what_takes_javascript_is_hidden_without_it() -> None:
    page = parsed(fragment(CASES[0][1], english()))
    for name in ("replay-controls", "replay-playing"):
        [element] = page.findall(f".//div[@class='{name}']")
        assert element.get("hidden") is not None
    assert all(cell.get("hidden") is not None for cell in page.iter() if "so-far" in (cell.get("class") or ""))
    [without] = page.findall(".//noscript")
    assert "JavaScript" in "".join(without.itertext())
    inside = set(page.findall(".//div[@class='replay-playing']")[0].iter())
    pictures = [svg for svg in page.findall(".//svg") if svg.get("class") in ("waves", "delivered")]
    assert len(pictures) == 2
    assert not inside & set(pictures)


def test_time_bar_ends_where_the_record_ends() -> None:
    for _, recording, budget in CASES:
        page = parsed(fragment(recording, english(), budget))
        [bar] = page.findall(".//input[@type='range']")
        data = json.loads("".join(page.findall(".//script[@id='replay-data']")[0].itertext()))
        assert bar.get("max") == str(data["until"])
        for svg in page.iter("svg"):
            assert svg.get("data-until") in (None, str(data["until"]))


def test_table_gives_the_trial_s_own_numbers() -> None:
    for _, recording, budget in CASES:
        page = parsed(fragment(recording, english(), budget))
        rows = page.findall(".//table[@class='replay-totals']/tbody/tr")
        shown = [int("".join(row.findall("td")[1].itertext()).replace(",", "")) for row in rows]
        assert shown == [count for stream in recording.result.streams for count in stream.delivered]
        for stream in recording.result.streams:
            mine = [row for row in rows if "".join(row.findall("td")[0].itertext()) == stream.name]
            for column, tick in ((2, stream.first_arrival), (3, stream.last_arrival)):
                texts = ["".join(row.findall("td")[column].itertext()) for row in mine]
                ticks = [int(text.replace(",", "")) for text in texts if text != "never"]
                assert (min if column == 2 else max)(ticks, default=None) == tick


def test_extent_says_why_the_replay_ends() -> None:
    row, hall = CASES[0][1], CASES[7][1]
    assert extent(row, row.last_tick).key == "replay.whole"
    assert extent(row, 30) == Statement("replay.shortened_by_size", {"tick": 30, "end": row.last_tick})
    end = natural_end(hall)
    assert extent(hall, end) == Statement("replay.shortened", {"tick": end, "ticks": 200, "end": hall.last_tick})
    running = CASES[4][1]
    assert extent(running, 30) == Statement("replay.whole_no_rest", {"tick": 30})


def test_names_and_phrases_with_markup_stay_text() -> None:
    evil = "</script></textarea><script>alert(1)</script><img src=x onerror=alert(1)>{{ 7 * 7 }}\"'>"
    base = load_layout(ROW)
    named = replace(base, streams=(replace(base.streams[0], name=evil),))
    words = english()
    family = {key: phrase for key, phrase in words.phrases.items() if key.startswith(("replay.", "part.", "drawing."))}
    doubled = evil.replace("{", "{{").replace("}", "}}").replace("|", "¦")
    hostile = replace(
        words, phrases={**words.phrases, **{key: doubled + text for key, text in family.items()}}, items={"clay": evil}
    )
    page, plain = parsed(fragment(record(named), hostile)), parsed(fragment(record(base), words))
    assert [element.tag for element in page.iter()] == [element.tag for element in plain.iter()]
    attributes = [sorted(element.attrib) for element in page.iter()]
    assert attributes == [sorted(element.attrib) for element in plain.iter()]
    assert evil in "".join(page.findall(".//table")[0].itertext())


# -- what the scripts may not do (CSP and house rules)


def test_script_makes_no_markup_and_runs_no_text() -> None:
    script = (SPLITWRIGHT / "page/static/replay.js").read_text(encoding="utf-8")
    for forbidden in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function(", "fetch("):
        assert forbidden not in script
    code = re.sub(r"//.*", "", script).strip()
    assert code.startswith("(() => {")
    assert code.endswith("})();")


def test_every_class_that_the_script_looks_for_is_on_the_page() -> None:
    script = (SPLITWRIGHT / "page/static/replay.js").read_text(encoding="utf-8")
    page = parsed(fragment(CASES[0][1], english()))
    present = {name for element in page.iter() for name in (element.get("class") or "").split()}
    wanted = {name for text in re.findall(r'"([^":\n]*)"', script) for name in re.findall(r"\.([a-z][a-z-]+)", text)}
    assert len(wanted) > 10
    assert wanted <= present
