"""Layouts as JSON, their schemas, and files of any form read and written (formats, "Layout")."""

from __future__ import annotations

import copy
import json
import os
import pickle
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import printed
from sim.errors import InputError
from sim.world.files.consistency import SIDE_MOST, VOLUME_MOST
from sim.world.files.layout_json import check_schema, layout_from_json, layout_json_text, layout_to_json
from sim.world.files.picture import layers_side_by_side, legend
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.files.schema import StrictValidator, published
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import (
    DELAYS,
    MOUNTS,
    OUTLETS,
    OUTPUTS,
    PART_KINDS,
    Bin,
    Furnace,
    Gauge,
    Inverter,
    Line,
    Node,
    Relay,
    Support,
)
from sim.world.rulebook import MOST, OVERRIDABLE, default_rules
from strategies import layouts

ONE_KILN = Layout(
    title="One kiln, clay",
    size=(4, 2, 3),
    items={
        "clay": ItemKind(stack=64, fires_to="brick"),
        "charcoal": ItemKind(stack=64, burn=1600),
        "brick": ItemKind(stack=64),
    },
    parts=(
        Bin((0, 0, 2)),
        Node((0, 0, 1), "E"),
        Node((1, 0, 1), "D", (("clay", 2), None)),
        Furnace((1, 0, 0)),
        Support((2, 0, 0)),
        Gauge((2, 0, 1), "E"),
        Support((3, 0, 1)),
        Inverter((3, 1, 1), "S"),
        Line((3, 1, 0)),
        Support((2, 1, 0)),
        Relay((2, 1, 1), "W", 2),
        Support((1, 1, 1)),
    ),
    streams=(Stream("feed", "clay", (0, 0, 2), ((1, 0, 0),)),),
    rules={"handover": 8},
)
SMALLEST = {"format": "splitwright-layout/1", "size": [1, 1, 1], "parts": []}


def schema_of(name: str) -> Draft202012Validator:
    """The plain validator of anybody who takes the published schema."""
    schema = published(name)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


# --- JSON


def test_the_printed_example_is_still_the_one_on_the_page(repository: Path) -> None:
    page = repository.parent / "shared" / "FORMATS.md"
    if not page.is_file():
        pytest.skip("the formats page is not beside this clone")
    assert f"```json\n{printed.ONE_KILN}```" in page.read_text(encoding="utf-8")


def test_the_printed_example_is_read_as_it_says() -> None:
    assert layout_from_json(printed.ONE_KILN) == ONE_KILN


def test_the_printed_example_is_written_as_printed() -> None:
    stated = json.loads(printed.ONE_KILN)
    written = layout_to_json(ONE_KILN)
    assert json.dumps(written) == json.dumps(stated), "keys in the same order too"


def test_what_may_be_left_out() -> None:
    document = {**SMALLEST, "size": [2, 1, 1], "parts": [
        {"kind": "bin", "at": [0, 0, 0]}, {"kind": "relay", "at": [1, 0, 0], "output": "N"},
    ]}  # fmt: skip
    layout = layout_from_json(document)
    assert layout == Layout("", (2, 1, 1), parts=(Bin((0, 0, 0), "plain", ()), Relay((1, 0, 0), "N", 1)))


def test_an_item_that_burns_0_ticks_does_not_burn() -> None:
    assert layout_from_json({**SMALLEST, "items": {"clay": {"burn": 0}}}).items == {"clay": ItemKind()}


def test_slots_and_stacks_follow_the_overrides() -> None:
    node = {"kind": "node", "at": [0, 0, 0], "outlet": "E", "holds": [["clay", 70]] * 6}
    document = {**SMALLEST, "parts": [node], "rules": {"node_slots": 6, "stack": 70}}
    assert layout_from_json(document).parts == (Node((0, 0, 0), "E", (("clay", 70),) * 6),)
    for rule, fault in (("node_slots", "lists 6 slots, but a node has 5"), ("stack", "takes from 1 to 64, not 70")):
        rules = {name: value for name, value in document["rules"].items() if name != rule}  # type: ignore[attr-defined]
        with pytest.raises(InputError, match=fault):
            layout_from_json({**document, "rules": rules})


def test_slots_follow_the_rulebook_that_is_named() -> None:
    document = {**SMALLEST, "parts": [{"kind": "bin", "at": [0, 0, 0], "holds": [None] * 28}]}
    with pytest.raises(InputError, match="lists 28 slots, but a bin has 27"):
        layout_from_json(document)
    assert layout_from_json(document, default_rules().with_overrides({"bin_slots": 28})).parts


def test_the_largest_site_is_taken() -> None:
    assert layout_from_json({**SMALLEST, "size": [4096, 4096, 1]}).size == (4096, 4096, 1)
    assert VOLUME_MOST == 4096 * 4096


def test_text_has_one_part_a_line() -> None:
    lines = [line.removeprefix(' "parts": [').strip().rstrip("],") for line in layout_json_text(ONE_KILN).splitlines()]
    parts = [json.loads(line) for line in lines if line.startswith('{"kind"')]
    assert parts == json.loads(printed.ONE_KILN)["parts"]


def test_a_loaded_layout_can_be_handed_to_another_process() -> None:
    for layout in (layout_from_json(printed.ONE_KILN), Layout("Empty", (1, 1, 1))):
        assert pickle.loads(pickle.dumps(layout)) == layout


@given(layouts())
def test_json_round_trip(layout: Layout) -> None:
    text = layout_json_text(layout)
    assert layout_from_json(text) == layout
    document = json.loads(text)
    assert json.dumps(document) == json.dumps(layout_to_json(layout)), "the text states the document, keys in order"
    assert list(schema_of("splitwright-layout-1").iter_errors(document)) == []


# --- the schemas


@pytest.mark.parametrize("name", ["splitwright-layout-1", "splitwright-trial-1", "splitwright-check-1"])
def test_schemas_are_schemas(name: str) -> None:
    assert schema_of(name).schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_layout_schema_says_what_the_code_says() -> None:
    schema = published("splitwright-layout-1")
    definitions = schema["$defs"]
    assert [entry["$ref"] for entry in definitions["part"]["oneOf"]] == [f"#/$defs/{kind}" for kind in PART_KINDS]
    for kind, part in PART_KINDS.items():
        assert set(definitions[kind]["properties"]) == {"kind", *(field.name for field in fields(part))}
        assert definitions[kind]["properties"]["kind"] == {"const": kind}
    assert tuple(definitions["node"]["properties"]["outlet"]["enum"]) == OUTLETS
    assert tuple(definitions["inverter"]["properties"]["mount"]["enum"]) == MOUNTS
    for kind in ("relay", "gauge"):
        assert tuple(definitions[kind]["properties"]["output"]["enum"]) == OUTPUTS
    delay = definitions["relay"]["properties"]["delay"]
    assert tuple(range(delay["minimum"], delay["maximum"] + 1)) == DELAYS
    rules = schema["properties"]["rules"]["properties"]
    assert set(rules) == set(OVERRIDABLE)
    assert all(rule == {"type": "integer", "minimum": 1, "maximum": MOST} for rule in rules.values())
    assert schema["properties"]["size"]["items"]["maximum"] == SIDE_MOST
    assert definitions["cell"]["items"]["maximum"] == SIDE_MOST - 1


def test_the_layout_schema_is_closed_at_every_level() -> None:
    def objects(schema: Any) -> list[Any]:
        below = schema.values() if isinstance(schema, dict) else schema if isinstance(schema, list) else ()
        own = [schema] if isinstance(schema, dict) and schema.get("type") == "object" else []
        return own + [found for entry in below for found in objects(entry)]

    found = objects(published("splitwright-layout-1"))
    assert len(found) == 13, "the whole, items, rules, an item, a stream and eight kinds of part"
    named = {"$ref": "#/$defs/item"}
    assert all(schema["additionalProperties"] in (False, named) for schema in found)


JUNK = st.sampled_from(
    [None, True, -1, 0, 5, 2.0, 4097, "", "x", "clay", "E", [], [1], [1, 0, 0], [None], {}, {"x": 1}]
)


@st.composite
def damaged(draw: st.DrawFn) -> dict[str, Any]:
    """The printed example with one or two values replaced, removed or added anywhere."""
    document: dict[str, Any] = json.loads(printed.ONE_KILN)
    for _ in range(draw(st.integers(1, 2))):
        holder: Any = document
        while True:
            ways = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
            if not ways:
                break
            way = draw(st.sampled_from(ways))
            deeper = isinstance(holder[way], (dict, list)) and draw(st.booleans())
            if not deeper:
                break
            holder = holder[way]
        if not ways:
            continue
        action = draw(st.sampled_from(["replace", "remove", "add"]))
        if action == "replace":
            holder[way] = copy.deepcopy(draw(JUNK))
        elif action == "remove":
            del holder[way]
        elif isinstance(holder, dict):
            holder[draw(st.sampled_from(["x", "holds", "output", "burn", "outlet"]))] = copy.deepcopy(draw(JUNK))
        else:
            holder.append(copy.deepcopy(draw(JUNK)))
    return document


@settings(max_examples=300)
@given(damaged())
def test_the_loader_takes_what_the_published_schema_takes(document: dict[str, Any]) -> None:
    """Parts are judged by kind for better words; the verdict must be the published schema's all the same."""
    accepted = StrictValidator(published("splitwright-layout-1")).is_valid(document)
    if accepted:
        check_schema(document)
    else:
        with pytest.raises(InputError) as caught:
            check_schema(document)
        assert "\n" not in str(caught.value)


FINDINGS = [
    {"check": "overheating", "at": [3, 1, 1], "tick": 60, "text": "the inverter switched off 8 times"},
    {"check": "never settles", "text": "the signals do not settle"},
]


def test_the_printed_trial_is_valid() -> None:
    assert list(schema_of("splitwright-trial-1").iter_errors(printed.ONE_KILN_TRIAL)) == []
    (stream,) = printed.ONE_KILN_TRIAL["streams"]
    undelivered = {**stream, "delivered": [0], "first_arrival": None, "last_arrival": None}
    full = {**printed.ONE_KILN_TRIAL, "findings": FINDINGS, "streams": [undelivered]}
    assert list(schema_of("splitwright-trial-1").iter_errors(full)) == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"format": "splitwright-trial/2"}, {"tick": -1}, {"tick": 1.5}, {"at_rest": 1}, {"more": 1},
        {"findings": ["x"]},
        {"findings": [{"text": "x"}]}, {"findings": [{"check": "x", "text": "y", "at": None}]}, {"signals": {"1,0": 1}},
        {"signals": {"1,0,0": -1}}, {"contents": {"1,0,0": [["clay", 0]]}}, {"contents": {"1,0,0": [["clay"]]}},
        {"locked": ["1,0,1", "1,0,1"]}, {"streams": [{"name": "feed"}]},
    ],
)  # fmt: skip
def test_a_wrong_trial_is_not(wrong: dict[str, Any]) -> None:
    assert not schema_of("splitwright-trial-1").is_valid({**printed.ONE_KILN_TRIAL, **wrong})


def test_check_documents() -> None:
    schema = schema_of("splitwright-check-1")
    assert schema.is_valid({"format": "splitwright-check/1", "findings": []})
    assert schema.is_valid({"format": "splitwright-check/1", "findings": FINDINGS})
    assert not schema.is_valid({"format": "splitwright-check/1"})
    assert not schema.is_valid(
        {"format": "splitwright-check/1", "findings": [{"check": "x", "text": "y", "tick": "1"}]}
    )
    assert not schema.is_valid({"format": "splitwright-check/1", "findings": [], "more": 1})


# --- files


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("name", "form"),
    [
        ("kiln.json", "json"), ("kiln.JSON", "json"), ("kiln.plan", "plan"), ("kiln.Plan", "plan"), ("kiln", "json"),
        ("kiln", "plan"), ("kiln.txt", "json"), ("kiln.txt", "plan"),
    ],
)  # fmt: skip
def test_load_finds_the_form(tmp_path: Path, name: str, form: str, ends: str, mark: str) -> None:
    text = layout_json_text(ONE_KILN) if form == "json" else layout_to_plan(ONE_KILN)
    path = tmp_path / name
    path.write_bytes((mark + "\n  \n" + text).replace("\n", ends).encode())
    assert load_layout(path) == ONE_KILN
    assert load_layout(str(path)) == ONE_KILN


def test_load_finds_a_plan_below_a_comment(tmp_path: Path) -> None:
    path = tmp_path / "kiln"
    path.write_text("# the old kiln\n\n# from the yard\n" + layout_to_plan(ONE_KILN))
    assert load_layout(path) == ONE_KILN


def test_load_reads_a_pipe() -> None:
    reading, writing = os.pipe()
    os.write(writing, layout_to_plan(ONE_KILN).encode())
    os.close(writing)
    try:
        assert load_layout(f"/dev/fd/{reading}") == ONE_KILN
    finally:
        os.close(reading)


# --- pictures

KILN_PICTURE = """
layer 0 (ground)  |  layer 1         |  layer 2
.   .   #   -     |  .   #   r2W iS  |  .   .   .   .
.   F   #   .     |  nE  nD! gE  #   |  B   .   .   .
"""


def test_layers_side_by_side() -> None:
    assert layers_side_by_side(ONE_KILN) == KILN_PICTURE.strip("\n").splitlines()


def test_layers_wrap_at_the_width() -> None:
    whole = max(map(len, layers_side_by_side(ONE_KILN)))
    assert len(layers_side_by_side(ONE_KILN, whole)) == 3
    wrapped = layers_side_by_side(ONE_KILN, whole - 1)
    assert wrapped[3:] == ["", "layer 2", ".   .   .   .", "B   .   .   ."]
    assert max(map(len, wrapped)) <= whole - 1
    narrow = layers_side_by_side(ONE_KILN, 5)
    assert [line for line in narrow if line.startswith("layer")] == ["layer 0 (ground)", "layer 1", "layer 2"]
    assert len(narrow) == 3 * 3 + 2


def test_legend_lists_what_occurs() -> None:
    assert legend(ONE_KILN) == [
        ".    empty", "#    support", "B    bin", "F    furnace", "-    signal line", "nE   node, outlet east",
        "nD   node, outlet down", "iS   inverter, mounted south", "r2W  relay, delay 2, output west",
        "gE   gauge, output east", "!    after a sign: fill it before the first load",
    ]  # fmt: skip
    assert legend(Layout("", (1, 1, 1), parts=(Bin((0, 0, 0), "marked"),))) == ["B*   bin, marked"]


@given(layouts(), st.none() | st.integers(1, 80))
def test_every_cell_is_in_the_picture(layout: Layout, width: int | None) -> None:
    lines = layers_side_by_side(layout, width)
    shown = [word for line in lines if not line.startswith("layer") for word in line.split() if word != "|"]
    words = [word.removesuffix("!") for word in shown]
    assert words.count("x") == 0
    assert len(shown) - sum(map(str.__eq__, shown, words)) == sum(any(part.holds) for part in layout.containers)
    assert len(words) == layout.size[0] * layout.size[1] * layout.size[2]
    assert len([word for word in words if word != "."]) == len(layout.parts)
    assert {*words, *("!" for word in shown if word.endswith("!"))} == {line.split()[0] for line in legend(layout)}


def test_taken_cells_are_drawn_where_no_part_stands() -> None:
    """From the page on specs: ``blocked`` are cells [x, y, z]."""
    blocked = {(0, 1, 0), (3, 1, 2), (1, 0, 0)}  # the last one has the furnace in it
    picture = layers_side_by_side(ONE_KILN, None, blocked)
    assert picture[1:] == [
        "x   .   #   -     |  .   #   r2W iS  |  .   .   .   x",
        ".   F   #   .     |  nE  nD! gE  #   |  B   .   .   .",
    ]
    assert legend(ONE_KILN, blocked)[:2] == [".    empty", "x    taken (blocked in the spec)"]
    assert "x" not in "".join(layers_side_by_side(ONE_KILN)[1:])
