"""What is said of steps (keys "building.…" in ``specs/words``). Sentences are made elsewhere."""

from __future__ import annotations

from sim.building.bases import facing, hanging_cell
from sim.building.scaffold import Rest
from sim.building.site import Site
from sim.building.step import BuildStep
from sim.geometry import Cell, is_ground
from sim.parts import Bin, Node, Part, Relay
from sim.statement import Mention, Statement, Toward, Value


def instruction(step: BuildStep) -> Statement:
    """What to do in a step, without the reason."""
    what = Mention(step.part.kind, step.part.at)
    if step.action == "remove":
        return Statement("building.remove_temporary", {"support": what})
    if step.is_temporary:
        return Statement("building.place_temporary", {"support": what})
    if isinstance(step.part, Relay):
        values: dict[str, Value] = {"part": what, "direction": Toward(step.part.output), "delay": step.part.delay}
        return Statement("building.place_relay", values)
    if step.facing is None:
        is_marked = isinstance(step.part, Bin) and step.part.finish == "marked"
        return Statement("building.place_marked" if is_marked else "building.place", {"part": what})
    key = "building.place_mounted" if step.part.kind == "inverter" else "building.place_facing"
    return Statement(key, {"part": what, "direction": Toward(step.facing)})


def why_placed(site: Site, part: Part, base: Cell) -> tuple[Statement, ...]:
    """Why a part of the layout can be placed now; ``base``: what it hangs on or goes against."""
    there = standing(site, base)
    if hanging_cell(part) is not None:
        return (Statement("building.hangs_on", {"base": there}),)
    if isinstance(part, Node):
        return (Statement("building.aimed_at", {"base": there, "direction": Toward(part.outlet)}),)
    return (Statement("building.against", {"base": there}),)


def why_temporary(site: Site, rest: Rest, part: Part, is_last: bool) -> tuple[Statement, ...]:
    """Why a temporary support can be placed, and what for; ``is_last``: ``part`` itself goes against it."""
    cell, base = rest
    support, target = Mention("support", cell), Mention(part.kind, part.at)
    reasons = [Statement("building.against", {"base": standing(site, base)})]
    direction = facing(part)
    if not is_last:
        reasons.append(Statement("building.temporary_way", {"part": target}))
    elif direction is not None:
        reasons.append(Statement("building.temporary_aim", {"node": target, "direction": Toward(direction)}))
    else:
        reasons.append(Statement("building.temporary_base", {"part": target}))
    if not site.is_inside(cell):
        reasons.append(Statement("building.outside", {"support": support}))
    return tuple(reasons)


def why_removed(part: Part) -> tuple[Statement, ...]:
    """Why a temporary support can go: ``part``, which it was for, stands."""
    return (Statement("building.no_longer_needed", {"part": Mention(part.kind, part.at)}),)


def hangs_on_nothing(site: Site, part: Part, base: Cell) -> Statement:
    """``part`` can't be placed in any order: there is no solid cell at ``base``. ``site``: the finished build."""
    return Statement("building.hangs_on_nothing", {"part": Mention(part.kind, part.at), "base": standing(site, base)})


def no_way_found(part: Part) -> Statement:
    """``part`` was not placed, for in the order that was tried no hand gets at it, its supports or its base."""
    return Statement("building.no_way_found", {"part": Mention(part.kind, part.at)})


def standing(site: Site, cell: Cell) -> Mention:
    """What stands in a cell by now."""
    part = site.placed.get(cell)
    return Mention("ground" if is_ground(cell) else "cell" if part is None else part.kind, cell)
