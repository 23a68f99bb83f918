"""The changes that make a hall pass, or a row that has hardly any wiring: by rows that are known to work.

Each row of a hall is looked at by itself. Those that work stay as they are, and are patterns for the others, as are
known rows (``patterns``). Where that is of no help, single changes near what the checks find are tried in the whole.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Final

from sim.analysis.checks import design_findings
from sim.analysis.checks.outlets import leads_nowhere
from sim.analysis.checks.standing import merging_bins, no_support, reads_nothing
from sim.analysis.couplings.study import Study, study_of
from sim.analysis.idle_wiring import idle_wiring
from sim.analysis.production.lines import line_findings, product_lines
from sim.world.geometry import VECTORS, Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Container, Furnace, Part
from sim.world.rulebook import Rules, default_rules
from sim.world.world import Finding
from synth.ask.spec import Face
from synth.confirm.confirmation import SCREEN, SCREENED, handovers_to_try
from synth.confirm.judge import Judge
from synth.confirm.trials import Terms, TrialRecord, Trials
from synth.improve.differences import Change, changes_between
from synth.improve.patterns import OPTIONS_MOST, Laid, Pattern, alone, choices, known_patterns, laid_over, overlaid
from synth.improve.reading import Meant, meant_by, wanted_of
from synth.improve.request import Request
from synth.improve.result import Checked, Improvement
from synth.improve.single import changed, single_changes
from synth.improve.spaces import cropped, with_room
from synth.improve.words import node_labels
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import Scheme

ROOMS: Final = (0, 1, 2)
"""Free cells around the build in which patterns are laid, one after the other, unless the request says how many."""
BY_PATTERNS: Final = "rows of the build itself and known ones, laid over those that do not work"
NO_PRODUCT: Final = "no product comes to its bins in hours of work; splitwright shift tells what each furnace waits for"
NEAR_FINDINGS: Final = "single changes near what the checks find"


@dataclass
class RowOf:
    """A row of a build. ``scheme``: that under which it works by itself (None: none was found)."""

    stream: Stream
    face: Face
    row: Layout
    meant: Meant
    needed: tuple[int, ...]

    @cached_property
    def scheme(self) -> Scheme | None:
        """The scheme under which the row works by itself."""
        passes = (s for s in self.meant.schemes if Judge(self.meant.under(s), self.needed).accepts(self.row))
        return next(passes, None)

    @property
    def likeliest(self) -> str:
        """The name of its scheme, or of the most promising one."""
        return (self.scheme or self.meant.schemes[0]).name


@dataclass
class Hall:
    """A build of one or more rows. ``nearest``: with known rows in the place of broken ones, and not passing yet."""

    build: Layout
    request: Request
    rules: Rules = field(default_factory=default_rules)
    nearest: Found | None = None

    @cached_property
    def needed(self) -> tuple[int, ...]:
        """Handovers under which it must pass."""
        rules = self.build.rules_in_force(self.rules)
        return handovers_to_try(rules) if self.request.both else (rules.handover,)

    @cached_property
    def study(self) -> Study:
        """What acts on what in it."""
        return study_of(self.build, self.rules)

    @cached_property
    def rows(self) -> dict[str, RowOf]:
        """Its rows by the names of their streams. Raises InputError where one is beyond the search."""
        found = {}
        for stream in self.build.streams:
            row = alone(self.study, stream)
            meant = meant_by(row, self.request.scheme)
            found[stream.name] = RowOf(stream, meant.spec.streams[0].enters, row, meant, self.needed)
        return found

    @cached_property
    def broken(self) -> dict[str, tuple[Scheme, ...]]:
        """By stream, the rows that do not work by themselves, or not as the best of those by the same face do; with the
        schemes that will do."""
        order, best = list(schemes().values()), dict[Face, Scheme]()
        for row in self.rows.values():
            if row.scheme is not None:
                best[row.face] = min(row.scheme, best.get(row.face, row.scheme), key=order.index)
        wanted = {name: best.get(row.face) for name, row in self.rows.items()}
        return {
            name: row.meant.schemes if (scheme := wanted[name]) is None else (scheme,)
            for name, row in self.rows.items()
            if row.scheme is None or row.scheme != wanted[name]
        }

    @property
    def of_rows(self) -> dict[str, str]:
        """By stream, the scheme that its row is to work by."""
        found = {name: row.likeliest for name, row in self.rows.items()}
        return found | {name: those[0].name for name, those in self.broken.items()}

    def working(self, room: int) -> list[Part]:
        """The parts of the rows that work and the containers of any row, where they stand with so much room around."""
        working = {part.at for name, row in self.rows.items() if name not in self.broken for part in row.row.parts}
        parts = tuple(part for part in self.build.parts if part.at in working | self.study.rows.of.keys())
        return list(with_room(replace(self.build, parts=parts), room).parts)

    def terms(self, layout: Layout, of_rows: Mapping[str, str]) -> dict[str, Terms]:
        """What is asked of each stream, by the scheme that its row is to work by."""
        rules, terms = layout.rules_in_force(self.rules), {}
        for stream in layout.streams:
            scheme, item = scheme_named(of_rows[stream.name]), layout.items.get(stream.item)
            stack = (item.stack if item else None) or rules.stack
            held = scheme.held(len(stream.outputs), rules, stack)
            terms[stream.name] = Terms(held, wanted_of(scheme) == "stream")
        return terms

    def trials(self, layout: Layout, of_rows: Mapping[str, str]) -> Trials:
        """The trials of a build of the same streams."""
        return Trials(layout, self.rules, self.terms(layout, of_rows))

    def accepts(self, layout: Layout, of_rows: Mapping[str, str]) -> bool:
        """No finding, and every trial passes."""
        trials = self.trials(layout, of_rows)
        quick = all(one.passed for one in trials.under(self.needed[0], SCREEN, SCREENED))
        if not quick or self._of_lines(layout) or design_findings(layout, self.rules):
            return False
        passed = all(one.passed for handover in self.needed for one in trials.under(handover))
        return passed and self.output(layout) != 0

    def output(self, layout: Layout) -> Fraction | None:
        """Products an hour that come to its bins when nothing goes wrong (None: none are collected)."""
        if not product_lines(layout, self.rules):
            return None
        from sim.analysis.production.run import settled_output  # the compiled kernel is loaded where it is used alone

        return settled_output(layout, self.rules)

    def checked(self, layout: Layout, of_rows: Mapping[str, str]) -> Checked:
        """What the checks and the trials say, these up to the first that does not pass."""
        records: list[TrialRecord] = []
        trials = self.trials(layout, of_rows)
        for one in (one for handover in self.needed for one in trials.under(handover)):
            records.append(one)
            if not one.passed:
                break
        found = [*design_findings(layout, self.rules), *self._of_lines(layout)]
        if not found and records[-1].passed and self.output(layout) == 0:
            found.append(Finding("no product", NO_PRODUCT))
        return Checked(tuple(found), tuple(records), self.needed)

    def findings(self, layout: Layout, of_rows: Mapping[str, str]) -> list[Finding]:
        """Whatever is found of it, what is idle and what the trials find too."""
        checked = self.checked(layout, of_rows)
        of_trials = [one for record in checked.failed for one in record.result.findings]
        return [*checked.findings, *idle_wiring(layout, self.rules), *of_trials]

    def plain(self, layout: Layout) -> list[Finding]:
        """What is found without running it, and must not be: product that gets nowhere, parts that nothing holds up."""
        checks = (no_support, reads_nothing, merging_bins, leads_nowhere)
        return [*self._of_lines(layout), *(one for check in checks for one in check(layout, self.rules))]

    def _of_lines(self, layout: Layout) -> list[Finding]:
        """Product that gets into no bin, where any is collected."""
        lines = product_lines(layout, self.rules)
        return list(line_findings(layout, lines)) if lines else []


def known_list(build: Layout, request: Request, until: float) -> Found | None:
    """The build, which does not pass, with its rows made like rows that are known to work, if they can be."""
    hall = Hall(build, request)
    return _by_patterns(hall, hall.of_rows, until) if hall.broken else None


def improve_hall(build: Layout, request: Request) -> Improvement:
    """A list of changes that makes the hall pass: proved the cheapest where it is one change, else a good one. Raises
    InputError where a row is beyond the search (``reading``)."""
    began = time.monotonic()
    hall, until = Hall(build, request), began + request.limit_s
    request.told("each row by itself")
    of_rows = hall.of_rows
    answer = Improvement("stopped", build, hall.checked(build, of_rows), most=request.highest)
    answer.schemes = tuple(dict.fromkeys(of_rows.values()))
    if not hall.broken and not answer.before.findings and not answer.before.failed:
        answer.status, answer.layout, answer.output = "passes", build, hall.output(build)
    else:
        answer.rows = tuple(hall.broken)
        as_it_is = Found(build, of_rows)
        found = _by_patterns(hall, of_rows, until) if hall.broken else None
        found = found or _near_findings(hall, hall.nearest or as_it_is, until)
        if found is not None:
            _settle(answer, hall, found, of_rows)
    answer.seconds = time.monotonic() - began
    return answer


@dataclass(frozen=True, slots=True)
class Found:
    """A layout in the build's site with so many cells of ``room`` around it, its rows of these schemes. ``how``: by
    which ways the list that leads to it was found."""

    layout: Layout
    schemes: Mapping[str, str]
    room: int = 0
    how: tuple[str, ...] = ()


def _settle(answer: Improvement, hall: Hall, found: Found, of_rows: Mapping[str, str]) -> None:
    """Fills in the answer, unless the list costs more than was asked for."""
    origin, layout, moved = cropped(answer.build, found.layout, found.room)
    changes = changes_between(origin, layout)
    cost, most = sum(change.cost(hall.request.prices) for change in changes), hall.request.most
    if most is not None and cost > most:
        answer.scope = [f"a list that costs {cost} is known, and is more than was asked for"]
        return
    answer.status, answer.layout, answer.moved, answer.room = "found", layout, moved, found.room
    answer.changes, answer.cost, answer.output = changes, cost, hall.output(layout)
    answer.schemes = tuple(dict.fromkeys(found.schemes.values()))
    answer.after = hall.checked(layout, found.schemes)
    if answer.cost == 1 and not hall.accepts(answer.build, of_rows):
        answer.proof = "as it stands"
    answer.names = node_labels(layout)
    answer.scope = [f"the list: {' and '.join(dict.fromkeys(found.how))}; no other was looked for"]


def _by_patterns(hall: Hall, of_rows: Mapping[str, str], until: float) -> Found | None:
    """Rows that are known to work, laid over those that do not."""
    patterns = {name: list(_patterns(hall, hall.rows[name], those)) for name, those in hall.broken.items()}
    rooms = ROOMS if hall.request.room is None else (hall.request.room,)
    for room in rooms:
        build = with_room(hall.build, room)
        streams = {stream.name: stream for stream in build.streams}
        options = {name: laid_over(build, streams[name], found)[:OPTIONS_MOST] for name, found in patterns.items()}
        hall.request.told(f"known rows laid over {', '.join(options)}")
        for one in _copied(hall, room, options, of_rows):
            if _is_over(hall.request, until):
                return None
            if hall.accepts(one.layout, one.schemes):
                return _with_strays(hall, one, until)
            hall.nearest = hall.nearest or one
    return None


def _patterns(hall: Hall, row: RowOf, wanted: Sequence[Scheme]) -> Iterator[Pattern]:
    """Rows as long that enter by the same face: of the build itself, then known ones of schemes that will do."""
    n = len(row.stream.outputs)
    for other in hall.rows.values():
        if other.scheme in wanted and other.face == row.face and len(other.stream.outputs) == n:
            yield Pattern(other.likeliest, other.row)
    names = {scheme.name for scheme in wanted}
    yield from (one for one in known_patterns(row.face, n, hall.rules) if one.scheme in names)


def _copied(
    hall: Hall, room: int, options: Mapping[str, Sequence[Laid]], of_rows: Mapping[str, str]
) -> Iterator[Found]:
    """The build with one option for each row: with all other wiring as it is, then without it."""
    rows, build = hall.rows, with_room(hall.build, room)
    for way in choices(options, lambda name: (rows[name].face, len(rows[name].stream.outputs))):
        now = {**of_rows, **{name: laid.scheme for name, laid in way.items()}}
        for kept in (build.parts, hall.working(room)):
            yield Found(overlaid(build, way.values(), kept), now, room, (BY_PATTERNS,))


def _with_strays(hall: Hall, found: Found, until: float) -> Found:
    """The same with what need not go, each part tried once."""
    for change in changes_between(with_room(hall.build, found.room), found.layout):
        if change.after is None and change.before is not None and not _is_over(hall.request, until):
            more = changed(found.layout, Change(None, change.before))
            if hall.accepts(more, found.schemes):
                found = replace(found, layout=more)
    return found


def _near_findings(hall: Hall, base: Found, until: float) -> Found | None:
    """Changes in cells that findings name, or next to them: one after which all is well, or there are fewer findings;
    from there again. What can be seen without running it comes first, for that must go whatever else is done."""
    while True:
        findings, plain = hall.findings(base.layout, base.schemes), len(hall.plain(base.layout))
        todo = _suspects(base.layout, findings)
        hall.request.told(f"each of {len(todo)} single changes near what the checks find")
        tries = [replace(base, layout=changed(base.layout, one), how=(*base.how, NEAR_FINDINGS)) for one in todo]
        scored = [(len(hall.plain(one.layout)), one) for one in tries if not _is_over(hall.request, until)]
        scored = [(left, one) for left, one in sorted(scored, key=lambda pair: pair[0]) if left < max(plain, 1)]
        fewer = None
        for left, found in scored:
            if _is_over(hall.request, until):
                return None
            if hall.accepts(found.layout, found.schemes):
                return found
            if left < plain or len(hall.findings(found.layout, found.schemes)) < len(findings):
                fewer = fewer or found
                if left:
                    break
        if fewer is None:
            return None
        base = fewer


def _suspects(layout: Layout, findings: Sequence[Finding]) -> list[Change]:
    """The single changes of cells that findings name, then of those next to them."""
    near: dict[Cell, None] = dict.fromkeys(one.at for one in findings if one.at is not None)
    near |= {step(cell, side): None for cell in list(near) for side in VECTORS}
    order = {cell: number for number, cell in enumerate(near)}
    todo = (one for one in single_changes(layout) if one.at in near)
    return sorted(todo, key=lambda one: (_how_far_it_goes(one), order[one.at]))


def _how_far_it_goes(change: Change) -> int:
    """What a hall does is changed least by taking away wiring or turning a part, most by another container."""
    before, after = change.before, change.after
    if after is None:
        return 2 if isinstance(before, Container) else 0
    if before is not None and before.kind == after.kind:
        return 1
    return 4 if isinstance(after, (Bin, Furnace)) else 3


def _is_over(request: Request, until: float) -> bool:
    return request.stop.is_set() or time.monotonic() >= until
