"""Wings joined to a hall: one after the other along each side, the second side mirrored, product bins between.

South side: wings as they are, the fuel rows toward the middle. North side: their mirror images. Wings that stand at
the same place along the hall are levelled where the product leaves them: they share a bin, with a line from each side;
where there are to be fewer bins, product nodes along the lane between the sides lead to them.

Close wings stand in one line, two and two with their tails together, the second turned by half a circle, so that what
stands in the last columns of the two does not meet; between them is the product bin of both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from sim.world.geometry import Cell, step
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Finish, Node, Part
from sim.world.rulebook import Rules
from synth.ask.spec import Face
from synth.hall.wing import Place, Wing
from synth.model.decode import reading_order
from synth.model.images import TURNS, Turn
from synth.search.known.joined import Front

AS_IT_IS: Turn = TURNS[0]
MIRRORED: Turn = TURNS[5]
"""North and south change places."""
TURNED: Turn = TURNS[2]
"""By half a circle."""
SIDES = ("south", "north")
ENDS = ("west", "east")


@dataclass(frozen=True, slots=True)
class Gaps:
    """Free columns between wings of one side; free lanes between the sides (at least one, for the product bins)."""

    columns: int = 0
    lanes: int = 1


@dataclass(frozen=True, slots=True)
class Joined:
    """Wings in their places. ``width``, ``depth`` of the hall. ``collectors``: nodes that lead from where wings hand
    out their product to a bin that stands elsewhere. ``fronts``: the splits that feed all wings from one bin, by the
    face that they serve (a face that is not there: each wing has a source bin of its own)."""

    places: tuple[Place, ...]
    width: int
    depth: int
    product_bins: tuple[Cell, ...]
    collectors: tuple[Node, ...] = ()
    fronts: Mapping[Face, Front] = field(default_factory=dict)

    @property
    def size(self) -> tuple[int, int, int]:
        """Width, depth, height."""
        return self.width, self.depth, max(place.wing.height for place in self.places)

    def bins(self, face: Face) -> list[Cell]:
        """The source bin of each wing for that face."""
        return [place.cell(place.wing.source(face)) for place in self.places]

    def parts(self, product_finish: Finish = "plain") -> list[Part]:
        """Every part, in reading order."""
        found: list[Part] = [*(Bin(cell, product_finish) for cell in self.product_bins), *self.collectors]
        for place in self.places:
            found += place.parts()
        for front in self.fronts.values():
            found += front.parts
        return sorted(found, key=lambda part: reading_order(part.at))

    def streams(self, face: Face, name: str, item: str) -> Iterator[Stream]:
        """The stream into that face of each wing, or the one into all."""
        if face in self.fronts:
            every = tuple(place.cell(cell) for place in self.places for cell in place.wing.outputs())
            yield Stream(name, item, self.fronts[face].source, every)
            return
        for place in self.places:
            outputs = tuple(map(place.cell, place.wing.outputs()))
            yield Stream(f"{name}{place.name}", item, place.cell(place.wing.source(face)), outputs)


def joined(sides: Sequence[Sequence[Wing]], gaps: Gaps, bins: int | None = None) -> Joined:
    """The wings of each side (one or two) in their places, with so many product bins (None: one at each place along the
    hall), no more than there are such places. Linear in the number of wings and the width."""
    if sides[0][0].goes_straight_on:
        return _in_line(sides, gaps)
    across = sides[0][0].depth
    low = -across[0]
    bins_at = low + across[-1] + 1
    places: list[Place] = []
    west = 0
    for column in range(max(map(len, sides))):
        wings = [side[column] for side in sides if column < len(side)]
        level = max(_before_the_exit(wing) for wing in wings)
        for number, wing in enumerate(wings):
            begin = west - wing.columns[0] + level - _before_the_exit(wing)
            name = _name(number, column, len(sides), max(map(len, sides)))
            if number == 0:
                places.append(Place(wing, AS_IT_IS, (begin, low, 0), name))
            else:
                places.append(Place(wing, MIRRORED, (begin, bins_at + gaps.lanes + across[-1], 0), name))
        west += max(level - _before_the_exit(wing) + len(wing.columns) for wing in wings) + gaps.columns
    depth = len(across) + 1 if len(sides) == 1 else 2 * len(across) + gaps.lanes
    outs = sorted({_beyond(place) for place in places})
    ends, collectors = _collected(outs, len(outs) if bins is None else min(bins, len(outs)))
    return Joined(tuple(places), west - gaps.columns, depth, tuple(ends), tuple(collectors))


def pairs_of(sides: Sequence[Sequence[Wing]]) -> list[Sequence[Wing]]:
    """Close wings two and two, one of each side where there are two; one alone is left over where they are odd."""
    wings = [wing for column in zip_longest(*sides) for wing in column if wing is not None]
    return [wings[i : i + 2] for i in range(0, len(wings), 2)]


def _in_line(sides: Sequence[Sequence[Wing]], gaps: Gaps) -> Joined:
    """Close wings in their places, ``gaps.columns`` free between any two."""
    across = sides[0][0].depth
    low = -across[0]
    places: list[Place] = []
    bins, collectors = list[Cell](), list[Node]()
    west = 0
    pairs = pairs_of(sides)
    for number, (first, *others) in enumerate(pairs):
        places.append(Place(first, AS_IT_IS, (west - first.columns[0], low, 0), _along(0, number, len(pairs), others)))
        edge = west + len(first.columns) - 1
        bins.append((edge, low, 0))
        west = edge + 1
        for second in others:
            ahead = edge + 1 + gaps.columns
            move = (ahead + second.columns[-1], low + across[0] + across[-1], 0)
            place = Place(second, TURNED, move, _along(1, number, len(pairs), others))
            places.append(place)
            _, y, z = place.cell(second.product[-1])
            collectors += (Node((x, y, z), "W") for x in range(edge + 1, ahead + 1))
            collectors.append(Node((edge, y, z), "S"))
            west = ahead + len(second.columns)
        west += gaps.columns
    return Joined(tuple(places), west - gaps.columns, len(across), tuple(bins), tuple(collectors))


def _along(side: int, pair: int, pairs: int, others: Sequence[Wing]) -> str:
    return (f"-{ENDS[side]}" if others else "") + ("" if pairs == 1 else f"-{pair + 1}")


def layout_alone(hall: Joined, rules: Rules) -> Layout:
    """A layout of it with items of its own, to be looked at by itself. No two parts may be in one cell."""
    return Layout(
        "",
        hall.size,
        {"feed": ItemKind(fires_to="product"), "fuel": ItemKind(burn=rules.firing), "product": ItemKind()},
        tuple(hall.parts()),
        (*hall.streams("top", "feed", "feed"), *hall.streams("side", "fuel", "fuel")),
    )


def _collected(outs: Sequence[Cell], bins: int) -> tuple[list[Cell], list[Node]]:
    """Bins at some of the places where product comes out, in the middle of each group, and the nodes that lead there
    from the others, along the lane between the sides."""
    ends, nodes = [], []
    for i in range(bins):
        group = outs[len(outs) * i // bins : len(outs) * (i + 1) // bins]
        end = group[len(group) // 2]
        ends.append(end)
        nodes += [Node((x, *end[1:]), "E") for x in range(group[0][0], end[0])]
        nodes += [Node((x, *end[1:]), "W") for x in range(end[0] + 1, group[-1][0] + 1)]
    return ends, nodes


def _before_the_exit(wing: Wing) -> int:
    """Columns of the wing west of the one in which the product leaves."""
    return wing.product[-1][0] - wing.columns[0]


def _beyond(place: Place) -> Cell:
    """The cell that the last product node of a wing pushes into."""
    last = place.wing.product[-1]
    return place.cell(step(last, "N"))


def _name(side: int, column: int, sides: int, columns: int) -> str:
    return ("" if sides == 1 else f"-{SIDES[side]}") + ("" if columns == 1 else f"-{column + 1}")
