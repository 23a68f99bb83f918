"""The signal field at one instant: strong, energised, level, locked (rulebook section 4, "Definitions").

The field follows from the outputs of the signal parts. Setting one output works out again only what it can reach:
the solids and line nets that it feeds, then what those energise, point into or lock.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.world.signals.wiring import Wiring


class Field:
    """Levels for given outputs of the signal parts; all arrays follow the numbering of ``wiring``.

    ``out[p]``: what part p delivers: a gauge's level, the full level for a relay that is on or a lit inverter, else 0.
    """

    def __init__(self, wiring: Wiring, reach: int) -> None:
        self.wiring = wiring
        self.reach = reach
        self.out = [0] * len(wiring.parts)
        self.strong = [0] * len(wiring.solids)
        self.energised = [False] * len(wiring.solids)
        self.level = [0] * len(wiring.lines)
        self.locked = [False] * len(wiring.nodes)
        self._net_of, self._nets = line_nets(wiring)

    def set_out(self, part: int, value: int) -> set[int]:
        """Let ``part`` deliver ``value``; returns the signal parts that read something that changed (``part`` too).

        Time: linear in the line nets and solids reached.
        """
        w = self.wiring
        touched = {part}
        if value == self.out[part]:
            return touched
        self.out[part] = value
        touched.update(w.readers_of_part[part])
        solids, nodes = set(w.strong_into[part]), set(w.nodes_of_part[part])
        nets = {self._net_of[line] for line in w.feeds_lines[part]}
        for solid in w.strong_into[part]:
            strong = self.strong_of(solid)
            if strong != self.strong[solid]:
                self.strong[solid] = strong
                nets.update(self._net_of[line] for line in w.lines_of_solid[solid])
        for net in nets:
            for line in self._relevel(self._nets[net]):
                touched.update(w.readers_of_line[line])
                solids.update(w.weak_into[line])
                nodes.update(w.nodes_of_line[line])
        for solid in solids:
            energised = self.energised_of(solid)
            if energised != self.energised[solid]:
                self.energised[solid] = energised
                touched.update(w.readers_of_solid[solid])
                nodes.update(w.nodes_of_solid[solid])
        for node in nodes:
            self.locked[node] = self.locked_of(node)
        return touched

    def strong_of(self, solid: int) -> int:
        """strong(q): the largest output delivered straight into the solid."""
        return max((self.out[part] for part in self.wiring.strong_sources[solid]), default=0)

    def weak_of(self, solid: int) -> int:
        """weak(q): the largest level of a line on top of the solid or pointing into it."""
        return max((self.level[line] for line in self.wiring.weak_sources[solid]), default=0)

    def energised_of(self, solid: int) -> bool:
        """energised(q): strong(q) or weak(q) above 0."""
        return self.strong[solid] > 0 or self.weak_of(solid) > 0

    def fed_level_of(self, line: int) -> int:
        """What a line is fed other than by its links: parts that deliver into it, strong levels beside it."""
        w = self.wiring
        parts = max((self.out[part] for part in w.line_sources[line]), default=0)
        return max(parts, max((self.strong[solid] for solid in w.solids_of_line[line]), default=0))

    def locked_of(self, node: int) -> bool:
        """locked(n): an energised neighbour, a part that delivers into the node, or a line that points into it."""
        w = self.wiring
        return (
            any(self.energised[solid] for solid in w.solids_of_node[node])
            or any(self.out[part] for part in w.parts_of_node[node])
            or any(self.level[line] for line in w.lines_of_node[node])
        )

    def _relevel(self, net: tuple[int, ...]) -> list[int]:
        """The least solution of level(p) on one net of lines; returns the lines whose level changed.

        Levels fall by one a link, so a sweep from the highest level down meets each line once (Dial's shortest-path
        buckets, 1969). Time: linear in the net.
        """
        new = {line: self.fed_level_of(line) for line in net}
        buckets: list[list[int]] = [[] for _ in range(self.reach + 1)]
        for line, level in new.items():
            buckets[level].append(line)
        for level in range(self.reach, 1, -1):
            for line in buckets[level]:
                if new[line] == level:
                    for other in self.wiring.linked_from[line]:
                        if new[other] < level - 1:
                            new[other] = level - 1
                            buckets[level - 1].append(other)
        changed = [line for line in net if new[line] != self.level[line]]
        for line in changed:
            self.level[line] = new[line]
        return changed


def line_nets(wiring: Wiring) -> tuple[list[int], list[tuple[int, ...]]]:
    """Lines grouped by links: the net of each line, and the lines of each net."""
    net_of = [-1] * len(wiring.lines)
    nets: list[tuple[int, ...]] = []
    for start in range(len(wiring.lines)):
        if net_of[start] < 0:
            nets.append(_spread(start, len(nets), net_of, wiring))
    return net_of, nets


def _spread(start: int, number: int, net_of: list[int], wiring: Wiring) -> tuple[int, ...]:
    net_of[start] = number
    members = [start]
    for line in members:
        around: Iterable[int] = (*wiring.linked[line], *wiring.linked_from[line])
        for other in around:
            if net_of[other] < 0:
                net_of[other] = number
                members.append(other)
    return tuple(members)
