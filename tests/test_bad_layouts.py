"""What cannot be taken is told in one clear line: file, field, fault, what would be right. Nothing is half-written."""

from __future__ import annotations

import copy
import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faults import fault_of, refusing
from sim.world.files import consistency, text
from sim.world.files.layout_json import layout_from_json
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout

KILN: dict[str, Any] = {
    "format": "splitwright-layout/1",
    "title": "One kiln, clay",
    "size": [4, 2, 3],
    "items": {"clay": {"stack": 64, "fires_to": "brick"}, "charcoal": {"burn": 1600}},
    "parts": [
        {"kind": "bin", "at": [0, 0, 2], "finish": "plain"},
        {"kind": "node", "at": [0, 0, 1], "outlet": "E"},
        {"kind": "node", "at": [1, 0, 1], "outlet": "D", "holds": [["clay", 2], None]},
        {"kind": "furnace", "at": [1, 0, 0]},
        {"kind": "support", "at": [2, 0, 0]},
        {"kind": "relay", "at": [2, 1, 1], "output": "W", "delay": 2},
        {"kind": "inverter", "at": [3, 1, 1], "mount": "S"},
    ],
    "streams": [{"name": "feed", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]}],
    "rules": {"handover": 8},
}
GONE = object()
"""In a table: the key is taken away."""
KINDS = "bin, node, furnace, support, line, inverter, relay, gauge"
NAME = "a name, text of at least one character"
WHOLE = "must be a whole number from 1 to 1000000"

# Where in the document, what is put there, the line that comes of it.
JSON_FAULTS: list[tuple[tuple[str | int, ...], Any, str]] = [
    (("format",), GONE, 'format: is missing; it must be "splitwright-layout/1"'),
    (("format",), "splitwright-trial/1", 'format: must be "splitwright-layout/1", not "splitwright-trial/1"'),
    (("titel",), "x", 'titel: unknown key; did you mean "title"?'),
    (("x\ny\x1b",), 1, '["x\\ny\\u001b"]: unknown key; known are format, title, size, items, parts, streams, rules'),
    (("title",), 5, "title: must be text, not 5"),
    (("title",), None, "title: must be text, not null"),
    (("title",), "\ud800", 'title: "\\ud800" holds half a character (a lone surrogate); write the whole one'),
    # size
    (("size",), GONE, "size: is missing; it must be a size [width, depth, height]"),
    (("size",), [1, 2], "size: must be a size [width, depth, height], not [1, 2]"),
    (("size",), "big", 'size: must be a size [width, depth, height], not "big"'),
    (("size", 0), 0, "size[0]: must be a whole number from 1 to 4096, not 0"),
    (("size", 1), -4, "size[1]: must be a whole number from 1 to 4096, not -4"),
    (("size", 2), 10**9, "size[2]: must be a whole number from 1 to 4096, not 1000000000"),
    (("size", 0), 2.0, "size[0]: must be a whole number from 1 to 4096, not 2.0"),
    (("size", 0), 2.5, "size[0]: must be a whole number from 1 to 4096, not 2.5"),
    (("size", 0), True, "size[0]: must be a whole number from 1 to 4096, not true"),
    (("size", 0), float("nan"), "size[0]: must be a whole number from 1 to 4096, not NaN"),
    (("size", 0), "4", 'size[0]: must be a whole number from 1 to 4096, not "4"'),
    (("size",), [4096] * 3, "size: 4096 x 4096 x 4096 is 68719476736 cells; at most 16777216 can be taken"),
    # items
    (("items",), [], "items: must be an object of items by kind, not []"),
    (("items", ""), {}, f'items[""]: a key must be {NAME}, not ""'),
    (("items", "clay"), 5, "items.clay: must be an object with stack, fires_to, burn, not 5"),
    (("items", "wet clay"), 5, 'items["wet clay"]: must be an object with stack, fires_to, burn, not 5'),
    (("items", "clay", "stak"), 5, 'items.clay.stak: unknown key; did you mean "stack"?'),
    (("items", "clay", "stack"), 0, f"items.clay.stack: {WHOLE}, not 0"),
    (("items", "clay", "stack"), 10**7, f"items.clay.stack: {WHOLE}, not 10000000"),
    (("items", "clay", "fires_to"), "", f'items.clay.fires_to: must be {NAME}, not ""'),
    (("items", "clay", "burn"), -1, "items.clay.burn: must be a whole number from 0 to 1000000, not -1"),
    (("items", "clay", "fires_to"), "\udfff", 'items.clay.fires_to: "\\udfff" holds half a character (a lone '
     "surrogate); write the whole one"),
    # parts
    (("parts",), GONE, "parts: is missing; it must be a list of parts"),
    (("parts",), {}, "parts: must be a list of parts, not an object"),
    (("parts", 3), 5, "parts[3]: must be a part, an object with kind and at, not 5"),
    (("parts", 3, "kind"), GONE, f"parts[3].kind: is missing; known are {KINDS}"),
    (("parts", 3, "kind"), "furnance", 'parts[3].kind: unknown kind "furnance"; did you mean "furnace"?'),
    (("parts", 3, "kind"), "zzz", f'parts[3].kind: unknown kind "zzz"; known are {KINDS}'),
    (("parts", 3, "kind"), ["bin"], f'parts[3].kind: unknown kind ["bin"]; known are {KINDS}'),
    (("parts", 1, "at"), GONE, "parts[1].at: is missing; it must be a cell [x, y, z]"),
    (("parts", 1, "at"), [1, 0], "parts[1].at: must be a cell [x, y, z], not [1, 0]"),
    (("parts", 1, "at"), {"x": 1}, "parts[1].at: must be a cell [x, y, z], not an object"),
    (("parts", 1, "at"), [1, 0, "2"], 'parts[1].at[2]: must be a whole number from 0 to 4095, not "2"'),
    (("parts", 1, "at"), [1, 0, 2.0], "parts[1].at[2]: must be a whole number from 0 to 4095, not 2.0"),
    (("parts", 1, "at"), [4, 0, 1], "parts[1].at: [4, 0, 1] lies outside the size [4, 2, 3]; x goes from 0 to 3"),
    (("parts", 1, "at"), [0, -1, 1], "parts[1].at: [0, -1, 1] lies outside the size [4, 2, 3]; y goes from 0 to 1"),
    (("parts", 1, "at"), [0, 0, 9**9],
     "parts[1].at: [0, 0, 387420489] lies outside the size [4, 2, 3]; z goes from 0 to 2"),
    (("parts", 4, "at"), [0, 0, 1], "parts[4].at: [0, 0, 1] is taken by parts[1].at already; one part a cell"),
    (("parts", 1, "outlet"), GONE, "parts[1].outlet: is missing; it must be E, W, N, S or D"),
    (("parts", 1, "outlet"), "U", 'parts[1].outlet: must be E, W, N, S or D, not "U"'),
    (("parts", 1, "outlet"), 1, "parts[1].outlet: must be E, W, N, S or D, not 1"),
    (("parts", 1, "outlt"), "E", 'parts[1].outlt: unknown key; did you mean "outlet"?'),
    (("parts", 6, "mount"), "U", 'parts[6].mount: must be E, W, N, S or D, not "U"'),
    (("parts", 5, "output"), "D", 'parts[5].output: must be E, W, N or S, not "D"'),
    (("parts", 5, "delay"), 5, "parts[5].delay: must be a whole number from 1 to 4, not 5"),
    (("parts", 0, "finish"), "shiny", 'parts[0].finish: must be plain or marked, not "shiny"'),
    # contents
    (("parts", 4, "holds"), [], "parts[4].holds: unknown key; known are kind, at"),
    (("parts", 2, "holds"), 5, "parts[2].holds: must be a list of slots, each null or [kind, count], not 5"),
    (("parts", 2, "holds", 0), ["clay"],
     'parts[2].holds[0]: must be null for an empty slot, or [kind, count], not ["clay"]'),
    (("parts", 2, "holds", 0), ["clay", 1, 2],
     'parts[2].holds[0]: must be null for an empty slot, or [kind, count], not ["clay", 1, 2]'),
    (("parts", 2, "holds", 0), ["clay", 0], f"parts[2].holds[0][1]: {WHOLE}, not 0"),
    (("parts", 2, "holds", 0), ["clay", True], f"parts[2].holds[0][1]: {WHOLE}, not true"),
    (("parts", 2, "holds", 0), ["", 1], f'parts[2].holds[0][0]: must be {NAME}, not ""'),
    (("parts", 2, "holds", 1), ["clay", 65], 'parts[2].holds[1][1]: a slot of "clay" takes from 1 to 64, not 65'),
    (("parts", 2, "holds", 1), ["brick", 65], 'parts[2].holds[1][1]: a slot of "brick" takes from 1 to 64, not 65'),
    (("parts", 2, "holds"), [None] * 6, "parts[2].holds: lists 6 slots, but a node has 5"),
    (("parts", 0, "holds"), [None] * 28, "parts[0].holds: lists 28 slots, but a bin has 27"),
    (("parts", 3, "holds"), [None] * 4, "parts[3].holds: lists 4 slots, but a furnace has 3"),
    # streams
    (("streams", 0), 5, "streams[0]: must be an object with name, item, source, outputs, not 5"),
    (("streams", 0, "item"), GONE, f"streams[0].item: is missing; it must be {NAME}"),
    (("streams", 0, "name"), "", f'streams[0].name: must be {NAME}, not ""'),
    (("streams", 0, "form"), 1, 'streams[0].form: unknown key; known are name, item, source, outputs'),
    (("streams", 0, "source"), [1, 0, 0], "streams[0].source: a furnace stands at [1, 0, 0]; a source must be a bin"),
    (("streams", 0, "source"), [3, 1, 2], "streams[0].source: nothing stands at [3, 1, 2]; a source must be a bin"),
    (("streams", 0, "outputs"), [1, 0, 0], "streams[0].outputs[0]: must be a cell [x, y, z], not 1"),
    (("streams", 0, "outputs"), [],
     "streams[0].outputs: must be a list of one or more different cells [x, y, z], not []"),
    (("streams", 0, "outputs"), [[2, 0, 0]],
     "streams[0].outputs[0]: a support stands at [2, 0, 0]; an output must be a bin, node or furnace; put one "
     "there, or leave the cell out"),
    (("streams", 0, "outputs"), [[3, 1, 1]],
     "streams[0].outputs[0]: an inverter stands at [3, 1, 1]; an output must be a bin, node or furnace; put one "
     "there, or leave the cell out"),
    (("streams", 0, "outputs"), [[1, 0, 0], [0, 0, 2], [1, 0, 0]],
     "streams[0].outputs[2]: [1, 0, 0] stands twice; keep one"),
    (("streams", 0, "outputs", 0), [1, 0, -1],
     "streams[0].outputs[0][2]: must be a whole number from 0 to 4095, not -1"),
    (("streams",), [KILN["streams"][0]] * 2,
     'streams[1].name: "feed" is taken by streams[0] already; give each its own name'),
    # rules
    (("rules",), [], "rules: must be an object of rule overrides, not []"),
    (("rules", "handovr"), 7, 'rules.handovr: unknown key; did you mean "handover"?'),
    (("rules", "settling_rounds"), 7, "rules.settling_rounds: unknown key; known are period, handover, node_slots, "
     "bin_slots, stack, reach, inverter_delay, gauge_delay, relay_step, firing, overheat_count, overheat_window"),
    (("rules", "handover"), 0, f"rules.handover: {WHOLE}, not 0"),
    (("rules", "handover"), 10**6 + 1, f"rules.handover: {WHOLE}, not 1000001"),
    (("rules", "handover"), None, f"rules.handover: {WHOLE}, not null"),
]  # fmt: skip


def put(document: dict[str, Any], place: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """A copy of ``document`` with ``value`` at ``place``."""
    changed = copy.deepcopy(document)
    holder: Any = changed
    for way in place[:-1]:
        holder = holder[way]
    if value is GONE:
        del holder[place[-1]]
    else:
        holder[place[-1]] = value
    return changed


def test_the_tables_start_from_what_is_right() -> None:
    assert layout_from_json(KILN).title == "One kiln, clay"
    assert layout_from_plan(YARD).title == "Three kilns, clay"


@pytest.mark.parametrize(("place", "value", "line"), JSON_FAULTS)
def test_json_faults(place: tuple[str | int, ...], value: Any, line: str) -> None:
    document = put(KILN, place, value)
    assert fault_of(lambda: layout_from_json(document)) == line
    assert fault_of(lambda: layout_from_json(json.dumps(document))) == line


DEEP = "[" * 900 + "]" * 900
TEXT_FAULTS = [
    ("", "line 1, column 1: is no JSON: expecting value"),
    ("[1,2", "line 1, column 5: is no JSON: expecting ',' delimiter"),
    ('{"format": "splitwright-layout/1",\n "size" [1]}', "line 2, column 9: is no JSON: expecting ':' delimiter"),
    ("{} {}", "line 1, column 4: is no JSON: extra data"),
    ("5", "must be a layout document, an object with format, size and parts, not 5"),
    ("[1]", "must be a layout document, an object with format, size and parts, not [1]"),
    ('{"size": 1, "size": 1}', "size: stands twice in one object; keep one"),
    ('{"items": {"wet clay": {}, "x": {"burn": 1, "burn": 1}}}', "items.x.burn: stands twice in one object; keep one"),
    ('{"parts": [{}, {"at": 1, "at": 1}]}', "parts[1].at: stands twice in one object; keep one"),
    ("[" * 100_000, "is nested too deeply"),
    ('{"a":' * 100_000, "is nested too deeply"),
    ('{"format": "splitwright-layout/1", "size": [1, 1, 1], "parts": [], "title": ' + DEEP + "}",
     "title: must be text, not a list of 1"),
    ('{"format": "splitwright-layout/1", "size": [NaN, 1, 1], "parts": []}',
     "size[0]: must be a whole number from 1 to 4096, not NaN"),
    ('{"format": "splitwright-layout/1", "size": [-Infinity, 1, 1], "parts": []}',
     "size[0]: must be a whole number from 1 to 4096, not -Infinity"),
    ('{"format": "splitwright-layout/1", "size": [1e999, 1, 1], "parts": []}',
     "size[0]: must be a whole number from 1 to 4096, not Infinity"),
    ('{"format": "splitwright-layout/1", "size": [1' + "0" * 9999 + ', 1, 1], "parts": []}',
     "size[0]: must be a whole number from 1 to 4096, not 1" + "0" * 58 + "…"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line"), TEXT_FAULTS, ids=range(len(TEXT_FAULTS)))
def test_json_text_faults(text: str, line: str) -> None:
    assert fault_of(lambda: layout_from_json(text)) == line


# --- plans

YARD = """splitwright-plan/1
title  Three kilns, clay
item   clay stack 64 fires-to brick
stream feed clay from 0,0,1 to 1,0,0
holds  0,0,1 clay 64 63
rule   handover 8
layer 0
.    #    .    .
.    F    F    F
layer 1
. . . .
B . . .
"""
CELLS = "cells are . # B B* F - and nE, iS, r2W, gN with their directions"
QUOTES = "(a name like that must be in quotes)"
STREAM = "stream NAME ITEM from CELL to CELL..."

# What is replaced (its first occurrence), what by, the line that comes of it.
PLAN_FAULTS = [
    # the whole
    (YARD, "", "is empty; a plan begins with a line splitwright-plan/1"),
    (YARD, "\n# only this\n", "is empty; a plan begins with a line splitwright-plan/1"),
    (YARD, '{"a": 1}', 'line 1: a plan begins with a line splitwright-plan/1, not with "{\\"a\\": 1}" '
     "(this looks like JSON: name the file .json)"),
    ("plan/1", "plan/2", 'line 1: a plan begins with a line splitwright-plan/1, not with "splitwright-plan/2"'),
    (YARD[YARD.index("layer") :], "", "line 7: has no layers; a line such as layer 0 and rows of cells are due"),
    ("title", "titel", 'line 2: unknown word "titel"; did you mean "title"?'),
    ("title", '"title"', "line 2: unknown word \"title\"; did you mean \"title\"?"),
    # layers
    ("layer 0\n", "", "line 7: a row of cells stands outside of a layer; a line such as layer 0 must come before it"),
    ("layer 1", "layer 2", "line 10: must be layer 1, not 2; layers go from 0 (the ground) up"),
    ("layer 1", "layer 0", "line 10: must be layer 1, not 0; layers go from 0 (the ground) up"),
    ("layer 1", "layer one", 'line 10: the layer must be a whole number, not "one"'),
    ("layer 1", "layer", "line 10: the layer must be a whole number; the line ends before it"),
    ("layer 1", "layer 1 x", 'line 10: "x" is too much; the line must end before it'),
    ("layer 1", "layre 1", 'line 10: "layre" is no cell; did you mean "layer"?'),
    (". . . .", ". . .", "line 11: has 3 cells, but the row in line 8 has 4"),
    (". . . .", ". # north .", 'line 11: has 1 cell, but the row in line 8 has 4 '
     '("north" is no cell, so the # before it begins a comment)'),
    ("B . . .", "B . . .\n. . . .", "line 10: layer 1 has 3 rows, but layer 0 has 2"),
    ("B . . .", "", "line 10: layer 1 has 1 row, but layer 0 has 2"),
    ("B . . .", "# q . .", "line 10: layer 1 has 1 row, but layer 0 has 2 "
     '(line 12 reads as a comment, because "q" is no cell)'),
    (". . . .\nB . . .\n", "", "line 10: layer 1 has no rows of cells"),
    (".    #    .    .\n.    F    F    F\n", "", "line 7: layer 0 has no rows of cells"),
    ("B . . .", "nU . . .", 'line 12: "nU" is no cell; a node is n and its outlet E, W, N, S or D, as in nE'),
    ("B . . .", "i . . .", 'line 12: "i" is no cell; an inverter is i and its mount E, W, N, S or D, as in iS'),
    ("B . . .", "r5W . . .",
     'line 12: "r5W" is no cell; a relay is r, its delay 1 to 4 and its output E, W, N or S, as in r2W'),
    ("B . . .", "gD . . .", 'line 12: "gD" is no cell; a gauge is g and its output E, W, N or S, as in gN'),
    ("B . . .", "b . . .", 'line 12: "b" is no cell; did you mean "B"?'),
    ("B . . .", "x . . .", f'line 12: "x" is no cell; {CELLS}'),
    ("B . . .", "B...", f'line 12: "B..." is no cell; {CELLS}'),
    # title
    ("title  Three", 'title  "Three',
     'line 2: "\\"Three kilns, clay": the quotes do not hold a JSON string: unterminated string'),
    ("title  Three", 'title  "Three"x', 'line 2: "\\"Three\\"x": a blank must stand after the closing quote'),
    ("title  Three", 'title  "Three" x', 'line 2: a title in quotes ends with them, but "x" follows'),
    ("title", "title a\ntitle", "line 3: the title stands in line 2 already; keep one"),
    ("title  Three", 'title  "\\ud800" #',
     'line 2: "\\ud800" holds half a character (a lone surrogate); write the whole one'),
    # item
    ("item   clay stack 64 fires-to brick", "item", "line 3: the item's name is missing at the end of the line"),
    ("item   clay", "item", f'line 3: the item\'s name is due where "stack" stands {QUOTES}'),
    ("item   clay", 'item ""', f'line 3: a key must be {NAME}, not ""'),
    ("stack 64", "stak 64", 'line 3: unknown word "stak"; did you mean "stack"?'),
    ("stack 64", "stack", 'line 3: stack must be a whole number, not "fires-to"'),
    ("stack 64", "stack 6.5", 'line 3: stack must be a whole number, not "6.5"'),
    ("stack 64", "stack ٣", 'line 3: stack must be a whole number, not "٣"'),
    ("stack 64", "stack 0", f"line 3, stack: {WHOLE}, not 0"),
    ("stack 64", "stack -1", f"line 3, stack: {WHOLE}, not -1"),
    ("stack 64", "stack " + "9" * 9999, f"line 3, stack: {WHOLE}, not " + "9" * 59 + "…"),
    ("stack 64", "stack 64 stack 3", "line 3: stack stands twice; keep one"),
    ("fires-to brick", "fires-to", "line 3: the kind it fires to is missing at the end of the line"),
    ("item ", "item clay\nitem ", 'line 4: item "clay" stands in line 3 already; keep one'),
    # stream
    ("feed clay from", "feed from", f'line 4: the stream\'s item is due where "from" stands {QUOTES}'),
    ("from 0,0,1", "0,0,1", f'line 4: "from" is due in: {STREAM}, not "0,0,1"'),
    ("from 0,0,1", "from 0, 0,1", 'line 4: the source must be a cell x,y,z without blanks, not "0,"'),
    ("to 1,0,0", "to", "line 4: must name one or more output cells x,y,z after to"),
    ("to 1,0,0", "", f'line 4: "to" is due in: {STREAM}; the line ends before it'),
    ("to 1,0,0", "to 1,0,-1", "line 4, outputs: must be a whole number from 0 to 4095, not -1"),
    ("to 1,0,0", "to 1,1,0",
     "line 4, outputs: a support stands at [1, 1, 0]; an output must be a bin, node or furnace; put one "
     "there, or leave the cell out"),
    ("to 1,0,0", "to 1,0,0 1,0,0", "line 4, outputs: [1, 0, 0] stands twice; keep one"),
    ("0,0,1 to", "1,0,0 to", "line 4, source: a furnace stands at [1, 0, 0]; a source must be a bin"),
    ("stream", "stream feed clay from 0,0,1 to 1,0,0\nstream",
     'line 5, name: "feed" is taken by line 4 already; give each its own name'),
    # holds
    ("holds  0,0,1", "holds", 'line 5: the container must be a cell x,y,z without blanks, not "clay"'),
    ("clay 64 63", "",
     "line 5: must list the slots after the cell, as in holds 1,0,2 clay 64 63 . charcoal 5"),
    ("clay 64 63", "64 63", f'line 5: a kind of item is due where "64" stands {QUOTES}'),
    ("clay 64 63", "clay", 'line 5: a count must follow the kind "clay"'),
    ("clay 64 63", "clay . 3", 'line 5: a count must follow the kind "clay", not "."'),
    ("clay 64 63", "clay 3 brick", 'line 5: a count must follow the kind "brick"'),
    ("clay 64 63", "clay 65", 'line 5: a slot of "clay" takes from 1 to 64, not 65'),
    ("clay 64 63", "clay 0", 'line 5: a slot of "clay" takes from 1 to 64, not 0'),
    ("clay 64 63", "clay -3", 'line 5: a slot of "clay" takes from 1 to 64, not -3'),
    ("clay 64 63", ". " * 28, "line 5: lists 28 slots, but a bin has 27"),
    ("clay 64 63", '"" 3', "line 5: must be a kind of item, not an empty name"),
    ("holds  0,0,1", "holds  1,1,0",
     "line 5: no container stands at 1,1,0; only a bin, node or furnace holds anything"),
    ("holds  0,0,1", "holds  9,9,9",
     "line 5: no container stands at 9,9,9; only a bin, node or furnace holds anything"),
    ("holds", "holds 0,0,1 clay 3\nholds", "line 6: what 0,0,1 holds stands in line 5 already; keep one"),
    # rule
    ("rule   handover 8", "rule", "line 6: the rule's name is missing at the end of the line"),
    ("handover", "handovr", 'line 6: unknown rule "handovr"; did you mean "handover"?'),
    ("handover 8", "handover", "line 6: rule handover must be a whole number; the line ends before it"),
    ("handover 8", "handover 8 9", 'line 6: "9" is too much; the line must end before it'),
    ("handover 8", "handover 0", f"line 6: {WHOLE}, not 0"),
    ("rule ", "rule handover 3\nrule ", "line 7: rule handover stands in line 6 already; keep one"),
    # order
    ("layer 0", "order\nlayer 0", "line 7: must list cells x,y,z"),
    ("layer 0", "order x\nlayer 0", 'line 7: an entry must be a cell x,y,z without blanks, not "x"'),
    ("layer 0", "order 0,0,1 0,0,1\nlayer 0", "line 7: 0,0,1 stands twice in the order; keep one"),
    ("layer 0", "order 0,0,0\nlayer 0", "line 7: nothing stands at 0,0,0; list only cells of parts"),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "line"), PLAN_FAULTS, ids=range(len(PLAN_FAULTS)))
def test_plan_faults(before: str, after: str, line: str) -> None:
    assert before in YARD
    assert fault_of(lambda: layout_from_plan(YARD.replace(before, after, 1))) == line


def test_a_plan_too_wide_or_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    head = "splitwright-plan/1\nlayer 0\n"
    assert fault_of(lambda: layout_from_plan(head + ". " * 4097)) == (
        "line 3: must be a whole number from 1 to 4096, not 4097"
    )
    monkeypatch.setattr(consistency, "VOLUME_MOST", 999)
    layers = "".join(f"layer {z}\n" + ". . . . .\n" * 10 for z in range(20))
    assert fault_of(lambda: layout_from_plan("splitwright-plan/1\n" + layers)) == (
        "line 3: 5 x 10 x 20 is 1000 cells; at most 999 can be taken"
    )


@given(st.text(max_size=200) | st.text('splitwright-plan/1\n layer0 ."#[]{}:,', max_size=200))
def test_any_text_is_refused_in_one_line(text: str) -> None:
    for read in (layout_from_json, layout_from_plan):
        fault_of(lambda read=read: read(text))  # type: ignore[misc]


# --- files that cannot be read


def test_file_and_field_stand_in_the_line(tmp_path: Path) -> None:
    path = tmp_path / "kiln.json"
    path.write_text(json.dumps(put(KILN, ("parts", 1, "outlet"), "U")))
    assert fault_of(lambda: load_layout(path)) == f'{path}: parts[1].outlet: must be E, W, N, S or D, not "U"'
    plan = tmp_path / "yard.plan"
    plan.write_text(YARD.replace("B .", "b ."))
    assert fault_of(lambda: load_layout(plan)) == f'{plan}: line 12: "b" is no cell; did you mean "B"?'


BAD_FILES = [
    ("a.json", b"", "is empty; a layout is JSON or a plan"),
    ("a.plan", b" \n\t\n", "is empty; a layout is JSON or a plan"),
    ("a.plan", b"\xef\xbb\xbf", "is empty; a layout is JSON or a plan"),
    ("a", b"PK\x03\x04\x00\x00", "is no text but binary; a layout is JSON or a plan"),
    ("a.json", b"\x89PNG\r\n\x1a\n", "is no UTF-8 text (at byte 1); save it as UTF-8"),
    ("a.json", b'{"title": "\xd6fen"}', "is no UTF-8 text (at byte 12); save it as UTF-8"),
    ("a.json", "{}".encode("utf-16"), "is no UTF-8 text (at byte 1); save it as UTF-8"),
    ("a.json", b"splitwright-plan/1\nlayer 0\n.", "holds a plan; name the file .plan"),
    ("a.plan", b"{}", 'line 1: a plan begins with a line splitwright-plan/1, not with "{}" '
     "(this looks like JSON: name the file .json)"),
    ("a.txt", b"kilns", "is no layout; the first text must be { for JSON, or splitwright-plan/1 for a plan"),
    ("a", b"# only\n# notes", "is no layout; the first text must be { for JSON, or splitwright-plan/1 for a plan"),
    ("a", b"[" * 100_000, "is no layout; the first text must be { for JSON, or splitwright-plan/1 for a plan"),
    ("a.json", b"[" * 100_000, "is nested too deeply"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data", "fault"), BAD_FILES, ids=range(len(BAD_FILES)))
def test_bad_files(tmp_path: Path, name: str, data: bytes, fault: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert fault_of(lambda: load_layout(path)) == f"{path}: {fault}"


def test_no_file(tmp_path: Path) -> None:
    assert fault_of(lambda: load_layout(tmp_path / "gone.json")) == f"{tmp_path}/gone.json: there is no such file"
    assert fault_of(lambda: load_layout("a\0b")) == "a\\u0000b: is no name of a file"
    assert fault_of(lambda: load_layout(tmp_path)) == f"{tmp_path}: is a folder; name a file in it"
    (tmp_path / "file").touch()
    below = tmp_path / "file" / "kiln.json"
    assert fault_of(lambda: load_layout(below)) == f"{below}: cannot be read (Not a directory)"
    (tmp_path / "loop").symlink_to("loop")
    assert "cannot be read (Too many levels of symbolic links)" in fault_of(lambda: load_layout(tmp_path / "loop"))


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "kiln.json"
    path.write_text(json.dumps(KILN))
    path.chmod(0)
    if os.access(path, os.R_OK):  # the superuser may read anything
        monkeypatch.setattr("builtins.open", refusing(errno.EACCES))
    assert fault_of(lambda: load_layout(path)) == f"{path}: cannot be read (Permission denied)"


def test_a_file_without_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(text, "BYTES_MOST", 1024**2)
    assert fault_of(lambda: load_layout("/dev/zero")) == "/dev/zero: is larger than 1 MB, the most that is read"


def test_a_file_just_too_large(tmp_path: Path) -> None:
    path = tmp_path / "kiln.json"
    with path.open("wb") as file:
        file.truncate(64 * 1024**2 + 1)  # a hole, not 64 MB on the disk
    assert fault_of(lambda: load_layout(path)) == f"{path}: is larger than 64 MB, the most that is read"
