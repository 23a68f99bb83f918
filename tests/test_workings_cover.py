"""The fewest products of a truth table, against sympy and against every choice of boxes."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations, product

import numpy as np
import numpy.typing as npt
import pytest
from sympy import Symbol
from sympy.logic import SOPform
from sympy.logic.boolalg import And, Boolean, Not, Or, false, true

from sim.analysis.workings.cover import PRODUCTS_MOST, Product, fewest_products

Bits = npt.NDArray[np.bool_]


def union(products: tuple[Product, ...], shape: tuple[int, ...]) -> Bits:
    table = np.zeros(shape, dtype=np.bool_)
    for box in products:
        table[tuple(slice(a, b + 1) for a, b in box)] = True
    return table


def random_table(shape: tuple[int, ...], rng: random.Random) -> Bits:
    return np.array([rng.random() < 0.5 for _ in range(int(np.prod(shape)))], dtype=np.bool_).reshape(shape)


def literals(term: Boolean) -> int:
    return len(term.args) if isinstance(term, And) else 1


def sympy_size(table: Bits) -> tuple[int, int]:
    """Products and literals of sympy's form of a table of variables of two values."""
    names = [Symbol(f"x{i}") for i in range(table.ndim)]
    form = SOPform(names, [list(map(int, point)) for point in np.argwhere(table)])
    if form is false:
        return 0, 0
    if form is true:
        return 1, 0
    terms = form.args if isinstance(form, Or) else (form,)
    assert all(isinstance(term, (And, Not, Symbol)) for term in terms)
    return len(terms), sum(map(literals, terms))


@pytest.mark.parametrize("variables", [1, 2, 3, 4, 5])
def test_never_longer_than_the_form_of_sympy(variables: int) -> None:
    """``sympy.logic.SOPform`` (its documentation: "the smallest sum-of-products form")."""
    rng, untold = random.Random(variables), 0
    for _ in range(60):
        table = random_table((2,) * variables, rng)
        size = sympy_size(table)
        found = fewest_products(table)
        if found is None:
            untold += 1
            assert size[0] > PRODUCTS_MOST
            continue
        assert np.array_equal(union(found, table.shape), table)
        words = sum(span != (0, 1) for box in found for span in box)
        assert (len(found), words) <= size
    assert untold < 60


def all_functions_of_three() -> Iterator[Bits]:
    for bits in product([False, True], repeat=8):
        yield np.array(bits, dtype=np.bool_).reshape(2, 2, 2)


def test_all_functions_of_three_variables_are_as_short_as_sympys() -> None:
    for table in all_functions_of_three():
        found = fewest_products(table)
        assert found is not None
        assert np.array_equal(union(found, table.shape), table)
        assert len(found) == sympy_size(table)[0]


def fewest_by_trying(table: Bits) -> int:
    """Every choice of boxes, few first; not only prime ones."""
    ranges = [[(a, b) for a in range(size) for b in range(a, size)] for size in table.shape]
    boxes = [box for box in product(*ranges) if table[tuple(slice(a, b + 1) for a, b in box)].all()]
    return next(
        count
        for count in range(table.size + 1)
        for chosen in combinations(boxes, count)
        if np.array_equal(union(chosen, table.shape), table)
    )


@pytest.mark.parametrize("shape", [(3, 3), (4, 2), (3, 2, 2), (5,)])
def test_with_more_values_as_few_as_trying_finds(shape: tuple[int, ...]) -> None:
    rng = random.Random(sum(shape))
    for _ in range(12):
        table = random_table(shape, rng)
        found = fewest_products(table)
        assert found is not None
        assert np.array_equal(union(found, shape), table)
        assert len(found) == fewest_by_trying(table)


def test_constants() -> None:
    assert fewest_products(np.array(False)) == ()
    assert fewest_products(np.array(True)) == ((),)
    assert fewest_products(np.zeros((2, 3), dtype=np.bool_)) == ()
    assert fewest_products(np.ones((2, 3), dtype=np.bool_)) == (((0, 1), (0, 2)),)


def test_parity_is_too_long_to_be_told() -> None:
    parity = np.indices((2, 2, 2, 2)).sum(0) % 2 == 1
    assert fewest_products(parity) is None
