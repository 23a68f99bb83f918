"""Writes specs/atlas/*.json: builds that rows are proposed from before anything is searched.

Run from the clone: make atlas. What the files hold stays, and only what is missing is looked for; to begin anew, remove
them. Budgets are in conflicts of the solver, so that the same files come of it on any machine.

Sources: the layouts of specs/layouts and specs/results; rows of the pieces of halls; rows whose way is told to the
solver, and on what their lock lines run, so that it has only their ends to wire (then with one part less, as long as
that is found); and all of these made longer and shorter. Every build is confirmed and stripped as any proposal is.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product
from pathlib import Path
from typing import Final

from rich.console import Console

from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Part, Relay, Support
from splitwright.proposing.options import CLUSTER_VARIABLE, slots_of
from synth.ask.spec import Face, Spec, StreamSpec
from synth.confirm.judge import Judge
from synth.confirm.membership import is_admitted
from synth.confirm.proposal import Proposal
from synth.hall.piece_file import shipped_file
from synth.hall.piece_json import pieces_from_json
from synth.hall.short_row import short_row
from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.decode import items_of, reading_order
from synth.model.plots import Plot, Size, question_for, volume, windows
from synth.model.vocabulary import FURNACE, LINE, SUPPORT, Vocabulary
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import DelayWindow
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, steps_of
from synth.search.exact.walks import Walk
from synth.search.known.atlas import Atlas, write_atlas
from synth.search.known.build import STREAM, KnownBuild, KnownClaim, KnownFailure, at_origin
from synth.search.known.source import build_to_keep, claims_to_keep
from synth.search.known.stretching import outputs_of, row_of, runs_of, stretched
from synth.search.known.ways import legs, ways
from synth.search.race import propose
from synth.search.request import Request
from synth.solving.parallel.work import Slots
from synth.solving.proofs_rest_on import proofs_digest

CLONE: Final = Path(__file__).resolve().parent.parent
FOLDER: Final = CLONE / "specs" / "atlas"
MOST: Final = 64
"""Outputs of the longest row that is made: a site is no longer."""
ALL_UP_TO: Final = 16
"""Outputs up to which the front of all builds is kept; of longer ones, every fourth and the longest."""
FACES: Final[tuple[tuple[Face, int], ...]] = (("top", 4), ("side", 3))
"""Faces, and the fewest layers of a build."""
HANDOVERS: Final = ((8, 7), (8,))
GIVEN_UP: Final = 4
"""Lengths in a row at which no stretched build works, before longer ones are not tried any more."""
SOURCES: Final = ("layouts", "folds", "straights", "ways", "spared", "pieces", "repeats", "searches")
REPEATS: Final[tuple[tuple[str, int, Size, tuple[int, int]], ...]] = (("burst row", 8, (9, 3, 4), (2, 6)),)
"""Scheme, outputs (fed from the top), site, first and last of the columns that are to be alike."""
REPEAT_CONFLICTS: Final = 200_000
SEARCHED: Final[tuple[tuple[str, int, Size, float], ...]] = (
    ("burst row", 2, (4, 3, 4), 40.0),
    ("muster row", 2, (4, 3, 4), 40.0),
    ("burst row", 3, (4, 3, 4), 90.0),
    ("muster row", 3, (4, 3, 4), 150.0),
    ("burst row", 8, (9, 3, 4), 200.0),
    ("burst row", 4, (6, 3, 4), 120.0),
    ("undrained row", 2, (4, 3, 4), 20.0),
    ("undrained row", 3, (4, 3, 4), 40.0),
    ("headed undrained row", 3, (4, 3, 4), 40.0),
    ("brimmed row", 2, (4, 3, 4), 40.0),
    ("brimmed row", 3, (4, 3, 4), 60.0),
    ("brimmed row", 8, (9, 3, 4), 120.0),
)
"""What is searched: scheme, outputs (fed from the top), site, seconds."""
RELAYED: Final = ", with relays amid"
FIRST: Final = 120_000
"""Conflicts for a build of a base, and for one with a part less."""
LESS: Final = 20_000
SEEDS: Final = 4
"""A solver is begun so many times: some beginnings are luckier than others."""
console: Final = Console(stderr=True, soft_wrap=True, highlight=False)


@dataclass(frozen=True)
class Base:
    """A row whose way is told. ``lane``: cells beside the row, seen from above, with a line at the height of T over a
    support (side-fed: over a furnace). ``alike``: the first and the last of columns across x that are to be alike.
    ``spare``: ticks that its locks are to be sooner than they must be, so that relays can be put in.
    ``level``: of a full source, for the model: at a lower one the lines are left with room to be stretched.
    """

    shape: str
    scheme: str
    face: Face
    outputs: int
    size: Size
    walk: Walk
    handovers: tuple[int, ...]
    lane: tuple[tuple[int, int], ...] = ()
    alike: tuple[int, int] | None = None
    spare: int = 0
    level: int = 15
    conflicts: int = FIRST

    @property
    def how(self) -> str:
        """How a build of it is made; the same for no other base."""
        w, d, h = self.size
        x, y, z = self.walk[0]
        told = "lock lines beside it told" if self.lane else "only its way told"
        spare = f", {self.spare} ticks to spare" if self.spare else ""
        spare += f", {15 - self.level} levels to spare" if self.level < 15 else ""
        at = f"from {x},{y},{z} in {w} x {d} x {h}"
        return f"{self.shape} of {self.outputs} {at}, {told}{spare}, handover {self.handovers[-1]}"


def spec_of(scheme: str, face: Face, outputs: int, size: Size) -> Spec:
    """A row that the scheme is for, of clay from the top, or of charcoal from the side."""
    plain, kind = load_spec(CLONE / "specs" / "results" / "any-site.toml"), scheme_named(scheme)
    return replace(
        plain,
        title="",
        outputs=outputs,
        scheme=scheme,
        size=size,
        even_for=kind.even_for[-1],
        leftovers=kind.leaves,
        streams=(StreamSpec(STREAM, "clay" if face == "top" else "charcoal", face),),
    )


# -- bases ------------------------------------------------------------------------------------------------------------


def folded(
    scheme: str, face: Face, each: int, *, west: int, height: int, stagger: int = 0, handovers: tuple[int, ...] = (8,)
) -> Base:
    """Two legs of so many furnaces back to back, both ends in the west, a lock line on each outer side."""
    ahead = 1 - scheme_named(scheme).first + stagger
    z = 2 if face == "top" else 1
    flat = legs((each + ahead, each), 0)
    walk = tuple((x + west - ahead, y + 1, z) for x, y in flat)
    lane = tuple((x, y) for x in range(west - stagger, west + each) for y in (0, 3) if y == 0 or x >= west)
    shape = "row folded in two" + (", one leg longer" if stagger else "")
    outputs = 2 * each + stagger
    return Base(
        shape, scheme, face, outputs, (west + each, 4, height), walk, handovers, lane, (west + 1, west + each - 1)
    )


def straight(
    scheme: str, face: Face, *, west: int, east: int, depth: int, height: int, handovers: tuple[int, ...] = (8,)
) -> Base:
    """A straight row of five along y = 0, its lock line beside it, amid which columns are alike."""
    z = 2 if face == "top" else 1
    outputs = 5
    (flat,) = [legs((outputs + 1 - scheme_named(scheme).first,), 0)]
    walk = tuple((x + west, y, z) for x, y in flat)
    inner = range(west + 2, west + len(walk) - 1)
    size = (west + len(walk) + east, depth, height)
    lane = tuple((x, 1) for x in inner)
    return Base("straight row", scheme, face, outputs, size, walk, handovers, lane, (inner[0], inner[-1]))


def folds() -> Iterator[list[Base]]:
    """Groups of bases, of each of which the first will do that is found and can be stretched."""
    for handovers, stagger in product(((8,), (8, 7)), (0, 1)):
        for face, low in FACES:
            for scheme in ("undrained row", "headed undrained row", "brimmed row", "burst row"):
                lengths = (3 - stagger,) if handovers != (8,) else (3, 4) if scheme == "burst row" else (4, 3)
                rooms = [(west + stagger, height) for west, height in ((3, low), (2, low), (3, low + 1))]
                yield [
                    replace(
                        folded(scheme, face, each, west=west, height=height, stagger=stagger, handovers=handovers),
                        conflicts=FIRST + stagger * FIRST // 3,
                    )
                    for each in lengths
                    for west, height in rooms
                ]


def spared() -> Iterator[list[Base]]:
    """Rows folded in two that leave time for relays."""
    for stagger in (0, 1):
        for face, low in FACES:
            for scheme in ("undrained row", "headed undrained row", "brimmed row", "burst row"):
                each = 3 if scheme == "burst row" else 4
                yield [
                    replace(folded(scheme, face, each, west=west, height=height, stagger=stagger), spare=2, level=level)
                    for level in (10, 15)
                    for west, height in ((3 + stagger, low),)
                ]


def straights() -> Iterator[list[Base]]:
    """The same of straight rows (straight burst rows are made of the pieces of halls)."""
    for face, low in FACES:
        for scheme in ("undrained row", "headed undrained row", "brimmed row"):
            yield [
                straight(scheme, face, west=west, east=east, depth=depth, height=height)
                for west, east, depth, height in (
                    *((0, 2, 2, low), (2, 0, 2, low), (2, 2, 2, low)),
                    *((2, 2, 3, low), (3, 3, 2, low + 1), (3, 3, 3, low + 1)),
                )
            ]  # fmt: skip


SITES: Final[tuple[tuple[str, Face, int, Size], ...]] = (
    *(("muster row", "top", 2, size) for size in ((4, 3, 4), (3, 3, 4))),
    *(("muster row", "top", 3, size) for size in ((5, 4, 4), (4, 3, 4))),
    *(("brimmed row", "top", 2, size) for size in ((4, 3, 4), (3, 3, 4))),
    *(("brimmed row", "top", 3, size) for size in ((5, 3, 4), (4, 3, 4))),
    ("brimmed row", "top", 4, (5, 4, 4)),
    *(("undrained row", "top", 2, size) for size in ((3, 3, 4), (3, 2, 4))),
    *(("undrained row", "top", 3, size) for size in ((4, 3, 4), (3, 3, 4))),
    *(("undrained row", "top", 4, size) for size in ((4, 3, 4), (4, 4, 4))),
    ("burst row", "top", 2, (3, 3, 4)),
    ("burst row", "side", 2, (4, 3, 3)),
    *(("burst row", "side", 3, size) for size in ((5, 4, 3), (4, 4, 3))),
    ("burst row", "side", 4, (6, 4, 4)),
    ("burst row", "top", 7, (8, 4, 4)),
    ("burst row", "top", 8, (6, 6, 5)),
)
"""Where rows are looked for along every promising way, the first WAYS_TRIED of them."""
WAYS_TRIED: Final = 6


def along_ways() -> Iterator[list[Base]]:
    """Groups of bases, of each of which the first that is found will do: the ways of a row in one box, nothing else
    told, handovers both where that can be."""
    for scheme, face, outputs, size in SITES:
        for handovers in HANDOVERS:
            spec = spec_of(scheme, face, outputs, size)
            within = windows(spec, handovers)
            if all(window.least <= window.most for window in within.values()):
                question = question_for(spec, Plot((0, 0, 0), size), within)
                yield [
                    Base("way of a row", scheme, face, outputs, size, walk, handovers, conflicts=FIRST // 2)
                    for walk in islice(ways(question), WAYS_TRIED)
                ]


# -- making -----------------------------------------------------------------------------------------------------------


def built(base: Base) -> Proposal | None:
    """A build of the base with as few parts as its budget finds."""
    spec = spec_of(base.scheme, base.face, base.outputs, base.size)
    within = {
        label: DelayWindow(window.least, window.most - base.spare)
        for label, window in windows(spec, base.handovers).items()
    }
    plain = question_for(spec, Plot((0, 0, 0), base.size), within)
    question = replace(plain, break_symmetry=False, row_unlocked=True, stages=plain.stages - base.spare)
    question = replace(question, reach=base.level, levels=base.level)
    asked = Job(spec, question, base.handovers, (base.walk,), Caps(), base.conflicts // SEEDS)
    asked = replace(asked, nogoods=tuple(_told(model_of(question), base)))
    best = next((one for seed in range(SEEDS) if (one := _found(replace(asked, seed=seed))) is not None), None)
    last = best
    while last is not None:
        caps = Caps().tightened("parts", last.measures.parts - 1)
        best, last = last, _found(replace(asked, caps=caps, conflicts=LESS))
    return best


def _found(job: Job) -> Proposal | None:
    *_, report = steps_of(job)
    return report.found[0].proposal if report.found else None


def _told(v: Vocabulary, base: Base) -> Iterator[tuple[Lit, ...]]:
    """What is told of the lock lines, and that columns are alike, as clauses."""
    z = base.walk[0][2]
    for x, y in base.lane:
        yield (v.is_((x, y, z), LINE),)
        yield (v.is_((x, y, z - 1), SUPPORT if base.face == "top" else FURNACE),)
    first, last = base.alike or (0, 0)
    for x, y, z in v.cells:
        if first <= x < last:
            here, there = v.kind[x, y, z], v.kind[x + 1, y, z]
            for kind, lit in here.items():
                if kind in there and kind.name not in ("row", "drop", "bin", "furnace"):
                    yield (-lit, there[kind])
                    yield (lit, -there[kind])
            for delay, lit in v.delay[x, y, z].items():
                if delay in v.delay[x + 1, y, z]:
                    yield (-lit, v.delay[x + 1, y, z][delay])


@dataclass
class Making:
    """The atlas in the making. ``planned``: conflicts for the bases come to so far, by scheme, row and box (a failure
    without its effort)."""

    laws: str
    builds: list[KnownBuild] = field(default_factory=list)
    claims: list[KnownClaim] = field(default_factory=list)
    failures: list[KnownFailure] = field(default_factory=list)
    planned: dict[KnownFailure, int] = field(default_factory=dict)

    def judged(self, layout: Layout, scheme: str, face: Face, outputs: int, how: str) -> KnownBuild | None:
        """The layout as a known build, stripped, under as many handovers as it works with; None if it is refused."""
        plain = at_origin(layout)
        plain = replace(plain, parts=tuple(sorted(plain.parts, key=lambda part: reading_order(part.at))))
        for handovers in HANDOVERS:
            judge = Judge(spec_of(scheme, face, outputs, plain.size), handovers)
            if not judge.accepts(plain):
                continue
            made = judge.proposal(plain) if outputs <= ALL_UP_TO else judge.as_it_is(plain)
            if made is not None:
                layout = at_origin(made.layout)
                return KnownBuild(layout, scheme, face, outputs, handovers, how, self.laws)
        return None

    def take(self, build: KnownBuild) -> bool:
        """Keep it, if it is no worse than what is there in everything; what it betters goes."""
        rivals = [one for one in self.builds if _row(one) == _row(build)]
        if any(_covers(one, build) for one in rivals):
            return False
        self.builds = [one for one in self.builds if _row(one) != _row(build) or not _covers(build, one)]
        self.builds.append(build)
        return True

    def family(self, build: KnownBuild) -> list[int]:
        """Take the build, and what comes of it at other lengths; the lengths that work."""
        self.take(build)
        working = [build.outputs]
        for direction in (range(build.outputs + 1, MOST + 1), range(build.outputs - 1, 1, -1)):
            longest, missed = None, 0
            for outputs in direction:
                how = f"stretched from {build.outputs} outputs: {build.how}"
                candidates = list(stretched(build, outputs))
                made = (self.judged(one, build.scheme, build.face, outputs, how) for one in candidates)
                found = next((one for one in made if one is not None), None)
                if found is None:
                    missed += bool(candidates)
                    if missed >= GIVEN_UP:
                        break
                    continue
                missed = 0
                working.append(outputs)
                longest = found
                if outputs <= ALL_UP_TO or outputs % 4 == build.outputs % 2:
                    self.take(found)
            if longest is not None:
                self.take(longest)
        return sorted(working)

    def write(self) -> None:
        """The files."""
        FOLDER.mkdir(parents=True, exist_ok=True)
        write_atlas(FOLDER, self.builds, self.claims, self.failures)

    def failed_before(self, base: Base) -> bool:
        """An earlier run spent as much on this box as all bases take that have come so far, with this one."""
        about = _failure(base)
        self.planned[about] = self.planned.get(about, 0) + base.conflicts
        kept = (one.effort for one in self.failures if replace(one, effort=0, laws="") == about)
        return any(effort >= self.planned[about] for effort in kept)

    def fail(self, base: Base) -> None:
        """Keep the effort."""
        about = _failure(base)
        self.failures = [one for one in self.failures if replace(one, effort=0, laws="") != about]
        self.failures.append(replace(about, effort=self.planned[about], laws=self.laws))

    def made(self, how: str) -> list[KnownBuild]:
        """The builds that were made this way, or stretched from such."""
        return [one for one in self.builds if one.how.endswith(how)]


def _failure(base: Base) -> KnownFailure:
    """What fails if the base does."""
    w, d, h = base.size
    box = (max(w, d), min(w, d), h)
    return KnownFailure(base.scheme, base.face, base.outputs, base.handovers, box, 0, "")


def _row(build: KnownBuild) -> tuple[str, Face, int]:
    return build.scheme, build.face, build.outputs


def _covers(one: KnownBuild, other: KnownBuild) -> bool:
    """Whatever the other serves for, this one does, with no more parts."""
    relays = [sum(isinstance(part, Relay) for part in build.layout.parts) for build in (one, other)]
    fewer = len(one.layout.parts) <= len(other.layout.parts) and relays[0] <= relays[1]
    lies_in = _lies_in(one.layout.size, other.layout.size)
    return lies_in and fewer and set(other.handovers) <= set(one.handovers)


def _lies_in(inner: Size, outer: Size) -> bool:
    """The one box has room in the other, turned if need be."""
    (w, d, h), (wide, deep, high) = inner, outer
    return h <= high and ((w <= wide and d <= deep) or (d <= wide and w <= deep))


# -- sources ----------------------------------------------------------------------------------------------------------


def from_layouts(making: Making) -> None:
    """The layouts that come with splitwright, those of one row that some scheme takes: as what the model has them for,
    where it has them. A muster row passes all that is asked of a burst row, and is none."""
    for path in sorted([*(CLONE / "specs" / "layouts").glob("*.plan"), *(CLONE / "specs" / "results").glob("*.plan")]):
        how = f"{path.parent.name}/{path.name}"
        layout = load_layout(str(path))
        if making.made(how) or len(layout.streams) != 1:
            continue
        outputs = len(layout.streams[0].outputs)
        taken: KnownBuild | None = None
        for scheme in schemes().values():
            if outputs < scheme.outputs_least or outputs < 2:
                continue
            spec = spec_of(scheme.name, "top", outputs, layout.size)
            plain = replace(layout, items=items_of(spec), rules={})
            try:
                build = making.judged(plain, scheme.name, "top", outputs, how)
            except InputError:
                continue
            if build is not None and is_admitted(build.layout, spec, windows(spec, build.handovers)):
                taken = build
                break
            taken = taken or build
        if taken is not None:
            console.print(f"{how}: {taken.scheme}, {making.family(taken)}")
            making.write()


def from_pieces(making: Making) -> None:
    """Straight rows of the pieces of halls."""
    for number, kept in enumerate(json.loads(shipped_file().read_text(encoding="utf-8"))["pieces"]):
        pieces = pieces_from_json(kept)
        how = f"a row of hall pieces {number}"
        outputs = pieces.reach + 4 if pieces.relay else max(5, pieces.lead + 2)
        if making.made(how):
            continue
        spec = spec_of(pieces.scheme, pieces.face, outputs, (MOST, MOST, 9))
        row = short_row(pieces, pieces.lane, outputs, spec.rules)
        stream = replace(row.streams[0], name=STREAM, item=spec.streams[0].item)
        layout = replace(row, items=items_of(spec), streams=(stream,))
        build = making.judged(layout, pieces.scheme, pieces.face, outputs, how)
        console.print(f"{how}: {build is not None and making.family(build)}")
        making.write()


def relayed(build: KnownBuild) -> Layout | None:
    """A row folded in two with a stretch with relays amid each leg, as the undrained row of hall pieces has it: so the
    lock lines begin anew there, two ticks later. None where the build has no columns that are alike.

    The stretch is mirrored, since here locks run from the west.
    """
    layout = next(stretched(build, build.outputs + 4), None)
    run = next((one for one in runs_of(layout, 0) if one.gain == 2), None) if layout is not None else None
    if layout is None or run is None:
        return None
    kept = json.loads(shipped_file().read_text(encoding="utf-8"))["pieces"]
    pieces = next(one for one in map(pieces_from_json, kept) if one.relay and one.face == "top")
    (lane_of_pieces,) = {part.at[1] for part in pieces.stretch}
    level = max(part.at[2] for part in pieces.stretch)
    row = row_of(layout)
    z, lanes = row[0][2], (min(y for _, y, _ in row) - 1, max(y for _, y, _ in row) + 1)
    begin, width = run.begin + run.groups // 2, pieces.relay_width
    lift = max(0, level - z - min(part.at[2] for part in pieces.relay if part.kind != "support"))
    parts: dict[Cell, Part] = {}
    for part in layout.parts:
        x, y, at = part.at
        for to in [x] if x < begin else [x + width]:
            parts[to, y, at] = replace(part, at=(to, y, at))
        if x == run.begin:
            for to in range(begin, begin + width):
                if not (y in lanes and at >= z - 1 and part.kind in ("line", "support")):
                    parts[to, y, at] = replace(part, at=(to, y, at))
    for part in pieces.relay:
        x, y, at = part.at
        for lane, outward in zip(lanes, (-1, 1), strict=True):
            cell = begin + width - 1 - x, lane + outward * abs(y - lane_of_pieces), at - level + z
            turned = replace(part, at=cell, output="E") if isinstance(part, Relay) else replace(part, at=cell)
            parts.setdefault(cell, turned)
    lifted = {(x, y, at + lift): replace(part, at=(x, y, at + lift)) for (x, y, at), part in parts.items()}
    for (x, y, at), part in list(lifted.items()):
        if lift and part.kind in ("line", "relay", "gauge") and at == lift:
            lifted.setdefault((x, y, at - 1), Support((x, y, at - 1)))
    whole = {cell: part for cell, part in lifted.items() if cell[2] >= 0}
    low = min(y for _, y, _ in whole)
    moved = tuple(replace(part, at=(x, y - low, at)) for (x, y, at), part in whole.items())
    (stream,) = layout.streams
    source = next(part.at for part in moved if isinstance(part, Bin))
    box = (layout.size[0] + width, max(part.at[1] for part in moved) + 1, layout.size[2] + lift)
    made = replace(layout, size=box, parts=moved, streams=(replace(stream, source=source, outputs=()),))
    return replace(made, streams=(replace(made.streams[0], outputs=outputs_of(made)),))


def with_relays(making: Making, build: KnownBuild) -> list[int] | None:
    """Take the build with relays, and what comes of it at other lengths; the lengths. None: it has no place for relays,
    or does not work with them."""
    layout = relayed(build)
    if layout is None:
        return None
    how, outputs = f"{build.how}{RELAYED}", len(layout.streams[0].outputs)
    found = making.judged(layout, build.scheme, build.face, outputs, how)
    return None if found is None else making.family(found)


def from_bases(making: Making, groups: Iterable[Sequence[Base]]) -> None:
    """Bases, solved; of each group until one is found that can be made longer."""
    for group in groups:
        for base in group:
            done = base.how + (RELAYED if base.spare else "")
            if made := [one for one in making.made(done) if (one.scheme, one.face) == (base.scheme, base.face)]:
                if max(one.outputs for one in made) > base.outputs or base.handovers != (8,) or not base.lane:
                    break
                continue
            if making.failed_before(base):
                continue
            best = built(base)
            if best is None:
                making.fail(base)
                console.print(f"{base.scheme}, {base.face}: {base.how}: not found")
                making.write()
                continue
            build = making.judged(best.layout, base.scheme, base.face, base.outputs, base.how)
            assert build is not None, "what a job finds is confirmed"
            lengths = making.family(build)
            console.print(f"{base.scheme}, {base.face}: {base.how}: {lengths}")
            if base.spare:
                console.print(f"{base.scheme}, {base.face}: with relays: {with_relays(making, build)}")
            making.write()
            if lengths[-1] > base.outputs or base.handovers != (8,) or not base.lane:
                break


def confirm_again(making: Making) -> None:
    """Builds that were made under other laws are run again, and stamped anew; claims of other laws go."""
    builds, making.claims = making.builds, [one for one in making.claims if one.laws == making.laws]
    making.builds = []
    for one in builds:
        spec = spec_of(one.scheme, one.face, one.outputs, one.layout.size)
        if one.laws == making.laws or Judge(spec, one.handovers).accepts(one.layout):
            making.builds.append(replace(one, laws=making.laws))
        else:
            console.print(f"refused by now: {one.scheme}, {one.face}, {one.outputs} outputs: {one.how}")
    making.write()


def from_repeats(making: Making) -> None:
    """Straight rows whose columns are alike but for some at each end, in a site of their own."""
    for scheme, outputs, size, repeat in REPEATS:
        w, d, h = size
        how = f"columns {repeat[0]} to {repeat[1]} alike in {w} x {d} x {h}"
        if making.made(how):
            continue
        spec = spec_of(scheme, "top", outputs, size)
        handovers = (spec.rules.handover,)
        within = windows(spec, handovers)
        question = replace(question_for(spec, Plot((0, 0, 0), size), within, "E"), row_unlocked=True, repeat=repeat)
        job = Job(spec, question, handovers, ((),), Caps(), REPEAT_CONFLICTS, engine="CP-SAT")
        found = _found(job)
        if found is not None and (build := build_to_keep(spec, found, how)) is not None:
            making.take(build)
        console.print(f"{scheme}, {outputs} outputs, {how}: {found is not None}")
        making.write()


def from_searches(making: Making, slots: Slots | None) -> None:
    """The best of small sites, with what is proved of them. Limits are in seconds: what is proved holds anywhere, but
    another machine may come to more, or less."""
    for scheme, outputs, size, seconds in SEARCHED:
        w, d, h = size
        how = f"searched in {w} x {d} x {h}"
        spec = spec_of(scheme, "top", outputs, size)
        if any((one.scheme, one.outputs, one.laws) == (scheme, outputs, making.laws) for one in making.claims):
            continue
        stores, workers = (Atlas(FOLDER),), os.cpu_count() or 1
        answer = propose(spec, Request(limit_s=seconds, workers=workers, stores=stores, slots=slots))
        making.claims = [one for one in making.claims if (one.scheme, one.outputs) != (scheme, outputs)]
        making.claims += largest(claims_to_keep(spec, answer.claims))
        for proposal in answer.proposals:
            build = build_to_keep(spec, proposal, how)
            if build is not None:
                making.take(build)
        found = [(one.measures.box, one.measures.parts) for one in answer.proposals]
        console.print(f"{scheme}, {outputs} outputs, {how}: {found}, {'settled' if answer.complete else 'open'}")
        making.write()


def largest(claims: Iterable[KnownClaim]) -> list[KnownClaim]:
    """Those that say it all: of boxes that lie in others, and of fewer parts, nothing need be kept."""
    kept: list[KnownClaim] = []
    for one in sorted(claims, key=lambda one: (-volume(one.box), -(one.parts or 10**6))):
        if not any(_says(other, one) for other in kept):
            kept.append(one)
    return kept


def _says(one: KnownClaim, other: KnownClaim) -> bool:
    """The first claim says all that the second does."""
    fewer = one.parts is None or (other.parts is not None and other.parts <= one.parts)
    return _lies_in(other.box, one.box) and fewer and one.handovers == other.handovers


def main() -> None:
    """All sources in turn."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=SOURCES, action="append")
    parser.add_argument("--cluster", metavar="ADDRESS", default=os.environ.get(CLUSTER_VARIABLE))
    options = parser.parse_args()
    only = options.only or SOURCES
    kept = Atlas(FOLDER)
    rules = load_spec(CLONE / "specs" / "results" / "any-site.toml").rules
    rows = list(product(schemes(), [face for face, _ in FACES], range(1, MOST + 1)))
    making = Making(
        proofs_digest(rules),
        [one for row in rows for one in kept.builds(*row)],
        [one for row in rows for one in kept.claims(*row)],
        [one for row in rows for one in kept.failures(*row)],
    )
    confirm_again(making)
    if "layouts" in only:
        from_layouts(making)
    if "folds" in only:
        from_bases(making, folds())
    if "straights" in only:
        from_bases(making, straights())
    if "ways" in only:
        from_bases(making, along_ways())
    if "spared" in only:
        from_bases(making, spared())
    if "pieces" in only:
        from_pieces(making)
    if "repeats" in only:
        from_repeats(making)
    if "searches" in only:
        from_searches(making, slots_of(options.cluster, None))


if __name__ == "__main__":
    main()
