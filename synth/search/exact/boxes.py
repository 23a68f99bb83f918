"""The boxes of a search: what each one asks, which of its cubes are settled, and which boxes another one implies."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from synth.ask.spec import Spec
from synth.model.clauses import Lit
from synth.model.plots import Size, is_open, plots, question_for, volume
from synth.model.question import Question
from synth.schemes.scheme import Windows
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import cubes_of
from synth.search.exact.job import Report
from synth.search.exact.walks import Walk


@dataclass(slots=True)
class Place:
    """One question of a box: at one place of the site.

    ``ruled_out``: the caps under which each cube was proved to hold no layout; ``exhausted``: those under which it
    holds none but layouts that were found. ``nogoods``: clauses against those.
    """

    question: Question
    cubes: list[Walk]
    ruled_out: dict[Walk, list[Caps]] = field(default_factory=dict)
    exhausted: dict[Walk, list[Caps]] = field(default_factory=dict)
    nogoods: list[tuple[Lit, ...]] = field(default_factory=list)

    def left(self, caps: Caps, *, but_found: bool = False) -> list[Walk]:
        """The cubes that may still hold a layout within the caps (``but_found``: another one than those found)."""
        return [
            cube
            for cube in self.cubes
            if not _covered(caps, self.ruled_out.get(cube, ()))
            and not (but_found and _covered(caps, self.exhausted.get(cube, ())))
        ]

    def note(self, caps: Caps, cubes: Iterable[Walk], *, but_found: bool = False) -> None:
        """These cubes hold no layout within the caps (``but_found``: none but those found)."""
        into = self.exhausted if but_found else self.ruled_out
        for cube in cubes:
            into[cube] = [*(one for one in into.get(cube, ()) if not caps.covers(one)), caps]


def _covered(caps: Caps, known: Iterable[Caps]) -> bool:
    return any(one.covers(caps) for one in known)


@dataclass(slots=True)
class Box:
    """One size of box, at every place of the site that differs."""

    size: Size
    places: list[Place]
    seconds: float = 0.0
    admitted: int = 0
    refused: int = 0

    def left(self, caps: Caps, *, but_found: bool = False) -> int:
        """Cubes that may still hold a layout within the caps (``but_found``: another one than those found)."""
        return sum(len(place.left(caps, but_found=but_found)) for place in self.places)

    def cubes(self) -> int:
        """Cubes in all."""
        return sum(len(place.cubes) for place in self.places)

    def note(self, report: Report) -> None:
        """Count a job's effort."""
        self.seconds += report.seconds
        self.admitted += report.admitted
        self.refused += report.refused


class Boxes:
    """The boxes of one spec, made when first asked for."""

    def __init__(self, spec: Spec, within: Windows) -> None:
        self.spec, self.within = spec, within
        self._made: dict[Size, Box] = {}

    def __getitem__(self, size: Size) -> Box:
        if size not in self._made:
            questions = [question_for(self.spec, plot, self.within) for plot in plots(self.spec, size)]
            self._made[size] = Box(size, [Place(question, cubes_of(question)) for question in questions])
        return self._made[size]

    def made(self) -> Iterator[Box]:
        """Those that were asked for."""
        yield from self._made.values()

    def contains(self, outer: Size, inner: Size) -> bool:
        """Whatever fits the inner box fits the outer one: empty cells around a build change nothing."""
        if inner[2] > outer[2]:
            return False
        (w, d), (x, y) = outer[:2], inner[:2]
        return (x <= w and y <= d) or (is_open(self.spec) and y <= w and x <= d)

    def largest(self, sizes: Sequence[Size]) -> list[Size]:
        """Those that no other one contains, in their order. Time: the sizes times those."""
        kept: list[Size] = []
        for one in sorted(sizes, key=volume, reverse=True):
            if not any(self.contains(other, one) for other in kept):
                kept.append(one)
        return [one for one in sizes if one in kept]


def size_measure(name: str) -> Callable[[Size], int] | None:
    """A measure that the box alone tells; None for any other measure."""
    return {
        "volume": volume,
        "footprint": lambda size: size[0] * size[1],
        "height": lambda size: size[2],
    }.get(name)
