"""The answer of a search for a hall as a builder reads it: ranked table, the best one drawn, what was shown of what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from rich.console import RenderableType

from sim.world.files.picture import layers_side_by_side, legend
from sim.world.files.places import all_of, box_text, build_text, counted, printable
from splitwright.cli.output import stdout_width, written
from splitwright.cli.tables import plain_table
from synth.ask.hall_spec import HallSpec
from synth.confirm.loads import gaps_text, loads_text
from synth.hall.pieces import RowPieces
from synth.hall.result import HallAnswer, HallBound, HallProposal
from synth.improve.hall_reading import HallGiven

FACES: Final = {"top": "feed row", "side": "fuel row"}
REFUSALS_MOST: Final = 3


def hall_report(
    spec: HallSpec,
    answer: HallAnswer,
    files: Sequence[Path],
    quiet: bool,
    given: HallGiven | None = None,
    verbose: bool = False,
) -> list[RenderableType]:
    """Everything that is printed, in order: the answer and what to do (``quiet``: that and the files), the ranked
    table, the best hall drawn, one line on proofs. ``given``: the hall to be bettered; ``verbose``: its pieces, what
    was shown of them and what was refused."""
    lines: list[RenderableType] = [*(hall_verdict(spec, answer) if given is None else _bettered(answer, given))]
    if answer.proposals and (fill := answer.proposals[0].measures.held_at_start):
        lines.append(f"Before the first one works, {counted(fill, 'item')} must be filled in by hand.")
    if files:
        lines.append(written(files))
    if quiet:
        return lines
    if answer.proposals:
        layouts = [file for file in files if file.suffix == ".json"]
        shift = f"How it works for hours: splitwright shift {printable(str(layouts[0]))}" if layouts else ""
        lines.append(shift or "To keep them, each with its build sheet: --out DIR --sheets")
    if given is not None:
        lines += given.lines()
    if answer.proposals:
        best = answer.proposals[0]
        lines += ["", hall_table(answer.proposals, verbose), ""]
        lines += ["The first one, layer by layer, north at the top:", ""]
        lines += [*layers_side_by_side(best.layout, stdout_width(), spec.blocked), ""]
        lines += [*legend(best.layout, spec.blocked), "", *_proof_line(answer)]
        if verbose:
            lines += [*_bound(answer), _pieces_table(best), "", *_shown(spec, best, answer.bound)]
    if verbose or not answer.proposals:
        lines += list(refusal_lines(answer))
    if verbose:
        lines.append(f"Pieces: {answer.pieces_s:.1f} s; joining, checks and trials: {answer.joining_s:.1f} s.")
    else:
        lines.append("More: -v (pieces, what was shown of them and how), --json (all of it).")
    return lines


def _proof_line(answer: HallAnswer) -> Iterator[str]:
    """How far the first one may be from the smallest, in one line."""
    if (bound := answer.bound) is None:
        yield "Proof: none of the whole; it is the best found of the halls joined from such rows."
    else:
        best = answer.proposals[0].measures.volume
        yield (
            f"Proof: no hall of its kind takes fewer than {bound.cells} cells; the first one takes {best}, so at most "
            f"{bound.gap:.0%} could be saved."
        )


def hall_verdict(spec: HallSpec, answer: HallAnswer) -> Iterator[str]:
    """What the search came to; where there is none for want of room, which site would do."""
    yield _headline(spec, answer)
    if answer.room is not None:
        site = box_text(answer.room.size) + (" with the same blocked cells" if spec.blocked else "")
        does, shown = ("do", "confirmed") if answer.room.is_confirmed else ("have room", "not tried")
        yield f"A site of {site} would {does}, the least change for the halls looked at ({shown} in the simulator)."
        yield from _what_takes_room(spec)
    elif not answer.proposals:
        yield from _next_steps(spec, answer)


def _what_takes_room(spec: HallSpec) -> Iterator[str]:
    """Which demands put more into a hall than its rows: those that a builder may drop to fit the site."""
    costs = (
        ['even_for = "stream" (a gate in front of each row)']
        if any(stream.even_for == "stream" for stream in spec.streams)
        else []
    )
    costs += [f"inputs = {spec.inputs} (a split above the rows)"] if spec.inputs is not None else []
    if costs:
        yield f"What takes room beside the rows: {' and '.join(costs)}; a hall without may fit."


def _bettered(answer: HallAnswer, given: HallGiven) -> Iterator[str]:
    """Whether a better hall was found than the one that stands, and how much smaller one could be."""
    what, cells = printable(given.layout.title or "the hall"), given.measures.volume
    if answer.proposals:
        best = answer.proposals[0].measures
        size = build_text(best.box, best.parts)
        stood = f"in the place of {cells} and {given.measures.parts}"
        yield f"{what}: a better hall, confirmed in the simulator: {size}, {stood}."
    else:
        yield f"{what}: no better hall was found {_where(answer)}; that is no proof that none exists."
        if answer.bound is not None:
            yield f"No hall of its kind takes fewer than {answer.bound.cells} cells (proved; scope: docs/halls.md)."


def _next_steps(spec: HallSpec, answer: HallAnswer) -> Iterator[str]:
    """What to change where no hall was found, and want of room is not why."""
    ways = []
    if answer.places:
        bins = min(answer.places, key=lambda places: abs(places - (spec.product_bins or 1)))
        ways.append(f"ask for {counted(bins, 'product bin')} (product_bins = {bins}), or leave product_bins out")
    if spec.demands.handover == "both":
        ways.append('leave handover = "both" out')
    if any(stream.scheme is not None for stream in spec.streams):
        ways.append("pin no scheme")
    if not answer.complete:
        ways.append("give it more time (--time-limit)")
    if not answer.refusals and not ways:
        ways.append("let leftovers stay (leftovers = \"hold\"), or ask for shorter rows (rows = 2)")
    if ways:
        yield f"What may help: {', or '.join(ways)}."


def _headline(spec: HallSpec, answer: HallAnswer) -> str:
    sides = counted(spec.sides, "side")
    what = f"{printable(spec.title)}: {counted(answer.furnaces, 'furnace')} on {sides}"
    if not answer.proposals:
        return f"{what}: no hall found {_where(answer)}; that is no proof that none exists."
    count = len(answer.proposals)
    found = f"{count} halls, each confirmed" if count > 1 else "one hall, confirmed"
    return f"{what}: {found} in the simulator."


def _where(answer: HallAnswer) -> str:
    """Among which halls the search was."""
    return "among those that known rows make" if answer.complete else "within the limits"


def hall_table(proposals: Sequence[HallProposal], verbose: bool = False) -> RenderableType:
    """What the halls are measured by, a row each. ``verbose``: wiring by kind."""
    right = ("rank", "cells", "parts", "price", "last, ticks", "products an hour", "bound", "fill in first",
             "left inside")  # fmt: skip
    table = plain_table(
        "rank", "box", "cells", "parts", "price", "last, ticks", "products an hour", "bound", "fill in first",
        "left inside", "handover", "wings", "wiring",
        right=(*right, *(() if verbose else ("wiring",))), whole=("box", "handover"),
    )  # fmt: skip
    for rank, proposal in enumerate(proposals, 1):
        m = proposal.measures
        wiring = {kind: n for kind, n in m.by_kind.items() if kind not in ("node", "furnace", "bin")}
        kinds = ", ".join(counted(n, kind) for kind, n in wiring.items())
        table.add_row(
            str(rank), box_text(m.box), str(m.volume), str(m.parts), str(m.price), str(m.latency),
            f"{float(m.output):.0f}", f"{float(m.bound):.0f}", str(m.held_at_start), str(m.held),
            ", ".join(map(str, m.handovers)),
            " | ".join(" + ".join(map(str, side)) for side in proposal.wings),
            kinds if verbose else str(sum(wiring.values())),
        )  # fmt: skip
    return table


def _bound(answer: HallAnswer) -> Iterator[str]:
    """How much smaller a hall of this kind could be at the most."""
    if (bound := answer.bound) is not None:
        section, best = bound.section, answer.proposals[0].measures.volume
        across = "one" if section.wings == 1 else "two"
        box = f"{section.lanes} lanes x {section.layers} layers"
        yield ""
        yield f"The first one takes {best} cells. No hall of its kind takes fewer than {bound.cells} (proved), so that"
        yield f"  at most {bound.gap:.0%} could be saved: each column takes {box} at least."
        yield f"  Its kind: wings of such rows, {across} across, a furnace in each column, columns in the middle alike"
        yield "  and without gauge or relay along the row; docs/halls.md has the whole scope."


def _pieces_table(proposal: HallProposal) -> RenderableType:
    table = plain_table("row", "scheme", "head", "stretch", "tail", "relays", "reach",
                        right=("head", "stretch", "tail", "relays", "reach"))  # fmt: skip
    for row in (proposal.kit.feed, proposal.kit.fuel):
        table.add_row(
            FACES[row.face], row.scheme, str(len(row.head)), str(len(row.stretch)), str(len(row.tail)),
            str(len(row.relay)), str(row.longest),
        )  # fmt: skip
    return table


def _shown(spec: HallSpec, best: HallProposal, bound: HallBound | None) -> Iterator[str]:
    yield "  head, stretch, tail, relays: wiring parts of each piece; reach: furnaces of the longest row (by trial)."
    yield f"Shown of the whole, by trial: every stream split evenly for loads of {loads_text(best.measures.loads)},"
    if best.measures.trickled:
        names = [printable(stream.name) for stream in spec.streams if stream.even_for == "stream"]
        yield f"  {all_of(names)} also for {gaps_text(best.measures.trickled)},"
    yield "  all streams and furnaces at work; no design finding, so no signal of one row gets into another."
    yield "  an hour: products in a production run after warm-up (from hour two on where product waits while rows"
    yield "  first fill); bound: what the furnaces can fire."
    if spec.demands.beyond_trials:
        yield "Shown of each row by itself, as [split] demands (no row acts on another): " + _demanded(spec) + "."
    for row in (best.kit.feed, best.kit.fuel):
        yield from _claims(row)
    open_to = "no smaller one is ruled out"
    if bound is not None and bound.cells < best.measures.volume:
        open_to = f"none from {bound.cells} to {best.measures.volume - 1} cells is ruled out"
    yield f"The whole is the best found of the halls joined from such pieces, no more; {open_to}."
    if best.measures.held_at_start:
        yield f"Its nodes start with {counted(best.measures.held_at_start, 'item')}, which must be put in by hand."
    yield "Models a block world: no guide to real kilns, furnaces or wiring; local codes and licensed practice rule."


def _demanded(spec: HallSpec) -> str:
    words = {"orders": "even in every update order that can matter", "arrivals": "even for every pattern of arrivals"}
    return ", ".join(text for name, text in words.items() if getattr(spec.demands, name) == "all")


def _claims(row: RowPieces) -> Iterator[str]:
    for claim in row.claims:
        yield f"{FACES[row.face].capitalize()}, {claim.piece}: {claim.text} ({claim.seconds:.0f} s)."
        yield f"  Scope: {printable(claim.scope)}."
    if row.claims:
        yield f"  All of the {FACES[row.face]}: {printable('; '.join(row.limits))}."


def refusal_lines(answer: HallAnswer) -> Iterator[str]:
    """Why halls were not taken, the first few."""
    shown = answer.refusals[:REFUSALS_MOST]
    for refusal in shown:
        yield f"Not taken: {printable(refusal)}."
    if len(answer.refusals) > len(shown):
        yield f"Not taken: {len(answer.refusals) - len(shown)} more (--json has them all)."
