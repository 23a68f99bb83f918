"""Items of the kernel: slots, turns of nodes and furnaces (rulebook section 3; ``sim.world.items`` in plain words)."""

from __future__ import annotations

from sim.world.kernel.compiling import compiled
from sim.world.kernel.memory import Memory, notice_contents
from sim.world.kernel.places import (
    BURN,
    COUNT,
    DELIVERED,
    FEED,
    FIRE,
    FIRES_TO,
    FIRING,
    FIRST_ARRIVAL,
    FIRST_SLOT,
    FUEL,
    FURNACE,
    FURNACE_STORE,
    HANDOVER,
    IDLE,
    IS_SINK,
    ITEMS,
    KIND,
    LAST_ARRIVAL,
    LIMIT,
    MACHINES_OF_STORE,
    MARKED_READS,
    NEVER,
    NODE,
    NODE_ABOVE,
    NODE_ENTRY,
    NODE_STORE,
    NODE_TARGET,
    NOTHING,
    OUTPUT_KIND,
    OUTPUT_STREAM,
    OUTPUTS_OF_STORE,
    PERIOD,
    PRODUCT,
    PROGRESS,
    READ_LIST,
    READ_MARK,
    READ_NUMBER,
    READY,
    RETREAT,
    STORE_OWNER,
    STORE_TYPE,
    TICK,
    Numbers,
)
from sim.world.kernel.signals import mark

# -- slots ------------------------------------------------------------------------------------------------------------


@compiled
def slot_for(w: Numbers, s: Numbers, kind: int, first: int, behind: int) -> int:
    """The first slot of a range that takes an item of that kind; NOTHING if none does."""
    for slot in range(first, behind):
        held = s[w[KIND] + slot]
        if held == NOTHING or (held == kind and s[w[COUNT] + slot] < w[w[LIMIT] + kind]):
            return slot
    return NOTHING


@compiled
def put_into(w: Numbers, s: Numbers, store: int, slot: int, kind: int) -> None:
    """One more item in a slot that takes it."""
    s[w[KIND] + slot] = kind
    s[w[COUNT] + slot] += 1
    s[w[ITEMS] + store] += 1


@compiled
def take_from(w: Numbers, s: Numbers, store: int, slot: int) -> int:
    """One item out of a slot that holds something; its kind."""
    kind = s[w[KIND] + slot]
    s[w[COUNT] + slot] -= 1
    s[w[ITEMS] + store] -= 1
    if not s[w[COUNT] + slot]:
        s[w[KIND] + slot] = NOTHING
    return kind


@compiled
def put(w: Numbers, s: Numbers, store: int, kind: int) -> bool:
    """One item into the first slot of a container that takes it."""
    slot = slot_for(w, s, kind, w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1])
    if slot == NOTHING:
        return False
    put_into(w, s, store, slot, kind)
    return True


# -- contents that changed --------------------------------------------------------------------------------------------


@compiled
def touch(w: Numbers, s: Numbers, x: Numbers, store: int) -> None:
    """Contents changed: machines at the container may have something to do again; it is marked if gauges read it."""
    read = w[w[READ_NUMBER] + store]
    if read != NOTHING:
        mark(w, x, READ_MARK, READ_LIST, MARKED_READS, read)
    base = w[MACHINES_OF_STORE] + store
    for j in range(w[base], w[base + 1]):
        s[w[IDLE] + w[j]] = 0


@compiled
def count_entry(w: Numbers, s: Numbers, store: int, kind: int) -> None:
    """What has entered the outputs of the streams: numbers, first and last tick."""
    base = w[OUTPUTS_OF_STORE] + store
    for j in range(w[base], w[base + 1]):
        out = w[j]
        if w[w[OUTPUT_KIND] + out] == kind:
            stream = w[w[OUTPUT_STREAM] + out]
            s[w[DELIVERED] + out] += 1
            s[w[LAST_ARRIVAL] + stream] = s[TICK]
            if s[w[FIRST_ARRIVAL] + stream] == NOTHING:
                s[w[FIRST_ARRIVAL] + stream] = s[TICK]


# -- a node's turn ----------------------------------------------------------------------------------------------------


@compiled
def node_turn(w: Numbers, s: Numbers, x: Numbers, m: Memory, node: int) -> bool:
    """The turn of a node that is neither cooling down nor locked: push one, then pull one."""
    pushed = _push(w, s, x, node)
    pulled = _pull(w, s, x, node)
    if not (pushed or pulled):
        s[w[IDLE] + node] = 1
        return False
    s[w[READY] + node] = s[TICK] + w[PERIOD]
    touch(w, s, x, w[w[NODE_STORE] + node])
    notice_contents(w, s, x, m)
    return True


@compiled
def _push(w: Numbers, s: Numbers, x: Numbers, node: int) -> bool:
    store, target = w[w[NODE_STORE] + node], w[w[NODE_TARGET] + node]
    if target == NOTHING or not s[w[ITEMS] + store]:
        return False
    for slot in range(w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1]):
        kind = s[w[KIND] + slot]
        if kind != NOTHING and _enter(w, s, target, kind, w[w[NODE_ENTRY] + node]):
            take_from(w, s, store, slot)
            touch(w, s, x, target)
            return True
    return False


@compiled
def _pull(w: Numbers, s: Numbers, x: Numbers, node: int) -> bool:
    store, above = w[w[NODE_STORE] + node], w[w[NODE_ABOVE] + node]
    if above == NOTHING or not s[w[ITEMS] + above]:
        return False
    first, behind = w[w[FIRST_SLOT] + above], w[w[FIRST_SLOT] + above + 1]
    if w[w[STORE_TYPE] + above] == FURNACE:
        first += PRODUCT
    for slot in range(first, behind):
        kind = s[w[KIND] + slot]
        if kind != NOTHING and put(w, s, store, kind):
            take_from(w, s, above, slot)
            count_entry(w, s, store, kind)
            touch(w, s, x, above)
            return True
    return False


@compiled
def entry_slots(w: Numbers, target: int, kind: int, entry: int) -> tuple[int, int]:
    """The range of slots that an item pushed into a container may use; an empty one where it is not let in."""
    first, behind = w[w[FIRST_SLOT] + target], w[w[FIRST_SLOT] + target + 1]
    if w[w[STORE_TYPE] + target] != FURNACE:
        return first, behind
    if entry == FEED:
        return first + FEED, first + FEED + 1
    if entry == FUEL and w[w[BURN] + kind] > 0:
        return first + FUEL, first + FUEL + 1
    return first, first


@compiled
def _enter(w: Numbers, s: Numbers, target: int, kind: int, entry: int) -> bool:
    """An item pushed into a container; an empty node that takes it next moves ``handover`` ticks from now."""
    first, behind = entry_slots(w, target, kind, entry)
    if w[w[IS_SINK] + target]:
        if first < behind:
            count_entry(w, s, target, kind)
        return first < behind
    slot = slot_for(w, s, kind, first, behind)
    if slot == NOTHING:
        return False
    if w[w[STORE_TYPE] + target] == NODE and not s[w[ITEMS] + target]:
        s[w[READY] + w[w[STORE_OWNER] + target]] = s[TICK] + w[HANDOVER]
    put_into(w, s, target, slot, kind)
    count_entry(w, s, target, kind)
    return True


# -- a furnace's turn -------------------------------------------------------------------------------------------------


@compiled
def is_cold(w: Numbers, s: Numbers, furnace: int) -> bool:
    """Without fire and progress, and with nothing to burn or nothing to fire; or a sink, which never fires."""
    store = w[w[FURNACE_STORE] + furnace]
    if w[w[IS_SINK] + store]:
        return True
    first = w[w[FIRST_SLOT] + store]
    idle = s[w[KIND] + first + FUEL] == NOTHING or s[w[KIND] + first + FEED] == NOTHING
    return not s[w[FIRE] + furnace] and not s[w[PROGRESS] + furnace] and idle


@compiled
def can_fire(w: Numbers, s: Numbers, furnace: int) -> bool:
    """The feed item fires to something and the product slot has room for that."""
    first = w[w[FIRST_SLOT] + w[w[FURNACE_STORE] + furnace]]
    feed = s[w[KIND] + first + FEED]
    if feed == NOTHING or w[w[FIRES_TO] + feed] == NOTHING:
        return False
    return slot_for(w, s, w[w[FIRES_TO] + feed], first + PRODUCT, first + PRODUCT + 1) != NOTHING


@compiled
def has_fuel(w: Numbers, s: Numbers, furnace: int) -> bool:
    """The fuel slot holds something that burns."""
    fuel = s[w[KIND] + w[w[FIRST_SLOT] + w[w[FURNACE_STORE] + furnace]] + FUEL]
    return fuel != NOTHING and w[w[BURN] + fuel] > 0


@compiled
def furnace_turn(w: Numbers, s: Numbers, x: Numbers, m: Memory, furnace: int) -> bool:
    """One tick of a furnace that is not cold; True if its contents changed."""
    store = w[w[FURNACE_STORE] + furnace]
    first = w[w[FIRST_SLOT] + store]
    changed, ready = False, can_fire(w, s, furnace)
    if s[w[FIRE] + furnace]:
        s[w[FIRE] + furnace] -= 1
    if not s[w[FIRE] + furnace] and ready and has_fuel(w, s, furnace):
        s[w[FIRE] + furnace] = w[w[BURN] + take_from(w, s, store, first + FUEL)]
        changed = True
    if not s[w[FIRE] + furnace]:
        s[w[PROGRESS] + furnace] = max(0, s[w[PROGRESS] + furnace] - w[RETREAT])
    elif not ready:
        s[w[PROGRESS] + furnace] = 0
    else:
        s[w[PROGRESS] + furnace] += 1
        if s[w[PROGRESS] + furnace] >= w[FIRING]:
            put_into(w, s, store, first + PRODUCT, w[w[FIRES_TO] + take_from(w, s, store, first + FEED)])
            s[w[PROGRESS] + furnace] = 0
            changed = True
    if changed:
        touch(w, s, x, store)
        notice_contents(w, s, x, m)
    return changed


@compiled
def furnace_quiet(w: Numbers, s: Numbers, furnace: int) -> int:
    """How many turns from now change nothing but fire and progress; NEVER: all of them."""
    if is_cold(w, s, furnace) or not can_fire(w, s, furnace):
        return NEVER
    fire, fuel = s[w[FIRE] + furnace], has_fuel(w, s, furnace)
    if not fire:
        return 0 if fuel else NEVER
    until_fired, until_out = w[FIRING] - s[w[PROGRESS] + furnace] - 1, fire - 1
    if fuel:
        return min(until_fired, until_out)
    return until_fired if until_fired < until_out else NEVER


@compiled
def furnace_passes(w: Numbers, s: Numbers, furnace: int, ticks: int) -> None:
    """``ticks`` turns at once, of which none changes the contents."""
    fire = s[w[FIRE] + furnace]
    lit = min(ticks, max(0, fire - 1))
    s[w[FIRE] + furnace] = max(0, fire - ticks)
    if lit:
        s[w[PROGRESS] + furnace] = s[w[PROGRESS] + furnace] + lit if can_fire(w, s, furnace) else 0
    s[w[PROGRESS] + furnace] = max(0, s[w[PROGRESS] + furnace] - w[RETREAT] * (ticks - lit))
