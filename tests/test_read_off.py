"""The question that a finished layout answers, read off it: streams, faces, the row, what its lock does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from commands import LAYOUTS
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Node
from sim.world.trial import arrivals_for
from synth.confirm.built import box_of
from synth.confirm.judge import Judge
from synth.read.layout import StreamReading, moved_to_origin, spec_of_layout
from worlds import drawn, traced

Table = dict[tuple[bool, ...], bool | None]

BURST: Table = {(False, False): False, (True, False): True, (False, True): False, (True, True): False}
"""(T0 holds something, TN holds something): the B nodes are locked; the scheme's (RULEBOOK, facts 3 and 4)."""


def layout_called(name: str) -> Layout:
    return load_layout(LAYOUTS / f"{name}.plan")


def reading_of(layout: Layout) -> StreamReading:
    (reading,) = spec_of_layout(layout)[1]
    return reading


def table(reading: StreamReading) -> Table:
    return {one.reads: one.locked[-1] for one in reading.lock}


def one_line(error: InputError) -> str:
    text = str(error)
    assert text
    assert "\n" not in text
    return text


# -- what is read -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "outputs"),
    [
        ("burst-row-of-two", 2),
        ("burst-row-of-three", 3),
        ("burst-row-of-three-one-relay-more", 3),
        ("burst-row-of-five", 5),
    ],
)
def test_burst_rows_are_read_as_such(name: str, outputs: int) -> None:
    """The plans all have T0 at 0,1,2, the row to the east, kilns below."""
    layout = layout_called(name)
    spec, (reading,) = spec_of_layout(layout)
    assert reading.is_burst_row
    assert table(reading) == BURST
    assert reading.row == tuple((i, 1, 2) for i in range(outputs + 1))
    assert reading.drops == tuple((i, 1, 1) for i in range(1, outputs + 1))
    assert (reading.face, reading.into_furnaces) == ("top", True)
    assert (spec.outputs, spec.size, spec.title) == (outputs, box_of(layout), layout.title)
    (stream,) = spec.streams
    assert (stream.name, stream.item, stream.enters, stream.source, stream.outputs_at) == (
        "feed", "clay", "top", None, ()
    )  # fmt: skip
    assert spec.items == layout.items
    sentences = list(reading.sentences())
    assert sentences[0] == (
        f"stream feed: clay from 0,1,3 into {outputs} outputs, from the top, by a row of {outputs + 1} nodes"
    )
    assert f"  T0 holds something, T{outputs} is empty: the B nodes are locked" in sentences
    assert f"  T0 is empty, T{outputs} is empty: the B nodes are unlocked" in sentences
    assert sentences[-1] == "  as a burst row has it"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # fact 1 and 2 of the rulebook: never locked, always locked
        ("row-of-three-unlocked", dict.fromkeys(BURST, False)),
        ("row-of-three-locked", dict.fromkeys(BURST, True)),
    ],
)
def test_other_rows_are_read_as_no_burst_rows(name: str, expected: Table) -> None:
    spec, (reading,) = spec_of_layout(layout_called(name))
    assert not reading.is_burst_row
    assert table(reading) == expected
    assert spec.outputs == 3
    assert list(reading.sentences())[-1] == "  not as a burst row has it"


def test_a_row_without_a_drain_is_read_as_such() -> None:
    """Fact 3 of the rulebook: T0 to T3, unlocked by the gauge on T3 alone."""
    spec, (reading,) = spec_of_layout(layout_called("row-of-three-no-drain"))
    assert table(reading) == {(False,): True, (True,): False}
    assert spec.scheme == "headed undrained row"
    assert list(reading.sentences())[-1] == "  as a headed undrained row has it"


def test_a_lock_that_holds_some_of_the_nodes_is_told() -> None:
    """Of the three supports that lock the B nodes while T3 is empty, the one beside B1 is gone."""
    reading = reading_of(without(layout_called("row-of-three-no-drain"), (1, 0, 1)))
    assert not reading.is_burst_row
    assert table(reading) == {(False, False): None, (True, False): None, (False, True): False, (True, True): False}
    assert "  T0 is empty, T3 is empty: the B nodes are some locked, some not" in list(reading.sentences())


def test_starting_contents_do_not_disturb_the_reading() -> None:
    """What the nodes hold in the file is not what the table is about."""
    layout = layout_called("burst-row-of-two")
    parts = tuple(
        replace(part, holds=(("clay", 3),)) if isinstance(part, Node) else part for part in layout.parts
    )
    assert table(reading_of(replace(layout, parts=parts))) == BURST


def test_the_layouts_rules_and_items_are_in_the_spec() -> None:
    layout = replace(layout_called("burst-row-of-two"), rules={"handover": 7, "reach": 14})
    spec, _ = spec_of_layout(layout)
    assert (spec.rules.handover, spec.rules.reach) == (7, 14)
    assert spec.items["clay"].fires_to == "brick"


def test_other_outputs_than_furnaces_are_told() -> None:
    layout = layout_called("burst-row-of-two")
    parts = tuple(
        Bin(part.at, "marked" if part.at[0] % 2 else "plain") if part.kind == "furnace" else part
        for part in layout.parts
    )
    reading = reading_of(replace(layout, parts=parts))
    assert not reading.into_furnaces
    assert reading.is_burst_row
    assert any("not all furnaces" in line for line in reading.sentences())


# -- other schemes ----------------------------------------------------------------------------------------------------

FEED_TWO = "stream feed clay from 0,0,3 to 0,0,0 0,1,0"
MUSTER = drawn("F # - iS ; F iN # # / nD gE # . ; nD # gE - / nN . . . ; nN . . . / . . . . ; B . . .", FEED_TWO)
BRIM = "holds 0,0,2 clay 64 64 64 64 63\nholds 0,1,2 clay 64 64 64 64 63\n"
BRIMMED = drawn(
    "F r1W - iS ; F r1W - # / nD . # . ; nD . # - / nN . - . ; nN # gE # / . . iS . ; B . # .", BRIM + FEED_TWO
)
UNDRAINED = drawn("F r1W - ; F # # / nD # . ; nD r1W - / nN gE # ; nN . iN / . . . ; B . .", FEED_TWO)
"""Builds for two kilns that the search has found (4 x 2 x 4, 4 x 2 x 4, 3 x 2 x 4)."""


@pytest.mark.parametrize(
    ("layout", "name", "even_for", "leaves", "told"),
    [
        (MUSTER, "muster row", "stream", "deliver", "B1 holds something, B2 is empty: B1 is locked"),
        (BRIMMED, "brimmed row", "stream", "hold", "T1 is not full: the B nodes are locked"),
        (UNDRAINED, "undrained row", "burst", "hold", "T2 is empty: the B nodes are locked"),
    ],
    ids=["muster", "brimmed", "undrained"],
)
def test_rows_of_other_schemes_are_read_as_such(
    layout: Layout, name: str, even_for: str, leaves: str, told: str
) -> None:
    spec, (reading,) = spec_of_layout(layout)
    assert reading.scheme is not None
    assert reading.scheme.name == spec.scheme == name
    assert not reading.is_burst_row
    assert (spec.even_for, spec.leftovers, spec.outputs) == (even_for, leaves, 2)
    assert reading.row == ((0, 0, 2), (0, 1, 2))
    assert reading.drops == ((0, 0, 1), (0, 1, 1))
    sentences = list(reading.sentences())
    assert f"  {told}" in sentences
    assert sentences[-1] == f"  as {'an' if name[0] == 'u' else 'a'} {name} has it"
    assert Judge(spec, (8, 7)).accepts(layout)


def test_a_muster_row_with_another_nodes_gauge_is_none() -> None:
    """Its gauge on B2 taken away, B1 is locked for good once it holds something."""
    reading = reading_of(without(MUSTER, (2, 0, 1), (1, 1, 1)))
    assert reading.scheme is None
    assert list(reading.sentences())[-1].startswith("  not as ")


SIDE = "stream fuel charcoal from 0,0,2 to 1,1,0 2,1,0"


def test_kilns_that_are_served_from_the_side() -> None:
    """B1 and B2 push north; the row runs above them."""
    reading = reading_of(layout := drawn(". F F ; . nN nN / . . . ; nE nE nE / . . . ; B . .", SIDE))
    assert (reading.face, reading.drops) == ("side", ((1, 0, 0), (2, 0, 0)))
    spec, _ = spec_of_layout(layout)
    assert [(one.name, one.item, one.enters) for one in spec.streams] == [("fuel", "charcoal", "side")]
    assert spec.size == (3, 2, 3)


def test_a_row_that_bends() -> None:
    layout = drawn(
        ". F ; . F / . nD ; . nD / . nE ; nE nN / . . ; B .", "stream feed clay from 0,0,3 to 1,0,0 1,1,0"
    )
    assert reading_of(layout).row == ((0, 0, 2), (1, 0, 2), (1, 1, 2))


# -- what is not a row ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["kiln-gives-products-only", "run-beyond-reach", "run-with-relay", "runs-apart", "touching-runs"]
)
def test_builds_without_a_row_are_told_in_one_line(name: str) -> None:
    layout = layout_called(name)
    with pytest.raises(InputError) as raised:
        spec_of_layout(layout)
    text = one_line(raised.value)
    assert text.startswith(f"streams.{layout.streams[0].name}: ")
    assert "where T1 should be" in text


def without(layout: Layout, *cells: Cell) -> Layout:
    return replace(layout, parts=tuple(part for part in layout.parts if part.at not in cells))


def streams(layout: Layout, *more: Stream) -> Layout:
    return replace(layout, streams=more)


TWO = layout_called("burst-row-of-two")
FEED = TWO.streams[0]


@pytest.mark.parametrize(
    ("layout", "told"),
    [
        (streams(TWO), "no stream"),
        (without(TWO, (0, 1, 2)), "no node at 0,1,2, where T0 should be"),
        (without(TWO, (2, 1, 2)), "no node at 2,1,2, where T2 should be"),
        (without(TWO, (1, 1, 1)), "no node at 1,1,1 below the row"),
        (streams(TWO, replace(FEED, outputs=((1, 1, 0), (0, 1, 2)))), "do not each serve one of its outputs"),
        (streams(TWO, FEED, replace(FEED, name="more", outputs=((1, 1, 0),))), "different outputs"),
        (
            drawn(". F . . / . nD nE F / nE nE nE . / B . . . ", "stream feed clay from 0,0,3 to 1,0,0 3,0,1"),
            "some outputs are served from the top, some from the side",
        ),
    ],
    ids=["stream", "T0", "T2", "B1", "outputs", "two streams", "faces"],
)
def test_what_stands_in_the_way_of_a_reading(layout: Layout, told: str) -> None:
    with pytest.raises(InputError) as raised:
        spec_of_layout(layout)
    text = one_line(raised.value)
    assert told in text
    assert text.startswith("streams")


# -- to the origin ----------------------------------------------------------------------------------------------------


def shifted(layout: Layout, by: Cell) -> Layout:
    """In a site that is larger all around; raised, it stands on nothing, which no trial minds."""

    def move(cell: Cell) -> Cell:
        return cell[0] + by[0], cell[1] + by[1], cell[2] + by[2]

    width, depth, height = move(layout.size)
    return replace(
        layout,
        size=(width + 2, depth + 1, height + 3),
        parts=tuple(replace(part, at=move(part.at)) for part in layout.parts),
        streams=tuple(
            replace(one, source=move(one.source), outputs=tuple(map(move, one.outputs))) for one in layout.streams
        ),
    )


@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
@pytest.mark.parametrize("by", [(0, 0, 0), (3, 0, 0), (2, 5, 0), (1, 1, 2)], ids=str)
def test_at_the_origin_everything_runs_as_before(path: Path, by: Cell) -> None:
    at_home = moved_to_origin(load_layout(path))
    away = shifted(at_home, by)
    back = moved_to_origin(away)
    assert back == replace(at_home, size=box_of(at_home))
    assert min(part.at[0] for part in back.parts) == min(part.at[1] for part in back.parts) == 0
    loads = {stream.name: 3 for stream in away.streams}
    changes, result = traced(away, arrivals_for(away, loads), ticks=300)
    changes_back, result_back = traced(back, arrivals_for(back, loads), ticks=300)
    assert [(tick, tuple(a - b for a, b in zip(cell, by, strict=True)), state) for tick, cell, state in changes] == (
        changes_back
    )
    assert changes or path.stem == "run-with-relay"  # its node is locked from the start
    assert result.streams == result_back.streams
    assert (result.tick, result.at_rest) == (result_back.tick, result_back.at_rest)


def test_a_build_away_from_the_origin_is_read_the_same() -> None:
    spec, _ = spec_of_layout(TWO)
    there, (reading,) = spec_of_layout(shifted(TWO, (3, 2, 0)))
    assert there == spec
    assert reading.row == ((3, 3, 2), (4, 3, 2), (5, 3, 2))
    assert table(reading) == BURST
