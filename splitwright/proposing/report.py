"""The answer of a search as a builder reads it: ranked table, best layout drawn, what was shown and what was not."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from rich.console import RenderableType

from sim.analysis.assure.uses import uses_told
from sim.world.files.picture import layers_side_by_side, legend
from sim.world.files.places import box_text, build_text, counted, printable
from sim.world.geometry import Cell
from sim.world.rulebook import known_handovers
from splitwright.cli.output import stdout_width, written
from splitwright.cli.tables import plain_table
from splitwright.proposing.ladder_view import step_lines
from splitwright.words import english
from splitwright.words.uses import use_lines
from synth.answer.obstacles import ANYWHERE
from synth.ask.arrivals import DRAWN, GAPS
from synth.ask.spec import EvenFor, Spec
from synth.confirm.loads import largest, size_text
from synth.confirm.measures import TRICKLING
from synth.confirm.proposal import Proposal
from synth.schemes.registry import scheme_of
from synth.search.result import Answer, Claim, Obstacle, Step
from synth.search.scope import not_looked_at, required_handovers

INTERRUPTED: Final = " Interrupted by Ctrl-C: this is what was found so far."
BEYOND: Final = (
    "confirmed like the others, but its delays are not among those that the claims below are about (see the scope)"
)
WHAT_FOR: Final[Mapping[EvenFor, str]] = {"burst": "full loads", "stream": "any arrivals tried"}
"""What a layout is even for, in words: what its trials were about."""
ANY: Final = (None, None)
"""No limit on parts, none on price."""


def proposal_report(
    spec: Spec, answer: Answer, files: Sequence[Path], quiet: bool, scope: bool = False, verbose: bool = False
) -> list[RenderableType]:
    """Everything that is printed, in order: the answer (``quiet``: that alone, what to do and the files), the ranked
    table, the best layout drawn, one line on proofs. ``scope``: every proof and what it is about; ``verbose``: what was
    shown of each layout, and that too."""
    lines: list[RenderableType] = [_headline(spec, answer), *([] if quiet else _what_it_is_for(spec, answer))]
    lines += [*answer.advice, *_obstacle_lines(answer.obstacles), *(clash.text for clash in answer.clashes)]
    lines += _handover_lines(spec, answer)
    if files:
        lines += [written(files)]
    if quiet:
        return [*lines, *([] if files else _not_kept(answer))]
    if answer.proposals:
        best = answer.proposals[0]
        lines += next_step(files)
        drawn = f"{_which(answer.proposals)}, layer by layer, north at the top:"
        lines += ["", proposal_table(answer.proposals, verbose), "", drawn, ""]
        lines += [*layers_side_by_side(best.layout, stdout_width(), spec.blocked), ""]
        lines += legend_lines(best, spec.blocked)
    lines += ["", *_proof_line(answer)]
    if verbose:
        lines += shown_of(spec, answer.proposals)
    elif not all(one.in_scope for one in answer.proposals):
        lines += [f"* {BEYOND}"]
    if scope or verbose:
        lines += (f"Best by {line}." for line in step_lines(answer.steps))
        lines += [*claim_lines(answer.claims), *candidate_lines(answer.claims), *scope_lines(spec, answer, True)]
    else:
        tried = "-v (what was tried of each), " if answer.proposals else ""
        lines += scope_lines(spec, answer, False)
        lines += [f"More: {tried}--scope (what proofs are about), --json (all of it)."]
    return lines


def _what_it_is_for(spec: Spec, answer: Answer) -> Iterator[str]:
    """Of the best layout: when it is even, and what was asked for; what must be put in by hand first."""
    if not answer.proposals:
        return
    best, words = answer.proposals[0], english()
    told = [one for one in uses_told(best.layout, best.verdicts) if one.use in ("whole", "trickling")]
    how = " ".join(use_lines(told, words)) or f"Even for {what_for(best)}, as far as was tried."
    yield f"{how} {words.text(f'use.asked_{spec.even_for}')}."
    if best.measures.held_at_start:
        yield f"Before it works, {counted(best.measures.held_at_start, 'item')} must be filled in by hand."


def _not_kept(answer: Answer) -> Iterator[str]:
    """Where no file holds them, what was found, in one line."""
    for best in answer.proposals[:1]:
        m = best.measures
        size = f"{build_text(m.box, m.parts)}, even for {what_for(best)}"
        yield f"{_which(answer.proposals)}: {size}; not kept: add --out DIR."


def next_step(files: Sequence[Path]) -> Iterator[str]:
    """How a layout becomes something to build from."""
    layouts = [file for file in files if file.suffix == ".json" or file.suffix == ".plan"]
    sheets = [file for file in files if layouts and file.with_suffix(layouts[0].suffix) == layouts[0] != file]
    if sheet := next((file for file in sheets if file.suffix == ".html"), None):
        yield f"To build it: open {printable(str(sheet))}"
    elif layouts:
        yield f"To build it: splitwright sheet {printable(str(layouts[0]))}"
    else:
        yield "To keep them, each with its build sheet: --out DIR --sheets"


def _proof_line(answer: Answer) -> Iterator[str]:
    """How far proofs have come, in one line."""
    if not (answer.steps or answer.claims):
        return
    if answer.steps:
        state = "; ".join(_step_briefly(step) for step in answer.steps)
    else:
        out = len({claim.box for claim in answer.claims if claim.verdict == "none exists"})
        still_open = len({claim.box for claim in answer.claims if claim.verdict == "open"})
        state = f"{counted(out, 'box size')} ruled out, {still_open} not decided"
    yield f"Proof, of these rows alone ({', '.join(answer.schemes)}): {state}."


def _step_briefly(step: Step) -> str:
    """``volume 48, none better``; ``parts 26, open down to 15``."""
    value = f"{step.measure} {abs(step.value):g}"
    if step.proved:
        return f"{value}, none better"
    way = "up" if step.measure == "throughput" else "down"
    return f"{value}, open" + ("" if step.bound is None else f" {way} to {abs(step.bound):g}")


def _handover_lines(spec: Spec, answer: Answer) -> Iterator[str]:
    """Where it is the handover that stands in the way: no layout works under both, one for this world may."""
    if answer.proposals or site_ruled_out(spec, answer):
        return
    needed = required_handovers(spec)
    if len(needed) == 1 and answer.rules_out(spec.size, known_handovers()):
        both = " and ".join(map(str, known_handovers()))
        yield (
            f"The handover matters: none works at {both} alike (proved); whether one works at {needed[0]} alone was "
            "not decided. Which one your world has: splitwright probe"
        )


def site_ruled_out(spec: Spec, answer: Answer) -> bool:
    """It was proved that the whole site holds no layout."""
    return answer.rules_out(spec.size, required_handovers(spec))


def _headline(spec: Spec, answer: Answer) -> str:
    what = f"{printable(spec.title)}: {counted(spec.outputs, 'furnace')} within {box_text(spec.size)}"
    if answer.proposals:
        count = len(answer.proposals)
        found = f"{count} layouts, each confirmed" if count > 1 else "one layout, confirmed"
        return f"{what}: {found} in the simulator.{INTERRUPTED if answer.interrupted else ''}"
    if site_ruled_out(spec, answer):
        return f"{what}: none exists (proved; scope below)."
    refused = sum(claim.refused for claim in answer.claims)
    why = f"; {counted(refused, 'candidate')} refused by the simulator" if refused else ""
    if answer.interrupted:
        return f"{what}: not found before it was interrupted by Ctrl-C{why}; that is no proof that none exists."
    return f"{what}: not found within the limit{why}; that is no proof that none exists."


def proposal_table(proposals: Sequence[Proposal], verbose: bool = False) -> RenderableType:
    """One line a layout: its size first, then what it is even for and what that takes. Prices only where some part has
    one of its own. ``verbose``: wiring by kind."""
    priced = any(one.measures.price != one.measures.parts for one in proposals)
    numbers = ("rank", "cells", "parts", "price", "first, ticks", "last, ticks", "items an hour", "fill in first",
               "left inside", *(() if verbose else ("wiring",)))  # fmt: skip
    table = plain_table(
        "rank", "box", "cells", "parts", *(("price",) if priced else ()), "first, ticks", "last, ticks",
        "items an hour", "even for", "fill in first", "left inside", "handover", "scheme", "wiring",
        right=numbers, whole=("box", "handover"), spare=("wiring", "first, ticks", "items an hour"),
    )  # fmt: skip
    for rank, proposal in enumerate(proposals, 1):
        m = proposal.measures
        wiring = {kind: n for kind, n in m.by_kind.items() if kind not in ("node", "furnace", "bin")}
        kinds = ", ".join(counted(n, kind) for kind, n in wiring.items())
        table.add_row(
            str(rank), box_text(m.box), str(m.volume), str(m.parts), *((str(m.price),) if priced else ()),
            str(m.first_arrival), str(m.latency), f"{m.throughput:.0f}", what_for(proposal), str(m.held_at_start),
            str(m.held), ", ".join(map(str, m.handovers)), proposal.scheme + ("" if proposal.in_scope else "*"),
            kinds if verbose else str(sum(wiring.values())),
        )  # fmt: skip
    return table


def _which(proposals: Sequence[Proposal]) -> str:
    return "The first one" if len(proposals) > 1 else "The layout"


def what_for(proposal: Proposal) -> str:
    """What the layout is even for, as far as its trials tell."""
    return WHAT_FOR[proposal.even_for]


def found_line(seconds: float, proposal: Proposal) -> str:
    """A layout in one line, as soon as it is confirmed."""
    m = proposal.measures
    return (
        f"after {seconds:.1f} s: {build_text(m.box, m.parts)}, {proposal.scheme}, even for "
        f"{what_for(proposal)}; confirmed"
    )


def legend_lines(proposal: Proposal, blocked: Collection[Cell] = ()) -> Iterator[str]:
    """The legend in two columns. ``blocked``: cells of the site that are taken."""
    lines = legend(proposal.layout, blocked)
    half = (len(lines) + 1) // 2
    for i in range(half):
        right = lines[half + i] if half + i < len(lines) else ""
        yield f"{lines[i]:<40}{right}".rstrip()


def _shown(spec: Spec, answer: Answer, scope: bool) -> Iterator[str]:
    """What was shown, and what was not."""
    yield from shown_of(spec, answer.proposals)
    yield from (f"Best by {line}." for line in step_lines(answer.steps))
    yield from claim_lines(answer.claims)
    yield from candidate_lines(answer.claims)
    yield from scope_lines(spec, answer, scope)


def scope_lines(spec: Spec, answer: Answer, whole: bool) -> Iterator[str]:
    """What the proofs are about: in full; or what they do not cover, in a sentence, where there are any."""
    if whole:
        yield f"Scope: {printable('; '.join(answer.scope))}; {answer.solver}."
    if whole or answer.claims or answer.steps:
        names = [name or scheme_of(spec).name for name in answer.schemes]
        yield not_looked_at(names, spec.rules, spec.outputs) + ("" if whole else " In full: --scope.")


def shown_of(spec: Spec, proposals: Sequence[Proposal]) -> Iterator[str]:
    """What was shown of the layouts themselves, and what was not."""
    if proposals:
        loads = ", ".join(load for load in proposals[0].measures.spread if load != TRICKLING)
        left = "spread 0" if any(one.measures.held for one in proposals) else "spread 0 and no item left in a node"
        trickled = all(TRICKLING in one.measures.spread for one in proposals)
        yield f"Shown: {left} for loads of {loads} (N = {spec.outputs}), there at once, under the handovers of its row."
        if trickled:
            apart = f"{GAPS[0]} to {GAPS[-1]} ticks apart"
            yield f"  Likewise for items one by one, {apart}, and with {DRAWN} draws of gaps."
        hour = f"items, at a load of {size_text(largest(proposals[0].measures.loads))}"
        yield f"  first, last: ticks to first and last arrival of one item a furnace; an hour: {hour}."
        if not all(one.in_scope for one in proposals):
            yield f"  * {BEYOND}"
        yield from _held_lines(proposals)
        if any(one.verdicts for one in proposals):
            yield from verdict_lines(proposals)
        else:
            other = "other gaps" if trickled else "trickling input"
            yield f"Not shown: other loads, {other}, other update orders than the file's."


def verdict_lines(proposals: Sequence[Proposal]) -> Iterator[str]:
    """What is shown of each layout, by what a builder does with it."""
    for rank, proposal in enumerate(proposals, 1):
        if told := uses_told(proposal.layout, proposal.verdicts):
            yield f"Layout {rank}. {' '.join(use_lines(told, english()))}"
    yield "  (splitwright assure LAYOUT tells which cases were looked at, and shows one that goes wrong.)"


def _held_lines(proposals: Sequence[Proposal]) -> Iterator[str]:
    """What waits in the nodes, where anything does."""
    if any(one.measures.held for one in proposals):
        yield (
            "  left inside: items in nodes at rest, the most after any trial; first and last are then those of the"
            " smallest load, or second load, of which something comes out."
        )
    for scheme in dict.fromkeys(one.scheme for one in proposals if one.measures.held_at_start):
        items = max(one.measures.held_at_start for one in proposals if one.scheme == scheme)
        yield f"  The nodes of a {scheme} start with {counted(items, 'item')}, which must be put in by hand."


def claim_lines(claims: Sequence[Claim]) -> Iterator[str]:
    """What was shown of boxes: those ruled out by themselves, those they imply, those that stayed open."""
    several = len({claim.scheme for claim in claims}) > 1
    for scheme, handovers in dict.fromkeys((claim.scheme, claim.handovers) for claim in claims):
        of_scheme, alike = f"of the {scheme} " if several else "", " alike" if len(handovers) > 1 else ""
        which = f"{of_scheme}that works under handover {' and '.join(map(str, handovers))}{alike}"
        mine = [claim for claim in claims if claim.handovers == handovers and claim.scheme == scheme]
        out = {claim.box for claim in mine if claim.verdict == "none exists" and (claim.parts, claim.price) == ANY}
        mine = [claim for claim in mine if (claim.parts, claim.price) == ANY or claim.box not in out]
        mine = [claim for claim in mine if not _is_settled(claim, mine)]
        for limit in dict.fromkeys((claim.parts, claim.price) for claim in mine):
            of_limit = [claim for claim in mine if (claim.parts, claim.price) == limit]
            yield from _lines_of(of_limit, f"{which}{_limit_text(*limit)}")


def _is_settled(claim: Claim, others: Sequence[Claim]) -> bool:
    """It was ruled out under a wider limit on parts (what is open: or since under the same)."""
    if claim.verdict == "found" or claim.parts is None:
        return False
    least = claim.parts if claim.verdict == "open" else claim.parts + 1
    return any(
        other.verdict == "none exists" and other.box == claim.box and other.price is claim.price is None
        and other.parts is not None and other.parts >= least
        for other in others
    )  # fmt: skip


def candidate_lines(claims: Sequence[Claim]) -> Iterator[str]:
    """How many candidates of the model the simulator confirmed at once, in the exact search."""
    latest = {(claim.box, claim.handovers, claim.scheme): claim for claim in claims if claim.admitted}.values()
    admitted, refused = sum(claim.admitted for claim in latest), sum(claim.refused for claim in latest)
    if admitted:
        yield f"Candidates of the model: {admitted}, of which the simulator confirmed {admitted - refused}."


def _lines_of(claims: Sequence[Claim], which: str) -> Iterator[str]:
    none = list(dict.fromkeys(claim.box for claim in claims if claim.verdict == "none exists"))
    largest = [box for box in none if not any(box != other and _is_within(box, other) for other in none)]
    if none:
        rest = f", nor in any box within these ({len(none)} boxes in all)" if len(none) > len(largest) else ""
        yield f"None {which} exists (proved) in boxes of {', '.join(map(box_text, largest))}{rest}."
    if still_open := [box_text(claim.box) for claim in claims if claim.verdict == "open"]:
        others = "; boxes that are not named were not come to"
        yield f"Open, no proof either way, whether one {which} exists: boxes of {', '.join(still_open)}{others}."


def _is_within(inner: tuple[int, int, int], outer: tuple[int, int, int]) -> bool:
    return all(x <= y for x, y in zip(inner, outer, strict=True))


def _limit_text(parts: int | None, price: int | None) -> str:
    limits = [f"{most} {name}" for most, name in ((parts, "parts"), (price, "in price")) if most is not None]
    return f", with at most {' and '.join(limits)}," if limits else ""


def _obstacle_lines(obstacles: Sequence[Obstacle]) -> Iterator[str]:
    """What would help first, then what would not, each limit relaxed alone."""
    words = {
        True: "A layout fits with {} (confirmed)",
        False: "None fits with {} alone (proved)",
        None: "Not decided in time: {}",
    }
    for helps, text in words.items():
        if relaxed := [_relaxed(one) for one in obstacles if one.helps is helps]:
            yield f"{text.format(' or '.join(relaxed) if helps else ', '.join(relaxed))}."


def _relaxed(one: Obstacle) -> str:
    """``width 6``; ``the furnaces of feed anywhere``."""
    return f"{one.limit} {one.relaxed}" if one.relaxed == ANYWHERE else one.relaxed
