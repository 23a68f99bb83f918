"""The layout as text that people type (formats, "Plan"): read, written, and turned into JSON and back."""

from __future__ import annotations

from itertools import permutations
from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json, layout_json_text
from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_cells import CODES, READ_AS, code_of, part_at
from sim.world.files.plan_words import KEYWORDS
from sim.world.files.plan_writer import LINE_WIDTH, layout_to_plan, reading_key
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Gauge, Holds, Inverter, Line, Node, Part, Relay, Support
from strategies import AWKWARD, layouts

# As printed on the formats page, "Plan", down to "layer 1"; the page leaves the rest of the layers to the reader.
PRINTED = """
splitwright-plan/1
title  Three kilns, clay
item   clay stack 64 fires-to brick
stream feed clay from 0,0,3 to 1,0,0 2,0,0 3,0,0
holds  1,0,2 clay 64 63
rule   handover 8
layer 0
.    #    .    .
.    F    F    F
layer 1
"""
REST = """
.    .    .    .
.    nD   nD   nD
layer 2
.    .    .    .
nE   nE   nE   nE
layer 3
.    .    .    .
B    .    .    .
"""


def plan(*rows: str, head: str = "") -> str:
    """A plan of one layer."""
    return "\n".join(["splitwright-plan/1", head, "layer 0", *rows])


def parts_of(*rows: str, head: str = "") -> tuple[Part, ...]:
    return layout_from_plan(plan(*rows, head=head)).parts


def test_the_printed_example_is_read_as_it_says() -> None:
    assert layout_from_plan(PRINTED + REST) == Layout(
        title="Three kilns, clay",
        size=(4, 2, 4),
        items={"clay": ItemKind(stack=64, fires_to="brick")},
        parts=(
            Support((1, 1, 0)),
            *(Furnace((x, 0, 0)) for x in (1, 2, 3)),
            *(Node((x, 0, 1), "D") for x in (1, 2, 3)),
            Node((0, 0, 2), "E"),
            Node((1, 0, 2), "E", (("clay", 64), ("clay", 63))),
            *(Node((x, 0, 2), "E") for x in (2, 3)),
            Bin((0, 0, 3)),
        ),
        streams=(Stream("feed", "clay", (0, 0, 3), ((1, 0, 0), (2, 0, 0), (3, 0, 0))),),
        rules={"handover": 8},
    )


def test_every_code_of_the_formats_page() -> None:
    assert parts_of(". # B B* F - nE iS r2W gN") == (
        Support((1, 0, 0)),
        Bin((2, 0, 0)),
        Bin((3, 0, 0), "marked"),
        Furnace((4, 0, 0)),
        Line((5, 0, 0)),
        Node((6, 0, 0), "E"),
        Inverter((7, 0, 0), "S"),
        Relay((8, 0, 0), "W", 2),
        Gauge((9, 0, 0), "N"),
    )


def test_codes_are_one_for_one() -> None:
    assert len(CODES) == 5 + 5 + 5 + 16 + 4
    for code, model in CODES.items():
        assert code_of(part_at(code, (1, 2, 3))) == code
        assert part_at(code, model.at) == model
    assert {code: part for code, part in READ_AS.items() if code not in CODES} == {
        f"r{output}": Relay((0, 0, 0), output, 1) for output in "EWNS"
    }
    assert not set(READ_AS) & set(KEYWORDS), "a word in a layer is a cell or the next line's keyword, never both"


def test_reading_order_is_layers_up_rows_from_the_north_west_to_east() -> None:
    layout = layout_from_plan(plan("B F", "# -") + "\nlayer 1\n. nD\nnE .")
    assert [part.at for part in layout.parts] == [
        (0, 1, 0), (1, 1, 0), (0, 0, 0), (1, 0, 0), (1, 1, 1), (0, 0, 1),
    ]  # fmt: skip
    assert [part.kind for part in layout.parts] == ["bin", "furnace", "support", "line", "node", "node"]


# --- comments


@pytest.mark.parametrize(
    ("row", "cells"),
    [
        (". # F # north wall", ". # F"),
        (". # F #north wall", ". # F"),
        (". # F ## . .", ". # F"),
        (". # F #F", ". # F"),
        (". F # # # the wall", ". F # #"),
        (". # F", ". # F"),
        ("# # #", "# # #"),
        ("\t.  #\tF   ", ". # F"),
        (". F # B # F", ". F # B # F"),
        (". F # the bin: B # F", ". F"),
    ],
)
def test_comments_in_rows(row: str, cells: str) -> None:
    codes = cells.split()
    found = layout_from_plan(plan(row))
    assert found.size == (len(codes), 1, 1)
    assert [(part.at[0], code_of(part)) for part in found.parts] == [
        (x, code) for x, code in enumerate(codes) if code != "."
    ]


def test_lines_that_are_all_comment() -> None:
    text = """
        # before the first line
        splitwright-plan/1   # what this is
        #title not this one
        title The yard  # said the foreman
        item clay#2 stack 3  # a # inside a word is no comment
        rule handover 7 #slow
        layer 0 # ground
        # the kiln
        #
        F
        """
    layout = layout_from_plan(text.replace("        #\n", ""))
    assert layout == Layout(
        "The yard", (1, 1, 1), {"clay#2": ItemKind(3)}, (Furnace((0, 0, 0)),), rules={"handover": 7}
    )


def test_a_lone_support_is_a_row() -> None:
    assert parts_of("#", "F") == (Support((0, 1, 0)), Furnace((0, 0, 0)))


def test_head_lines_may_stand_behind_the_layers() -> None:
    before = layout_from_plan(plan("B F", head="holds 0,0,0 clay 3\ntitle x"))
    assert layout_from_plan(plan("B F", "holds 0,0,0 clay 3", "title x")) == before


# --- the head


@pytest.mark.parametrize(
    ("line", "title"),
    [
        ("title Three kilns, clay", "Three kilns, clay"),
        ("title   a   b  ", "a   b"),
        ("title", ""),
        ('title "Kiln #3"', "Kiln #3"),
        ('title "two\\nlines" # comment', "two\nlines"),
        ("title Kiln #3", "Kiln"),
        ("title Kiln#3", "Kiln#3"),
        ('title the 5" pipe', 'the 5" pipe'),
        ('title the "old" kiln', 'the "old" kiln'),
        ('title the "old # 2" kiln', 'the "old # 2" kiln'),
        ('title ""', ""),
    ],
)
def test_titles(line: str, title: str) -> None:
    assert layout_from_plan(plan(".", head=line)).title == title


@pytest.mark.parametrize(
    ("line", "name", "item"),
    [
        ("item clay", "clay", ItemKind()),
        ("item clay burn 5 fires-to brick stack 3", "clay", ItemKind(3, "brick", 5)),
        ('item "stack" stack 3', "stack", ItemKind(3)),
        ('item "64" fires-to "."', "64", ItemKind(fires_to=".")),
        ('item "wet clay" fires-to "burn" burn 7', "wet clay", ItemKind(fires_to="burn", burn=7)),
        ("item title", "title", ItemKind()),
        ("item Öfen", "Öfen", ItemKind()),
    ],
)
def test_items(line: str, name: str, item: ItemKind) -> None:
    assert layout_from_plan(plan(".", head=line)).items == {name: item}


@pytest.mark.parametrize(
    ("words", "holds"),
    [
        ("clay 64 63 . charcoal 5", (("clay", 64), ("clay", 63), None, ("charcoal", 5))),
        (". . clay 1", (None, None, ("clay", 1))),
        ("clay 1 . 2", (("clay", 1), None, ("clay", 2))),
        ("clay 1 .", (("clay", 1), None)),
        (".", (None,)),
        ('"." 3 "64" 4', ((".", 3), ("64", 4))),
        ('"a b" 3 . "#" 4 # rest', (("a b", 3), None, ("#", 4))),
    ],
)
def test_holds(words: str, holds: Holds) -> None:
    assert parts_of("B", head=f"holds 0,0,0 {words}") == (Bin((0, 0, 0), "plain", holds),)


def test_order_lines_come_first_and_join() -> None:
    rows = ("B F # -", ". nE nD .")
    plain = [part.at for part in parts_of(*rows)]
    assert plain == [(0, 1, 0), (1, 1, 0), (2, 1, 0), (3, 1, 0), (1, 0, 0), (2, 0, 0)]
    ordered = parts_of(*rows, head="order 2,0,0 3,1,0\norder 0,1,0")
    assert [part.at for part in ordered] == [
        (2, 0, 0), (3, 1, 0), (0, 1, 0), (1, 1, 0), (2, 1, 0), (1, 0, 0),
    ]  # fmt: skip
    assert set(ordered) == set(parts_of(*rows))


# --- writing


def test_written_in_columns() -> None:
    layout = layout_from_plan(PRINTED + REST)
    head = PRINTED.lstrip().partition("layer 0")[0]
    assert layout_to_plan(layout) == (
        head
        + """
layer 0
.   #   .   .
.   F   F   F

layer 1
.   .   .   .
.   nD  nD  nD

layer 2
.   .   .   .
nE  nE  nE  nE

layer 3
.   .   .   .
B   .   .   .
"""
    )


def test_the_order_line_lists_only_what_it_must() -> None:
    """Every order of four parts: read back the same, with the shortest list of first cells that does it."""
    parts = parts_of("B F # -")
    for permuted in permutations(parts):
        layout = Layout("", (4, 1, 1), parts=permuted)
        text = layout_to_plan(layout)
        assert layout_from_plan(text) == layout
        listed = [line.split()[1:] for line in text.splitlines() if line.startswith("order")]
        count = len(listed[0]) if listed else 0
        shortest = next(
            n for n in range(5) if permuted == (*permuted[:n], *sorted(permuted[n:], key=lambda p: reading_key(p.at)))
        )
        assert count == shortest


def test_long_orders_are_wrapped() -> None:
    parts = tuple(Support((x, y, 0)) for x in range(30) for y in range(30))
    layout = Layout("", (30, 30, 1), parts=parts)
    lines = [line for line in layout_to_plan(layout).splitlines() if line.startswith("order")]
    assert len(lines) > 10
    assert max(map(len, lines)) <= LINE_WIDTH
    assert layout_from_plan(layout_to_plan(layout)) == layout


@given(layouts())
def test_round_trip(layout: Layout) -> None:
    text = layout_to_plan(layout)
    assert layout_from_plan(text) == layout
    assert list(layout_from_plan(text).items) == list(layout.items), "in the same order"
    assert layout_to_plan(layout_from_plan(text)) == text


@given(layouts())
def test_json_to_plan_to_json(layout: Layout) -> None:
    text = layout_json_text(layout)
    assert layout_json_text(layout_from_plan(layout_to_plan(layout_from_json(text)))) == text


@given(layouts())
def test_written_plans_are_plain_lines(layout: Layout) -> None:
    """Whatever the names are, every editor sees the same lines; and each line keeps to its kind."""
    text = layout_to_plan(layout)
    lines = text.splitlines()
    assert text == "".join(line + "\n" for line in lines)
    assert all(line.isprintable() and line == line.rstrip() for line in lines)
    heads = [line.split()[0] for line in lines if line and line.split()[0] in KEYWORDS]
    assert heads.count("item") == len(layout.items)
    assert heads.count("layer") == layout.size[2]
    rows = [line.split() for line in lines[lines.index("layer 0") :] if line and not line.startswith("layer")]
    assert sum(map(len, rows)) == prod(layout.size)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_ends_of_lines(ends: str) -> None:
    assert layout_from_plan((PRINTED + REST).replace("\n", ends)) == layout_from_plan(PRINTED + REST)


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_names_everywhere(name: str) -> None:
    layout = Layout(
        title=name,
        size=(1, 1, 1),
        items={name: ItemKind(fires_to=name)},
        parts=(Bin((0, 0, 0), holds=((name, 1), None, (name, 2), ("clay", 3), (name, 4))),),
        streams=(Stream(name, name, (0, 0, 0), ((0, 0, 0),)),),
    )
    assert layout_from_plan(layout_to_plan(layout)) == layout
    assert layout_from_json(layout_json_text(layout)) == layout


@given(layouts(), st.data())
def test_a_damaged_plan_is_read_or_refused(layout: Layout, data: st.DataObject) -> None:
    """No text makes the reader fail in any way but its own, in one line that names a line of the plan."""
    text = layout_to_plan(layout)
    start = data.draw(st.integers(0, len(text) - 1))
    end = data.draw(st.integers(start, min(start + 4, len(text))))
    damage = data.draw(st.text(st.sampled_from('\n #".,-0123456789BFnEiSr2WgN*\\abt\u2028\x00'), max_size=4))
    damaged = text[:start] + damage + text[end:]
    try:
        read = layout_from_plan(damaged)
    except InputError as error:
        assert error.field.startswith("line ") or damaged.strip() == ""  # noqa: PT017
        assert str(error).isprintable()  # noqa: PT017
    else:
        assert layout_from_plan(layout_to_plan(read)) == read
