"""Small builds as coloured Petri nets in SNAKES, written from the text of RULEBOOK.md (sections 2 to 4) alone.

One kind of item; bins, nodes, supports, gauges, inverters and relays (no lines, no furnaces, no latches). Source of the
library: Pommereau, SNAKES: a flexible high-level Petri nets library, Petri Nets 2015.

A tick is a round of a control token: arrival, clock, changes that are due, each node's turn, the end. What was put into
the source must be taken in the same tick, or the net stops within the round; so every marking in which the control
token is back at ``end`` is a state at the end of a tick.

Places: ``(cell, "slots")`` how many items each slot of a container holds; ``(cell, "cool")`` a node's cooldown;
``(cell, "out")`` what a signal part delivers; ``pending`` the changes scheduled, in that order, as (part, ticks to go);
``source`` the items in it.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Gauge, Inverter, Node, Relay, Support

with warnings.catch_warnings():  # it imports a module that Python is about to drop
    warnings.simplefilter("ignore", DeprecationWarning)
    from snakes.nets import (  # type: ignore[import-untyped]
        Expression,
        MultiSet,
        PetriNet,
        Place,
        StateGraph,
        Test,
        Transition,
        Value,
        Variable,
        dot,
    )

WAYS = {"E": (1, 0, 0), "W": (-1, 0, 0), "N": (0, 1, 0), "S": (0, -1, 0), "U": (0, 0, 1), "D": (0, 0, -1)}
BACK = {"E": "W", "W": "E", "N": "S", "S": "N", "U": "D", "D": "U"}
FULL = 15
RULES = {"period": 8, "handover": 8, "node_slots": 5, "bin_slots": 27, "stack": 64}
RULES |= {"gauge_delay": 2, "inverter_delay": 2, "relay_step": 2}
SETTLING_ROUNDS = 200
Slots = tuple[int, ...]
Pending = tuple[tuple[Cell, int], ...]
State = tuple[tuple[Slots, ...], tuple[int, ...], tuple[int, ...], Pending]
"""Slots of the containers that keep items, cooldowns of the nodes, outputs of the signal parts, what is pending."""


def beside(cell: Cell, way: str) -> Cell:
    x, y, z = WAYS[way]
    return cell[0] + x, cell[1] + y, cell[2] + z


@dataclass(frozen=True)
class Build:
    """What a layout says, under its rules. ``sinks``: containers that keep nothing."""

    layout: Layout
    sinks: frozenset[Cell]

    def rule(self, name: str) -> int:
        return self.layout.rules.get(name, RULES[name])

    @cached_property
    def source(self) -> Cell:
        return self.layout.streams[0].source

    @cached_property
    def nodes(self) -> list[Node]:
        return [part for part in self.layout.parts if isinstance(part, Node)]

    @cached_property
    def parts(self) -> list[Gauge | Inverter | Relay]:
        return [part for part in self.layout.parts if isinstance(part, (Gauge, Inverter, Relay))]

    @cached_property
    def keeping(self) -> dict[Cell, Slots]:
        """Containers whose items count, with their slots, empty."""
        kept = [p for p in self.layout.parts if isinstance(p, (Bin, Node)) and p.at not in {self.source, *self.sinks}]
        return {p.at: (0,) * self.rule(f"{p.kind}_slots") for p in kept}

    def at(self, cell: Cell) -> object:
        return self.layout.by_cell.get(cell)

    # -- items --------------------------------------------------------------------------------------------------------

    def put(self, slots: Slots) -> Slots | None:
        """One more item in the first slot that takes it."""
        for i, count in enumerate(slots):
            if count < self.rule("stack"):
                return (*slots[:i], count + 1, *slots[i + 1 :])
        return None

    def take(self, slots: Slots) -> Slots | None:
        """One item less in the first slot that holds one."""
        for i, count in enumerate(slots):
            if count:
                return (*slots[:i], count - 1, *slots[i + 1 :])
        return None

    def fill_level(self, slots: Slots) -> int:
        """floor(1 + 14 * mean of count / limit), 0 for empty."""
        return 1 + (FULL - 1) * sum(slots) // (self.rule("stack") * len(slots)) if any(slots) else 0

    # -- signals ------------------------------------------------------------------------------------------------------

    def delivers_into(self, cell: Cell, out: dict[Cell, int], facing: str | None = None) -> bool:
        """A relay that is on or a gauge above 0 with ``cell`` in front (``facing`` that way), or a lit inverter beside
        it that is not fixed to it."""
        for part in self.parts:
            if isinstance(part, Inverter):
                beside_it = [way for way in WAYS if beside(part.at, way) == cell]
                found = bool(beside_it) and part.mount not in beside_it
            else:
                found = beside(part.at, part.output) == cell and facing in (None, part.output)
            if found and out[part.at]:
                return True
        return False

    def energised(self, cell: Cell, out: dict[Cell, int]) -> bool:
        """strong(q) > 0: there are no lines. Of inverters only one directly below makes it so."""
        if not isinstance(self.at(cell), Support):
            return False
        below = self.at(beside(cell, "D"))
        if isinstance(below, Inverter) and out[below.at]:
            return True
        return any(
            not isinstance(part, Inverter) and beside(part.at, part.output) == cell and out[part.at]
            for part in self.parts
        )

    def locked(self, node: Cell, out: dict[Cell, int]) -> bool:
        return self.delivers_into(node, out) or any(self.energised(beside(node, way), out) for way in WAYS)

    def reads(self, gauge: Gauge) -> Cell | None:
        """The container behind a gauge, or behind the support that is there."""
        cell = beside(gauge.at, BACK[gauge.output])
        if isinstance(self.at(cell), Support):
            cell = beside(cell, BACK[gauge.output])
        return cell if isinstance(self.at(cell), (Bin, Node)) else None

    def wants(self, part: Gauge | Inverter | Relay, slots: dict[Cell, Slots], out: dict[Cell, int]) -> int:
        if isinstance(part, Inverter):
            return 0 if self.energised(beside(part.at, part.mount), out) else FULL
        if isinstance(part, Relay):
            behind = beside(part.at, BACK[part.output])
            on = self.energised(behind, out) or self._fed(part, out)
            return FULL if on else 0
        read = self.reads(part)
        return 0 if read is None or read not in slots else self.fill_level(slots[read])

    def _fed(self, relay: Relay, out: dict[Cell, int]) -> bool:
        """A lit inverter right behind a relay, or a relay or gauge there that faces the same way."""
        behind = self.at(beside(relay.at, BACK[relay.output]))
        if isinstance(behind, Inverter):
            return out[behind.at] > 0 and beside(behind.at, behind.mount) != relay.at
        return isinstance(behind, (Gauge, Relay)) and behind.output == relay.output and out[behind.at] > 0

    def delay(self, part: Gauge | Inverter | Relay) -> int:
        if isinstance(part, Relay):
            return self.rule("relay_step") * part.delay
        return self.rule("gauge_delay" if isinstance(part, Gauge) else "inverter_delay")

    def noticed(self, slots: dict[Cell, Slots], out: dict[Cell, int], pending: Pending) -> Pending:
        """In file order, each part that wants another state and has nothing pending schedules its change."""
        for part in self.parts:
            waits = any(cell == part.at for cell, _ in pending)
            if not waits and self.wants(part, slots, out) != out[part.at]:
                pending = (*pending, (part.at, self.delay(part)))
        return pending

    def settled(self) -> dict[Cell, int]:
        """Outputs before tick 1: round after round, gauges, relays, inverters."""
        out = {part.at: FULL if isinstance(part, Inverter) else 0 for part in self.parts}
        for _ in range(SETTLING_ROUNDS):
            before = dict(out)
            for kind in (Gauge, Relay, Inverter):
                for part in self.parts:
                    if isinstance(part, kind):
                        out[part.at] = self.wants(part, self.keeping, out)
            if out == before:
                break
        return out

    def is_covered(self) -> bool:
        """Nothing in it that these nets do not know: side inputs of gauges, latches, gauges at source or sinks."""
        covered = (Bin, Node, Support, Gauge, Inverter, Relay)
        if not all(isinstance(part, covered) for part in self.layout.parts):
            return False
        for part in self.parts:
            if isinstance(part, Inverter):
                continue
            sides = "NS" if part.output in "EW" else "EW"
            for side in sides:
                other = self.at(beside(part.at, side))
                if isinstance(other, (Gauge, Relay)) and beside(other.at, other.output) == part.at:
                    return False
            if isinstance(part, Gauge) and self.reads(part) in {self.source, *self.sinks}:
                return False
        return True


class Net:
    """The Petri net of a build. Arcs carry the functions of the build by name."""

    def __init__(self, build: Build) -> None:
        self.build = build
        self.net = PetriNet("build")
        self.name_of: dict[Cell, str] = {}
        self.steps = 0
        self._places()
        self._arrival()
        self._signals()
        for node in build.nodes:
            self._turn(node)
        self._end()

    def _places(self) -> None:
        build = self.build
        out = build.settled()
        tokens: dict[str, object] = {"source": 0, "pending": build.noticed(build.keeping, out, ())}
        tokens |= {self._name(cell, "slots"): slots for cell, slots in build.keeping.items()}
        tokens |= {self._name(node.at, "cool"): 0 for node in build.nodes}
        tokens |= {self._name(part.at, "out"): out[part.at] for part in build.parts}
        for name, token in tokens.items():
            self.net.add_place(Place(name, [token]))
        self.net.add_place(Place("end", [dot]))
        self.at_slots = [self._name(cell, "slots") for cell in build.keeping]
        self.at_cool = [self._name(node.at, "cool") for node in build.nodes]
        self.at_out = [self._name(part.at, "out") for part in build.parts]
        self.control = "end"

    @staticmethod
    def _name(cell: Cell, what: str) -> str:
        return f"{what}_{'_'.join(map(str, cell))}"

    def _step(self) -> tuple[str, str]:
        """Where the control token is, and a new place that it goes to."""
        self.steps += 1
        before, self.control = self.control, f"step_{self.steps}"
        self.net.add_place(Place(self.control))
        return before, self.control

    def _transition(
        self,
        name: str,
        step: tuple[str, str],
        changes: dict[str, str],
        reads: list[str] | None = None,
        guard: str = "True",
    ) -> None:
        """``changes``: of places, the expression of their new token; ``reads``: places whose token stays. Each place's
        token has the place's name."""
        self.net.add_transition(Transition(name, Expression(guard)))
        self.net.add_input(step[0], name, Value(dot))
        self.net.add_output(step[1], name, Value(dot))
        for place, after in changes.items():
            self.net.add_input(place, name, Variable(place))
            self.net.add_output(place, name, Expression(after))
        for place in reads or []:
            if place not in changes:
                self.net.add_input(place, name, Test(Variable(place)))

    def _function(self, name: str, function: object) -> str:
        self.net.globals[name] = function
        return name

    def _arrival(self) -> None:
        """Before the tick an item is put into the source, or not; then the clock of what is pending goes on."""
        step = self._step()
        self._transition("arrives", step, {"source": "1"})
        self._transition("nothing", step, {})
        self._function("clock", lambda pending: tuple((part, left - 1) for part, left in pending))
        self._transition("clock", self._step(), {"pending": "clock(pending)"})

    def _signals(self) -> None:
        """What is due runs in the order in which it was scheduled, each noticed at once; then the turns begin."""
        build = self.build
        here = self.control
        everything = [*self.at_slots, *self.at_out]
        taken = ", ".join(everything)
        self._function("first_due", lambda pending: next((part for part, left in pending if left == 0), None))
        for part in build.parts:
            own = self._name(part.at, "out")
            new = self._function(f"new_{own}", self._of_all(self._new_output, part))
            left = self._function(f"left_{own}", self._of_all(self._after_change, part))
            self._transition(
                f"change_{own}",
                (here, here),
                {own: f"{new}(pending, {taken})", "pending": f"{left}(pending, {taken})"},
                everything,
                f"first_due(pending) == {part.at!r}",
            )
        self._transition("turns", (here, self._step()[1]), {}, ["pending"], "first_due(pending) is None")

    def _of_all(self, function: Any, part: object) -> Any:
        """The function on the slots by container and outputs by part that all places hold."""
        containers, parts = list(self.build.keeping), [one.at for one in self.build.parts]

        def applied(pending: Pending, *tokens: Any) -> Any:
            slots = dict(zip(containers, tokens[: len(containers)], strict=True))
            out = dict(zip(parts, tokens[len(containers) :], strict=True))
            return function(part, slots, out, pending)

        return applied

    def _changed(self, part: Any, slots: dict[Cell, Slots], out: dict[Cell, int]) -> tuple[int, bool]:
        """What a part whose change is due delivers then; whether it schedules its switch-off at once."""
        wanted = self.build.wants(part, slots, out)
        if isinstance(part, Relay) and not out[part.at]:
            return FULL, not wanted
        return wanted, False

    def _new_output(self, part: Any, slots: dict[Cell, Slots], out: dict[Cell, int], _: Pending) -> int:
        return self._changed(part, slots, out)[0]

    def _after_change(self, part: Any, slots: dict[Cell, Slots], out: dict[Cell, int], pending: Pending) -> Pending:
        new, again = self._changed(part, slots, out)
        rest = tuple(one for one in pending if one[0] != part.at)
        if again:
            rest = (*rest, (part.at, self.build.delay(part)))
        return self.build.noticed(slots, {**out, part.at: new}, rest)

    def _turn(self, node: Node) -> None:
        """The cooldown drops by one; then the node stays, pushes, pulls or does both, and all is noticed."""
        build = self.build
        own, cool, name = (self._name(node.at, what) for what in ("slots", "cool", "turn"))
        above, target = self._above(node), self._target(node)
        locked = self._function(f"locked_{own}", self._of_outs(node))
        self.net.globals["put"], self.net.globals["take"] = build.put, build.take
        free = f"{cool} <= 1 and not {locked}({', '.join(self.at_out)})"
        can_push = self._can_push(own, target)
        there = self._there(above)
        both = f"{free} and {can_push} and {there} and put(take({own})) is not None"
        push = f"{free} and {can_push} and not ({there} and put(take({own})) is not None)"
        pull = f"{free} and not ({can_push}) and {there} and put({own}) is not None"
        given, taken = self._given(node, target), self._taken(above)
        moved = {cool: str(build.rule("period"))}
        places = [own, cool, *filter(None, (target, above)), *self.at_out]
        step = self._step()
        self._transition(f"{name}_both", step, {**moved, own: f"put(take({own}))", **given, **taken}, places, both)
        self._transition(f"{name}_push", step, {**moved, own: f"take({own})", **given}, places, push)
        self._transition(f"{name}_pull", step, {**moved, own: f"put({own})", **taken}, places, pull)
        stays = f"not ({both}) and not ({push}) and not ({pull})"
        self._transition(f"{name}_stays", step, {cool: f"max(0, {cool} - 1)"}, places, stays)
        if build.parts:
            everything = [*self.at_slots, *self.at_out]
            notice = self._function("noticed", self._of_all(self._noticed, None))
            new = {"pending": f"{notice}(pending, {', '.join(everything)})"}
            self._transition(f"{name}_noticed", self._step(), new, everything)

    def _noticed(self, _: None, slots: dict[Cell, Slots], out: dict[Cell, int], pending: Pending) -> Pending:
        return self.build.noticed(slots, out, pending)

    @staticmethod
    def _can_push(own: str, target: str | None) -> str:
        if target is None:
            return "False"
        return f"take({own}) is not None" + (f" and put({target}) is not None" if target else "")

    def _of_outs(self, node: Node) -> Any:
        parts = [one.at for one in self.build.parts]
        return lambda *tokens: self.build.locked(node.at, dict(zip(parts, tokens, strict=True)))

    def _above(self, node: Node) -> str | None:
        cell = beside(node.at, "U")
        if cell == self.build.source:
            return "source"
        return self._name(cell, "slots") if cell in self.build.keeping else None

    def _target(self, node: Node) -> str | None:
        """The place of the container that a node pushes into; "" for one that keeps nothing, None for no container."""
        cell = beside(node.at, node.outlet)
        if cell in self.build.sinks:
            return ""
        return self._name(cell, "slots") if cell in self.build.keeping else None

    @staticmethod
    def _there(above: str | None) -> str:
        """Something can be pulled."""
        if above is None:
            return "False"
        return "source > 0" if above == "source" else f"take({above}) is not None"

    @staticmethod
    def _taken(above: str | None) -> dict[str, str]:
        """What a pull does above."""
        if above is None:
            return {}
        return {above: "source - 1" if above == "source" else f"take({above})"}

    def _given(self, node: Node, target: str | None) -> dict[str, str]:
        """What a push does on the other side. A node that was empty moves ``handover`` ticks after this tick; one whose
        turn is still to come in this tick counts down once more."""
        if not target:
            return {}
        given = {target: f"put({target})"}
        cells = [one.at for one in self.build.nodes]
        cell = beside(node.at, node.outlet)
        if cell in cells:
            cool = self._name(cell, "cool")
            later = cells.index(cell) > cells.index(node.at)
            after = self.build.rule("handover") + later
            given[cool] = f"{cool} if any({target}) else {after}"
        return given

    def _end(self) -> None:
        """The round closes, unless something put in was not taken."""
        self._transition("closes", (self.control, "end"), {}, ["source"], "source == 0")

    def states(self) -> Iterator[State]:
        """Every state at the end of a tick that can be reached."""
        graph = StateGraph(self.net)
        graph.build()
        for number in range(len(graph)):
            marking = graph[number]
            if "end" in marking:
                yield self._state(marking)

    def _state(self, marking: dict[str, MultiSet]) -> State:
        def tokens(places: list[str]) -> tuple[Any, ...]:
            return tuple(next(iter(marking[place])) for place in places)

        return tokens(self.at_slots), tokens(self.at_cool), tokens(self.at_out), tokens(["pending"])[0]
