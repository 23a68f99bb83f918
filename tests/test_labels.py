"""Labels files: house names over the words of a language, and one line for what cannot be taken."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import ROW, faults, run
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin
from sim.world.statement import Mention
from splitwright.words.catalogue import languages
from splitwright.words.items import items_of
from splitwright.words.labels import item_notes, load_labels, words_from
from splitwright.words.labels_text import labels_document, labels_text

HOUSE = """
language = "en"
[parts]
node = "hop"
gauge = ["dial", "dials"]
[items]
clay = "loam"
[directions]
N = "kilnward"
E = {name = "roadward", letter = "R"}
[phrases]
"sheet.parts" = "What to fetch"
"""


def words_of(text: str):  # type: ignore[no-untyped-def]
    return words_from(tomllib.loads(text))


def test_house_names_take_the_place_of_ours() -> None:
    words = words_of(HOUSE)
    assert (words.part("node"), words.part("node", 2)) == ("hop", "hop")
    assert (words.part("gauge"), words.part("gauge", 2)) == ("dial", "dials")
    assert (words.part("bin", 2), words.item("clay"), words.item("brick")) == ("bins", "loam", "brick")
    assert (words.direction("N"), words.letter("N")) == ("kilnward", "N")
    assert (words.direction("E"), words.letter("E")) == ("roadward", "R")
    assert words.text("sheet.parts") == "What to fetch"


def test_a_language_that_we_lack_needs_every_phrase() -> None:
    """No page says that it is in Esperanto and is in English: one phrase left out is a fault, of whichever table."""
    whole = labels_document("en", [], phrases=True) | {"language": "eo"}
    whole["phrases"]["sheet.parts"] = "Listo"
    words = words_from(whole)
    assert (words.language, words.text("sheet.parts"), words.text("sheet.plans")) == ("eo", "Listo", "Layer plans")
    for table, key, lacking in (
        ("phrases", "sheet.plans", "sheet.plans"),
        ("phrases", "part.cell", "part.cell"),
        ("parts", "node", "part.node"),
    ):
        less = {**whole, table: {name: entry for name, entry in whole[table].items() if name != key}}
        with pytest.raises(InputError) as caught:
            words_from(less)
        assert str(caught.value).startswith(
            'language: there are no phrases in "eo", only in de and en; a file that has every phrase itself may name '
            "any language (splitwright labels --phrases prints them), but this one lacks 1 of "
        )
        assert str(caught.value).endswith(f' 1 of {len(words.phrases)}, as "{lacking}"')


def test_a_direction_without_its_letter_is_not_every_phrase() -> None:
    whole = labels_document("en", [], phrases=True) | {"language": "eo"}
    whole["directions"]["N"] = "norden"
    with pytest.raises(InputError, match=r'lacks 1 of \d+, as "letter\.N"'):
        words_from(whole)


def test_items_that_a_layout_does_not_have() -> None:
    words = words_of("[items]\ncaly = 'loam'\nclay = 'loam'\nbrick = 'tile'\nsand = 'grit'")
    assert words.unknown_items(load_layout(ROW)) == ["caly", "sand"]
    assert words_of("").unknown_items(load_layout(ROW)) == []
    sandy = Layout("", (1, 1, 1), {"sand": ItemKind()})
    assert words.unknown_items(load_layout(ROW), sandy) == ["caly"], "in none of them"
    assert item_notes("house.toml", words, load_layout(ROW), sandy) == [
        'house.toml: items.caly: a name for an item that is not in any of the layouts; did you mean "clay"?'
    ]
    (note,) = item_notes("house.toml", words, load_layout(ROW))
    assert note == 'house.toml: items.caly: a name for an item that is not in the layout; did you mean "clay"?'
    assert item_notes("house.toml", words, Layout("", (1, 1, 1))) == [], "nothing that they could be slips of"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
def test_a_note_is_one_line(kind: str) -> None:
    layout = Layout("", (1, 1, 1), {kind + "x": ItemKind()})
    notes = item_notes("a\nb.toml", words_from({"items": {kind: "loam"}}), layout)
    assert len(notes) == (1 if kind else 0), "all but the last letter: a slip"
    assert all(note.isprintable() for note in notes)


def test_every_way_in_which_a_layout_has_an_item() -> None:
    """Listed, what it fires to, what a stream brings, what lies in a bin."""
    feed = Stream("feed", "lime", (0, 0, 0), ())
    holding = Bin((0, 0, 0), holds=(("sand", 3), None))
    layout = Layout("", (1, 1, 1), {"clay": ItemKind(fires_to="brick")}, (holding,), (feed,))
    assert items_of(layout) == {"clay", "brick", "lime", "sand"}
    assert words_of("[items]\nlime = 'a'\nsand = 'b'\nbrick = 'c'\nloam = 'd'").unknown_items(layout) == ["loam"]


def test_kinds_and_letters_may_change_places() -> None:
    """What the house says is compared with what it says, not with the names that it has replaced."""
    words = words_of(
        "[parts]\nnode = 'bin'\nbin = 'node'\n"
        "[directions]\nN = {name = 'south', letter = 'S'}\nS = {name = 'north', letter = 'N'}"
    )
    assert (words.part("node"), words.part("bin"), words.letter("N"), words.letter("S")) == ("bin", "node", "S", "N")


def test_a_region_of_a_language_that_we_have_takes_its_phrases() -> None:
    assert words_of('language = "de-AT"').text("sheet.plans") == words_of('language = "de"').text("sheet.plans")
    assert words_of('language = "de-AT"').text("sheet.plans") != words_of("").text("sheet.plans")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[parts]\nnod = 'x'", 'parts.nod: unknown key; did you mean "node"?'),
        ("[parts]\nnode = ''", "parts.node: must be a name, or two: for one and for several, not "),
        ("[parts]\nnode = ['a']", "parts.node: must be a name, or two: for one and for several, not "),
        ("[directions]\nN = {name = 'a'}", "directions.N: must be a name, or a table with name and letter, not "),
        ("language = 'not a tag'", 'language: must be a language tag, as in "en" or "de-AT" (BCP 47), not '),
        ("[phrases]\n'sheet.part' = 7", "must be text of at most 600 characters, not 7"),
        ("[phrases]\n'sheet.prts' = 'x'", 'there is no such phrase; did you mean "sheet.parts"?'),
        ("[phrases]\n'sheet.volume' = 'x'", "there is no such phrase"),
        ("[phrases]\n'sheet.parts' = 'So many: {count}'", 'has the field "count"; it can have none'),
        ("[phrases]\n'sheet.layer' = '{layer.__class__}'", 'has the field "layer.__class__"; it can have {layer}'),
        ("[phrases]\n'sheet.layer' = '{layer!r:>90}'", "it can have {layer}"),
        ("[phrases]\n'sheet.layer' = '{'", "has a brace that is not closed"),
        ("[phrases]\n'join.mention' = '{0}'", "it can have {cell}, {part}"),
        ("[phrases]\n'sheet.parts' = '{one.nod}'", 'has the field "one.nod"'),
        ("[phrases]\n'sheet.parts' = '{toward.X}'", 'has the field "toward.X"'),
        ("language = 'fr'", 'language: there are no phrases in "fr", only in de and en; a file that has every phrase'),
        ("language = 'fr-CA'\n[parts]\nnode = 'x'", 'language: there are no phrases in "fr-CA"'),
        (
            "[parts]\nnode = 'hop'\nbin = ['hop', 'boxes']",
            'parts.node: "hop" is what bin has already; each kind of part needs a name of its own, for one and for sev',
        ),
        ("[parts]\nnode = ['a', 'many']\nbin = ['b', 'many']", 'parts.node: "many" is what bin has already; each kind'),
        ("[parts]\nnode = ['a', 'b']\nbin = ['b', 'c']", 'parts.node: "b" is what bin has already; each kind'),
        ("[parts]\nbin = 'Relay'", 'parts.bin: "Relay" is what relay has already; each kind'),
        ("language = 'de'\n[parts]\nbin = 'Knoten'", 'parts.bin: "Knoten" is what node has already; each kind'),
        (
            "[directions]\nN = {name = 'kilnward', letter = 'K'}\nS = {name = 'away', letter = 'K'}",
            'directions.S: "K" is what N has already; each direction needs a letter of its own',
        ),
        ("[directions]\nN = {name = 'east', letter = 'e '}", 'directions.N: "e" is what E has already; each direction'),
        ("[phrases]\n'sheet.writing' = 'up'", "must be ltr or rtl, not "),
        ("= 3", "is no TOML"),
    ],
)
def test_what_cannot_be_taken_is_told_in_one_line(tmp_path: Path, text: str, line: str) -> None:
    path = tmp_path / "house.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_labels(path)
    assert line in str(caught.value)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_the_command_prints_a_file_that_changes_nothing() -> None:
    result = run("labels", ROW)
    assert result.exit_code == 0
    document = tomllib.loads(result.stdout)
    assert document["items"] == {"brick": "brick", "clay": "clay"}
    assert words_from(document).phrases == words_from({}).phrases


@pytest.mark.parametrize("language", languages())
def test_the_command_lists_every_phrase_of_a_language(language: str, tmp_path: Path) -> None:
    path = tmp_path / "all.toml"
    assert run("labels", "--language", language, "--phrases", "--out", str(path)).exit_code == 0
    assert load_labels(path).phrases == words_from({"language": language}).phrases
    assert faults(tomllib.loads(path.read_text(encoding="utf-8")), "splitwright-labels-1") == []


def test_a_language_without_phrases_is_told() -> None:
    result = run("labels", "--language", "xx")
    assert (result.exit_code, result.stderr.count("\n")) == (2, 1)
    assert "there are no phrases in" in result.stderr


@given(st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=20), st.text(
    st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60)))  # fmt: skip
def test_any_names_are_written_so_that_they_read_back(names: dict[str, str]) -> None:
    document = {**labels_document("en", []), "items": names}
    assert tomllib.loads(labels_text(document)) == document


@given(st.text(min_size=1, max_size=60))
def test_any_house_name_is_said_as_it_is(name: str) -> None:
    words = words_from({"parts": {"node": name}, "items": {"clay": name}})
    shown = name.replace("|", "¦").strip()
    assert words.text("join.mention", part=words.part("node"), cell="0,0,0") == f"{shown} at 0,0,0"
    assert words.say("building.place", part=Mention("node", (0, 0, 0))).cells == ((0, 0, 0),)
    assert words.item("clay") == name
