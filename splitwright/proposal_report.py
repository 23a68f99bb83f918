"""The answer of a search as a builder reads it: ranked table, best layout drawn, what was shown and what was not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from rich.console import RenderableType

from sim.assure.verdict import Verdict as Assured
from sim.files.picture import layers_side_by_side, legend
from sim.files.places import counted, printable
from sim.geometry import Cell
from splitwright.ladder_view import step_lines
from splitwright.output import stdout_width
from splitwright.tables import plain_table
from synth.arrivals import DRAWN, GAPS
from synth.loads import largest, size_text
from synth.measures import TRICKLING
from synth.result import Answer, Claim, Obstacle, Proposal
from synth.scope import required_handovers
from synth.spec import EvenFor, Spec

INTERRUPTED: Final = " Interrupted by Ctrl-C: this is what was found so far."
BEYOND: Final = (
    "confirmed like the others, but its delays are not among those that the claims below are about (see the scope)"
)
WHAT_FOR: Final[Mapping[EvenFor, str]] = {"burst": "full loads", "stream": "any arrivals tried"}
"""What a layout is even for, in words: what its trials were about."""
ANY: Final = (None, None)
"""No limit on parts, none on price."""


def proposal_report(
    spec: Spec, answer: Answer, files: Sequence[Path], quiet: bool, scope: bool = False
) -> list[RenderableType]:
    """Everything that is printed, in order; ``quiet``: the verdict and the files only; ``scope``: what proofs are
    about, in full."""
    lines: list[RenderableType] = [_headline(spec, answer), *answer.advice]
    if not quiet and answer.proposals:
        best = answer.proposals[0]
        drawn = f"{_which(answer.proposals)}, layer by layer, north at the top:"
        lines += ["", proposal_table(answer.proposals), "", drawn, ""]
        lines += [*layers_side_by_side(best.layout, stdout_width(), spec.blocked), ""]
        lines += legend_lines(best, spec.blocked)
    if not quiet:
        lines += ["", *_shown(spec, answer, scope)]
    lines += list(_obstacle_lines(answer.obstacles))
    lines += [clash.text for clash in answer.clashes]
    if files:
        lines += ["", "Written: " + ", ".join(printable(str(file)) for file in files)]
    return lines


def site_ruled_out(spec: Spec, answer: Answer) -> bool:
    """It was proved that the whole site holds no layout."""
    return answer.rules_out(spec.size, required_handovers(spec))


def _headline(spec: Spec, answer: Answer) -> str:
    what = f"{printable(spec.title)}: {counted(spec.outputs, 'furnace')} within {_box(spec.size)}"
    if answer.proposals:
        count = len(answer.proposals)
        found = f"{count} layouts, each confirmed" if count > 1 else "one layout, confirmed"
        return f"{what}: {found} in the simulator.{INTERRUPTED if answer.interrupted else ''}"
    if site_ruled_out(spec, answer):
        return f"{what}: none exists (proved, within the scope below)."
    refused = sum(claim.refused for claim in answer.claims)
    why = f"; {counted(refused, 'candidate')} refused by the simulator" if refused else ""
    if answer.interrupted:
        return f"{what}: not found before it was interrupted by Ctrl-C{why}; that is no proof that none exists."
    return f"{what}: not found within the limit{why}; that is no proof that none exists."


def proposal_table(proposals: Sequence[Proposal]) -> RenderableType:
    """One line a layout: its size first, then what it is even for and what that takes."""
    numbers = ("rank", "volume", "parts", "price", "first", "last", "an hour", "fill in", "held")
    table = plain_table(
        "rank", "box", "volume", "parts", "price", "first", "last", "an hour", "even for", "fill in", "held",
        "handovers", "scheme", "wiring", right=numbers, whole=("box", "even for", "handovers"),
    )  # fmt: skip
    for rank, proposal in enumerate(proposals, 1):
        m = proposal.measures
        wiring = ", ".join(counted(n, kind) for kind, n in m.by_kind.items() if kind not in ("node", "furnace", "bin"))
        table.add_row(
            str(rank), _box(m.box), str(m.volume), str(m.parts), str(m.price), str(m.first_arrival), str(m.latency),
            f"{m.throughput:.0f}", what_for(proposal), str(m.held_at_start), str(m.held),
            " ".join(map(str, m.handovers)), proposal.scheme + ("" if proposal.in_scope else "*"), wiring,
        )  # fmt: skip
    return table


def _which(proposals: Sequence[Proposal]) -> str:
    return "The first one" if len(proposals) > 1 else "It"


def what_for(proposal: Proposal) -> str:
    """What the layout is even for, as far as its trials tell."""
    return WHAT_FOR[proposal.even_for]


def found_line(seconds: float, proposal: Proposal) -> str:
    """A layout in one line, as soon as it is confirmed."""
    m = proposal.measures
    return (
        f"after {seconds:.1f} s: {_box(m.box)} = {m.volume} cells, {m.parts} parts, {proposal.scheme}, even for "
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
    yield from scope_lines(answer, scope)


def scope_lines(answer: Answer, whole: bool) -> Iterator[str]:
    """What the proofs are about: in full, or in a sentence, where there are any."""
    if whole:
        yield f"Scope: {printable('; '.join(answer.scope))}; {answer.solver}."
    elif answer.claims or answer.steps:
        kinds = ", ".join(answer.schemes)
        yield (
            f"Scope: proofs are about rows of these kinds alone ({kinds}), with no latched relay and no loop of "
            "signals; another way to split is not ruled out. In full: --scope."
        )


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
        told = [f"{what}: {said}" for what, pick in DONE_WITH_IT if (said := _said(proposal.verdicts, pick))]
        if told:
            yield f"Layout {rank}. {'. '.join(told)}."
    yield "  (splitwright assure LAYOUT tells which cases were looked at, and shows one that goes wrong.)"


DONE_WITH_IT: Final[Sequence[tuple[str, Callable[[Assured], bool]]]] = (
    ("A whole load at once", lambda one: one.question == "load" and one.about == "multiples"),
    ("Whole loads one after another", lambda one: one.question == "drift" and one.about == "multiples"),
    ("Loads of any size one after another", lambda one: one.question == "drift" and one.about == "any number"),
    ("Trickling in", lambda one: one.question in ("gaps", "arrivals")),
    ("Loads of N and 2N in any update order", lambda one: one.question == "orders"),
    ("Whole loads under both handovers", lambda one: one.question == "handover"),
)
"""What a builder does with a layout, and the verdicts that tell how that goes."""


def _said(verdicts: Sequence[Assured], pick: Callable[[Assured], bool]) -> str:
    """What these verdicts come to, all in all; nothing where there are none."""
    asked = [one for one in verdicts if pick(one) and one.decides]
    refuted = [one for one in asked if one.verdict == "refuted"]
    if refuted:
        under = dict.fromkeys(one.handover for one in refuted if one.handover is not None)
        every = dict.fromkeys(one.handover for one in asked if one.handover is not None)
        where = "" if len(under) == len(every) else f" under handover {', '.join(map(str, under))}"
        return f"not always even{where}"
    answers = {one.verdict for one in asked if one.question != "gaps"} or {one.verdict for one in asked}
    if not answers:
        return ""
    return "left open" if "open" in answers else "even, as far as was tried" if "tried" in answers else "even (proved)"


def _held_lines(proposals: Sequence[Proposal]) -> Iterator[str]:
    """What waits in the nodes, where anything does."""
    if any(one.measures.held for one in proposals):
        yield (
            "  held: items in nodes at rest, the most after any trial; first and last are then those of the smallest"
            " load, or second load, of which something comes out."
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
        yield f"None {which} exists (proved) in boxes of {', '.join(map(_box, largest))}{rest}."
    if still_open := [_box(claim.box) for claim in claims if claim.verdict == "open"]:
        others = "; boxes that are not named were not come to"
        yield f"Open, no proof either way, whether one {which} exists: boxes of {', '.join(still_open)}{others}."


def _is_within(inner: tuple[int, int, int], outer: tuple[int, int, int]) -> bool:
    return all(x <= y for x, y in zip(inner, outer, strict=True))


def _limit_text(parts: int | None, price: int | None) -> str:
    limits = [f"{most} {name}" for most, name in ((parts, "parts"), (price, "in price")) if most is not None]
    return f", with at most {' and '.join(limits)}," if limits else ""


def _obstacle_lines(obstacles: Sequence[Obstacle]) -> Iterator[str]:
    if not obstacles:
        return
    yield ""
    yield "What stands in the way, each limit relaxed alone, within the same scope:"
    words = {True: "then there is one (confirmed)", False: "still none exists (proved)", None: "not decided in time"}
    for obstacle in obstacles:
        yield f"  {obstacle.limit}: with {obstacle.relaxed}, {words[obstacle.helps]}"


def _box(size: tuple[int, int, int]) -> str:
    return " x ".join(map(str, size))
