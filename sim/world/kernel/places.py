"""Where everything stands in the kernel's three flat arrays of 32-bit whole numbers.

*Tables* (``w``): what never changes in a run. It starts with a header: sizes and rules as they are, and for everything
else the index at which it starts. A *list* is an array of one number for each thing of a family; a *table* gives for
each of them any number of others: ``w[w[T] + i]`` and ``w[w[T] + i + 1]`` are the first index of the row of ``i``
and the one behind its last.
*State* (``s``): all that a run changes, so that copying one array copies a world. It starts with a few numbers; where
its lists start stands in the tables' header.
*Scratch* (``x``): marks that are all clear between two changes.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

Numbers = np.ndarray[Any, np.dtype[np.int32]]
"""A flat array of 32-bit whole numbers."""

# -- header of the tables: sizes and rules ----------------------------------------
(
    PARTS, LINES, SOLIDS, NODES, STORES, SLOTS, FURNACES, MACHINES, KINDS, NETS, OUTPUTS, STREAMS,
    REACH, PERIOD, HANDOVER, FIRING, RETREAT, OVERHEAT_COUNT, OVERHEAT_WINDOW, COMMON_LIMIT,
    STATE_SIZE, SCRATCH_SIZE,
) = range(22)

# -- header: lists ----------------------------------------
(
    PART_TYPE, PART_DELAY, INPUT_SOLID, READS, NET_OF_LINE,
    FIRST_SLOT, STORE_TYPE, STORE_OWNER, IS_SINK,
    NODE_STORE, NODE_ABOVE, NODE_TARGET, NODE_ENTRY, FURNACE_STORE,
    LIMIT, WEIGHT, BURN, FIRES_TO, OUTPUT_KIND, OUTPUT_STREAM,
) = range(22, 42)

# -- header: tables (the names are those of sim.world.signals.wiring) ----------------------------------------
(
    STRONG_SOURCES, STRONG_INTO, WEAK_SOURCES, WEAK_INTO, LINE_SOURCES, FEEDS_LINES, SOLIDS_OF_LINE, LINES_OF_SOLID,
    LINKED_FROM, SOLIDS_OF_NODE, NODES_OF_SOLID, PARTS_OF_NODE, NODES_OF_PART, LINES_OF_NODE, NODES_OF_LINE,
    INPUT_LINES, INPUT_PARTS, SIDE_LINES, SIDE_PARTS, READERS_OF_SOLID, READERS_OF_LINE, READERS_OF_PART,
    GAUGES_OF_READ, MACHINES_OF_STORE, LINES_OF_NET, OUTPUTS_OF_STORE,
) = range(42, 68)

# -- header: where the lists of the state start ----------------------------------------
(
    OUT, DUE, QUEUE, STRONG, ENERGISED, LEVEL, LOCKED, KIND, COUNT, ITEMS, READY, IDLE, FIRE, PROGRESS,
    DELIVERED, FIRST_ARRIVAL, LAST_ARRIVAL, SWITCH_OFFS, SWITCH_OFF_COUNT, OVERHEATED, READING, SWITCHED_OFF,
) = range(68, 90)

# -- header: where the lists of the scratch start ----------------------------------------
(
    PART_MARK, PART_LIST, SOLID_MARK, SOLID_LIST, NET_MARK, NET_LIST, NODE_MARK, NODE_LIST, NEW_LEVEL, CHANGED_LINES,
    READ_MARK, READ_LIST,
) = range(90, 102)

# -- header: containers that gauges read, numbered of their own; inverters, numbered of their own
READ_STORES, READ_STORE, READ_NUMBER, INVERTERS, INVERTER_NUMBER, SIGNAL_SIZE = range(102, 108)
HEADER: Final = 108

# -- the numbers that a state starts with; SIGNAL and VECTOR: numbers in the memory of signal states (``memory``)
TICK, LAST_CHANGE, PENDING, NEXT_DUE, SIGNAL, VECTOR = range(6)
STATE_HEADER: Final = 6

# -- counters that the scratch starts with: how many are marked ----------------------------------------
MARKED_PARTS, MARKED_SOLIDS, MARKED_NETS, MARKED_NODES, CHANGED, MARKED_READS = range(6)
SCRATCH_HEADER: Final = 6

# -- codes ----------------------------------------
INVERTER, RELAY, GAUGE = range(3)
BIN, NODE, FURNACE = range(3)
FEED, FUEL, PRODUCT, NO_ENTRY = range(4)
NOTHING: Final = -1
NEVER: Final = 2_000_000_000
"""A tick that never comes."""
