"""What a search has found so far: each layout once, told when it is better in something, nothing once it is closed."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import REPOSITORY
from known_builds import made_up, smallest
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.model.images import TURNS, canonical_key, images, turned
from synth.read.spec_file import load_spec
from synth.search.board import Board
from synth.search.front import best_ones, profile

ORDER = ("volume", "parts", "latency")
BOTH = (8, 7)


@cache
def real() -> Proposal:
    build = smallest(2)
    spec = replace(load_spec(REPOSITORY / "specs" / "two-kilns.toml"), scheme="burst row")
    return Judge(spec, BOTH).as_it_is(build.layout)


def proposal(number: int, **changes: Any) -> Proposal:
    """One of several that are no images of each other; its figures, and what else is said of it, as given."""
    measures = {name: changes.pop(name) for name in list(changes) if hasattr(real().measures, name)}
    layout = made_up(width=number + 2).layout
    return replace(real(), layout=layout, measures=replace(real().measures, **measures), **changes)


def board(told: list[Proposal] | None = None) -> Board:
    return Board(ORDER, (told if told is not None else []).append)


# -- each once --------------------------------------------------------------------------------------------------------


def test_an_image_of_a_layout_is_the_same_layout() -> None:
    found: list[Proposal] = []
    on = board(found)
    for image in images(real().layout):
        on.put(replace(real(), layout=image))
    assert len(on) == 1
    assert [one.layout for one in on.all()] == [one.layout for one in found] == [turned(real().layout, TURNS[0])]


def test_an_image_that_works_under_more_handovers_takes_its_place() -> None:
    """The update order turns with a layout, and the delays of a row may just do in one of them."""
    on = board()
    narrow = replace(real().measures, handovers=(8,))
    first, second = list(images(real().layout))[:2]
    on.put(replace(real(), layout=first, measures=narrow))
    assert on.best("burst row", BOTH) is None
    on.put(replace(real(), layout=second))
    on.put(replace(real(), layout=first, measures=narrow))
    assert [one.layout for one in on.all()] == [second]
    assert on.best("burst row", BOTH) is not None


def test_another_layout_of_the_same_figures_is_kept_but_not_listed() -> None:
    found: list[Proposal] = []
    on = board(found)
    one, other = proposal(1), proposal(2)
    on.put(one)
    on.put(other)
    assert on.all() == [one, other]
    assert on.front() == [one]
    assert found == [one], "the second is better in nothing"


# -- told as they come ------------------------------------------------------------------------------------------------

few = st.integers(0, 2)
put_down = st.lists(st.tuples(few, few, few, st.sampled_from(["burst", "stream"])), max_size=10)


def numbered(figures: list[tuple[int, int, int, str]]) -> list[Proposal]:
    return [
        proposal(number, volume=volume, parts=parts, latency=latency, even_for=even_for)
        for number, (volume, parts, latency, even_for) in enumerate(figures)
    ]


@given(put_down)
def test_told_is_what_is_on_the_front_when_it_comes(figures: list[tuple[int, int, int, str]]) -> None:
    told: list[Proposal] = []
    on, so_far = board(told), list[Proposal]()
    for one in numbered(figures):
        better = not any(
            all(a <= b for a, b in zip(profile(other, ORDER), profile(one, ORDER), strict=True)) for other in so_far
        )
        before = len(told)
        on.put(one)
        so_far.append(one)
        assert told[before:] == [one] * better
    assert {canonical_key(one.layout) for one in on.all()} == {canonical_key(one.layout) for one in so_far}
    assert on.front() == best_ones(so_far, ORDER)
    assert all(one in told for one in on.front()), "whatever is listed was told"


@given(put_down)
def test_all_come_best_first(figures: list[tuple[int, int, int, str]]) -> None:
    on = board()
    for one in numbered(figures):
        on.put(one)
    found = [profile(one, ORDER) for one in on.all()]
    assert found == sorted(found)
    if figures:
        assert on.front()[0] == on.all()[0]


def test_what_the_user_gave_is_not_told() -> None:
    told: list[Proposal] = []
    on = board(told)
    on.put(proposal(1), told=False)
    assert (len(on), told) == (1, [])
    on.put(proposal(2, volume=1))
    assert len(told) == 1


def test_two_at_once_lose_nothing_and_are_told_of_one_at_a_time() -> None:
    """Two threads put layouts down, each in turn better than what is there."""
    inside, most, told = 0, 0, list[Proposal]()

    def found(one: Proposal) -> None:
        nonlocal inside, most
        inside += 1
        most = max(most, inside)
        told.append(one)
        inside -= 1

    on = Board(ORDER, found)
    ready = threading.Barrier(2)

    def work(parity: int) -> None:
        ready.wait()
        for number in range(20):
            which = 2 * number + parity
            on.put(proposal(which, volume=100 - number, parts=number if parity else 100 - number))

    threads = [threading.Thread(target=work, args=(parity,)) for parity in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == 1
    assert len(on) == 40
    assert len({id(one) for one in told}) == len(told)
    assert all(any(one is other for other in told) for one in on.front())


# -- the best of a scheme ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scheme", "handovers", "best"),
    [("burst row", (8,), 1), ("burst row", BOTH, 2), ("muster row", BOTH, 3), ("brimmed row", (8,), None)],
)
def test_the_best_one_that_works_under_all_of_the_handovers(
    scheme: str, handovers: tuple[int, ...], best: int | None
) -> None:
    """Of those that claims are about."""
    on = board()
    found = {
        1: proposal(1, volume=10, handovers=(8,), scheme="burst row"),
        2: proposal(2, volume=20, handovers=BOTH, scheme="burst row"),
        3: proposal(3, volume=5, handovers=BOTH, scheme="muster row"),
        4: proposal(4, volume=30, handovers=BOTH, scheme="burst row"),
        5: proposal(5, volume=1, handovers=BOTH, scheme="burst row", in_scope=False),
    }
    for one in found.values():
        on.put(one)
    assert on.best(scheme, handovers) is (None if best is None else found[best])


# -- the end ----------------------------------------------------------------------------------------------------------


def test_nothing_is_taken_or_told_once_it_is_closed() -> None:
    told: list[Proposal] = []
    on = board(told)
    on.put(proposal(1))
    assert not on.is_closed
    on.close()
    on.put(proposal(2, volume=1))
    assert on.is_closed
    assert (len(on), len(told)) == (1, 1)
    assert on.front() == told
