"""What is said of steps (keys "building.…" in ``specs/words``). Sentences are made elsewhere."""

from __future__ import annotations

from sim.analysis.building.bases import hanging_cell
from sim.analysis.building.filling import MOST_WAIT, Filling, FillStep
from sim.analysis.building.scaffold import Rest
from sim.analysis.building.site import Site
from sim.analysis.building.step import BuildStep
from sim.world.geometry import Cell, is_ground
from sim.world.layout import Layout
from sim.world.parts import Bin, Gauge, Inverter, Node, Part, Relay, direction_of
from sim.world.signals.structure import behind, read_container
from sim.world.statement import Mention, Statement, Toward, Value, mention


def instruction(step: BuildStep, layout: Layout) -> Statement:
    """What to do in a step towards ``layout``, without the reason."""
    what = Mention(step.part.kind, step.part.at)
    if step.action == "remove":
        return Statement("building.remove_temporary", {"support": what})
    if step.is_temporary:
        return Statement("building.place_temporary", {"support": what})
    match step.part:
        case Relay(output=direction, delay=delay):
            return Statement("building.place_relay", {"part": what, "direction": Toward(direction), "delay": delay})
        case Gauge():
            return _gauge(step.part, layout)
        case Inverter(mount=direction):
            return Statement("building.place_mounted", {"part": what, "direction": Toward(direction)})
        case Node(outlet=direction):
            key = "building.place_outlet_down" if direction == "D" else "building.place_outlet"
            return Statement(key, {"part": what, "direction": Toward(direction)})
        case Bin(finish="marked"):
            return Statement("building.place_marked", {"part": what})
        case _:
            return Statement("building.place", {"part": what})


def _gauge(gauge: Gauge, layout: Layout) -> Statement:
    """A gauge may read through a support: what lies directly behind it tells a builder which way it is put."""
    place, read = behind(gauge), read_container(layout.by_cell, gauge)
    values: dict[str, Value] = {"part": Mention(gauge.kind, gauge.at), "direction": Toward(gauge.output)}
    if read is None:
        return Statement("building.place_gauge_idle", {**values, "behind": mention(layout, place)})
    if read == place:
        return Statement("building.place_gauge", {**values, "read": mention(layout, read)})
    through: dict[str, Value] = {"read": mention(layout, read), "support": mention(layout, place)}
    return Statement("building.place_gauge_through", {**values, **through})


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
    direction = direction_of(part)
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


def filling_told(filling: Filling) -> Statement:
    """What the filling led to in the simulator."""
    ticks: dict[str, Value] = {"ticks": MOST_WAIT} if filling.outcome == "restless" else {}
    return Statement(f"building.fill_{filling.outcome}", ticks)


def gone_told(step: FillStep) -> tuple[Statement, ...]:
    """What of the filling did not stay; nothing where all did."""
    return (Statement("building.fill_gone", {"gone": step.gone}),) if step.gone else ()


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
