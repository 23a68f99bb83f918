"""Wings joined to a hall: one after the other along each side, the second side mirrored, product bins between.

South side: wings as they are, the fuel rows toward the middle. North side: their mirror images. Wings that stand at
the same place along the hall are levelled where the product leaves them: they share a bin, with a line from each side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.geometry import Cell, step
from sim.layout import Stream
from sim.parts import Bin, Finish, Part
from synth.decode import reading_order
from synth.hall.lanes import HEIGHT
from synth.hall.wing import Place, Wing
from synth.images import TURNS, Turn
from synth.spec import Face

AS_IT_IS: Turn = TURNS[0]
MIRRORED: Turn = TURNS[5]
"""North and south change places."""
SIDES = ("south", "north")


@dataclass(frozen=True, slots=True)
class Gaps:
    """Free columns between wings of one side; free lanes between the sides (at least one, for the product bins)."""

    columns: int = 0
    lanes: int = 1


@dataclass(frozen=True, slots=True)
class Joined:
    """Wings in their places. ``width``, ``depth`` of the hall."""

    places: tuple[Place, ...]
    width: int
    depth: int
    product_bins: tuple[Cell, ...]

    @property
    def size(self) -> tuple[int, int, int]:
        """Width, depth, height."""
        return self.width, self.depth, HEIGHT

    def parts(self, product_finish: Finish = "plain") -> list[Part]:
        """Every part, in reading order."""
        found: list[Part] = [Bin(cell, product_finish) for cell in self.product_bins]
        for place in self.places:
            found += place.parts()
        return sorted(found, key=lambda part: reading_order(part.at))

    def streams(self, face: Face, name: str, item: str) -> Iterator[Stream]:
        """The stream into that face of each wing."""
        for place in self.places:
            outputs = tuple(map(place.cell, place.wing.outputs()))
            yield Stream(f"{name}{place.name}", item, place.cell(place.wing.source(face)), outputs)


def joined(sides: Sequence[Sequence[Wing]], gaps: Gaps) -> Joined:
    """The wings of each side (one or two) in their places. Linear in the number of wings."""
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
    bins = {_bin_beyond(place): None for place in places}
    return Joined(tuple(places), west - gaps.columns, depth, tuple(bins))


def _before_the_exit(wing: Wing) -> int:
    """Columns of the wing west of the one in which the product leaves."""
    return wing.product[-1][0] - wing.columns[0]


def _bin_beyond(place: Place) -> Cell:
    """The bin that the last product node of a wing pushes into."""
    last = place.wing.product[-1]
    return place.cell(step(last, "N"))


def _name(side: int, column: int, sides: int, columns: int) -> str:
    return ("" if sides == 1 else f"-{SIDES[side]}") + ("" if columns == 1 else f"-{column + 1}")
