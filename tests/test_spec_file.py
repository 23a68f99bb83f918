"""Spec files: what is read from them, and the one line that each bad one is answered with."""

from __future__ import annotations

import copy
import json
import os
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from faults import fault_of
from sim.errors import InputError
from sim.world.files.places import entries_of
from sim.world.files.schema import published
from sim.world.files.text import BYTES_MOST
from sim.world.files.toml_text import CHARACTERS_MOST, DOTS_MOST, parse_toml
from sim.world.geometry import ALL_DIRECTIONS
from sim.world.layout import ItemKind
from sim.world.parts import PART_KINDS
from sim.world.rulebook import MOST, OVERRIDABLE, load_rulebook
from synth.ask.spec import DEFAULT_ORDER, MEASURES, EvenFor, Face, Leftovers, PartLimit, Spec, StreamSpec
from synth.read.spec_file import load_spec, spec_from_toml
from synth.read.spec_schema import SCHEMA, check_schema

# As printed on the formats page, "Spec: TOML".
PRINTED = """\
title = "Clay for three kilns"
[split]
outputs = 3                 # N
even_for = "burst"          # "burst": a load that is there at once; "stream": any arrival pattern
leftovers = "deliver"       # "deliver": nodes end empty; "hold": leftovers may wait in the nodes
[site]
size = [4, 3, 4]            # the limit: nothing may stand outside it
blocked = [[3, 2, 0]]       # cells that are taken
[streams.feed]
item = "clay"
enters = "top"              # furnace face: top = feed, side = fuel
source = "any"              # or a cell, or a side of the site
[prefer]
order = ["volume", "parts", "latency"]   # ranking; also footprint (x times y), height, price, throughput
[parts]                     # optional limits and prices, by kind
relay = {most = 4, price = 3}
[rules]
file = "default"            # rulebook, with overrides below
"""
PLAIN = '[split]\noutputs = 3\n[site]\nsize = [4, 3, 4]\n[streams.feed]\nitem = "clay"\n'
FUEL = '[streams.fuel]\nitem = "charcoal"\nenters = "side"\n'
PINS = "outputs_at = [[1, 0, 0], [2, 0, 0], [3, 0, 0]]\n"
CELL_OR_SIDE = 'must be "any", a cell [x, y, z], or a side of the site (E, W, N, S, U or D), not '


def site(line: str) -> str:
    """The plain spec with another line for its site."""
    return PLAIN.replace("size = [4, 3, 4]", line)


def split(line: str) -> str:
    """The plain spec with another line for its split."""
    return PLAIN.replace("outputs = 3", line)


# --- good specs


def test_the_printed_example_means_what_the_page_says() -> None:
    assert spec_from_toml(PRINTED) == Spec(
        title="Clay for three kilns",
        outputs=3,
        size=(4, 3, 4),
        streams=(StreamSpec("feed", "clay", enters="top", source=None, outputs_at=()),),
        rulebook=load_rulebook(),
        even_for="burst",
        leftovers="deliver",
        blocked=frozenset({(3, 2, 0)}),
        order=("volume", "parts", "latency"),
        limits={"relay": PartLimit(most=4, price=3)},
        items={"charcoal": ItemKind(burn=1600)},
        overrides={},
    )


def test_the_printed_example_is_still_the_one_on_the_page(repository: Path) -> None:
    page = repository.parent / "shared" / "FORMATS.md"
    if not page.is_file():
        pytest.skip("the formats page is not beside this clone")
    assert f"```toml\n{PRINTED}```" in page.read_text(encoding="utf-8")


def test_what_a_spec_leaves_out_is_completed(tmp_path: Path) -> None:
    path = tmp_path / "brickyard.toml"
    path.write_text(PLAIN, encoding="utf-8")
    spec = load_spec(path)
    assert spec == Spec(
        title="brickyard",
        outputs=3,
        size=(4, 3, 4),
        streams=(StreamSpec("feed", "clay"),),
        rulebook=load_rulebook(),
        items={"charcoal": ItemKind(burn=1600)},
    )
    assert (spec.even_for, spec.leftovers, spec.order) == ("burst", "deliver", DEFAULT_ORDER)
    assert spec.limit("relay") == PartLimit(most=None, price=1)
    assert spec.rules == load_rulebook().rules


def test_everything_that_a_spec_can_state() -> None:
    spec = spec_from_toml(
        'title = "All"\n[split]\noutputs = 2\neven_for = "stream"\nleftovers = "hold"\n'
        "[site]\nsize = [64, 1, 5]\nblocked = [[63, 0, 4], [0, 0, 0]]\n"
        '[streams.feed]\nitem = "clay"\nsource = [1, 0, 4]\noutputs_at = [[2, 0, 0], [1, 0, 0]]\n'
        '[streams.fuel]\nitem = "peat"\nenters = "side"\nsource = "U"\noutputs_at = [[1, 0, 0], [2, 0, 0]]\n'
        '[items.clay]\nstack = 16\nfires_to = "brick"\n[items.peat]\nburn = 800\n[items.brick]\n'
        '[prefer]\norder = ["throughput", "price"]\n'
        "[parts]\nbin = {most = 2}\nline = {price = 0}\nrelay = {most = 0, price = 7}\ngauge = {}\n"
        '[rules]\nfile = "default"\nhandover = 7\nreach = 9\n'
    )
    assert (spec.title, spec.outputs, spec.size) == ("All", 2, (64, 1, 5))
    assert (spec.even_for, spec.leftovers) == ("stream", "hold")
    assert spec.blocked == {(63, 0, 4), (0, 0, 0)}
    assert spec.streams == (
        StreamSpec("feed", "clay", "top", (1, 0, 4), ((2, 0, 0), (1, 0, 0))),
        StreamSpec("fuel", "peat", "side", "U", ((1, 0, 0), (2, 0, 0))),
    )
    assert spec.items == {
        "clay": ItemKind(stack=16, fires_to="brick"),
        "peat": ItemKind(burn=800),
        "brick": ItemKind(),
        "charcoal": ItemKind(burn=1600),
    }
    assert spec.order == ("throughput", "price")
    assert spec.limits == {
        "bin": PartLimit(2, 1),
        "line": PartLimit(None, 0),
        "relay": PartLimit(0, 7),
        "gauge": PartLimit(),
    }
    assert (spec.rules.handover, spec.rules.reach, spec.rules.period) == (7, 9, 8)


def test_a_listed_item_is_what_the_spec_says_of_it() -> None:
    spec = spec_from_toml(PLAIN + "[items.charcoal]\nburn = 900\n")
    assert spec.items == {"charcoal": ItemKind(burn=900)}


@pytest.mark.parametrize("side", ALL_DIRECTIONS)
def test_a_source_on_each_side_of_the_site(side: str) -> None:
    assert spec_from_toml(PLAIN + f'source = "{side}"\n').streams[0].source == side


def test_a_rulebook_of_ones_own_is_looked_up_beside_the_spec(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "yard" / "rules").mkdir(parents=True)
    default = (Path(__file__).resolve().parent.parent / "specs" / "rules" / "default.toml").read_text(encoding="utf-8")
    own = default.replace("[burn.charcoal]", "[burn.peat]").replace("value = 15\n", "value = 9\n", 1)
    (tmp_path / "yard" / "rules" / "wet.toml").write_text(own, encoding="utf-8")
    text = PLAIN + '[streams.fuel]\nitem = "peat"\nenters = "side"\n[rules]\nfile = "rules/wet.toml"\nperiod = 10\n'
    (tmp_path / "yard" / "kilns.toml").write_text(text, encoding="utf-8")
    spec = load_spec(Path("yard/kilns.toml"))
    assert spec.items == {"peat": ItemKind(burn=1600)}
    assert (spec.rules.reach, spec.rules.period, spec.rulebook.rules.period) == (9, 10, 8)


def test_line_ends_and_byte_order_marks_of_other_machines(tmp_path: Path) -> None:
    path = tmp_path / "brickyard.toml"
    path.write_bytes(b"\xef\xbb\xbf" + PRINTED.replace("\n", "\r\n").encode())
    assert load_spec(str(path)) == spec_from_toml(PRINTED)


# --- bad specs: text, the line that answers it

NO_TOML = {
    "no assignment": ("clay\n", "line 1, column 5: is no TOML: expected '=' after a key in a key/value pair"),
    "no value": ("title = \n", "line 1, column 9: is no TOML: invalid value"),
    "open text": ('title = "clay', "end of document: is no TOML: unterminated string"),
    "open list": ("[site]\nsize = [4, 3", "end of document: is no TOML: unclosed array"),
    "JSON": ('{"split": 3}\n', "line 1, column 1: is no TOML: invalid statement"),
    "a key twice": ("[split]\noutputs = 3\noutputs = 4\n", "line 3: a key stands twice; keep one"),
    "a table twice": ("[split]\noutputs = 3\n[split]\n", "line 3: a table stands twice; keep one"),
    "a closed table": (
        "parts = {}\nparts.relay = {most = 1}\n[site]\n",
        "line 2: a key adds to a table that } has closed; write it within the braces",
    ),
    "a nest of lists": ("site = " + "[" * 20_000, "is nested too deeply"),
    "a nest of tables": ("site = " + "{a=" * 20_000, "is nested too deeply"),
    "a long key": (
        "\n" + ".".join("a" * 20_000) + " = 1\n",
        f"line 2: has more than {DOTS_MOST} dots; no key is that long",
    ),
    "a long number": (split("outputs = " + "9" * 5000), "is no TOML: a number has too many digits"),
    "a long number to another base": (split("outputs = 0x" + "f" * 5000), "split.outputs: has too many digits"),
    "a date": ("title = 1979-05-27\n" + PLAIN, "title: is a date or time; none is due (text stands in quotes)"),
    "a time": (
        site("size = [4, 07:32:00]"),
        "site.size[1]: is a date or time; none is due (text stands in quotes)",
    ),
    "endless": ("#" * (CHARACTERS_MOST + 1), "is longer than 200000 characters, the most that is read"),
}
UNKNOWN = {
    "misspelt table": (
        PLAIN.replace("[split]", "[spilt]"),
        'spilt: unknown key; did you mean "split"?',
    ),
    "table of another name": (PLAIN.replace("streams", "stream"), 'stream: unknown key; did you mean "streams"?'),
    "misspelt key": (split("outptus = 3"), 'split.outptus: unknown key; did you mean "outputs"?'),
    "misspelt key beside the right one": (
        site("size = [4, 3, 4]\nblock = []"),
        'site.block: unknown key; did you mean "blocked"?',
    ),
    "key of a stream": (PLAIN + "enter = 3\n", 'streams.feed.enter: unknown key; did you mean "enters"?'),
    "key of an item": (PLAIN + "[items.clay]\nfires = 1\n", 'items.clay.fires: unknown key; did you mean "fires_to"?'),
    "kind of part": (PLAIN + "[parts]\nrealy = {most = 4}\n", 'parts.realy: unknown key; did you mean "relay"?'),
    "key of a part": (PLAIN + "[parts]\nrelay = {mots = 4}\n", 'parts.relay.mots: unknown key; did you mean "most"?'),
    "rule": (PLAIN + "[rules]\nhandovers = 7\n", 'rules.handovers: unknown key; did you mean "handover"?'),
    "rule that is no spec's to change": (
        PLAIN + "[rules]\nticks_per_second = 7\n",
        f"rules.ticks_per_second: unknown key; known are file, {', '.join(OVERRIDABLE)}",
    ),
    "nothing like it": (
        "weather = 1\n" + PLAIN,
        "weather: unknown key; known are title, split, site, streams, items, prefer, parts, rules",
    ),
    "a key that is no word": (
        '"a b\\n" = 1\n' + PLAIN,
        '["a b\\n"]: unknown key; known are title, split, site, streams, items, prefer, parts, rules',
    ),
}
MISSING = {
    "nothing but a comment": (
        "# clay\n",
        "split: is missing; it must be a table with outputs, even_for, leftovers, holds_most, row, scheme, orders, "
        "handover, "
        "arrivals, throughput",
    ),
    "no site": ("[split]\noutputs = 3\n[streams]\n", "site: is missing; it must be a table with size, blocked"),
    "no outputs": (split(""), "split.outputs: is missing; it must be a whole number from 1 to 64"),
    "no size": (site(""), "site.size: is missing; it must be a size [width, depth, height]"),
    "no streams": (
        PLAIN.partition("[streams")[0],
        "streams: is missing; it must be a table of one or more streams by name, as in [streams.feed]",
    ),
    "empty streams": (
        PLAIN.partition("[streams")[0] + "[streams]\n",
        "streams: must be a table of one or more streams by name, as in [streams.feed], not an empty table",
    ),
    "no item": (
        PLAIN.replace('item = "clay"', ""),
        "streams.feed.item: is missing; it must be a name, text of at least one character",
    ),
}
WRONG_TYPE = {
    "title": ("title = 3\n" + PLAIN, "title: must be text, not 3"),
    "a boolean for outputs": (split("outputs = true"), "split.outputs: must be a whole number from 1 to 64, not true"),
    "a fraction for outputs": (split("outputs = 3.0"), "split.outputs: must be a whole number from 1 to 64, not 3.0"),
    "no number for outputs": (split("outputs = nan"), "split.outputs: must be a whole number from 1 to 64, not NaN"),
    "text for outputs": (split('outputs = "3"'), 'split.outputs: must be a whole number from 1 to 64, not "3"'),
    "a boolean for a size": (
        site("size = [4, true, 4]"),
        "site.size[1]: must be a whole number from 1 to 64, not true",
    ),
    "a boolean for a rule": (
        PLAIN + "[rules]\nperiod = true\n",
        "rules.period: must be a whole number from 1 to 1000000, not true",
    ),
    "a boolean for a limit": (
        PLAIN + "[parts]\nrelay = {most = false}\n",
        "parts.relay.most: must be a whole number from 0 to 1000000, not false",
    ),
    "a boolean in a cell": (
        site("size = [4, 3, 4]\nblocked = [[0, 0, true]]"),
        "site.blocked[0][2]: must be a whole number from 0 to 63, not true",
    ),
    "a number for a table": ("rules = 1\n" + PLAIN, "rules: must be a table with file and rule overrides, not 1"),
    "a number for a size": (site("size = 4"), "site.size: must be a size [width, depth, height], not 4"),
    "two numbers for a size": (site("size = [4, 3]"), "site.size: must be a size [width, depth, height], not [4, 3]"),
    "a table for a size": (site("size = {x = 4}"), "site.size: must be a size [width, depth, height], not a table"),
    "one cell for a list of cells": (
        site("size = [4, 3, 4]\nblocked = [1, 0, 0]"),
        "site.blocked[0]: must be a cell [x, y, z], not 1",
    ),
    "half a cell": (
        site("size = [4, 3, 4]\nblocked = [[1, 0]]"),
        "site.blocked[0]: must be a cell [x, y, z], not [1, 0]",
    ),
    "a stream without a name": (
        PLAIN.replace("[streams.feed]", "[streams]"),
        'streams.item: must be a table with item, enters, source, outputs_at, not "clay"',
    ),
    "streams as a list": (
        PLAIN.replace("[streams.feed]", "[[streams]]"),
        "streams: must be a table of one or more streams by name, as in [streams.feed], not a list of 1",
    ),
    "a name without a letter": (
        PLAIN.replace("feed", '""'),
        'streams[""]: a key must be a name, text of at least one character, not ""',
    ),
    "no item's name": (
        PLAIN.replace('"clay"', '""'),
        'streams.feed.item: must be a name, text of at least one character, not ""',
    ),
    "a limit without a key": (PLAIN + "[parts]\nrelay = 4\n", "parts.relay: must be a table with most, price, not 4"),
    "half a price": (
        PLAIN + "[parts]\nrelay = {price = 0.5}\n",
        "parts.relay.price: must be a whole number from 0 to 1000000, not 0.5",
    ),
    "an item as a number": (
        PLAIN + "[items]\nclay = 3\n",
        "items.clay: must be a table with stack, fires_to, burn, not 3",
    ),
    "an order in one word": (
        PLAIN + '[prefer]\norder = "volume"\n',
        'prefer.order: must be a list of different measures, the one that matters most first, not "volume"',
    ),
}
OUT_OF_RANGE = {
    "no outputs": (split("outputs = 0"), "split.outputs: must be a whole number from 1 to 64, not 0"),
    "negative outputs": (split("outputs = -3"), "split.outputs: must be a whole number from 1 to 64, not -3"),
    "huge outputs": (
        split("outputs = 1000000000"),
        "split.outputs: must be a whole number from 1 to 64, not 1000000000",
    ),
    "huge size": (
        site("size = [4, 3, 1_000_000_000]"),
        "site.size[2]: must be a whole number from 1 to 64, not 1000000000",
    ),
    "huge size, with a cell to suit": (
        site("size = [1_000_000_000, 3, 4]\nblocked = [[100, 0, 0]]"),
        "site.size[0]: must be a whole number from 1 to 64, not 1000000000",
    ),
    "flat size": (site("size = [4, 0, 4]"), "site.size[1]: must be a whole number from 1 to 64, not 0"),
    "negative limit": (
        PLAIN + "[parts]\nrelay = {most = -1}\n",
        "parts.relay.most: must be a whole number from 0 to 1000000, not -1",
    ),
    "negative price": (
        PLAIN + "[parts]\nrelay = {price = -1}\n",
        "parts.relay.price: must be a whole number from 0 to 1000000, not -1",
    ),
    "stack of none": (
        PLAIN + "[items.clay]\nstack = 0\n",
        "items.clay.stack: must be a whole number from 1 to 1000000, not 0",
    ),
    "negative burn": (
        PLAIN + "[items.clay]\nburn = -1\n",
        "items.clay.burn: must be a whole number from 0 to 1000000, not -1",
    ),
    "rule": (PLAIN + "[rules]\nhandover = 0\n", "rules.handover: must be a whole number from 1 to 1000000, not 0"),
    "even for what": (split('outputs = 3\neven_for = "drip"'), 'split.even_for: must be burst or stream, not "drip"'),
    "row": (split('outputs = 3\nrow = "round"'), 'split.row: must be any or straight, not "round"'),
    "holds_most": (
        split("outputs = 3\nholds_most = 22"),
        'split.holds_most: is for leftovers = "hold"; with "deliver" nothing waits',
    ),
    "holds_most below 0": (
        split('outputs = 3\nleftovers = "hold"\nholds_most = -1'),
        "split.holds_most: must be a whole number from 0 to 1000000, not -1",
    ),
    "leftovers": (split('outputs = 3\nleftovers = "eat"'), 'split.leftovers: must be deliver or hold, not "eat"'),
    "face": (PLAIN + 'enters = "bottom"\n', 'streams.feed.enters: must be top or side, not "bottom"'),
    "side": (PLAIN + 'source = "north"\n', f'streams.feed.source: {CELL_OR_SIDE}"north"'),
    "half a cell for a source": (PLAIN + "source = [0, 0]\n", f"streams.feed.source: {CELL_OR_SIDE}[0, 0]"),
    "a boolean for a source": (PLAIN + "source = true\n", f"streams.feed.source: {CELL_OR_SIDE}true"),
    "measure": (
        PLAIN + '[prefer]\norder = ["volume", "beauty"]\n',
        f'prefer.order[1]: must be {", ".join(MEASURES[:-1])} or {MEASURES[-1]}, not "beauty"',
    ),
    "no measure": (
        PLAIN + "[prefer]\norder = []\n",
        "prefer.order: must be a list of different measures, the one that matters most first, not []",
    ),
    "measure twice": (
        PLAIN + '[prefer]\norder = ["volume", "parts", "volume"]\n',
        'prefer.order[2]: "volume" stands twice; keep one',
    ),
}
CELLS = {
    "blocked outside": (
        site("size = [4, 3, 4]\nblocked = [[0, 0, 0], [1, 3, 0]]"),
        "site.blocked[1]: [1, 3, 0] lies outside the size [4, 3, 4]; y goes from 0 to 2",
    ),
    "blocked far outside": (
        site("size = [4, 3, 4]\nblocked = [[1000000000, 0, 0]]"),
        "site.blocked[0]: [1000000000, 0, 0] lies outside the size [4, 3, 4]; x goes from 0 to 3",
    ),
    "blocked below the ground": (
        site("size = [4, 3, 4]\nblocked = [[0, 0, -1]]"),
        "site.blocked[0]: [0, 0, -1] lies outside the size [4, 3, 4]; z goes from 0 to 3",
    ),
    "blocked twice": (
        site("size = [4, 3, 4]\nblocked = [[0, 0, 0], [1, 0, 0], [0, 0, 0]]"),
        "site.blocked[2]: [0, 0, 0] stands twice; keep one",
    ),
    "source outside": (
        PLAIN + "source = [4, 0, 3]\n",
        "streams.feed.source: [4, 0, 3] lies outside the size [4, 3, 4]; x goes from 0 to 3",
    ),
    "source far outside": (
        PLAIN + "source = [0, 0, 64]\n",
        "streams.feed.source: [0, 0, 64] lies outside the size [4, 3, 4]; z goes from 0 to 3",
    ),
    "furnace outside": (
        PLAIN + "outputs_at = [[1, 0, 0], [2, 0, 0], [3, 0, 4]]\n",
        "streams.feed.outputs_at[2]: [3, 0, 4] lies outside the size [4, 3, 4]; z goes from 0 to 3",
    ),
    "furnace far outside": (
        PLAIN + "outputs_at = [[1, -1, 0], [2, 0, 0], [3, 0, 0]]\n",
        "streams.feed.outputs_at[0]: [1, -1, 0] lies outside the size [4, 3, 4]; y goes from 0 to 2",
    ),
    "too few furnaces": (
        PLAIN + "outputs_at = [[1, 0, 0]]\n",
        "streams.feed.outputs_at: lists 1 cell for 3 furnaces (split.outputs); give one for each",
    ),
    "no furnaces": (
        PLAIN + "outputs_at = []\n",
        "streams.feed.outputs_at: must be a list of different cells [x, y, z], one for each furnace, not []",
    ),
    "two furnaces in a cell": (
        PLAIN + "outputs_at = [[1, 0, 0], [2, 0, 0], [1, 0, 0]]\n",
        "streams.feed.outputs_at[2]: [1, 0, 0] stands twice; keep one",
    ),
    "furnace in a blocked cell": (
        site("size = [4, 3, 4]\nblocked = [[3, 0, 0]]") + PINS,
        "streams.feed.outputs_at[2]: [3, 0, 0] is blocked; pin the furnace to a free cell",
    ),
    "source in a blocked cell": (
        site("size = [4, 3, 4]\nblocked = [[0, 0, 3]]") + "source = [0, 0, 3]\n",
        "streams.feed.source: [0, 0, 3] is blocked; put the bin into a free cell",
    ),
    "source in a furnace": (
        PLAIN + "source = [2, 0, 0]\n" + FUEL + PINS,
        "streams.feed.source: [2, 0, 0] is the place of a furnace; put the bin into a free cell",
    ),
    "two sources in a cell": (
        PLAIN + "source = [0, 0, 3]\n" + FUEL + "source = [0, 0, 3]\n",
        "streams.fuel.source: [0, 0, 3] is the source of streams.feed; put the bin into a free cell",
    ),
}
STREAMS = {
    "two from the top": (
        PLAIN + '[streams.more]\nitem = "clay"\n',
        'streams.more.enters: is "top", as is that of streams.feed; at most one stream for each face ("top", "side")',
    ),
    "two from the side": (
        PLAIN + FUEL + FUEL.replace("fuel", "more"),
        'streams.more.enters: is "side", as is that of streams.fuel; at most one stream for each face ("top", "side")',
    ),
    "furnaces at odds": (
        PLAIN + PINS + FUEL + "outputs_at = [[1, 0, 0], [2, 0, 0], [3, 1, 0]]\n",
        "streams.fuel.outputs_at: pins other furnaces than streams.feed; all streams go into the same furnaces",
    ),
    "clay as fuel": (
        PLAIN + 'enters = "side"\n',
        'streams.feed.item: "clay" does not burn, and only fuel enters from the side; '
        "add burn = TICKS to [items.clay], or name a fuel (charcoal)",
    ),
    "charcoal without its burn": (
        PLAIN + FUEL + "[items.charcoal]\nstack = 16\n",
        'streams.fuel.item: "charcoal" does not burn, and only fuel enters from the side; '
        "add burn = 1600 to [items.charcoal]",
    ),
}
RULEBOOKS = {
    "misspelt": (
        PLAIN + '[rules]\nfile = "defalt"\n',
        'rules.file: no rulebook is called "defalt": did you mean "default"? (or name a .toml file)',
    ),
    "no such file": (
        PLAIN + '[rules]\nfile = "none.toml"\n',
        'rules.file: "none.toml": there is no such file',
    ),
    "no name of a file": (
        PLAIN + '[rules]\nfile = "\\u0000.toml"\n',
        r'rules.file: "\u0000.toml": is no name of a file',
    ),
    "no name at all": (
        PLAIN + '[rules]\nfile = ""\n',
        'rules.file: must be "default" or the path of a rulebook file (.toml), seen from the spec, not ""',
    ),
}
BAD = {
    f"{about}: {name}": case
    for about, table in {
        "no TOML": NO_TOML,
        "unknown": UNKNOWN,
        "missing": MISSING,
        "wrong type": WRONG_TYPE,
        "out of range": OUT_OF_RANGE,
        "cells": CELLS,
        "streams": STREAMS,
        "rulebook": RULEBOOKS,
    }.items()
    for name, case in table.items()
}


@pytest.mark.parametrize(("text", "line"), BAD.values(), ids=BAD.keys())
def test_a_bad_spec_is_answered_with_one_line(
    text: str, line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("brickyard.toml").write_text(text, encoding="utf-8")
    assert refusal(Path("brickyard.toml")) == f"brickyard.toml: {line}"


def test_a_fault_inside_a_rulebook_names_the_rulebook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("wet.toml").write_text('format = "splitwright-rules/2"\n', encoding="utf-8")
    Path("brickyard.toml").write_text(PLAIN + '[rules]\nfile = "wet.toml"\n', encoding="utf-8")
    assert refusal(Path("brickyard.toml")) == 'wet.toml: format: must be "splitwright-rules/1"'


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[a]\nb = " + "9" * 5000, "is no TOML: a number has too many digits"),
        ("a = " + "[" * 20_000, "is nested too deeply"),
    ],
    ids=["digits", "nest"],
)
def test_a_rulebook_without_an_end(text: str, line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("wet.toml").write_text(text, encoding="utf-8")
    Path("brickyard.toml").write_text(PLAIN + '[rules]\nfile = "wet.toml"\n', encoding="utf-8")
    assert refusal(Path("brickyard.toml")) == f'brickyard.toml: rules.file: "wet.toml": {line}'


# --- bad files


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", "is empty; a spec is TOML text"),
        (b" \n\n", "is empty; a spec is TOML text"),
        (b"title = 'a\0b'\n", "is no text but binary; a spec is TOML text"),
        (b"\x7fELF\x02\x01\x01\xff", "is no UTF-8 text (at byte 8); save it as UTF-8"),
        ("title = 'Zürich'\n".encode("latin-1"), "is no UTF-8 text (at byte 11); save it as UTF-8"),
    ],
    ids=["empty", "blank", "null byte", "program", "other encoding"],
)
def test_a_file_that_is_no_text(content: bytes, line: str, tmp_path: Path) -> None:
    path = tmp_path / "brickyard.toml"
    path.write_bytes(content)
    assert refusal(path) == f"{path}: {line}"


def test_a_file_that_is_none(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.toml") == f"{tmp_path / 'none.toml'}: there is no such file"
    assert refusal(tmp_path) == f"{tmp_path}: is a folder; name a file in it"


def test_a_huge_file(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(BYTES_MOST + 1)  # sparse: takes no room
    assert refusal(path) == f"{path}: is larger than 64 MB, the most that is read"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_an_unreadable_file(tmp_path: Path) -> None:
    path = tmp_path / "locked.toml"
    path.write_text(PLAIN, encoding="utf-8")
    path.chmod(0)
    assert refusal(path) == f"{path}: cannot be read (Permission denied)"


def refusal(path: Path) -> str:
    return fault_of(lambda: load_spec(path))


# --- whatever stands in the file, the answer is a spec or one line

SCRAPS = (
    '"any" "E" [ ] { } = . , [[0,0,0]] -1 64 1e9 true """ # [split] [site] [streams.a] outputs size outputs_at blocked '
    'source 1979-05-27 "\\ud800"'
)
WORDS = st.sampled_from(["\n", *SCRAPS.split()])
VALUES = st.recursive(
    st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["any", "E", "clay", "side", [0, 0, 0], [[1, 0, 0]], [4, 3, 64], 3, 10**9]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


def places(value: Any) -> list[tuple[str | int, ...]]:
    """The way to every value in a document, but the document itself."""
    return [way for key, entry in entries_of(value) for way in ((key,), *((key, *rest) for rest in places(entry)))]


FULL = tomllib.loads(PRINTED + f"[items.clay]\nstack = 64\n{FUEL}source = [0, 0, 3]\n{PINS}")
PLACES = places(FULL)


def answer(text: str) -> Spec | str:
    try:
        return spec_from_toml(text)
    except InputError as refused:
        return str(refused)


def schema_fault(document: dict[str, Any]) -> InputError | None:
    try:
        check_schema(document)
    except InputError as refused:
        return refused
    return None


@given(st.integers(0, len(PRINTED)), st.integers(0, 12), st.lists(WORDS, max_size=3))
@example(0, 0, [])
def test_a_slip_of_the_pen_is_answered(start: int, cut: int, words: list[str]) -> None:
    told = answer(PRINTED[:start] + " ".join(words) + PRINTED[start + cut :])
    assert isinstance(told, Spec) or (told and "\n" not in told)


@given(st.sampled_from(PLACES), VALUES)
@example(("site", "size"), [10**9, 3, 4])
@example(("site",), {"blocked": [[70, 0, 0]]})
@example(("streams", "fuel", "source"), [0, 0, 10**400])
def test_any_value_in_any_place_is_judged(place: tuple[str | int, ...], value: Any) -> None:
    document = copy.deepcopy(FULL)
    holder: Any = document
    for way in place[:-1]:
        holder = holder[way]
    holder[place[-1]] = value
    told = schema_fault(document)
    if told is None:
        assert Draft202012Validator(published(SCHEMA)).is_valid(document)
    else:
        assert told.field
        assert len(str(told)) < 400


# --- the published schema


def test_the_schema_says_what_the_code_says() -> None:
    schema = published(SCHEMA)
    Draft202012Validator.check_schema(schema)
    definitions = schema["$defs"]
    assert list(schema["properties"]["parts"]["properties"]) == list(PART_KINDS)
    assert definitions["prefer"]["properties"]["order"]["items"]["enum"] == list(MEASURES)
    assert definitions["prefer"]["properties"]["order"]["default"] == list(DEFAULT_ORDER)
    assert definitions["stream"]["properties"]["enters"]["enum"] == list(get_args(Face))
    assert definitions["stream"]["properties"]["source"]["anyOf"][1]["enum"] == list(ALL_DIRECTIONS)
    assert definitions["split"]["properties"]["even_for"]["enum"] == list(get_args(EvenFor))
    assert definitions["split"]["properties"]["leftovers"]["enum"] == list(get_args(Leftovers))
    assert list(definitions["rules"]["properties"]) == ["file", *OVERRIDABLE]
    assert {definitions["rules"]["properties"][name]["maximum"] for name in OVERRIDABLE} == {MOST}
    assert PartLimit().price == definitions["part"]["properties"]["price"]["default"]


def test_items_are_the_same_in_specs_and_layouts() -> None:
    spec, layout = (published(name)["$defs"]["item"]["properties"] for name in (SCHEMA, "splitwright-layout-1"))
    assert json.dumps(spec, sort_keys=True) == json.dumps(layout, sort_keys=True)


def test_every_table_of_the_schema_refuses_unknown_keys() -> None:
    schema = published(SCHEMA)
    tables = [schema, *schema["properties"].values(), *schema["$defs"].values()]
    for table in tables:
        if table.get("type") == "object":
            assert table["additionalProperties"] is False or "$ref" in table["additionalProperties"]


def test_toml_values_are_plain() -> None:
    assert parse_toml("a = 1\nb = [true, 'x', {c = 2.5}]\n") == {"a": 1, "b": [True, "x", {"c": 2.5}]}
