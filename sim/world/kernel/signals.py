"""Signals of the kernel: field, wants, latches, scheduled changes (rulebook section 4; ``sim.world.signals`` in plain
words).

Every function takes the tables ``w``, the state ``s`` and the scratch ``x``. Time of a change: linear in the line nets
and solids that it reaches.
"""

from __future__ import annotations

from sim.world.kernel.compiling import compiled
from sim.world.kernel.places import (
    CHANGED,
    CHANGED_LINES,
    COMMON_LIMIT,
    COUNT,
    DUE,
    ENERGISED,
    FEEDS_LINES,
    FIRST_SLOT,
    INPUT_LINES,
    INPUT_PARTS,
    INPUT_SOLID,
    INVERTER,
    ITEMS,
    KIND,
    LEVEL,
    LINE_SOURCES,
    LINES_OF_NET,
    LINES_OF_NODE,
    LINES_OF_SOLID,
    LINKED_FROM,
    LOCKED,
    MARKED_NETS,
    MARKED_NODES,
    MARKED_PARTS,
    MARKED_SOLIDS,
    NET_LIST,
    NET_MARK,
    NET_OF_LINE,
    NEVER,
    NEW_LEVEL,
    NEXT_DUE,
    NODE_LIST,
    NODE_MARK,
    NODES_OF_LINE,
    NODES_OF_PART,
    NODES_OF_SOLID,
    NOTHING,
    OUT,
    OVERHEAT_COUNT,
    OVERHEAT_WINDOW,
    OVERHEATED,
    PART_DELAY,
    PART_LIST,
    PART_MARK,
    PART_TYPE,
    PARTS_OF_NODE,
    PENDING,
    QUEUE,
    REACH,
    READERS_OF_LINE,
    READERS_OF_PART,
    READERS_OF_SOLID,
    READING,
    READS,
    RELAY,
    SIDE_LINES,
    SIDE_PARTS,
    SOLID_LIST,
    SOLID_MARK,
    SOLIDS_OF_LINE,
    SOLIDS_OF_NODE,
    STRONG,
    STRONG_INTO,
    STRONG_SOURCES,
    SWITCH_OFF_COUNT,
    SWITCH_OFFS,
    TICK,
    WEAK_INTO,
    WEAK_SOURCES,
    WEIGHT,
    Numbers,
)

# -- marks ------------------------------------------------------------------------------------------------------------


@compiled
def mark(w: Numbers, x: Numbers, marks: int, members: int, counter: int, one: int) -> None:
    """Put ``one`` into a list of the scratch, unless it is there."""
    if not x[w[marks] + one]:
        x[w[marks] + one] = 1
        x[w[members] + x[counter]] = one
        x[counter] += 1


@compiled
def mark_row(w: Numbers, x: Numbers, table: int, row: int, marks: int, members: int, counter: int) -> None:
    """Put all of a row of a table into a list of the scratch."""
    base = w[table] + row
    for j in range(w[base], w[base + 1]):
        mark(w, x, marks, members, counter, w[j])


# -- the field --------------------------------------------------------------------------------------------------------


@compiled
def largest(w: Numbers, s: Numbers, table: int, row: int, values: int) -> int:
    """The largest of a list of the state over a row of a table; 0 for an empty row."""
    most = 0
    base = w[table] + row
    for j in range(w[base], w[base + 1]):
        most = max(most, s[w[values] + w[j]])
    return most


@compiled
def locked_of(w: Numbers, s: Numbers, node: int) -> int:
    """locked(n)."""
    return int(
        largest(w, s, SOLIDS_OF_NODE, node, ENERGISED) > 0
        or largest(w, s, PARTS_OF_NODE, node, OUT) > 0
        or largest(w, s, LINES_OF_NODE, node, LEVEL) > 0
    )


@compiled
def relevel(w: Numbers, s: Numbers, x: Numbers, net: int) -> None:
    """The least solution of level(p) on one net; what changed stands in CHANGED_LINES."""
    new = w[NEW_LEVEL]
    base = w[LINES_OF_NET] + net
    first, behind = w[base], w[base + 1]
    top = 0
    for j in range(first, behind):
        line = w[j]
        fed = max(largest(w, s, LINE_SOURCES, line, OUT), largest(w, s, SOLIDS_OF_LINE, line, STRONG))
        x[new + line] = fed
        top = max(top, fed)
    for level in range(top, 1, -1):
        for j in range(first, behind):
            line = w[j]
            if x[new + line] == level:
                linked = w[LINKED_FROM] + line
                for k in range(w[linked], w[linked + 1]):
                    if x[new + w[k]] < level - 1:
                        x[new + w[k]] = level - 1
    x[CHANGED] = 0
    for j in range(first, behind):
        line = w[j]
        if x[new + line] != s[w[LEVEL] + line]:
            s[w[LEVEL] + line] = x[new + line]
            x[w[CHANGED_LINES] + x[CHANGED]] = line
            x[CHANGED] += 1


@compiled
def set_out(w: Numbers, s: Numbers, x: Numbers, part: int, value: int) -> None:
    """Let a part deliver ``value``; whatever reads something that changed is marked among the parts."""
    mark(w, x, PART_MARK, PART_LIST, MARKED_PARTS, part)
    if value == s[w[OUT] + part]:
        return
    s[w[OUT] + part] = value
    mark_row(w, x, READERS_OF_PART, part, PART_MARK, PART_LIST, MARKED_PARTS)
    mark_row(w, x, NODES_OF_PART, part, NODE_MARK, NODE_LIST, MARKED_NODES)
    base = w[FEEDS_LINES] + part
    for j in range(w[base], w[base + 1]):
        mark(w, x, NET_MARK, NET_LIST, MARKED_NETS, w[w[NET_OF_LINE] + w[j]])
    base = w[STRONG_INTO] + part
    for j in range(w[base], w[base + 1]):
        _strengthen(w, s, x, w[j])
    for i in range(x[MARKED_NETS]):
        net = x[w[NET_LIST] + i]
        x[w[NET_MARK] + net] = 0
        relevel(w, s, x, net)
        for k in range(x[CHANGED]):
            line = x[w[CHANGED_LINES] + k]
            mark_row(w, x, READERS_OF_LINE, line, PART_MARK, PART_LIST, MARKED_PARTS)
            mark_row(w, x, WEAK_INTO, line, SOLID_MARK, SOLID_LIST, MARKED_SOLIDS)
            mark_row(w, x, NODES_OF_LINE, line, NODE_MARK, NODE_LIST, MARKED_NODES)
    x[MARKED_NETS] = 0
    for i in range(x[MARKED_SOLIDS]):
        _energise(w, s, x, x[w[SOLID_LIST] + i])
    x[MARKED_SOLIDS] = 0
    for i in range(x[MARKED_NODES]):
        node = x[w[NODE_LIST] + i]
        x[w[NODE_MARK] + node] = 0
        s[w[LOCKED] + node] = locked_of(w, s, node)
    x[MARKED_NODES] = 0


@compiled
def _strengthen(w: Numbers, s: Numbers, x: Numbers, solid: int) -> None:
    """strong(q) afresh; the solid, and the nets beside it where it changed, are marked."""
    mark(w, x, SOLID_MARK, SOLID_LIST, MARKED_SOLIDS, solid)
    strong = largest(w, s, STRONG_SOURCES, solid, OUT)
    if strong != s[w[STRONG] + solid]:
        s[w[STRONG] + solid] = strong
        base = w[LINES_OF_SOLID] + solid
        for j in range(w[base], w[base + 1]):
            mark(w, x, NET_MARK, NET_LIST, MARKED_NETS, w[w[NET_OF_LINE] + w[j]])


@compiled
def _energise(w: Numbers, s: Numbers, x: Numbers, solid: int) -> None:
    """energised(q) afresh; what reads it or is locked by it is marked where it changed."""
    x[w[SOLID_MARK] + solid] = 0
    energised = int(s[w[STRONG] + solid] > 0 or largest(w, s, WEAK_SOURCES, solid, LEVEL) > 0)
    if energised != s[w[ENERGISED] + solid]:
        s[w[ENERGISED] + solid] = energised
        mark_row(w, x, READERS_OF_SOLID, solid, PART_MARK, PART_LIST, MARKED_PARTS)
        mark_row(w, x, NODES_OF_SOLID, solid, NODE_MARK, NODE_LIST, MARKED_NODES)


# -- wants ------------------------------------------------------------------------------------------------------------


@compiled
def fill_level(w: Numbers, s: Numbers, store: int) -> int:
    """0 if empty, else floor(1 + (full - 1) * mean of count / limit over all slots)."""
    if not s[w[ITEMS] + store]:
        return 0
    first, behind = w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1]
    weighed = 0
    for slot in range(first, behind):
        kind = s[w[KIND] + slot]
        if kind != NOTHING:
            weighed += s[w[COUNT] + slot] * w[w[WEIGHT] + kind]
    return 1 + (w[REACH] - 1) * weighed // (w[COMMON_LIMIT] * (behind - first))


@compiled
def relay_input(w: Numbers, s: Numbers, relay: int) -> int:
    """Signal behind the relay."""
    solid = w[w[INPUT_SOLID] + relay]
    return int(
        (solid >= 0 and s[w[ENERGISED] + solid] > 0)
        or largest(w, s, INPUT_LINES, relay, LEVEL) > 0
        or largest(w, s, INPUT_PARTS, relay, OUT) > 0
    )


@compiled
def is_latched(w: Numbers, s: Numbers, part: int) -> bool:
    """A relay that something on faces from a side."""
    return w[w[PART_TYPE] + part] == RELAY and largest(w, s, SIDE_PARTS, part, OUT) > 0


@compiled
def wanted(w: Numbers, s: Numbers, part: int) -> int:
    """The output that the part wants."""
    kind = w[w[PART_TYPE] + part]
    if kind == INVERTER:
        solid = w[w[INPUT_SOLID] + part]
        return 0 if solid >= 0 and s[w[ENERGISED] + solid] else w[REACH]
    if kind == RELAY:
        return w[REACH] if relay_input(w, s, part) else 0
    read = w[w[READS] + part]
    if read == NOTHING:
        return 0
    level = s[w[READING] + read]
    side = max(largest(w, s, SIDE_LINES, part, LEVEL), largest(w, s, SIDE_PARTS, part, OUT))
    return 0 if side > level else level


# -- changes in time --------------------------------------------------------------------------------------------------


@compiled
def schedule(w: Numbers, s: Numbers, part: int) -> None:
    """The part's change falls due its delay after this tick, behind all that were scheduled before."""
    due = s[TICK] + w[w[PART_DELAY] + part]
    s[w[DUE] + part] = due
    s[w[QUEUE] + s[PENDING]] = part
    s[PENDING] += 1
    s[NEXT_DUE] = min(s[NEXT_DUE], due)


@compiled
def notice_one(w: Numbers, s: Numbers, part: int) -> None:
    """A part that wants another state, has nothing pending and is not latched schedules its change."""
    if s[w[DUE] + part] == NOTHING and not is_latched(w, s, part) and wanted(w, s, part) != s[w[OUT] + part]:
        schedule(w, s, part)


@compiled
def notice_marked(w: Numbers, s: Numbers, x: Numbers) -> None:
    """All marked parts notice, in file order, and are marked no more."""
    members, count = w[PART_LIST], x[MARKED_PARTS]
    for i in range(1, count):
        part = x[members + i]
        j = i
        while j > 0 and x[members + j - 1] > part:
            x[members + j] = x[members + j - 1]
            j -= 1
        x[members + j] = part
    for i in range(count):
        part = x[members + i]
        x[w[PART_MARK] + part] = 0
        notice_one(w, s, part)
    x[MARKED_PARTS] = 0


@compiled
def run_due(w: Numbers, s: Numbers, x: Numbers) -> bool:
    """The signal phase: the changes due in this tick, in the order in which they were scheduled."""
    changed = False
    tick, queue = s[TICK], w[QUEUE]
    before = s[PENDING]
    for i in range(before):  # what is scheduled meanwhile falls due later and stands behind
        part = s[queue + i]
        if s[w[DUE] + part] == tick:
            s[w[DUE] + part] = NOTHING
            s[queue + i] = NOTHING
            if _run(w, s, x, part):
                changed = True
    kept, soonest = 0, NEVER
    for i in range(s[PENDING]):
        part = s[queue + i]
        if part != NOTHING:
            s[queue + kept] = part
            kept += 1
            soonest = min(soonest, s[w[DUE] + part])
    s[PENDING] = kept
    s[NEXT_DUE] = soonest
    return changed


@compiled
def _run(w: Numbers, s: Numbers, x: Numbers, part: int) -> bool:
    """Re-evaluate a part whose change is due, then let the others notice."""
    if is_latched(w, s, part):
        return False
    before, new = s[w[OUT] + part], wanted(w, s, part)
    if w[w[PART_TYPE] + part] == RELAY and not before:
        new = w[REACH]
        if not relay_input(w, s, part):  # a short pulse, stretched to the relay's delay
            schedule(w, s, part)
    set_out(w, s, x, part, new)
    if before and not new and w[w[PART_TYPE] + part] == INVERTER:
        record_switch_off(w, s, part)
    notice_marked(w, s, x)
    return new != before


@compiled
def record_switch_off(w: Numbers, s: Numbers, part: int) -> None:
    """Overheating: so many switch-offs within the window; the tick of the first time is kept."""
    ring, number, tick = w[OVERHEAT_COUNT], s[w[SWITCH_OFF_COUNT] + part], s[TICK]
    first = w[SWITCH_OFFS] + part * ring
    s[first + number % ring] = tick
    s[w[SWITCH_OFF_COUNT] + part] = number + 1
    oldest = s[first + (number + 1) % ring]
    if number + 1 >= ring and tick - oldest < w[OVERHEAT_WINDOW] and s[w[OVERHEATED] + part] == NOTHING:
        s[w[OVERHEATED] + part] = tick
