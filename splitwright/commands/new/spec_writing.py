"""A first spec as text, with a comment on every line, from the answers of its builder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from sim.world.geometry import Cell
from sim.world.rulebook import load_rulebook
from splitwright.commands.new.site_picture import Standing
from splitwright.words.toml_writing import toml_key, toml_value
from synth.ask.spec import Leftovers

Arrival = Literal["burst", "stream"]
First = Literal["volume", "parts", "latency"]
Kind = Literal["split", "hall"]
Inputs = Literal["row", "one"]
Side = Literal["any", "W", "E", "N", "S"]
ORDERS: Final[dict[First, tuple[str, ...]]] = {
    "volume": ("volume", "parts", "latency"),
    "parts": ("parts", "volume", "latency"),
    "latency": ("latency", "volume", "parts"),
}
"""The ranking, by what counts most."""
FIRES_TO: Final = {"clay": "brick"}
"""What kinds fire to where a first spec can tell; a user adds his own."""
FUEL: Final = "charcoal"
"""What burns in a hall, until a user names another."""
CELLS_A_LINE: Final = 6
CELLS_MOST: Final = 64
"""Longest side of a site (the published schema of specs)."""
NO_GUIDE: Final = (
    "(This is a block world and no guide to real kilns or wiring, where local codes and licensed practice rule.)"
)
COMMENT_AT: Final = 34
"""Column in which comments start, where the line is short enough."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was asked for; ``size``: width, depth, height (None: a hall may be as large as it comes); ``bin``: where the
    bin stands, if ``standing`` has none; ``fires_to``: what the item becomes, and ``rules``: numbers of the world, as a
    layout has them."""

    outputs: int = 3
    item: str = "clay"
    arrival: Arrival = "burst"
    size: tuple[int, int, int] | None = (4, 3, 4)
    first: First = "volume"
    leftovers: Leftovers = "deliver"
    kind: Kind = "split"
    bin: Side | Cell = "any"
    inputs: Inputs = "row"
    standing: Standing = field(default_factory=Standing)
    fires_to: str | None = None
    rules: Mapping[str, int] = field(default_factory=dict)

    @property
    def source(self) -> Side | Cell:
        """Where the bin stands."""
        return self.standing.bin or self.bin


def site_guess(outputs: int) -> tuple[int, int, int]:
    """A site that so many furnaces may fit, where no build is known: as wide as a straight row of N + 1 nodes, and with
    room for the wiring beside it. No site holds one for 64: there the guess is the widest site that there is, in which
    the row of 65 must bend once.
    """
    return min(max(4, outputs + 1), CELLS_MOST), 3 if outputs <= 4 else 4, 4


def spec_text(answers: Answers) -> str:
    """The spec as TOML, ready to be read by ``synth.read.spec_file``, or by ``synth.hall.spec_file``."""
    return "\n".join(_lines(answers)) + "\n"


def _lines(answers: Answers) -> Iterator[str]:
    yield "# A spec: what is to be split, and where it must fit. Change what you like; each line tells what it is for."
    yield f"# {NO_GUIDE}"
    yield _with(f"title = {toml_value(_title(answers))}", "your own name for it")
    yield ""
    if answers.kind == "hall":
        yield from _hall_lines(answers)
    yield _with("[split]", "what is to be shared out, and how")
    if answers.kind == "split":
        yield _with(f"outputs = {answers.outputs}", "among how many furnaces it is split, 1 to 64")
    yield _with(f'even_for = "{answers.arrival}"', '"burst": a load that is there at once; "stream": any arrivals')
    leftovers = f'leftovers = "{answers.leftovers}"'
    yield _with(leftovers, '"deliver": nodes end empty; "hold": some may wait in the nodes')
    yield ""
    yield from _site_lines(answers)
    if answers.kind == "split":
        yield from _stream_lines(answers)
    yield from _item_lines(answers)
    yield _with("[prefer]", "which layout is the best")
    order = ", ".join(map(toml_value, ORDERS[answers.first]))
    yield _with(f"order = [{order}]", "what counts, the first most; also footprint, height, price, throughput")
    if answers.rules:
        yield ""
        yield _with("[rules]", "numbers of the world that differ from the rulebook")
        for name, value in answers.rules.items():
            yield _with(f"{toml_key(name)} = {value}", "as in the layout that the site is of")


def _title(answers: Answers) -> str:
    item, outputs = answers.item, answers.outputs
    what = "A hall for" if answers.kind == "hall" else f"{item[:1].upper()}{item[1:]} for"
    return f"{what} {outputs} {'furnace' if outputs == 1 else 'furnaces'}"


def _hall_lines(answers: Answers) -> Iterator[str]:
    yield _with("[hall]", "furnaces with their clay, their fuel and what becomes of the product")
    yield _with(f"furnaces = {answers.outputs}", "on both sides together")
    yield _with("sides = 2", "two rows of furnaces; 1 is the other choice")
    yield _with(f"fires = {toml_value(answers.item)}", "what is fired")
    yield _with(f"fuel = {toml_value(FUEL)}", "what burns")
    if answers.inputs == "one":
        yield _with("inputs = 1", "one bin of each for the whole hall; left out, each row has its own")
    yield _with("product_bins = 1", "all products come to one bin")
    yield ""


def _site_lines(answers: Answers) -> Iterator[str]:
    if answers.size is None:
        return
    width, depth, height = answers.size
    yield _with("[site]", "where it must fit")
    yield _with(f"size = [{width}, {depth}, {height}]", "width, depth, height in cells; nothing stands outside")
    taken = sorted(answers.standing.taken, key=lambda cell: (cell[2], cell[1], cell[0]))
    if taken:
        yield _with("blocked = [", "cells that are taken")
        yield from _rows_of_cells(taken)
        yield _with("]", "all others are free")
    else:
        yield _with("blocked = []", "cells that are taken, as in [[3, 2, 0], [3, 2, 1]]")
    yield ""


def _stream_lines(answers: Answers) -> Iterator[str]:
    burns = answers.item in load_rulebook().burns
    yield _with("[streams.feed]", '"feed" is your own name for what flows')
    yield _with(f"item = {toml_value(answers.item)}", "which item it is")
    yield _with(f'enters = "{"side" if burns else "top"}"', '"top": to be fired; "side": as fuel')
    source = answers.source
    where = toml_value(source) if isinstance(source, str) else _cell(source)
    yield _with(f"source = {where}", 'where its bin stands: "any", a cell as [0, 0, 3], or a side as "W"')
    if answers.standing.kilns:
        yield _with("outputs_at = [", "furnaces that stand already, one cell for each")
        yield from _rows_of_cells(answers.standing.kilns)
        yield _with("]", "left out, they may stand anywhere")
    yield ""


def _rows_of_cells(cells: Iterable[Cell]) -> Iterator[str]:
    """A line for each layer and row of the site, north of it named, so that a person finds a cell again."""
    lines: dict[tuple[int, int], list[Cell]] = {}
    for cell in cells:
        lines.setdefault((cell[2], cell[1]), []).append(cell)
    for (z, y), row in lines.items():
        for i in range(0, len(row), CELLS_A_LINE):
            told = ", ".join(map(_cell, row[i : i + CELLS_A_LINE]))
            yield _with(f"    {told},", f"layer {z}, row {y}")


def _cell(cell: Cell) -> str:
    return f"[{', '.join(map(str, cell))}]"


def _item_lines(answers: Answers) -> Iterator[str]:
    """What the item fires to, where that is known."""
    product = answers.fires_to or FIRES_TO.get(answers.item)
    if product:
        yield _with(f"[items.{toml_key(answers.item)}]", "what a furnace with fuel makes of it")
        yield _with(f"fires_to = {toml_value(product)}", "the kind that comes out at the bottom")
        yield ""


def _with(line: str, comment: str) -> str:
    return f"{line:<{COMMENT_AT - 2}}  # {comment}"
