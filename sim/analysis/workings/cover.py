"""The fewest products that make up a truth table, in the way of Quine and McCluskey (Quine 1952, McCluskey 1956; from
memory), for variables of any number of values.

A product is a box: for each variable a range of neighbouring values. Prime products are the boxes of the table that no
range of which can grow; a cover by the fewest of them is looked for depth first, one more product allowed each time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

PRODUCTS_MOST: Final = 6
"""Products of a cover; longer conditions help no reader."""
BOXES_MOST: Final = 30_000
"""Boxes of a table that are looked at."""
Span = tuple[int, int]
"""The first and the last value of a range."""
Product = tuple[Span, ...]
Bits = npt.NDArray[np.bool_]


def fewest_products(table: Bits) -> tuple[Product, ...] | None:
    """The fewest products whose union is the table, of those the ones with the fewest ranges that say anything; in
    order. None: there are more than ``PRODUCTS_MOST``, or the table is too large.

    Time: boxes of the table, then exponential in the number of products alone.
    """
    if np.prod([n * (n + 1) // 2 for n in table.shape], dtype=np.int64) > BOXES_MOST:
        return None
    primes = list(_primes(table))
    points = [tuple(map(int, point)) for point in np.argwhere(table)]
    holders = [frozenset(i for i, box in enumerate(primes) if _holds(box, point)) for point in points]
    costs = [_words(box, table.shape) for box in primes]
    for most in range(PRODUCTS_MOST + 1):
        covers = [(sum(costs[i] for i in cover), sorted(cover)) for cover in _covers(holders, most)]
        if covers:
            return tuple(primes[i] for i in sorted(min(covers)[1]))
    return None


def _primes(table: Bits) -> Iterator[Product]:
    ranges = [[(a, b) for a in range(size) for b in range(a, size)] for size in table.shape]
    for box in product(*ranges):
        if _inside(table, box) and not any(_inside(table, larger) for larger in _grown(box, table.shape)):
            yield box


def _inside(table: Bits, box: Product) -> bool:
    return bool(table[tuple(slice(a, b + 1) for a, b in box)].all())


def _grown(box: Product, shape: Sequence[int]) -> Iterator[Product]:
    """The boxes with one range longer by one value."""
    for axis, (a, b) in enumerate(box):
        if a > 0:
            yield (*box[:axis], (a - 1, b), *box[axis + 1 :])
        if b < shape[axis] - 1:
            yield (*box[:axis], (a, b + 1), *box[axis + 1 :])


def _holds(box: Product, point: Sequence[int]) -> bool:
    return all(a <= value <= b for (a, b), value in zip(box, point, strict=True))


def _words(box: Product, shape: Sequence[int]) -> int:
    """How many variables a product speaks of."""
    return sum(span != (0, size - 1) for span, size in zip(box, shape, strict=True))


def _covers(holders: list[frozenset[int]], most: int) -> Iterator[tuple[int, ...]]:
    """Every choice of at most ``most`` products that holds every point (each point lists the products that hold it)."""
    if not holders:
        yield ()
        return
    if most == 0:
        return
    hardest = min(holders, key=lambda holding: len(holding))
    for chosen in sorted(hardest):
        for rest in _covers([point for point in holders if chosen not in point], most - 1):
            yield (chosen, *rest)
