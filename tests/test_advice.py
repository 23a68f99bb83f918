"""What to do next where nothing was found: builds that are named are confirmed, sites that are named hold them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from synth.answer.advice import advice, site_for, smallest, tree_sizes
from synth.ask.spec import Spec
from synth.read.spec_file import load_spec
from synth.search.known.atlas import atlas
from synth.search.known.source import KnownBuilds
from synth.search.race import first_layout, too_small_by_counting
from synth.search.request import Request
from synth.search.result import Answer

SPECS = Path(__file__).resolve().parent.parent / "specs"
EIGHT = load_spec(SPECS / "eight-kilns.toml")
REQUEST = Request(limit_s=20.0, stores=(atlas(),))


def told(spec: Spec) -> str:
    return "\n".join(advice(spec, Answer(), REQUEST, too_small_by_counting(spec)))


@pytest.mark.parametrize("size", [(3, 3, 3), (4, 4, 3), (2, 2, 9)])
def test_a_site_that_counting_rules_out(size: tuple[int, int, int]) -> None:
    spec = replace(EIGHT, size=size)
    assert too_small_by_counting(spec) is not None
    assert told(spec).startswith("Counting alone shows it: ")
    assert "--time-limit" not in told(spec), "no time helps"


def test_the_site_that_is_named_is_answered() -> None:
    spec = replace(EIGHT, size=(5, 4, 5))
    assert too_small_by_counting(spec) is None
    (named,) = re.findall(r"a site of (\d+) x (\d+) x (\d+) holds it", told(spec))
    grown = replace(spec, size=tuple(map(int, named)))
    assert first_layout(grown, REQUEST).proposals
    assert "--time-limit 80" in told(spec)


def test_the_smallest_known_build_is_confirmed_under_the_rules_of_the_spec() -> None:
    assert smallest(EIGHT, KnownBuilds((atlas(),))) is not None
    lame = replace(EIGHT, overrides={"reach": 2})
    assert smallest(lame, KnownBuilds((atlas(),))) is None, "no run of the known builds is so short"


def test_standing_kilns_are_not_told_of_a_site_that_moves_them() -> None:
    stands = tuple((x, y, 0) for y in (0, 2) for x in range(4))
    said = told(replace(EIGHT, size=(5, 4, 5), streams=(replace(EIGHT.streams[0], outputs_at=stands),)))
    assert "Where the kilns may be moved and nothing is in the way, " in said
    assert "with yours where they are: not settled (time limit 20 s)." in said
    assert "holds it" not in said


def test_a_site_grows_no_more_than_it_must() -> None:
    assert site_for((4, 9, 4), (8, 3, 5)) == (4, 9, 5), "turned"
    assert site_for((4, 3, 4), (8, 2, 4)) == (8, 3, 4)


def test_a_number_that_no_tree_has_is_told_with_those_next_to_it() -> None:
    """46 is twice 23, and no gated row has 23; 45 is three times 15, 48 three times 16. Not where none would serve."""
    plain = replace(EIGHT, outputs=46, size=(40, 30, 14), scheme=None, even_for="stream", leftovers="hold")
    assert tree_sizes(plain) == (
        "With nothing to fill in first 46 furnaces can't be had as a split tree, which has 2 or 3 or 4 rows of "
        "10 to 21; 45 or 48 can."
    )
    for other in ({"outputs": 48}, {"even_for": "burst"}, {"leftovers": "deliver"}, {"holds_most": 20}, {"outputs": 9}):
        assert tree_sizes(replace(plain, **other)) is None, other  # type: ignore[arg-type]
