"""Phrases and the sentences made of them: every language says the same things, and mentions point to their cells."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.world.statement import ItemWord, Mention, Statement, Toward
from splitwright.words import Words, english
from splitwright.words.catalogue import catalogue, languages
from splitwright.words.labels import fields_of, unknown_nouns, words_from

ROOMS = ("sim", "splitwright", "synth")
DYNAMIC = ("part.", "direction.", "letter.", "join.")
"""Families that ``Words`` itself looks up."""


def words_with(**phrases: str) -> Words:
    return Words("en", {**english().phrases, **{f"test.{name}": text for name, text in phrases.items()}})


def texts_of_the_rooms(repository: Path) -> Iterator[str]:
    for room in ROOMS:
        for suffix in ("*.py", "*.j2"):
            for path in sorted((repository / room).rglob(suffix)):
                yield path.read_text(encoding="utf-8")


def test_a_statement_is_said_with_its_parts_items_and_numbers() -> None:
    words = words_with(x="The {gauge} lets {count} of {item} go {way} to the {nodes}.")
    gauge = Mention("gauge", (2, 0, 1))
    nodes = (Mention("node", (1, 0, 2)), Mention("node", (2, 0, 2)), Mention("bin", (0, 0, 4)))
    said = words.say(
        Statement(
            "test.x", {"gauge": gauge, "count": 12345, "item": ItemWord("clay"), "way": Toward("E"), "nodes": nodes}
        )
    )
    assert str(said) == (
        "The gauge at 2,0,1 lets 12,345 of clay go east to the nodes at 1,0,2 and 2,0,2 and bin at 0,0,4."
    )
    assert said.cells == ((2, 0, 1), (1, 0, 2), (2, 0, 2), (0, 0, 4))


def test_a_long_list_is_cut_in_words_and_whole_in_what_it_points_to() -> None:
    nodes = tuple(Mention("node", (i, 0, 2)) for i in range(9))
    said = words_with(x="{nodes}").say("test.x", nodes=nodes)
    assert str(said) == "nodes at 0,0,2; 1,0,2; 2,0,2; 3,0,2; 4,0,2; 5,0,2 and 3 more"
    assert said.cells == tuple(node.at for node in nodes)


def test_a_house_name_is_no_template() -> None:
    words = Words("en", {**english().phrases, "part.node": "{oops} | {oops}s", "test.x": "{n} {i}"}, {"clay": "{i}"})
    assert words.text("test.x", n=Mention("node", (0, 0, 0)), i=ItemWord("clay")) == "{oops} at 0,0,0 {i}"


def test_a_missing_value_is_a_fault_of_ours() -> None:
    with pytest.raises(KeyError):
        words_with(x="{gone}").say("test.x")
    with pytest.raises(KeyError):
        english().say("test.never")


def test_a_part_of_one_form_alone_has_it_for_several_too() -> None:
    words = Words("en", {**english().phrases, "part.node": "hop"})
    assert (words.part("node"), words.part("node", 3)) == ("hop", "hop")


@pytest.mark.parametrize("language", languages())
def test_every_language_says_what_english_says_with_the_same_fields(language: str) -> None:
    known, own = catalogue("en"), catalogue(language)
    assert own.keys() == known.keys()
    # {text} is a verdict's own English: a translation may point to the table that has it in its place.
    for key, phrase in known.items():
        assert fields_of(phrase) - {"text"} <= fields_of(own[key]) <= fields_of(phrase), key


@pytest.mark.parametrize("language", languages())
def test_words_for_parts_have_one_form_for_each_number(language: str) -> None:
    for key, phrase in catalogue(language).items():
        assert phrase.count("|") == (1 if key.startswith("part.") else 0), key


def test_no_phrase_is_there_for_nothing(repository: Path) -> None:
    """Each key stands in the code or in a template, whole or as a family and a name put together."""
    texts = "\n".join(texts_of_the_rooms(repository))
    families = {match[1] for match in re.finditer(r"""["'f](\w+)\.(?:\w*_)?(?:["']|\{)""", texts)}
    unused = [
        key
        for key in catalogue("en")
        if key not in texts and not key.startswith(DYNAMIC) and key.partition(".")[0] not in families
    ]
    assert unused == []


def test_phrases_name_parts_and_directions_by_fields_so_that_house_names_stand_there() -> None:
    """The caution is not ours to reword, and a chart's or a plan's own traces are no signal lines; what verdicts
    and the shipped rulebook say is read by these phrases, word for word."""
    words = r"support|node|bin|furnace|line|gauge|relay|inverter"
    plain = re.compile(rf"\b((?:{words})s?|[Nn]orth|[Ss]outh|[Ee]ast|[Ww]est)\b")
    families = ("part.", "direction.", "told.", "rule.")
    found = {
        key: plain.findall(re.sub(r"\{[^}]*\}", "", phrase))
        for key, phrase in catalogue("en").items()
        if not key.startswith(families) and key not in ("sheet.caution", "compare.plots_intro")
    }
    assert {key: names for key, names in found.items() if names} == {}


@pytest.mark.parametrize("language", languages())
def test_every_noun_in_a_phrase_is_one_that_there_is(language: str) -> None:
    known = catalogue(language)
    assert {key: unknown_nouns(phrase, known) for key, phrase in known.items() if unknown_nouns(phrase, known)} == {}


def test_a_phrase_takes_the_house_s_nouns() -> None:
    words = words_from({"parts": {"node": ["hop", "hops"]}, "directions": {"N": "kilnward"}})
    phrases = {**words.phrases, "test.x": "{one.node}, {many.node}, {toward.N}, {many.bin}"}
    assert Words("en", phrases).text("test.x") == "hop, hops, kilnward, bins"
