"""The benchmarks of answers: their questions are specs, drawn alike from the same seed; their sums are right."""

from __future__ import annotations

import statistics
import tomllib
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from benchmarks.answers import COLUMNS, SHARES, as_markdown, best_of, cells_of, further, ratio_of, shares, source_of
from benchmarks.overshoot import PAIRS, pairs, summary
from benchmarks.overshoot import figures as overshoot_figures
from benchmarks.questions import FIXED, Question, drawn, questions
from benchmarks.reporting import spread
from commands import LAYOUTS
from known_builds import LAWS, SCHEME
from sim.world.files.reading import load_layout
from sim.world.files.schema import published
from synth.confirm.judge import Judge
from synth.hall.spec_file import SCHEMA as HALL_SCHEMA
from synth.hall.spec_file import is_hall
from synth.read.spec_file import spec_from_toml
from synth.read.spec_schema import SCHEMA as SPEC_SCHEMA
from synth.search.known.atlas import Atlas, write_atlas
from synth.search.known.build import KnownBuild, at_origin
from synth.search.known.matching import placements
from synth.search.known.stretching import stretched
from synth.search.scope import required_handovers

SEEDS = range(4)
ASKED_FOR = {
    (3, (5, 3, 4)), (3, (4, 3, 4)), (4, (6, 3, 4)), (5, (6, 4, 4)), (8, (9, 3, 4)), (8, (10, 4, 5)), (8, (8, 4, 4)),
    (8, (6, 6, 5)), (16, (8, 8, 5)), (5, (4, 5, 4)),
}  # fmt: skip
"""Rows and sites that stay among the questions, so that runs of different days can be compared."""
FOUND: dict[str, Any] = {
    "outcome": "found", "seconds": 60.0, "first_s": 2.0, "source": "known build", "early": [32, 21], "last": [32, 21],
}  # fmt: skip
OPEN: dict[str, Any] = {"outcome": "open", "seconds": 60.0}
RULED_OUT: dict[str, Any] = {"outcome": "none exists", "seconds": 9.0}


def row(known: dict[str, Any], alone: dict[str, Any], name: str = "a question") -> dict[str, Any]:
    return {"question": name, "known": known, "alone": alone}


# -- questions


@pytest.mark.parametrize("seed", SEEDS)
def test_every_question_is_a_spec(seed: int) -> None:
    """The published schema as jsonschema reads it (JSON Schema 2020-12), TOML as Python's tomllib reads it."""
    validator = Draft202012Validator(published(SPEC_SCHEMA))
    for question in questions(seed):
        assert list(validator.iter_errors(tomllib.loads(question.toml))) == []
        spec = spec_from_toml(question.toml)  # cells inside the site, a scheme that serves, fuel that burns
        assert (spec.outputs, spec.size, spec.blocked) == (question.outputs, question.size, set(question.blocked))
        assert (spec.even_for, spec.leftovers, spec.row) == (question.even_for, question.leftovers, question.row)
        assert {kind: limit.most for kind, limit in spec.limits.items()} == question.most
        assert spec.overrides == question.rules
        (stream,) = spec.streams
        assert stream.enters == question.face
        assert (stream.source or "any") == question.source
        assert spec.items[stream.item].burn == (1600 if question.face == "side" else 0)


@pytest.mark.parametrize("seed", SEEDS)
def test_half_of_at_least_sixty_are_drawn(seed: int) -> None:
    every = questions(seed)
    assert len(every) >= 60
    assert every[: len(FIXED)] == FIXED
    assert len(every) == 2 * len(FIXED)
    for half in (FIXED, every[len(FIXED) :]):
        assert len({question.name for question in half}) == len(half)


def test_the_same_seed_draws_the_same() -> None:
    assert questions(7) == questions(7)
    assert drawn(7, 5) == drawn(7, 9)[:5]
    assert drawn(7, 30) != drawn(8, 30)


def test_questions_are_of_every_kind() -> None:
    assert {(one.outputs, one.size) for one in FIXED} >= ASKED_FOR
    many = list(chain.from_iterable(drawn(seed, 30) for seed in range(10)))
    assert {one.outputs for one in FIXED} >= {2, 64}
    assert all(2 <= one.outputs <= 64 for one in many)
    for every in (FIXED, many):
        assert {one.even_for for one in every} == {"burst", "stream"}
        assert {one.leftovers for one in every} == {"deliver", "hold"}
        assert {one.face for one in every} == {"top", "side"}
        assert any(one.blocked for one in every)
        assert {type(one.source) for one in every} == {str, tuple}
        assert any(one.most for one in every)
        named = set().union(*(one.rules for one in every))
        assert {"period", "reach"} <= named
        assert any(name.endswith("_delay") for name in named)


# -- figures


def test_where_a_layout_comes_from(tmp_path: Path) -> None:
    layout = at_origin(load_layout(LAYOUTS / "burst-row-of-three.plan"))
    build = KnownBuild(layout, SCHEME, "top", 3, (8, 7), "by hand", LAWS)
    write_atlas(tmp_path, [build])
    for outputs, found, told in ((3, build.layout, "known build"), (4, next(stretched(build, 4)), "other length")):
        spec = spec_from_toml(Question(outputs, found.size).toml)
        placed = next(placements(replace(build, layout=at_origin(found), outputs=outputs), spec))
        proposal = Judge(replace(spec, scheme=SCHEME), required_handovers(spec)).as_it_is(placed)
        assert source_of(proposal, spec, (Atlas(tmp_path),)) == told
        assert source_of(proposal, spec, (Atlas(tmp_path / "empty"),)) == "search"
        assert best_of([proposal], spec) == [proposal.measures.volume, len(found.parts)]
    assert best_of([], spec) is None


def test_ratios_to_the_solver_alone() -> None:
    assert ratio_of(row(FOUND, {**FOUND, "first_s": 8.0})) == (0.25, "0.25")
    assert ratio_of(row(FOUND, OPEN)) == (2 / 60, "<0.03"), "it has none by its end"
    for known, alone in ((OPEN, FOUND), (OPEN, OPEN), (RULED_OUT, RULED_OUT), (FOUND, {"outcome": "failed"})):
        assert ratio_of(row(known, alone)) is None


def test_shares_of_questions() -> None:
    rows = [row(FOUND, {**FOUND, "first_s": 15.0}), row({**FOUND, "first_s": 30.0}, OPEN), row(RULED_OUT, RULED_OUT)]
    rows.append(row(OPEN, {"outcome": "failed", "fault": "it broke down"}))
    known, alone = shares(rows)
    assert known[1:] == ["1 (25%)", "1 (25%)", "2 (50%)", "1 (25%)", "1 (25%)", "0 (0%)"]
    assert alone[1:] == ["0 (0%)", "1 (25%)", "1 (25%)", "1 (25%)", "1 (25%)", "1 (25%)"]
    assert len(known) == len(SHARES)


def test_sums_in_sentences() -> None:
    """Means and medians by Python's statistics module."""
    times = ((1.0, 4.0), (2.0, 2.0), (9.0, 3.0))
    pairs_of = [({**FOUND, "first_s": known}, {**FOUND, "first_s": alone}) for known, alone in times]
    rows = [row(*pair, name=str(number)) for number, pair in enumerate(pairs_of)]
    rows += [row({**FOUND, "source": "search", "last": [28, 20]}, {**FOUND, "last": [28, 19]}, "other")]
    rows += [row(FOUND, OPEN, "only known"), row(OPEN, FOUND, "only alone")]
    told = " ".join(further(rows))
    ratios = [0.25, 1.0, 3.0, 1.0]
    mean, most = statistics.geometric_mean(ratios), statistics.geometric_mean([*ratios, 2 / 60])
    assert "known build 4, search 1" in told
    assert f"(4 questions): geometric mean {mean:.2f}, median 1.00, from 0.25 to 3.00" in told
    assert f"(5 questions): geometric mean {most:.2f} at most" in told
    assert "searches only: 1; by the solver alone only: 1" in told
    assert "fewer parts 0; more 1; the same 3" in told
    assert all(sentence.endswith(".") for sentence in further([]))


def test_a_page_has_a_line_for_each_question() -> None:
    about = {"command": "python -m benchmarks.answers", "load": [0.5, 0.4, 0.3], "cores": 2, "python": "3.11"}
    bound = {"bound": 32, "proved": True}
    rows = [row({**FOUND, **bound}, RULED_OUT, "the first"), row({**FOUND, "early": None}, OPEN, "the second")]
    first, second = map(cells_of, rows)
    assert first == ["the first", "2.0", "known build", "32/21", "32/21", "32 proved", "none", "-", "-", "-", "-"]
    assert second[3:5] == ["-", "32/21"]
    assert len(first) == len(COLUMNS)
    page = as_markdown(about, rows)
    assert "`python -m benchmarks.answers`; load 0.5, 0.4, 0.3 at first" in page
    assert "| the first |" in page
    assert "| the second |" in page


def test_some_questions_are_spread_over_all() -> None:
    assert spread(range(10), 3) == [0, 3, 6]
    assert spread(range(3), 10) == spread(range(3), None) == [0, 1, 2]


# -- overshoot


def test_pairs_of_a_spec_and_a_limit() -> None:
    every = pairs(3)
    assert every == pairs(3)
    assert [limit for _, _, limit in every] != [limit for _, _, limit in pairs(4)]
    assert len(every) == PAIRS == 40
    assert {limit for _, _, limit in every} <= set(range(2, 21))
    for _, text, _ in every:
        document = tomllib.loads(text)
        schema = HALL_SCHEMA if is_hall(document) else SPEC_SCHEMA
        assert list(Draft202012Validator(published(schema)).iter_errors(document)) == []


def test_overshoot_is_what_is_beyond_the_limit() -> None:
    assert overshoot_figures(5.5, 5) == {"seconds": 5.5, "overshoot_s": 0.5, "in_time": True}
    assert overshoot_figures(6.25, 5) == {"seconds": 6.25, "overshoot_s": 1.25, "in_time": False}
    assert overshoot_figures(1.0, 5) == {"seconds": 1.0, "overshoot_s": 0.0, "in_time": True}
    rows = [{"spec": str(took), "limit_s": 5, "fault": "", **overshoot_figures(took, 5)} for took in (5.5, 6.25, 1.0)]
    told = " ".join(summary([*rows, {"spec": "broken", "fault": "a fault"}]))
    assert "Largest overshoot: 1.25 s (6.25, limit 5 s)" in told
    assert "2 of 3; before the limit: 1" in told
    assert "Broke down: broken: a fault" in told
