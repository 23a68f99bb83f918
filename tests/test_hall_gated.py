"""Halls whose supplies trickle: rows behind gates, and one input for all of them."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from sim.analysis.idle_wiring import builders_findings
from sim.analysis.production.run import production_run
from sim.errors import InputError
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, Trial
from synth.ask.hall_spec import HallSpec
from synth.hall.gated import is_gated, with_gates
from synth.hall.inputs import with_one_input
from synth.hall.kits import Kit, Tools, kits
from synth.hall.piece_file import PieceFile, shipped_file
from synth.hall.putting_together import put_together, wings_of
from synth.hall.search import HallRequest, propose_hall
from synth.hall.spec_file import hall_from_toml, load_hall
from synth.sizing.size import size_of
from synth.solving.budget import Budget

SPECS = Path(__file__).resolve().parent.parent / "specs"
RULES = default_rules()
TEXT = (SPECS / "hall-one-input.toml").read_text(encoding="utf-8")


def asked(furnaces: int, *, sides: int = 1, inputs: int | None = None) -> HallSpec:
    return replace(load_hall(SPECS / "hall-one-input.toml"), furnaces=furnaces, sides=sides, inputs=inputs)


@cache
def kit() -> Kit:
    """Of the pieces that are shipped; nothing is searched for."""
    tools = Tools(PieceFile(shipped_file()), Budget(60), 1, 0, lambda _: None)
    return next(kits(asked(4), None, tools))


def hall_of(spec: HallSpec, made_of: Kit | None = None) -> Layout:
    assert spec.furnaces is not None
    sides = wings_of(spec, spec.furnaces, 1, made_of or kit())
    assert sides is not None
    layout, fault = put_together(spec, sides)
    assert layout is not None, fault
    return layout


def test_kits_for_a_stream_put_burst_rows_behind_gates() -> None:
    assert is_gated(kit().feed)
    assert is_gated(kit().fuel)


@pytest.mark.parametrize("n", [2, 3, 4, 6, 8])
def test_a_wing_keeps_its_lanes_when_it_gets_gates(n: int) -> None:
    (side,) = wings_of(asked(n), n, 1, kit()) or [[]]
    wing = side[0]
    bare = replace(wing, gates={})
    assert set(wing.gates) == {"top", "side"}
    assert wing.depth == bare.depth
    cells = [part.at for part in wing.parts()]
    assert len(set(cells)) == len(cells)
    assert set(bare.parts()) <= set(wing.parts()), "the row is as it was"
    assert all(at[1] in wing.depth and at[2] < wing.height and at[0] in wing.columns for at in cells)
    assert with_gates(bare, RULES) == wing, "the same every time"


@pytest.mark.parametrize(("n", "sides", "inputs"), [(4, 1, None), (8, 2, None), (8, 2, 1)])
def test_each_stream_is_shared_out_evenly_however_it_comes(n: int, sides: int, inputs: int | None) -> None:
    """Both streams trickle at once, in a random order of nodes; a furnace fires what it gets meanwhile."""
    layout, rng = hall_of(asked(n, sides=sides, inputs=inputs)), random.Random(n)
    assert len(layout.streams) == 2 * (1 if inputs else sides)
    for _ in range(2):
        order = [part.at for part in layout.machines]
        rng.shuffle(order)
        arrivals = []
        for stream in layout.streams:
            tick = 0
            for _ in range(60 + rng.randint(0, 3 * len(stream.outputs))):
                arrivals.append(Arrival(tick, stream.name, 1))
                tick += rng.choice((1, 7, 8, 9, 24, 40))
        result = Trial(layout, RULES, order).run(sorted(arrivals, key=lambda one: one.tick), limit=200_000)
        for stream in result.streams:
            rows = [stream.delivered[k : k + 4] for k in range(0, len(stream.delivered), 4)]
            assert all(len(set(row)) == 1 for row in rows), "every row by itself"
            assert stream.spread <= 1, "no row is more than a batch ahead"
            assert sum(stream.delivered) > 0


def test_a_shift_with_supplies_that_trickle_and_fail_for_a_while() -> None:
    """Nine tenths of what the kilns take for nine tenths of the time: about 81 of a hundred. Kilns in burst rows, which
    are not for that, come out unlike."""
    trickling = hall_of(asked(8, sides=2, inputs=1))
    (report,) = production_run(trickling, hours=2.0, incidents=("trickle",))
    assert report.passed
    assert 0.7 < report.output / (8 * 360) < 0.9
    feed, fuel = (replace(row, scheme="burst row") for row in (kit().feed, kit().fuel))
    (report,) = production_run(hall_of(asked(4), Kit(feed, fuel, kit().end)), hours=1.0, incidents=("trickle",))
    assert not report.passed
    assert any("is shared evenly" in one.text and not one.met for one in report.expectations)


def test_splits_in_front_want_bins_at_the_crossings_of_a_grid() -> None:
    assert next(with_one_input([(3, 1, 4)], frozenset())).parts == ()
    assert next(with_one_input([(0, 0, 3), (0, 9, 3), (20, 0, 3), (20, 9, 3)], frozenset())).parts
    assert not list(with_one_input([(0, 0, 3), (0, 9, 3), (20, 0, 3), (20, 8, 3), (20, 12, 3)], frozenset()))


def test_from_one_input_all_rows_must_be_alike() -> None:
    spec = asked(7, sides=2, inputs=1)
    layout, fault = put_together(spec, wings_of(spec, 7, 1, kit()) or [])
    assert layout is None
    assert fault == "its rows have 3 and 4 furnaces; from one input all must have as many"


@pytest.mark.parametrize(("said", "stream"), [('even_for = "burst"', "feed"), ('leftovers = "deliver"', "feed")])
def test_one_input_wants_rows_that_are_even_for_a_stream_and_may_keep_items(said: str, stream: str) -> None:
    key = said.split()[0]
    lines = [said if line.startswith(key) else line for line in TEXT.splitlines()]
    with pytest.raises(InputError) as refused:
        hall_from_toml("\n".join(lines))
    assert refused.value.field == "hall.inputs"
    assert f'say even_for = "stream" and leftovers = "hold" of {stream}, or leave inputs out' in str(refused.value)


def test_one_bin_passes_an_item_a_period() -> None:
    """72,000 ticks an hour, an item in 8; a kiln fires one in 200 (rulebook section 3), so 25 kilns take them all."""
    hall_from_toml(TEXT.replace("furnaces = 8", "furnaces = 24"))
    with pytest.raises(InputError) as refused:
        hall_from_toml(TEXT.replace("furnaces = 8", "furnaces = 26"))
    said = "1 passes 9000 items an hour, wanted are 9360; leave inputs out, or ask for less: 25 furnaces take that many"
    assert said in str(refused.value)


def test_rows_that_cannot_be_alike_are_refused_at_once() -> None:
    with pytest.raises(InputError) as refused:
        hall_from_toml(TEXT.replace("furnaces = 8", "furnaces = 13"))
    assert "take 12 or 14 in place of 13, or leave inputs out" in str(refused.value)


def test_a_hall_with_one_input_is_proposed_and_confirmed() -> None:
    spec = replace(asked(4, sides=2, inputs=1), rows=1)
    answer = propose_hall(spec, HallRequest(PieceFile(shipped_file()), top=1, limit_s=120, workers=1))
    (best,) = answer.proposals
    assert [len(stream.outputs) for stream in best.layout.streams] == [4, 4]
    assert best.measures.trickled, "items one by one were tried"
    assert best.measures.held_at_start == 0
    assert best.kit.feed.scheme == "batched row"
    assert not builders_findings(best.layout), "nor does any wiring do nothing"


def test_the_size_of_a_hall_with_one_input_counts_one_bin() -> None:
    """By hand: 1728 clay last 36 minutes at 2,880 an hour, and a node passes 9,000."""
    figures, one = size_of(asked(8, sides=2, inputs=1)), size_of(asked(8, sides=2))
    assert [size.value("feed_sources") for size in (figures, one)] == [1, 2]
    assert [size.value("feed_lasts") for size in (figures, one)] == [36, 72]
    (station,) = [station for station in figures.stations if station.name == "feed bin"]
    assert (station.load, station.capacity) == (2880, 9000)
