"""A first spec as text, with a comment on every line, from the answers to five questions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from sim.rulebook import load_rulebook
from splitwright.toml_writing import toml_key, toml_value
from synth.spec import Leftovers

Arrival = Literal["burst", "stream"]
First = Literal["volume", "parts", "latency"]
ORDERS: Final[dict[First, tuple[str, ...]]] = {
    "volume": ("volume", "parts", "latency"),
    "parts": ("parts", "volume", "latency"),
    "latency": ("latency", "volume", "parts"),
}
"""The ranking, by what counts most."""
FIRES_TO: Final = {"clay": "brick"}
"""What kinds fire to where a first spec can tell; a user adds his own."""
CELLS_MOST: Final = 64
"""Longest side of a site (the published schema of specs)."""
NO_GUIDE: Final = (
    "(This is a block world and no guide to real kilns or wiring, where local codes and licensed practice rule.)"
)
COMMENT_AT: Final = 34
"""Column in which comments start, where the line is short enough."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was asked for; ``size``: width, depth, height; ``leftovers``: what the known builds for it can do."""

    outputs: int = 3
    item: str = "clay"
    arrival: Arrival = "burst"
    size: tuple[int, int, int] = (4, 3, 4)
    first: First = "volume"
    leftovers: Leftovers = "deliver"


def site_guess(outputs: int) -> tuple[int, int, int]:
    """A site that so many furnaces may fit, where no build is known: as wide as a straight row of N + 1 nodes, and with
    room for the wiring beside it. No site holds one for 64: there the guess is the widest site that there is, in which
    the row of 65 must bend once.
    """
    return min(max(4, outputs + 1), CELLS_MOST), 3 if outputs <= 4 else 4, 4


def spec_text(answers: Answers) -> str:
    """The spec as TOML, ready to be read by ``synth.spec_file``."""
    return "\n".join(_lines(answers)) + "\n"


def _lines(answers: Answers) -> Iterator[str]:
    item, outputs = toml_value(answers.item), answers.outputs
    width, depth, height = answers.size
    burns = answers.item in load_rulebook().burns
    title = f"{answers.item[:1].upper()}{answers.item[1:]} for {outputs} {'furnace' if outputs == 1 else 'furnaces'}"
    yield "# A spec: what is to be split, and where it must fit. Change what you like; each line tells what it is for."
    yield f"# {NO_GUIDE}"
    yield _with(f"title = {toml_value(title)}", "your own name for it")
    yield ""
    yield _with("[split]", "what is to be shared out, and how")
    yield _with(f"outputs = {outputs}", "among how many furnaces it is split, 1 to 64")
    yield _with(f'even_for = "{answers.arrival}"', '"burst": a load that is there at once; "stream": any arrivals')
    leftovers = f'leftovers = "{answers.leftovers}"'
    yield _with(leftovers, '"deliver": nodes end empty; "hold": some may wait in the nodes')
    yield ""
    yield _with("[site]", "where it must fit")
    yield _with(f"size = [{width}, {depth}, {height}]", "width, depth, height in cells; nothing stands outside")
    yield _with("blocked = []", "cells that are taken, as in [[3, 2, 0], [3, 2, 1]]")
    yield ""
    yield _with("[streams.feed]", '"feed" is your own name for what flows')
    yield _with(f"item = {item}", "which item it is")
    yield _with(f'enters = "{"side" if burns else "top"}"', '"top": to be fired; "side": as fuel')
    yield _with('source = "any"', 'where its bin stands: "any", a cell as [0, 0, 3], or a side as "W"')
    yield ""
    yield from _item_lines(answers.item)
    yield _with("[prefer]", "which layout is the best")
    order = ", ".join(map(toml_value, ORDERS[answers.first]))
    yield _with(f"order = [{order}]", "what counts, the first most; also footprint, height, price, throughput")


def _item_lines(item: str) -> Iterator[str]:
    """What the item fires to, where that is known."""
    if item in FIRES_TO:
        yield _with(f"[items.{toml_key(item)}]", "what a furnace with fuel makes of it")
        yield _with(f"fires_to = {toml_value(FIRES_TO[item])}", "the kind that comes out at the bottom")
        yield ""


def _with(line: str, comment: str) -> str:
    return f"{line:<{COMMENT_AT - 2}}  # {comment}"
