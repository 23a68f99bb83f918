"""The question that a finished hall answers: kilns, sides, streams, product bins, what it is even for, read off it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sim.analysis.production.lines import product_lines
from sim.analysis.production.run import settled_output
from sim.errors import InputError
from sim.world.files.places import all_of, build_text, counted
from sim.world.layout import Layout
from sim.world.parts import Bin, Finish, Furnace
from sim.world.rulebook import default_rules, load_rulebook
from synth.ask.hall_spec import PRODUCT, HallSpec, HallStream
from synth.ask.spec import Face
from synth.hall.confirm import hall_trials
from synth.hall.measures import FULL, HallMeasures, furnace_bound, hall_measured
from synth.hall.putting_together import out_of_reach
from synth.improve.halls import Hall
from synth.improve.reading import wanted_of
from synth.improve.request import Request
from synth.schemes.registry import scheme_named


@dataclass(frozen=True, slots=True)
class HallGiven:
    """A hall that works, and the spec that it is an answer to: as many kilns at the same output, rows of the same
    schemes, one product bin where it has one, and those bins in reach by hand that are."""

    layout: Layout
    spec: HallSpec
    measures: HallMeasures

    def lines(self) -> Iterator[str]:
        """What was read off, for people."""
        yield f"As it stands: {build_text(self.measures.box, self.measures.parts)}."
        streams = all_of([f"{one.item} from the {one.enters} by {one.scheme}s" for one in self.spec.streams])
        kilns, bins = counted(self.spec.furnaces or 0, "furnace"), self.spec.product_bins
        there = counted(len(_product_bins(self.layout)), "product bin")
        into = f"into {counted(bins, 'product bin')}" if bins else f"into any number of product bins (it has {there})"
        reach = f"; in reach by hand: {all_of(sorted(self.spec.reachable))}" if self.spec.reachable else ""
        output, under = float(self.measures.output), " and ".join(map(str, self.measures.handovers))
        yield f"Asked for: {kilns} at {output:.0f} products an hour under handover {under}, {streams}, {into}{reach}."
        yield "  Its shape, the lengths of its rows and where its bins stand are free."


def read_hall(layout: Layout) -> HallGiven:
    """The hall with what it is asked for. Raises InputError where it does not work, or is not one of clay and fuel."""
    hall = Hall(layout, Request())
    if hall.broken:
        fault = f"by themselves these rows do not work: {all_of(list(hall.broken))}; splitwright improve mends them"
        raise InputError(fault, field="streams")
    faces: dict[Face, str] = {}
    for row in hall.rows.values():
        if faces.setdefault(row.face, row.stream.item) != row.stream.item:
            raise InputError("streams of one face carry different items; a hall has one for each", field="streams")
    if set(faces) != {"top", "side"}:
        raise InputError("a hall has rows that feed from the top and rows that fuel from the side", field="streams")
    spec = _spec(layout, hall, faces)
    names = ("feed", "fuel", PRODUCT)
    each = {name: replace(spec, reachable=frozenset({name})) for name in names}
    reach = frozenset(name for name, one in each.items() if not any(out_of_reach(one, layout)))
    trials = list(hall_trials(layout, spec.rules, hall.needed, hall.terms(layout, hall.of_rows)))
    if hall.checked(layout, hall.of_rows).findings or any(not trial.passed for trial in trials):
        raise InputError("does not pass as it stands; splitwright improve mends it", field="parts")
    output = settled_output(layout, spec.rules)
    full = output >= furnace_bound(layout, spec.rules) * FULL
    spec = replace(spec, reachable=reach, output=None if full else output)
    return HallGiven(layout, spec, hall_measured(layout, trials, output, spec))


def _spec(layout: Layout, hall: Hall, faces: dict[Face, str]) -> HallSpec:
    bins = _product_bins(layout)
    usual: tuple[tuple[str, Face], ...] = (("feed", "top"), ("fuel", "side"))
    streams = []
    for name, face in usual:
        rows = [row for row in hall.rows.values() if row.face == face]
        scheme = scheme_named(rows[0].likeliest)
        finish = _finish(layout, {row.stream.source for row in rows})
        streams.append(HallStream(name, faces[face], face, wanted_of(scheme), scheme.leaves, scheme.name, finish))
    return HallSpec(
        title=layout.title,
        furnaces=sum(isinstance(part, Furnace) for part in layout.parts),
        sides=min(2, sum(row.face == "top" for row in hall.rows.values())),
        output=None,
        fires=faces["top"],
        fuel=faces["side"],
        streams=tuple(streams),
        rulebook=load_rulebook(),
        product_bins=1 if len(bins) == 1 else None,
        product_finish=_finish(layout, bins),
        items=dict(layout.items),
        overrides=dict(layout.rules),
    )


def _product_bins(layout: Layout) -> set[tuple[int, int, int]]:
    return {cell for line in product_lines(layout, default_rules()) for cell in line.bins}


def _finish(layout: Layout, cells: set[tuple[int, int, int]]) -> Finish:
    found = [part.finish for part in layout.parts if isinstance(part, Bin) and part.at in cells]
    return "marked" if "marked" in found else "plain"
