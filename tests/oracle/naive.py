"""A deliberately naive simulator of the block world, for differential testing.

Written from RULEBOOK.md and FORMATS.md alone; it shares no code with the package `sim` and imports nothing of the
project. It works on the layout document (`splitwright-layout/1`, already valid) as it stands, goes through every tick,
and works out all levels and all wants from scratch after every noticed change. Nothing is skipped and nothing is fast.
Where the pages can be read in two ways, the reading taken is marked "Reading:".
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

Cell = tuple[int, int, int]
Slot = list[Any] | None  # [kind, count], or None for an empty slot
Document = dict[str, Any]

STEPS = {"E": (1, 0, 0), "W": (-1, 0, 0), "N": (0, 1, 0), "S": (0, -1, 0), "U": (0, 0, 1), "D": (0, 0, -1)}
OPPOSITE = {"E": "W", "W": "E", "N": "S", "S": "N", "U": "D", "D": "U"}
SIX = ("E", "W", "N", "S", "U", "D")
HORIZONTAL = ("E", "W", "N", "S")
CROSSWAYS = {"E": ("N", "S"), "W": ("N", "S"), "N": ("E", "W"), "S": ("E", "W")}
CONTAINERS = ("bin", "node", "furnace")
CHANGING = ("gauge", "relay", "inverter")  # in the order of a settling round
FEED, FUEL, PRODUCT = 0, 1, 2
LOAD_AN_OUTPUT = 18
SETTLING_ROUNDS = 200
RETREAT = 2

# Of RULEBOOK.md, written out here a second time on purpose: the copy in specs/rules/ is under test as well.
RULES = {
    "period": 8,
    "handover": 8,
    "node_slots": 5,
    "bin_slots": 27,
    "stack": 64,
    "reach": 15,
    "inverter_delay": 2,
    "gauge_delay": 2,
    "relay_step": 2,
    "firing": 200,
    "overheat_count": 8,
    "overheat_window": 60,
}


def beside(cell: Cell, side: str) -> Cell:
    """The neighbour cell on that side."""
    dx, dy, dz = STEPS[side]
    return (cell[0] + dx, cell[1] + dy, cell[2] + dz)


def key(cell: Cell) -> str:
    """The cell as a key of a document: "x,y,z"."""
    return "{},{},{}".format(*cell)


def kind_at(parts: dict[Cell, Document], cell: Cell) -> str:
    """Kind of the part in a cell; the ground counts as a support; an empty cell has the kind ""."""
    if cell[2] < 0:
        return "support"
    return parts[cell]["kind"] if cell in parts else ""


class World:
    """The whole state of one run: what every part and every slot is, and what is scheduled."""

    def __init__(self, layout: Document, order: list[Cell] | None = None, handover: int | None = None) -> None:
        self.rules: dict[str, int] = {**RULES, **layout.get("rules", {})}
        if handover is not None:
            self.rules["handover"] = handover
        self.items: Document = layout.get("items", {})
        self.streams: list[Document] = layout.get("streams", [])
        self.parts: dict[Cell, Document] = {tuple(part["at"]): part for part in layout["parts"]}
        self.now = 0
        self.last_change = 0
        self.findings: list[Document] = []

        self.slots: dict[Cell, list[Slot]] = {}
        for cell in self.all_of(*CONTAINERS):
            self.slots[cell] = self.starting_slots(self.parts[cell])
        self.ready = dict.fromkeys(self.all_of("node"), 0)  # the first tick at which the cooldown is down to 0
        self.fire = dict.fromkeys(self.all_of("furnace"), 0)
        self.progress = dict.fromkeys(self.all_of("furnace"), 0)
        self.order = self.checked_order(order)

        # A relay's and an inverter's state is 0 or 1, a gauge's its level. Settling starts from here.
        self.state = {cell: int(self.parts[cell]["kind"] == "inverter") for cell in self.parts_that_change()}
        self.level = dict.fromkeys(self.all_of("line"), 0)
        self.agenda: list[tuple[int, Cell]] = []  # (tick, part), in the order in which they were scheduled
        self.switch_offs: dict[Cell, list[int]] = {cell: [] for cell in self.all_of("inverter")}
        # Where parts stand never changes, so what follows from that alone is worked out once.
        self.links = {cell: {side: self.linked(cell, side) for side in HORIZONTAL} for cell in self.level}
        self.pointing = {cell: self.pointed_sides(cell) for cell in self.level}

        self.delivered = [[0 for _ in stream["outputs"]] for stream in self.streams]
        self.arrivals: list[list[int]] = [[] for _ in self.streams]
        self.places: list[list[int]] = [[] for _ in self.streams]  # the output of each arrival
        self.held_at_start = [self.held(stream["item"]) for stream in self.streams]
        self.to_come = [0 for _ in self.streams]

    # ---- what stands where

    def all_of(self, *kinds: str) -> list[Cell]:
        """Cells of the parts of these kinds, in file order."""
        return [cell for cell, part in self.parts.items() if part["kind"] in kinds]

    def parts_that_change(self) -> list[Cell]:
        return self.all_of(*CHANGING)

    def kind(self, cell: Cell) -> str:
        return kind_at(self.parts, cell)

    def is_solid(self, cell: Cell) -> bool:
        return self.kind(cell) in ("support", "furnace")

    def starting_slots(self, part: Document) -> list[Slot]:
        count = {"bin": self.rules["bin_slots"], "node": self.rules["node_slots"], "furnace": 3}[part["kind"]]
        slots: list[Slot] = [None if slot is None else list(slot) for slot in part.get("holds", [])]
        return slots + [None] * (count - len(slots))

    def checked_order(self, order: list[Cell] | None) -> list[Cell]:
        movers = self.all_of("node", "furnace")
        if order is None:
            return movers
        cells = [tuple(cell) for cell in order]
        if sorted(cells) != sorted(movers):
            raise ValueError("order: not a permutation of all nodes and furnaces")
        return cells  # type: ignore[return-value]

    # ---- signals: levels and energising

    def front(self, cell: Cell) -> Cell:
        """The cell in front of a relay or gauge."""
        return beside(cell, self.parts[cell]["output"])

    def behind(self, cell: Cell) -> Cell:
        """The cell behind a relay or gauge."""
        return beside(cell, OPPOSITE[self.parts[cell]["output"]])

    def mount(self, cell: Cell) -> Cell:
        """The cell that an inverter is fixed to."""
        return beside(cell, self.parts[cell]["mount"])

    def given_out(self, cell: Cell) -> int:
        """What a relay or gauge gives out in front."""
        if self.parts[cell]["kind"] == "relay":
            return self.rules["reach"] if self.state[cell] else 0
        return self.state[cell]

    def delivered_to(self, cell: Cell, sides: tuple[str, ...] = HORIZONTAL) -> int:
        """The largest of what relays and gauges on these sides, with the cell in front, give out."""
        best = 0
        for side in sides:
            giver = beside(cell, side)
            if self.kind(giver) in ("relay", "gauge") and self.front(giver) == cell:
                best = max(best, self.given_out(giver))
        return best

    def strong(self, q: Cell) -> int:
        """For a solid cell."""
        below = beside(q, "D")
        lit_below = self.kind(below) == "inverter" and self.state[below] == 1
        return max(self.delivered_to(q), self.rules["reach"] if lit_below else 0)

    def weak(self, q: Cell) -> int:
        """For a solid cell."""
        best = 0
        on_top = beside(q, "U")
        if self.kind(on_top) == "line":
            best = self.level[on_top]
        for side in HORIZONTAL:
            line = beside(q, side)
            if self.kind(line) == "line" and OPPOSITE[side] in self.pointing[line]:
                best = max(best, self.level[line])
        return best

    def energised(self, q: Cell) -> bool:
        """Only a solid cell can be energised."""
        return self.is_solid(q) and (self.strong(q) > 0 or self.weak(q) > 0)

    def lit_beside(self, cell: Cell) -> bool:
        """A lit inverter in any of the six neighbours, unless the cell lies on its mount side."""
        for side in SIX:
            inverter = beside(cell, side)
            if self.kind(inverter) == "inverter" and self.state[inverter] and self.mount(inverter) != cell:
                return True
        return False

    def linked(self, p: Cell, side: str) -> list[Cell]:
        """The lines to which line p links on that side.

        Reading: judged from p alone, as it is written. The line above may link down to one that does not link up to it;
        that happens only where the upper line stands on nothing.
        """
        q = beside(p, side)
        up, down = beside(q, "U"), beside(q, "D")
        found = []
        if self.kind(q) == "line":
            found.append(q)
        if self.kind(up) == "line" and self.is_solid(q) and not self.is_solid(beside(p, "U")):
            found.append(up)
        if self.kind(down) == "line" and not self.is_solid(q):
            found.append(down)
        return found

    def connects(self, p: Cell, side: str) -> bool:
        """Something connects to line p on that side."""
        q = beside(p, side)
        if self.links[p][side] or self.kind(q) in ("inverter", "gauge"):
            return True
        return self.kind(q) == "relay" and self.parts[q]["output"] in (side, OPPOSITE[side])

    def pointed_sides(self, p: Cell) -> set[str]:
        """The sides into which line p points."""
        really = {side for side in HORIZONTAL if self.connects(p, side)}
        points = set(really)
        if "N" not in really and "S" not in really:
            points |= {"E", "W"}
        if "E" not in really and "W" not in really:
            points |= {"N", "S"}
        return points

    def fed(self, p: Cell) -> int:
        """The level that line p has from anything but its linked lines."""
        best = self.delivered_to(p)
        if self.lit_beside(p):
            best = max(best, self.rules["reach"])
        for side in SIX:
            if self.is_solid(beside(p, side)):
                best = max(best, self.strong(beside(p, side)))
        return best

    def work_out_levels(self) -> None:
        """The least solution: start from 0 everywhere and raise until nothing rises. What feeds a line is no level."""
        fed = {p: self.fed(p) for p in self.level}
        for p in self.level:
            self.level[p] = 0
        rising = True
        while rising:
            rising = False
            for p in self.level:
                linked = [line for lines in self.links[p].values() for line in lines]
                raised = max([0, fed[p], *(self.level[line] - 1 for line in linked)])
                if raised != self.level[p]:
                    self.level[p] = raised
                    rising = True

    def locked(self, n: Cell) -> bool:
        """Of a node."""
        if any(self.energised(beside(n, side)) for side in SIX):
            return True
        if self.delivered_to(n) > 0 or self.lit_beside(n):
            return True
        for side in HORIZONTAL:
            line = beside(n, side)
            if self.kind(line) == "line" and self.level[line] > 0 and OPPOSITE[side] in self.pointing[line]:
                return True
        return False

    # ---- signals: what parts want

    def limit(self, kind: str) -> int:
        """Stack limit of a kind of item."""
        return self.items.get(kind, {}).get("stack", self.rules["stack"])

    def burn(self, kind: str) -> int:
        """Ticks that one item of a kind burns; 0: it does not burn."""
        return self.items.get(kind, {}).get("burn", 0)

    def fill_level(self, container: Cell) -> int:
        slots = self.slots[container]
        if all(slot is None for slot in slots):
            return 0
        total = sum((Fraction(slot[1], self.limit(slot[0])) for slot in slots if slot is not None), Fraction(0))
        filled = 1 + (self.rules["reach"] - 1) * total / len(slots)
        return filled.numerator // filled.denominator

    def reading(self, gauge: Cell) -> int:
        seen = self.behind(gauge)
        if self.kind(seen) == "support":
            seen = beside(seen, OPPOSITE[self.parts[gauge]["output"]])
        return self.fill_level(seen) if self.kind(seen) in CONTAINERS else 0

    def wanted_gauge(self, gauge: Cell) -> int:
        sides = CROSSWAYS[self.parts[gauge]["output"]]
        side_input = self.delivered_to(gauge, sides)
        for side in sides:
            if self.kind(beside(gauge, side)) == "line":
                side_input = max(side_input, self.level[beside(gauge, side)])
        reading = self.reading(gauge)
        return 0 if side_input > reading else reading

    def wanted_relay(self, relay: Cell) -> int:
        back = self.behind(relay)
        kind = self.kind(back)
        if self.energised(back):
            return 1
        if kind == "line":
            return int(self.level[back] > 0)
        if kind == "inverter":  # Reading: however mounted, even where the relay lies on its mount side.
            return int(self.state[back] == 1)
        if kind in ("relay", "gauge") and self.parts[back]["output"] == self.parts[relay]["output"]:
            return int(self.given_out(back) > 0)
        return 0

    def wanted(self, cell: Cell) -> int:
        """The state that a gauge, relay or inverter wants now."""
        kind = self.kind(cell)
        if kind == "gauge":
            return self.wanted_gauge(cell)
        if kind == "relay":
            return self.wanted_relay(cell)
        return int(not self.energised(self.mount(cell)))

    def latched(self, cell: Cell) -> bool:
        """Only a relay can be latched."""
        if self.kind(cell) != "relay":
            return False
        return self.delivered_to(cell, CROSSWAYS[self.parts[cell]["output"]]) > 0

    # ---- signals: time

    def is_pending(self, cell: Cell) -> bool:
        return any(part == cell for _, part in self.agenda)

    def schedule(self, cell: Cell) -> None:
        part = self.parts[cell]
        if part["kind"] == "relay":
            delay = self.rules["relay_step"] * part.get("delay", 1)
        else:
            delay = self.rules[part["kind"] + "_delay"]
        self.agenda.append((self.now + delay, cell))

    def notice(self) -> None:
        """Work out the levels afresh; each part that wants another state schedules its change, in file order."""
        self.work_out_levels()
        for cell in self.parts_that_change():
            if self.wanted(cell) != self.state[cell] and not self.is_pending(cell) and not self.latched(cell):
                self.schedule(cell)

    def change(self, cell: Cell, state: int) -> None:
        if self.state[cell] == state:
            return
        self.state[cell] = state
        self.last_change = self.now
        if self.kind(cell) == "inverter" and state == 0:
            self.count_switch_off(cell)

    def count_switch_off(self, cell: Cell) -> None:
        times = self.switch_offs[cell]
        times.append(self.now)
        count = self.rules["overheat_count"]
        reported = any(finding["check"] == "overheats" and finding["at"] == list(cell) for finding in self.findings)
        if len(times) >= count and times[-1] - times[-count] < self.rules["overheat_window"] and not reported:
            self.findings.append({"check": "overheats", "at": list(cell), "tick": self.now})

    def fall_due(self, cell: Cell) -> None:
        """The scheduled change of a part, in the signal phase of its tick."""
        wants = self.wanted(cell)
        if self.kind(cell) != "relay":
            self.change(cell, wants)
        elif self.latched(cell):
            pass  # dropped
        elif self.state[cell] == 0:
            self.change(cell, 1)
            if not wants:  # judged just before it came on
                self.schedule(cell)
        elif not wants:
            self.change(cell, 0)

    def signal_phase(self) -> None:
        """A delay is at least one tick, so nothing that is scheduled now falls due now."""
        for entry in [entry for entry in self.agenda if entry[0] == self.now]:
            self.agenda.remove(entry)
            self.fall_due(entry[1])
            self.notice()

    def settle(self) -> None:
        for _ in range(SETTLING_ROUNDS):
            if not self.settling_round():
                return
        self.findings.append({"check": "never settles", "tick": 0})

    def settling_round(self) -> bool:
        """One round; True where a part changed."""
        changed = False
        for kind in CHANGING:
            for cell in self.all_of(kind):
                self.work_out_levels()
                wants = self.wanted(cell)
                if not self.latched(cell) and wants != self.state[cell]:
                    self.state[cell] = wants
                    changed = True
        return changed

    # ---- items

    def slot_for(self, container: Cell, kind: str, way: str) -> int | None:
        """The slot that takes an item of that kind, entering from "above" or from a "side"; None: it is refused."""
        slots = self.slots[container]
        allowed = list(range(len(slots)))
        if self.kind(container) == "furnace" and way == "above":
            allowed = [FEED]
        elif self.kind(container) == "furnace":
            allowed = [FUEL] if self.burn(kind) > 0 else []
        for number in allowed:
            slot = slots[number]
            if slot is None or (slot[0] == kind and slot[1] < self.limit(kind)):
                return number
        return None

    def put(self, container: Cell, number: int, kind: str) -> None:
        slot = self.slots[container][number]
        self.slots[container][number] = [kind, 1 if slot is None else slot[1] + 1]
        self.last_change = self.now

    def take(self, container: Cell, number: int) -> None:
        slot = self.slots[container][number]
        assert slot is not None
        self.slots[container][number] = [slot[0], slot[1] - 1] if slot[1] > 1 else None
        self.last_change = self.now

    def enter(self, container: Cell, number: int, kind: str) -> None:
        """Put, and count the item for each stream of its kind that has the container among its outputs.

        Reading: a load that is put into a bin that is an output enters it too.
        """
        self.put(container, number, kind)
        for number_of_stream, stream in enumerate(self.streams):
            for place, output in enumerate(stream["outputs"]):
                if stream["item"] == kind and tuple(output) == container:
                    self.delivered[number_of_stream][place] += 1
                    self.arrivals[number_of_stream].append(self.now)
                    self.places[number_of_stream].append(place)

    def possible_push(self, n: Cell) -> tuple[int, Cell, int, str] | None:
        """(slot of the node, target, slot of the target, kind) of the push that node n would make now."""
        outlet = self.parts[n]["outlet"]
        target = beside(n, outlet)
        if self.kind(target) not in CONTAINERS:
            return None
        for number, slot in enumerate(self.slots[n]):
            if slot is not None:
                place = self.slot_for(target, slot[0], "above" if outlet == "D" else "side")
                if place is not None:
                    return (number, target, place, slot[0])
        return None

    def is_full(self, n: Cell) -> bool:
        return all(slot is not None and slot[1] >= self.limit(slot[0]) for slot in self.slots[n])

    def possible_pull(self, n: Cell) -> tuple[int, Cell, int, str] | None:
        """(slot of the source, source, slot of the node, kind) of the pull that node n would make now."""
        source = beside(n, "U")
        if self.kind(source) not in CONTAINERS or self.is_full(n):
            return None
        for number, slot in enumerate(self.slots[source]):
            if slot is None or (self.kind(source) == "furnace" and number != PRODUCT):
                continue
            place = self.slot_for(n, slot[0], "above")
            if place is not None:
                return (number, source, place, slot[0])
        return None

    def node_turn(self, n: Cell) -> bool:
        """True where something moved."""
        if self.now < self.ready[n] or self.locked(n):
            return False
        moved = False
        push = self.possible_push(n)
        if push is not None:
            number, target, place, kind = push
            was_empty = all(slot is None for slot in self.slots[target])
            self.take(n, number)
            self.enter(target, place, kind)
            if self.kind(target) == "node" and was_empty:
                self.ready[target] = self.now + self.rules["handover"]
            moved = True
        pull = self.possible_pull(n)
        if pull is not None:
            number, source, place, kind = pull
            self.take(source, number)
            self.enter(n, place, kind)
            moved = True
        if moved:
            self.ready[n] = self.now + self.rules["period"]
        return moved

    def product_of_feed(self, furnace: Cell) -> str | None:
        """What the feed item fires to, if it fires and the product slot has room for that; else None."""
        feed, _, product = self.slots[furnace]
        if feed is None:
            return None
        fires_to = self.items.get(feed[0], {}).get("fires_to")
        if fires_to is None:
            return None
        has_room = product is None or (product[0] == fires_to and product[1] < self.limit(fires_to))
        return fires_to if has_room else None

    def burn_of_fuel(self, furnace: Cell) -> int:
        """Ticks that one item of the fuel slot burns; 0 where there is none, or one that does not burn."""
        fuel = self.slots[furnace][FUEL]
        return 0 if fuel is None else self.burn(fuel[0])

    def furnace_turn(self, furnace: Cell) -> bool:
        """True where the contents changed."""
        moved = False
        if self.fire[furnace] > 0:
            self.fire[furnace] -= 1
        product = self.product_of_feed(furnace)
        if self.fire[furnace] == 0 and product is not None and self.burn_of_fuel(furnace) > 0:
            self.fire[furnace] = self.burn_of_fuel(furnace)
            self.take(furnace, FUEL)
            moved = True
        if self.fire[furnace] == 0:
            self.progress[furnace] = max(0, self.progress[furnace] - RETREAT)
        elif product is None:
            self.progress[furnace] = 0
        else:
            self.progress[furnace] += 1
            if self.progress[furnace] >= self.rules["firing"]:
                self.progress[furnace] = 0
                self.take(furnace, FEED)
                self.put(furnace, PRODUCT, product)
                moved = True
        return moved

    def machine_phase(self) -> None:
        for cell in self.order:
            moved = self.node_turn(cell) if self.kind(cell) == "node" else self.furnace_turn(cell)
            if moved:
                self.notice()

    def tick(self) -> None:
        self.now += 1
        self.signal_phase()
        self.machine_phase()

    # ---- load

    def put_in(self, number_of_stream: int) -> None:
        """One item of the stream into its source."""
        stream = self.streams[number_of_stream]
        source = tuple(stream["source"])
        place = self.slot_for(source, stream["item"], "above")
        if place is None:
            raise ValueError(f"load {stream['name']}: the bin at {key(source)} can't hold it")
        self.enter(source, place, stream["item"])
        self.to_come[number_of_stream] -= 1

    def put_in_everything(self) -> None:
        """All loads at once; noticed once. Reading: stream by stream where several share a bin."""
        for number in range(len(self.streams)):
            while self.to_come[number] > 0:
                self.put_in(number)
        self.notice()

    def put_in_one_each(self) -> None:
        """One item of each stream that has any to come; noticed once."""
        for number in range(len(self.streams)):
            if self.to_come[number] > 0:
                self.put_in(number)
        self.notice()

    # ---- rest and report

    def would_change(self, cell: Cell) -> bool:
        """The pending change of a part would change it if it fell due now."""
        if self.kind(cell) != "relay":
            return self.wanted(cell) != self.state[cell]
        return not self.latched(cell) and (self.state[cell] == 0 or not self.wanted(cell))

    def can_move(self, n: Cell) -> bool:
        """A node can move at some later tick if nothing else happens before."""
        return not self.locked(n) and (self.possible_push(n) is not None or self.possible_pull(n) is not None)

    def will_fire(self, furnace: Cell) -> bool:
        """The furnace will finish an item or consume fuel if nothing else happens before.

        The fire burns down first in a turn, so a fire of f ticks without fuel behind it gives f - 1 more steps.
        """
        if self.product_of_feed(furnace) is None:
            return False
        if self.burn_of_fuel(furnace) > 0:
            return True
        steps = max(0, self.fire[furnace] - 1)
        return steps > 0 and self.progress[furnace] + steps >= self.rules["firing"]

    def at_rest(self) -> bool:
        if any(self.to_come):
            return False
        if any(self.would_change(cell) for _, cell in self.agenda):
            return False
        if any(self.can_move(n) for n in self.all_of("node")):
            return False
        return not any(self.will_fire(furnace) for furnace in self.all_of("furnace"))

    def held(self, kind: str) -> int:
        """Items of a kind in nodes."""
        return sum(
            slot[1] for n in self.all_of("node") for slot in self.slots[n] if slot is not None and slot[0] == kind
        )

    def contents(self) -> Document:
        return {
            key(cell): [None if slot is None else list(slot) for slot in slots] for cell, slots in self.slots.items()
        }

    def signals(self) -> dict[str, int]:
        shown = {}
        for cell in self.parts:
            if cell in self.level:
                shown[key(cell)] = self.level[cell]
            elif cell in self.state:
                shown[key(cell)] = self.state[cell]
        return shown

    def locked_nodes(self) -> list[str]:
        """In file order."""
        return [key(n) for n in self.all_of("node") if self.locked(n)]

    def stream_report(self, number: int) -> Document:
        delivered, arrivals = self.delivered[number], self.arrivals[number]
        return {
            "name": self.streams[number]["name"],
            "delivered": list(delivered),
            "spread": max(delivered) - min(delivered),
            "held_at_start": self.held_at_start[number],
            "held": self.held(self.streams[number]["item"]),
            "first_arrival": min(arrivals) if arrivals else None,
            "last_arrival": max(arrivals) if arrivals else None,
            "jain": self.jain(delivered),
            **self.largest_lag(number),
        }

    def jain(self, delivered: list[int]) -> float:
        """(sum)^2 / (n * sum of squares); 1 when there is nothing to share (issue 4, 5)."""
        squares = sum(count * count for count in delivered)
        return sum(delivered) ** 2 / (len(delivered) * squares) if squares else 1.0

    def largest_lag(self, number: int) -> Document:
        """Largest spread at the end of any tick, and the first tick that has it, tick after tick from the start."""
        counts = [0] * len(self.delivered[number])
        largest, first = 0, None
        for tick in range(self.now + 1):
            for arrival, place in zip(self.arrivals[number], self.places[number], strict=True):
                if arrival == tick:
                    counts[place] += 1
            if max(counts) - min(counts) > largest:
                largest, first = max(counts) - min(counts), tick
        return {"largest_lag": largest, "largest_lag_tick": first}

    def report(self, tick: int, at_rest: bool) -> Document:
        return {
            "format": "splitwright-trial/1",
            "tick": tick,
            "at_rest": at_rest,
            "streams": [self.stream_report(number) for number in range(len(self.streams))],
            "contents": self.contents(),
            "signals": self.signals(),
            "locked": self.locked_nodes(),
            "findings": [dict(finding) for finding in self.findings],
        }

    def snapshot(self) -> tuple[Document, dict[str, int], list[str]]:
        return (self.contents(), self.signals(), self.locked_nodes())


def set_loads(world: World, loads: dict[str, int] | None) -> None:
    """Note what is to be put in: 18 an output where a stream is not named."""
    named = dict(loads or {})
    for number, stream in enumerate(world.streams):
        world.to_come[number] = named.pop(stream["name"], LOAD_AN_OUTPUT * len(stream["outputs"]))
        if world.to_come[number] < 0:
            raise ValueError(f"load {stream['name']}: below 0")
    if named:
        raise ValueError(f"load {next(iter(named))}: no such stream")


def play(
    world: World,
    loads: dict[str, int] | None = None,
    every: int | None = None,
    ticks: int | None = None,
    max_ticks: int = 20000,
    trace: bool = False,
) -> Document:
    """Settle, put the load in, and run; the document that `run` returns."""
    if every is not None and every < 1:
        raise ValueError("every: below 1")
    set_loads(world, loads)
    world.settle()
    if every is None:
        world.put_in_everything()
    else:
        world.put_in_one_each()
    seen = [world.snapshot()] if trace else []
    last = max_ticks if ticks is None else ticks
    while world.now < last and (ticks is not None or not world.at_rest()):
        world.tick()
        if every is not None and any(world.to_come) and world.now % every == 0 and world.now < last:
            world.put_in_one_each()
        if trace:
            seen.append(world.snapshot())
    at_rest = world.at_rest()
    document = world.report(world.last_change if at_rest and ticks is None else world.now, at_rest)
    if trace:
        document["trace"] = seen
    return document


def run(
    layout: Document,
    loads: dict[str, int] | None = None,
    every: int | None = None,
    ticks: int | None = None,
    order: list[Cell] | None = None,
    handover: int | None = None,
    max_ticks: int = 20000,
    trace: bool = False,
) -> Document:
    """The document of `trial --json` for a layout document.

    `loads`: items by stream name, 18 an output where one is not named. `every`: one item of each stream before tick 1
    and one after each `every` ticks, instead of all at once. `ticks`: run exactly so many, else to rest or `max_ticks`.
    `order`: all nodes and furnaces, the update order. With `trace` the document has under "trace" one entry for tick 0
    and one for each tick that was run: (contents, signals, locked), each taken after the load that is put in after it.
    Raises ValueError where a load cannot be put in, or where an argument is wrong.
    """
    return play(World(layout, order, handover), loads, every, ticks, max_ticks, trace)
