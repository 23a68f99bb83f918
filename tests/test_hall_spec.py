"""Hall specs: what is read from them, and the one line that each bad one is answered with."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from faults import fault_of
from sim.errors import InputError
from sim.world.files.schema import published
from sim.world.layout import ItemKind
from sim.world.parts import Finish
from sim.world.rulebook import load_rulebook
from synth.ask.hall_spec import HallSpec, HallStream
from synth.ask.spec import Demands, EvenFor, Face, Leftovers, PartLimit
from synth.hall.spec_file import SCHEMA, hall_from_toml, is_hall, load_hall
from synth.read.spec_file import load_spec, spec_from_toml
from synth.read.spec_schema import SCHEMA as SPLIT_SCHEMA
from synth.schemes.registry import schemes
from synth.sizing.plant import FURNACES_MOST

HALL = '[hall]\nfurnaces = 16\nsides = 2\nfires = "clay"\nfuel = "charcoal"\n'
ITEMS = '[items.clay]\nfires_to = "brick"\n'
PLAIN = HALL + ITEMS
SPLIT = '[split]\noutputs = 3\n[site]\nsize = [4, 3, 4]\n[streams.feed]\nitem = "clay"\n'


def hall(line: str, old: str = "furnaces = 16") -> str:
    """The plain hall with another line in place of one."""
    assert old in PLAIN
    return PLAIN.replace(old, line)


# --- good specs


def test_what_a_hall_leaves_out_is_completed(tmp_path: Path) -> None:
    path = tmp_path / "brickyard.toml"
    path.write_text(PLAIN, encoding="utf-8")
    found = load_hall(path)
    assert found == HallSpec(
        title="brickyard",
        furnaces=16,
        sides=2,
        output=None,
        fires="clay",
        fuel="charcoal",
        streams=(HallStream("feed", "clay", "top"), HallStream("fuel", "charcoal", "side")),
        rulebook=load_rulebook(),
        items={"clay": ItemKind(fires_to="brick"), "charcoal": ItemKind(burn=1600)},
    )
    assert (found.feed.name, found.fuel_stream.name, found.product, found.burn) == ("feed", "fuel", "brick", 1600)
    assert (found.product_bins, found.product_finish, found.reachable, found.size) == (None, "plain", frozenset(), None)
    assert found.stack_of("brick") == 64
    assert found.limit("relay") == PartLimit()
    assert found.rules == load_rulebook().rules


def test_everything_that_a_hall_can_state() -> None:
    found = hall_from_toml(
        'title = "All"\n[hall]\nfurnaces = 9\nsides = 2\noutput = 3000\nfires = "clay"\nfuel = "peat"\n'
        'product_bins = 2\nlabels = {ware = "marked", product = "marked"}\nreachable = ["product", "heat"]\n'
        '[split]\neven_for = "stream"\nleftovers = "hold"\nscheme = "brimmed row"\norders = "all"\n'
        'handover = "both"\narrivals = "all"\n'
        '[streams.heat]\nitem = "peat"\nscheme = "muster row"\nleftovers = "deliver"\n'
        '[streams.ware]\nitem = "clay"\nenters = "top"\n'
        "[site]\nsize = [40, 20, 6]\nblocked = [[39, 0, 5]]\n"
        '[items.clay]\nfires_to = "brick"\nstack = 16\n[items.peat]\nburn = 800\n'
        '[prefer]\norder = ["price"]\n[parts]\nrelay = {price = 3}\n[rules]\nhandover = 7\n'
    )
    assert (found.furnaces, found.sides, found.output, found.product_bins) == (9, 2, Fraction(3000), 2)
    assert found.streams == (
        HallStream("ware", "clay", "top", "stream", "hold", "brimmed row", "marked"),
        HallStream("heat", "peat", "side", "stream", "deliver", "muster row", "plain"),
    )
    assert (found.product_finish, found.reachable) == ("marked", frozenset({"product", "heat"}))
    assert found.demands == Demands(orders="all", handover="both", arrivals="all")
    assert (found.size, found.blocked, found.order) == ((40, 20, 6), frozenset({(39, 0, 5)}), ("price",))
    assert (found.rules.handover, found.limit("relay").price, found.stack_of("clay")) == (7, 3, 16)


def test_one_stream_stated_and_the_other_completed() -> None:
    found = hall_from_toml(PLAIN + '[streams.heat]\nenters = "side"\neven_for = "stream"\n')
    assert [(one.name, one.enters, one.even_for) for one in found.streams] == [
        ("feed", "top", "burst"),
        ("heat", "side", "stream"),
    ]


def test_an_output_alone() -> None:
    found = hall_from_toml(hall("output = 5000"))
    assert (found.furnaces, found.output) == (None, Fraction(5000))


def test_an_output_that_the_furnaces_just_make() -> None:
    """16 furnaces make 16 x 360 = 5760 an hour."""
    assert hall_from_toml(hall("furnaces = 16\noutput = 5760")).output == 5760


def test_which_documents_are_halls(tmp_path: Path) -> None:
    assert is_hall({"hall": {}})
    assert not is_hall({"split": {"outputs": 3}})
    path = tmp_path / "none.toml"
    assert fault_of(lambda: is_hall(path)) == f"{path}: there is no such file"


# --- bad specs: text, the line that answers it

BAD = {
    "spec of one split": (
        SPLIT,
        "hall: is missing; this is the spec of one split, and a hall is due: "
        "a table with furnaces, sides, output, fires, fuel",
    ),
    "both": (
        PLAIN + "[split]\noutputs = 3\n",
        "split.outputs: belongs to the spec of one split; a hall has hall.furnaces",
    ),
    "nothing": (
        "# clay\n",
        "hall: is missing; it must be a table with furnaces, sides, rows, output, fires, fuel, inputs, product_bins, "
        "labels, reachable",
    ),
    "no fires": (
        hall("", 'fires = "clay"\n'),
        "hall.fires: is missing; it must be a name, text of at least one character",
    ),
    "misspelt": (hall("furnace = 16"), 'hall.furnace: unknown key; did you mean "furnaces"?'),
    "misspelt table": (PLAIN + "[stream.feed]\n", 'stream: unknown key; did you mean "streams"?'),
    "a source": (
        PLAIN + "[streams.feed]\nsource = [99, 0, 0]\n",
        'streams.feed.source: unknown key; did you mean "scheme"?',
    ),
    "sides": (hall("sides = 3", "sides = 2"), "hall.sides: must be a whole number from 1 to 2, not 3"),
    "no furnaces": (hall("furnaces = 0"), f"hall.furnaces: must be a whole number from 1 to {FURNACES_MOST}, not 0"),
    "boolean": (hall("furnaces = true"), f"hall.furnaces: must be a whole number from 1 to {FURNACES_MOST}, not true"),
    "output in words": (
        hall('output = "much"'),
        'hall.output: must be "full" or a whole number of products an hour from 1 to 1000000, not "much"',
    ),
    "finish": (
        hall('labels = {feed = "red"}'),
        'hall.labels.feed: must be plain or marked, not "red"',
    ),
    "empty streams": (
        PLAIN + "[streams]\n",
        "streams: must be a table of one or two streams by name, as in [streams.feed], not an empty table",
    ),
    "neither furnaces nor output": (
        hall(""),
        "hall.furnaces: is missing; state furnaces, or an output an hour from which they follow",
    ),
    "full without furnaces": (
        hall('output = "full"'),
        "hall.furnaces: is missing; state furnaces, or an output an hour from which they follow",
    ),
    "more than they fire": (
        hall("furnaces = 16\noutput = 5761"),
        "hall.output: is more than 16 furnaces can fire: at most 5760 an hour; it takes 17 furnaces",
    ),
    "too many furnaces": (
        hall("output = 360_001"),
        "hall.output: takes 1001 furnaces, more than 1000; at most 360000 an hour",
    ),
    "two sides for one furnace": (hall("furnaces = 1"), "hall.sides: must be 1 at most for 1 furnace, not 2"),
    "two sides for a small output": (hall("output = 360"), "hall.sides: must be 1 at most for 1 furnace, not 2"),
    "fires to nothing": (
        HALL + '[items.loam]\nfires_to = "brick"\n',
        'hall.fires: "clay" fires to nothing; add fires_to = KIND to [items.clay], or name what fires (loam)',
    ),
    "fuel that does not burn": (
        hall('fuel = "clay"', 'fuel = "charcoal"'),
        'hall.fuel: "clay" does not burn, and only fuel enters from the side; '
        "add burn = TICKS to [items.clay], or name a fuel (charcoal)",
    ),
    "fuel that burns too short": (
        PLAIN + "[items.charcoal]\nburn = 7\n",
        "hall.fuel: burns 7 ticks, and a node brings the next in 8: its fire goes out between",
    ),
    "feed of another item": (
        PLAIN + '[streams.feed]\nitem = "loam"\n',
        'streams.feed.item: must be "clay", as hall.fires says, not "loam"',
    ),
    "fuel of another item": (
        PLAIN + '[streams.fuel]\nitem = "peat"\n',
        'streams.fuel.item: must be "charcoal", as hall.fuel says, not "peat"',
    ),
    "two from the top": (
        PLAIN + '[streams.feed]\n[streams.more]\nenters = "top"\n',
        'streams.more.enters: is "top", as is that of streams.feed; one stream for each face ("top", "side")',
    ),
    "no face": (PLAIN + "[streams.ware]\n", "streams.ware.enters: is missing; it must be top or side"),
    "feed from the side, and no other": (
        PLAIN + '[streams.feed]\nenters = "side"\n',
        "streams.feed: enters from the side, and no stream from the top is stated; add one",
    ),
    "a stream called product": (
        PLAIN + '[streams.product]\nenters = "top"\n',
        "streams.product: is the name of the bins that the product comes to; name the stream otherwise",
    ),
    "label of no bin": (
        hall('furnaces = 16\nlabels = {fule = "marked"}'),
        'hall.labels.fule: no bin is called that; did you mean "fuel"?',
    ),
    "reach of no bin": (
        hall('furnaces = 16\nreachable = ["feed", "door"]'),
        'hall.reachable[1]: no bin is called "door"; known are feed, fuel, product',
    ),
    "reach twice": (hall('reachable = ["feed", "feed"]'), 'hall.reachable[1]: "feed" stands twice; keep one'),
    "what fires is the fuel": (
        PLAIN.replace('fuel = "charcoal"', 'fuel = "clay"') + "burn = 200\n",
        'hall.fuel: is "clay", as is hall.fires; what each row delivers could not be told',
    ),
    "unknown scheme": (
        PLAIN + '[split]\nscheme = "bust row"\n',
        'split.scheme: no scheme is called "bust row"; did you mean "burst row"?',
    ),
    "unknown scheme of a stream": (
        PLAIN + '[streams.fuel]\nscheme = "bust row"\n',
        'streams.fuel.scheme: no scheme is called "bust row"; did you mean "burst row"?',
    ),
    "scheme that does not serve": (
        PLAIN + '[streams.fuel]\neven_for = "stream"\nscheme = "burst row"\n',
        'streams.fuel.scheme: "burst row" does not serve: it is not even for a stream (streams.fuel); '
        "name another, or none",
    ),
    "scheme of the split that does not serve one": (
        PLAIN + '[split]\nscheme = "burst row"\n[streams.feed]\neven_for = "stream"\n',
        'split.scheme: "burst row" does not serve: it is not even for a stream (streams.feed); name another, or none',
    ),
    "scheme for more furnaces than the smaller side has": (
        hall("furnaces = 3") + '[split]\nscheme = "muster row"\neven_for = "stream"\n',
        'split.scheme: "muster row" does not serve: it is for 2 outputs or more (streams.feed); name another, or none',
    ),
    "every arrival of a burst": (
        PLAIN + '[split]\narrivals = "all"\n[streams.feed]\neven_for = "stream"\n',
        'split.arrivals: "all" is more than even_for = "burst" of streams.fuel asks; say even_for = "stream"',
    ),
    "blocked without a size": (
        PLAIN + "[site]\nblocked = [[0, 0, 0]]\n",
        "site.size: is missing; it says where the blocked cells lie: [width, depth, height]",
    ),
    "blocked outside": (
        PLAIN + "[site]\nsize = [20, 9, 6]\nblocked = [[0, 0, 0], [20, 0, 0]]\n",
        "site.blocked[1]: [20, 0, 0] lies outside the size [20, 9, 6]; x goes from 0 to 19",
    ),
    "rulebook": (
        PLAIN + '[rules]\nfile = "defalt"\n',
        'rules.file: no rulebook is called "defalt": did you mean "default"? (or name a .toml file)',
    ),
    "no TOML": ("[hall\n", "line 1, column 6: is no TOML: expected ']' at the end of a table declaration"),
}


@pytest.mark.parametrize(("text", "line"), BAD.values(), ids=BAD.keys())
def test_a_bad_hall_is_answered_with_one_line(
    text: str, line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("yard.toml").write_text(text, encoding="utf-8")
    assert fault_of(lambda: load_hall("yard.toml")) == f"yard.toml: {line}"


def test_a_hall_is_no_spec_of_one_split(tmp_path: Path) -> None:
    path = tmp_path / "yard.toml"
    path.write_text(PLAIN, encoding="utf-8")
    due = "a spec of one split is due ([split], [site], [streams])"
    assert fault_of(lambda: load_spec(path)) == f"{path}: hall: makes this the spec of a whole hall; {due}"


VALUES = st.recursive(
    st.booleans() | st.integers(-3, 2000) | st.sampled_from(["full", "clay", "feed", "product", "plain", ""]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["feed", "x"]), inner, max_size=2),
    max_leaves=4,
)


@given(st.sampled_from(sorted(published(SCHEMA)["$defs"]["hall"]["properties"])), VALUES)
def test_any_value_of_any_key_is_judged(key: str, value: Any) -> None:
    """A hall, or one line; never anything else."""
    lines = {"furnaces": "16", "sides": "2", "fires": '"clay"', "fuel": '"charcoal"', key: toml(value)}
    text = "[hall]\n" + "".join(f"{name} = {said}\n" for name, said in lines.items()) + ITEMS
    found = answer(text)
    if isinstance(found, InputError):
        assert found.field
        assert str(found).isprintable()
    else:
        assert found.sides <= (found.furnaces or 16)


def answer(text: str) -> HallSpec | InputError:
    try:
        return hall_from_toml(text)
    except InputError as refused:
        return refused


def toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name} = {toml(inner)}" for name, inner in value.items()) + "}"
    return "[" + ", ".join(map(toml, value)) + "]" if isinstance(value, list) else json.dumps(value)


# --- the published schema


def test_the_two_schemas_say_the_same_of_what_they_share() -> None:
    one, other = published(SPLIT_SCHEMA), published(SCHEMA)
    for name in ("items", "parts"):
        assert one["properties"][name] == other["properties"][name]
    for name in ("name", "item", "prefer", "part", "rules"):
        assert one["$defs"][name] == other["$defs"][name]
    split = other["$defs"]["split"]["properties"]
    assert split == {key: one["$defs"]["split"]["properties"][key] for key in split}


def test_the_schema_says_what_the_code_says() -> None:
    definitions = published(SCHEMA)["$defs"]
    stream, stated = definitions["stream"]["properties"], definitions["hall"]["properties"]
    assert tuple(stream["even_for"]["enum"]) == get_args(EvenFor)
    assert tuple(stream["leftovers"]["enum"]) == get_args(Leftovers)
    assert tuple(stream["enters"]["enum"]) == get_args(Face)
    assert tuple(stated["labels"]["additionalProperties"]["enum"]) == get_args(Finish)
    assert stated["furnaces"]["maximum"] == FURNACES_MOST
    for name in ("hall", "split", "stream", "site"):
        assert definitions[name]["title"] == "a table with " + ", ".join(definitions[name]["properties"])


@pytest.mark.parametrize("name", sorted(schemes()))
def test_every_scheme_can_be_named(name: str) -> None:
    scheme = schemes()[name]
    found = hall_from_toml(
        PLAIN + f'[split]\nscheme = "{name}"\neven_for = "{scheme.even_for[0]}"\nleftovers = "{scheme.leaves}"\n'
    )
    assert [stream.scheme for stream in found.streams] == [name, name]


def test_a_split_is_read_as_before() -> None:
    assert spec_from_toml(SPLIT).outputs == 3
