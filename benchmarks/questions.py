"""Questions for the benchmarks: half written out here, half drawn from a seed; each one is a spec as TOML text."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from splitwright.words.toml_writing import toml_value

Size = tuple[int, int, int]
Cell = tuple[int, int, int]

SIDE_MOST: Final = 64
"""Longest side of a site (the published schema of specs)."""
CHARCOAL_BURNS: Final = 1600


@dataclass(frozen=True)
class Question:
    """One split. ``source``: a side of the site or a cell; ``most``: limits of parts by kind; ``rules``: overrides."""

    outputs: int
    size: Size
    even_for: str = "burst"
    leftovers: str = "deliver"
    face: str = "top"
    row: str = "any"
    blocked: tuple[Cell, ...] = ()
    source: str | Cell = "any"
    most: Mapping[str, int] = field(default_factory=dict)
    rules: Mapping[str, int] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """All that is asked, in one line; what is as usual is left out."""
        said = [f"N={self.outputs} {'x'.join(map(str, self.size))}"]
        usual = {"even_for": "burst", "leftovers": "deliver", "face": "top", "row": "any"}
        said += [getattr(self, name) for name, value in usual.items() if getattr(self, name) != value]
        said += [f"{len(self.blocked)} blocked"] * bool(self.blocked)
        said += [f"source {toml_value(self.source)}"] * (self.source != "any")
        said += [f"{kind} <= {count}" for kind, count in self.most.items()]
        said += [f"{name} {value}" for name, value in self.rules.items()]
        return ", ".join(said)

    @property
    def toml(self) -> str:
        """The spec, ready to be read by ``synth.read.spec_file``."""
        item, about = ("charcoal", {"burn": CHARCOAL_BURNS}) if self.face == "side" else ("clay", {"fires_to": "brick"})
        tables: dict[str, Any] = {
            "split": {"outputs": self.outputs, "even_for": self.even_for, "leftovers": self.leftovers, "row": self.row},
            "site": {"size": self.size, "blocked": self.blocked},
            "streams": {"feed": {"item": item, "enters": self.face, "source": self.source}},
            "items": {item: about},
            "parts": {kind: {"most": count} for kind, count in self.most.items()},
            "rules": self.rules,
        }
        lines = [f"title = {toml_value(self.name)}", *(f"{key} = {toml_value(table)}" for key, table in tables.items())]
        return "\n".join(lines) + "\n"


FIXED: Final = (
    Question(2, (4, 3, 4)),
    Question(2, (4, 3, 4), even_for="stream"),
    Question(2, (4, 3, 4), even_for="stream", leftovers="hold"),
    Question(3, (5, 3, 4)),
    Question(3, (4, 3, 4)),
    Question(3, (4, 3, 4), even_for="stream"),
    Question(3, (5, 3, 4), blocked=((0, 2, 0), (0, 2, 1))),
    Question(3, (6, 4, 4), most={"relay": 1}),
    Question(3, (5, 4, 4), face="side"),
    Question(3, (6, 4, 5), rules={"period": 10, "handover": 10}),
    Question(4, (6, 3, 4)),
    Question(4, (5, 3, 4), source="W"),
    Question(4, (6, 4, 5), even_for="stream", leftovers="hold"),
    Question(4, (6, 4, 5), rules={"gauge_delay": 1, "inverter_delay": 1}),
    Question(5, (6, 4, 4)),
    Question(5, (4, 5, 4)),
    Question(5, (7, 4, 4), face="side"),
    Question(6, (8, 4, 5), source=(0, 0, 4)),
    Question(6, (8, 4, 5), rules={"reach": 8}),
    Question(8, (9, 3, 4)),
    Question(8, (10, 4, 5)),
    Question(8, (8, 4, 4)),
    Question(8, (6, 6, 5)),
    Question(8, (9, 3, 4), even_for="stream", leftovers="hold"),
    Question(12, (14, 4, 5), row="straight"),
    Question(16, (8, 8, 5)),
    Question(16, (18, 4, 5), leftovers="hold"),
    Question(24, (26, 4, 5), face="side"),
    Question(32, (34, 5, 5), leftovers="hold"),
    Question(64, (64, 6, 6)),
)
"""Tight, roomy, square and long sites; rows of 2 to 64; each setting that a spec has somewhere."""

SHAPES: Final[Mapping[str, Callable[[int], Size]]] = {
    "tight": lambda n: (n + 1, 3, 4),
    "roomy": lambda n: (n + 3, 6, 6),
    "square": lambda n: (math.isqrt(3 * n + 2) + 1, math.isqrt(3 * n + 2) + 1, 5),
    "long": lambda n: (2 * n + 2, 3, 5),
}
"""Sites for a row of N: as wide as a straight row; with cells to spare; three cells of ground a node; a long strip."""
RULES: Final[tuple[Mapping[str, int], ...]] = (
    {"period": 10, "handover": 10},
    {"period": 12, "handover": 12},
    {"reach": 8},
    {"reach": 24},
    {"gauge_delay": 1},
    {"inverter_delay": 1},
    {"relay_step": 1},
)


def questions(seed: int) -> tuple[Question, ...]:
    """The fixed ones, then as many drawn from the seed."""
    return FIXED + drawn(seed, len(FIXED))


def drawn(seed: int, count: int) -> tuple[Question, ...]:
    """So many different questions drawn from the seed, always the same ones."""
    rng = random.Random(seed)
    found: dict[str, Question] = {}
    while len(found) < count:
        question = _drawn(rng)
        found.setdefault(question.name, question)
    return tuple(found.values())


def _drawn(rng: random.Random) -> Question:
    """Rows of 2 to 64 outputs, short ones more often; in every other question something is out of the ordinary."""
    outputs = round(2 ** rng.triangular(1, 6, 2))
    width, depth, height = SHAPES[rng.choice(list(SHAPES))](outputs)
    size = min(max(width, 4), SIDE_MOST), depth, height
    extras: list[dict[str, Any]] = [
        {"blocked": _post(rng, size)},
        {"source": rng.choice([*"EWNSU", (0, 0, height - 1)])},
        {"most": rng.choice([{"relay": outputs // 4 + 1}, {"inverter": outputs + 2}, {"gauge": outputs + 1}])},
        {"rules": rng.choice(RULES)},
    ]
    return Question(
        outputs,
        size,
        even_for=rng.choice(["burst", "burst", "burst", "stream"]),
        leftovers=rng.choice(["deliver", "deliver", "hold"]),
        face=rng.choice(["top", "top", "side"]),
        **(rng.choice(extras) if rng.random() < 0.5 else {}),
    )


def _post(rng: random.Random, size: Size) -> tuple[Cell, ...]:
    """A post in a corner, two cells high."""
    x, y = (rng.choice([0, side - 1]) for side in size[:2])
    return (x, y, 0), (x, y, 1)
