"""The brickyard set in specs/: each file loads, follows the published schema, and asks for what its name says."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from sim.world.files.reading import load_layout
from sim.world.files.schema import published
from synth.ask.hall_spec import HallSpec
from synth.ask.spec import Spec
from synth.confirm.confirmation import confirm
from synth.hall.spec_file import SCHEMA as HALL_SCHEMA
from synth.hall.spec_file import is_hall, load_hall
from synth.read.spec_file import load_spec
from synth.read.spec_schema import SCHEMA

FOLDER = Path(__file__).resolve().parent.parent / "specs"
NUMBERS = {"two": 2, "three": 3, "four": 4, "five": 5, "eight": 8}
SET = (
    "eight-kilns",
    "eight-kilns-stream-held",
    "eight-kilns-trickle",
    "five-kilns",
    "four-kilns",
    "three-kilns",
    "three-kilns-blocked",
    "three-kilns-few-relays",
    "three-kilns-stream",
    "three-kilns-too-tight",
    "two-kilns",
    "two-kilns-fuelled",
    "two-kilns-stream",
    "two-kilns-stream-held",
)
HALLS = ("hall-by-output", "hall-one-input", "kilns-in-one-row", "sixteen-kilns")
"""Specs of whole halls."""
ALL = tuple(sorted((*SET, *HALLS)))


def spec_called(name: str) -> Spec:
    return load_spec(FOLDER / f"{name}.toml")


def hall_called(name: str) -> HallSpec:
    return load_hall(FOLDER / f"{name}.toml")


def test_the_set_is_complete() -> None:
    assert tuple(sorted(path.stem for path in FOLDER.glob("*.toml"))) == ALL
    titles = [*(spec_called(name).title for name in SET), *(hall_called(name).title for name in HALLS)]
    assert len(set(titles)) == len(ALL)


@pytest.mark.parametrize("name", SET)
def test_a_spec_of_the_set(name: str) -> None:
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    Draft202012Validator(published(SCHEMA)).validate(tomllib.loads(text))
    spec = spec_called(name)
    assert spec.outputs == NUMBERS[name.partition("-")[0]]
    assert spec.streams[0].item == "clay"
    assert spec.items["clay"].fires_to == "brick"
    assert f"splitwright propose specs/{name}.toml" in text
    assert "no guide to real kilns" in text
    assert max(map(len, text.splitlines())) <= 120


@pytest.mark.parametrize("name", HALLS)
def test_a_hall_of_the_set(name: str) -> None:
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    document = tomllib.loads(text)
    Draft202012Validator(published(HALL_SCHEMA)).validate(document)
    assert is_hall(document)
    assert is_hall(FOLDER / f"{name}.toml")
    hall = hall_called(name)
    assert (hall.fires, hall.fuel, hall.product, hall.burn) == ("clay", "charcoal", "brick", 1600)
    assert f"splitwright size specs/{name}.toml" in text
    assert "no guide to real kilns" in text
    assert max(map(len, text.splitlines())) <= 120


def test_what_sets_the_halls_apart() -> None:
    full, by_output = hall_called("sixteen-kilns"), hall_called("hall-by-output")
    assert (full.furnaces, full.sides, full.output) == (16, 2, None)
    assert {stream.name: stream.finish for stream in full.streams} == {"feed": "plain", "fuel": "marked"}
    assert full.reachable == {"feed", "fuel", "product"}
    assert (by_output.furnaces, by_output.sides, by_output.output) == (None, 2, Fraction(5000))


@pytest.mark.parametrize("name", SET)
def test_no_other_spec_is_a_hall(name: str) -> None:
    assert not is_hall(FOLDER / f"{name}.toml")


@pytest.mark.parametrize("name", ALL)
def test_every_key_of_a_spec_is_explained_somewhere(name: str) -> None:
    """A newcomer finds a comment to every key: beside it, above it, or in a simpler spec of the set."""
    explained = {
        match[1]
        for other in ALL
        for before, line in pairs((FOLDER / f"{other}.toml").read_text(encoding="utf-8"))
        if (match := re.match(r"(\w+) = ", line)) and ("#" in line or before.startswith("#"))
    }
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    keys = set(re.findall(r"^(\w+) = ", text, flags=re.MULTILINE)) - {"title"}
    assert keys <= explained


def pairs(text: str) -> list[tuple[str, str]]:
    return list(pairwise(["", *text.splitlines()]))


def test_the_main_job_is_three_kilns_in_the_box_that_the_readme_names() -> None:
    spec = spec_called("three-kilns")
    assert (spec.outputs, spec.size, spec.blocked) == (3, (4, 3, 4), frozenset())
    assert (spec.even_for, spec.leftovers) == ("burst", "deliver")


def test_what_sets_each_of_the_others_apart() -> None:
    assert spec_called("three-kilns-blocked").blocked
    assert spec_called("three-kilns-too-tight").size == (4, 2, 4)
    assert spec_called("three-kilns-few-relays").limit("relay").most == 1
    assert "price" in spec_called("three-kilns-few-relays").order
    assert spec_called("four-kilns").streams[0].source == "W"
    fuelled = spec_called("two-kilns-fuelled")
    assert [(stream.enters, stream.item) for stream in fuelled.streams] == [("top", "clay"), ("side", "charcoal")]
    assert fuelled.items["charcoal"].burn == 1600


def test_what_sets_the_streams_apart() -> None:
    names = ("two-kilns-stream", "two-kilns-stream-held", "three-kilns-stream")
    specs = [spec_called(name) for name in names]
    assert {spec.even_for for spec in specs} == {"stream"}
    assert [spec.leftovers for spec in specs] == ["deliver", "hold", "deliver"]
    assert [spec.demands.handover for spec in specs] == ["both", "in force", "in force"]
    assert [spec.demands.throughput for spec in specs] == [None, None, 8000]


def test_the_build_by_hand_fits_the_spec_that_names_it() -> None:
    """three-kilns-few-relays.toml says that a hand-made layout fits its site without any relay."""
    spec = spec_called("three-kilns-few-relays")
    layout = load_layout(FOLDER / "layouts" / "burst-row-of-three.plan")
    assert all(has <= may for has, may in zip(layout.size, spec.size, strict=True))
    assert not any(part.kind == "relay" for part in layout.parts)
    assert confirm(layout, spec.rules, needed=(8, 7)).handovers == (8, 7)


def test_the_post_leaves_room_for_the_box_that_is_known_to_do() -> None:
    """A 4 x 3 x 4 box, that of three-kilns.toml, lies in the blocked site clear of the post."""
    spec = spec_called("three-kilns-blocked")
    width = spec_called("three-kilns").size[0]
    assert not any(spec.size[0] - width <= x for x, _, _ in spec.blocked)
