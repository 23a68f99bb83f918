"""Writes docs/gaps.md: builds smaller than the best known ones, found without the model; does the model have them?

Run from the clone: make gaps. From each best known build (specs/atlas, specs/results, specs/layouts), cells are
changed, so that a part less stands, or the box is smaller: every change of one cell, every change of two of which one
takes a part away, and draws of three. What becomes of each is decided by running it, by nothing else: the kernel runs
one load as a sieve, then come the trials and design checks that any proposal passes. Whatever the constraint model
would not have is a gap: "none exists" was said of what the model admits alone.

Bins and furnaces stay where they are; nodes and wiring may go, turn, or become anything else.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import product
from pathlib import Path
from typing import Final

from rich.console import Console

from sim.analysis.checks import design_findings
from sim.analysis.checks.standing import no_support
from sim.errors import InputError
from sim.world.files.places import with_article
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.geometry import HORIZONTAL, Cell, cell_text, step
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.parts import DELAYS, MOUNTS, OUTPUTS, Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from synth.ask.spec import Face, Spec
from synth.confirm.built import box_of
from synth.confirm.confirmation import confirm
from synth.confirm.membership import is_admitted
from synth.confirm.trials import Terms
from synth.model.decode import reading_order
from synth.model.plots import windows
from synth.read.layout import moved_to_origin, spec_of_layout
from synth.schemes.registry import schemes
from synth.schemes.scheme import Scheme
from synth.search.known.atlas import atlas
from synth.search.scope import needed_handovers

CLONE: Final = Path(__file__).resolve().parent.parent
PAGE: Final = CLONE / "docs" / "gaps.md"
LAYOUTS: Final = ("layouts/burst-row-of-*.plan", "layouts/gated-row-of-three.plan", "results/*.plan")
OUTPUTS_MOST: Final = 3
"""Kilns of the longest rows looked at."""
PARTS_MOST: Final = 40
"""Parts of the largest builds looked at."""
SIEVE: Final = (1, 18)
"""Items a kiln of the loads that the kernel runs first."""
SIEVE_TICKS: Final = 20_000
"""Within which each of them has long come to rest."""
SHOWN: Final = 3
"""Gaps that are told of one build, the smallest first."""
Change = tuple[Cell, Part | None]
Changes = tuple[Change, ...]


@dataclass(frozen=True)
class Begin:
    """A build to begin from."""

    source: str
    layout: Layout
    spec: Spec
    scheme: Scheme


@dataclass
class Found:
    """What came of one build's changes. ``smaller``: accepted, with whether some scheme's model has it."""

    begin: Begin
    tried: Counter[int] = field(default_factory=Counter)
    smaller: list[tuple[Changes, Layout, str]] = field(default_factory=list)
    seconds: float = 0.0


def begins(outputs_most: int) -> Iterator[Begin]:
    """Of each scheme, face and length the atlas's builds with the fewest parts and the fewest cells; then the files."""
    faces: tuple[Face, ...] = ("top", "side")
    seen: set[tuple[Part, ...]] = set()
    for scheme, face, outputs in product(schemes(), faces, range(2, outputs_most + 1)):
        both = [one.layout for one in atlas().builds(scheme, face, outputs) if set(one.handovers) == {8, 7}]
        for layout in [min(both, key=key) for key in (_parts, _cells)] if both else ():
            yield from _begin(f"{scheme} of {outputs}, fed from the {face}, of the atlas", layout, seen)
    for pattern in LAYOUTS:
        for path in sorted((CLONE / "specs").glob(pattern)):
            yield from _begin(f"specs/{path.relative_to(CLONE / 'specs')}", load_layout(str(path)), seen)


def _begin(source: str, layout: Layout, seen: set[tuple[Part, ...]]) -> Iterator[Begin]:
    built = moved_to_origin(layout)
    spec, readings = spec_of_layout(built)
    scheme = readings[0].scheme
    if scheme is not None and built.parts not in seen and len(built.parts) <= PARTS_MOST:
        seen.add(built.parts)
        yield Begin(source, built, spec, scheme)


def _parts(layout: Layout) -> tuple[int, int]:
    return len(layout.parts), _volume(layout)


def _cells(layout: Layout) -> tuple[int, int]:
    return _volume(layout), len(layout.parts)


def _volume(layout: Layout) -> int:
    w, d, h = box_of(layout)
    return w * d * h


# -- changes ----------------------------------------------------------------------------------------------------------


def fillings(cell: Cell, holds: Iterable[Node]) -> Iterator[Part]:
    """Whatever may stand in a cell, but bins and furnaces. ``holds``: the ways in which nodes begin."""
    yield Support(cell)
    yield Line(cell)
    yield from (Inverter(cell, mount) for mount in MOUNTS)
    yield from (Relay(cell, output, delay) for output in OUTPUTS for delay in DELAYS)
    yield from (Gauge(cell, output) for output in OUTPUTS)
    yield from (replace(node, at=cell, outlet=outlet) for node in holds for outlet in (*HORIZONTAL, "D"))


class Around:
    """The changes of a build's cells."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        nodes = [part for part in layout.parts if isinstance(part, Node)]
        kinds = list({part.holds: part for part in nodes}.values())
        self.fixed = {part.at for part in layout.parts if isinstance(part, (Bin, Furnace))}
        self.takable = [part for part in layout.parts if part.at not in self.fixed]
        w, d, h = layout.size
        self.cells = [cell for cell in product(range(w), range(d), range(h)) if cell not in self.fixed]
        self.into: Mapping[Cell, tuple[Part | None, ...]] = {
            cell: tuple(one for one in (None, *fillings(cell, kinds)) if one != layout.by_cell.get(cell))
            for cell in self.cells
        }

    def one(self) -> Iterator[Changes]:
        """A part less."""
        yield from (((part.at, None),) for part in self.takable)

    def two(self) -> Iterator[Changes]:
        """A part less, and another cell changed in any way that makes the build smaller."""
        for k, part in enumerate(self.takable):
            for cell in self.cells:
                if cell != part.at:
                    gone_before = {one.at for one in self.takable[:k]}
                    for other in self.into[cell]:
                        changes: Changes = ((part.at, None), (cell, other))
                        if (other is not None or cell not in gone_before) and self._smaller(changes):
                            yield changes

    def drawn(self, rng: random.Random, cells: int) -> Changes:
        """So many cells changed at random, near each other half the time; one of them loses its part."""
        while True:
            first = rng.choice(self.takable).at
            near = [c for c in self.cells if max(abs(c[i] - first[i]) for i in range(3)) <= 2 and c != first]
            others = rng.sample(near if rng.random() < 0.5 and len(near) >= cells else self.cells, cells - 1)
            changes = ((first, None), *((cell, rng.choice(self.into[cell])) for cell in others))
            if first not in others and self._smaller(changes):
                return changes

    def _smaller(self, changes: Changes) -> bool:
        """A part less in all, or as many in a box with fewer cells."""
        more = sum((part is not None) - (cell in self.layout.by_cell) for cell, part in changes)
        return more < 0 or (more == 0 and _volume(changed(self.layout, changes)) < _volume(self.layout))


def changed(layout: Layout, changes: Changes) -> Layout:
    """The layout with these cells as said."""
    cells: dict[Cell, Part | None] = {**layout.by_cell, **dict(changes)}
    parts = sorted((part for part in cells.values() if part is not None), key=lambda part: reading_order(part.at))
    return replace(layout, parts=tuple(parts))


# -- what becomes of them ---------------------------------------------------------------------------------------------


class Court:
    """Judges changed builds by running them."""

    def __init__(self, begin: Begin) -> None:
        self.spec, self.rules = begin.spec, begin.spec.rules
        self.handovers = needed_handovers(begin.spec)
        held = begin.scheme.held(begin.spec.outputs, self.rules, begin.spec.stack_of(begin.layout.streams[0].item))
        self.terms = Terms(held, "stream" in begin.scheme.even_for)

    def accepts(self, layout: Layout) -> bool:
        """It passes the trials that proposals pass, and no design check finds anything."""
        if any(no_support(layout, self.rules)) or not self._passes_sieve(layout):
            return False
        confirmed = confirm(layout, self.rules, needed=self.handovers, terms=self.terms)
        return set(self.handovers) <= set(confirmed.handovers) and not design_findings(layout, self.rules)

    def _passes_sieve(self, layout: Layout) -> bool:
        """Loads of one and of many items a kiln in turn come to rest shared out (but for what may stay)."""
        (stream,) = layout.streams
        for handover in self.handovers:
            run, put = Run(Tables(layout, replace(self.rules, handover=handover))), 0
            for each in SIEVE:
                count = each * len(stream.outputs)
                put += count
                if run.put(stream.source, stream.item, count) < count or not run.run_to(run.tick + SIEVE_TICKS):
                    return False
                (got,) = run.delivered()
                if len(set(got)) > 1 or not put - self.terms.held_most <= sum(got) <= put:
                    return False
        return True


def admitting(layout: Layout, begin: Begin) -> str:
    """The scheme whose model has the layout among those that promise no less than the build's ("": none)."""
    stack = begin.spec.stack_of(layout.streams[0].item)
    kept = begin.scheme.held(begin.spec.outputs, begin.spec.rules, stack)
    for scheme in schemes().values():
        spec = replace(begin.spec, scheme=scheme.name, size=layout.size)
        promises = set(begin.scheme.even_for) <= set(scheme.even_for) and spec.outputs >= scheme.outputs_least
        alike = promises and scheme.held(spec.outputs, spec.rules, stack) <= kept
        if alike and is_admitted(layout, spec, windows(spec, needed_handovers(spec))):
            return scheme.name
    return ""


def look(begin: Begin, draws: int, seed: int) -> Found:
    """Every change of one and two cells, and ``draws`` of three."""
    found, around, court = Found(begin), Around(begin.layout), Court(begin)
    rng, began = random.Random(seed), time.monotonic()
    seen: set[frozenset[Change]] = set()
    for changes in (*around.one(), *around.two(), *(around.drawn(rng, 3) for _ in range(draws))):
        if (key := frozenset(changes)) in seen:
            continue
        seen.add(key)
        found.tried[len(changes)] += 1
        layout = changed(begin.layout, changes)
        try:
            accepted = court.accepts(layout)
        except InputError:
            continue  # it is no layout, or no load finds room in it
        if accepted:
            found.smaller.append((changes, layout, admitting(moved_to_origin(layout), begin)))
    found.seconds = time.monotonic() - began
    return found


# -- the page ---------------------------------------------------------------------------------------------------------

HEAD: Final = """# Smaller builds than the "smallest"

Proofs are about what the constraint model admits. This page looks past it: `make gaps` changes the cells of each best
known build and lets the simulator alone judge what comes of it. All changes of one cell and of two (one of them takes a
part away), and {draws} draws of three (seed {seed}), as far as a part less stands, or as many in fewer cells. Bins and
furnaces stay. *Accepted*: even and at rest in every trial that a proposal has to pass, under both handovers, without a
finding of the design checks. A *gap* is accepted and smaller, and no scheme that promises as much admits it. Builds of
more than {parts_most} parts were not looked at, nor changes of more cells: gaps are found so, and none is ruled out.

| from | parts | changes of 1, 2, 3 cells | accepted, smaller | gaps | the smallest |
|---|---|---|---|---|---|
"""
CAUSES: Final[tuple[tuple[str, str], ...]] = (
    (
        "an end that pushes back",
        "the last T's outlet leads back into the T before it, and no gauge reads it. With two kilns the load goes to "
        "and fro between T1 and T2 until T0 is empty; then half of it stands in each. The model wants the last T to "
        "push into nothing. Trials find it even; whether it is for every load is for `assure` to say.",
    ),
    ("a node less", "it has a node less than any scheme's row."),
    ("other wiring", "the nodes are those of the row; the wiring is none that the scheme's table and delays allow."),
)
"""What kinds of gaps there are, in the order in which a gap is held against them (``cause``)."""


KNOWN_OUT: Final = """
## Left out on purpose

- *Relays held by a side input* (latched). The model looks at the signals once for each row of the lock table, and what
  is on follows from the readings alone. A held relay keeps what it had, so its output is one state more, and which
  states a build can be in depends on the order and the ticks in which readings change, that is on the items. Two sound
  ways were thought through. The table holds whatever the relay keeps: then the relay makes no difference to any lock,
  and a build without it is smaller. The table holds for some value of it, chosen row by row: nothing that works is
  ruled out, but no clause ties the value to what came before, so that a relay with any gauge at its side may stand for
  any lock, and candidates are left to the simulator alone. In between lies a model of the transitions, tick by tick;
  that is another model. So claims say that they leave such relays out.
- *A last T that pushes back.* Its row is none of the model's: items go to and fro, and how many stand where when the
  locks open depends on the load and the ticks. With two kilns half is right; longer rows were not looked at.
- *Nodes to spare*: see the figures in DEVELOPERS.md ("The schemes").
"""
"""What is known to be out of the model, and why."""


def cause(layout: Layout, begin: Begin) -> str:
    """Which kind of gap it is."""
    pushes = {part.at: step(part.at, part.outlet) for part in layout.parts if isinstance(part, Node)}
    if any(pushes.get(into) == at for at, into in pushes.items()):
        return CAUSES[0][0]
    before = sum(isinstance(part, Node) for part in begin.layout.parts)
    return CAUSES[1][0] if len(pushes) < before else CAUSES[2][0]


def page(results: list[Found], draws: int, seed: int) -> str:
    """The page's text."""
    text = HEAD.format(draws=f"{draws:,}", seed=seed, parts_most=PARTS_MOST)
    text += "".join(f"{_row(found)}\n" for found in results)
    told = [(found, gap) for found in results for gap in _gaps(found)[:SHOWN]]
    if not told:
        return text + "\nNo gap was found.\n" + KNOWN_OUT
    causes = [cause(layout, found.begin) for found, (_, layout) in told]
    text += "\n## The gaps\n\n" + "".join(f"- *{name}*: {why}\n" for name, why in CAUSES if name in causes)
    for (found, (changes, layout)), why in zip(told, causes, strict=True):
        what = "; ".join(_words(found.begin.layout, change) for change in changes)
        text += f"\n### {found.begin.source}: {len(layout.parts)} parts, {why}\n\n{what}.\n\n"
        text += f"```\n{layout_to_plan(moved_to_origin(layout))}```\n"
    return text + KNOWN_OUT


def _gaps(found: Found) -> list[tuple[Changes, Layout]]:
    gaps = [(changes, layout) for changes, layout, scheme in found.smaller if not scheme]
    return sorted(gaps, key=lambda gap: (*_parts(gap[1]), len(gap[0])))


def _row(found: Found) -> str:
    tried = ", ".join(f"{found.tried[cells]:,}" for cells in (1, 2, 3))
    least = min((len(layout.parts) for _, layout, _ in found.smaller), default=0)
    parts, gaps = len(found.begin.layout.parts), len(_gaps(found))
    return f"| {found.begin.source} | {parts} | {tried} | {len(found.smaller)} | {gaps} | {least or '-'} |"


def _words(layout: Layout, change: Change) -> str:
    """"the gauge at 2,1,2 is gone"."""
    cell, part = change
    before = layout.by_cell.get(cell)
    if before is None:
        return f"{with_article(part.kind) if part else 'nothing'} more at {cell_text(cell)}"
    if part is None:
        return f"the {before.kind} at {cell_text(cell)} is gone"
    return f"the {before.kind} at {cell_text(cell)} is {_turned(part)}"


def _turned(part: Part) -> str:
    way = getattr(part, "outlet", getattr(part, "output", getattr(part, "mount", "")))
    return with_article(part.kind) + (f" turned {way}" if way else "")


def main() -> None:
    """All builds one after another; the page is written anew after each, so that a run cut short leaves what it saw."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=2_000, help="changes of three cells, a build")
    parser.add_argument("--outputs", type=int, default=OUTPUTS_MOST, help="kilns of the longest rows")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    asked = parser.parse_args()
    console, results = Console(stderr=True, highlight=False), list[Found]()
    with ProcessPoolExecutor(asked.workers) as pool:
        for found in pool.map(partial(look, draws=asked.draws, seed=asked.seed), begins(asked.outputs)):
            results.append(found)
            gaps = len(_gaps(found))
            console.print(f"{found.begin.source}: {found.tried.total()} tried, {gaps} gaps, {found.seconds:.0f} s")
            write_text(str(PAGE), page(results, asked.draws, asked.seed))


if __name__ == "__main__":
    main()
