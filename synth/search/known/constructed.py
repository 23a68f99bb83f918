"""Builds that are made on demand, by construction, as a store of known builds (``build.Store``)."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence

from sim.world.layout import Layout
from synth.ask.spec import Face
from synth.search.known.build import KnownBuild, KnownClaim, KnownFailure, at_origin


class Constructed(ABC):
    """They come in all lengths that there are, so none is made longer; there are no claims about them."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self._made: dict[tuple[str, Face, int], Sequence[KnownBuild]] = {}

    @abstractmethod
    def made(self, scheme: str, face: Face, outputs: int) -> Iterator[tuple[str, Layout]]:
        """Layouts of so many outputs, each with a line on how it was made."""

    def builds(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownBuild]:
        """All shapes that there are, made when they are first asked for."""
        key = scheme, face, outputs
        if key not in self._made:
            made = self.made(*key)
            self._made[key] = [KnownBuild(at_origin(one), *key, handovers=(), how=how, laws="") for how, one in made]
        return self._made[key]

    def stretchable(self, scheme: str, face: Face) -> Sequence[KnownBuild]:
        """None."""
        return ()

    def claims(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownClaim]:
        """None."""
        return ()

    def failures(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownFailure]:
        """None."""
        return ()
