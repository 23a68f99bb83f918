"""What ``splitwright propose`` prints: lines that any title and any file name leave whole."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from commands import REPOSITORY
from sim.world.files.reading import load_layout
from splitwright.proposing.report import claim_lines, found_line, proposal_report
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.read.spec_file import load_spec, spec_from_toml
from synth.search.result import Answer, Claim

SPEC = """title = "One\\nkiln \\u001b[31m"
[split]
outputs = 1
[site]
size = [4, 3, 4]
[streams.feed]
item = "clay"
"""


def test_titles_and_files_cannot_move_the_cursor() -> None:
    answer = Answer(scope=["rulebook: \u001b[31m"], solver="none")
    lines = proposal_report(spec_from_toml(SPEC), answer, [Path("kiln\n.json")], quiet=False, scope=True)
    assert lines[0] == (
        "One\\u000akiln \\u001b[31m: 1 furnace within 4 x 3 x 4: not found within the limit; "
        "that is no proof that none exists."
    )
    assert "Scope: rulebook: \\u001b[31m; none." in lines
    assert lines[1] == "Written: kiln\\u000a.json"
    assert all(isinstance(line, str) and line.isprintable() for line in lines)


def test_a_box_that_is_ruled_out_is_ruled_out_for_layouts_that_work_under_every_handover_named() -> None:
    """One that works under a single handover may well fit it."""
    boxes = [Claim((4, 1, 4), "none exists", 1.0, (8, 7)), Claim((3, 2, 4), "none exists", 1.0, (8, 7)),
             Claim((4, 2, 4), "none exists", 1.0, (8, 7), parts=17), Claim((4, 3, 4), "open", 1.0, (8, 7))]  # fmt: skip
    which = "that works under handover 8 and 7 alike"
    assert list(claim_lines(boxes)) == [
        f"None {which} exists (proved) in boxes of 4 x 1 x 4, 3 x 2 x 4.",
        f"Open, no proof either way, whether one {which} exists: boxes of 4 x 3 x 4; boxes that are not named were not "
        "come to.",
        f"None {which}, with at most 17 parts, exists (proved) in boxes of 4 x 2 x 4.",
    ]


def test_of_several_schemes_each_claim_names_its_own() -> None:
    claims = [Claim((4, 1, 4), "none exists", 1.0, (8,), scheme=name) for name in ("burst row", "muster row")]
    assert list(claim_lines(claims)) == [
        f"None of the {name} that works under handover 8 exists (proved) in boxes of 4 x 1 x 4."
        for name in ("burst row", "muster row")
    ]


# -- layouts ----------------------------------------------------------------------------------------------------------

TWO = replace(load_spec(REPOSITORY / "specs" / "two-kilns.toml"), scheme="burst row")
HEADLINE = "Clay for two kilns: 2 furnaces within 4 x 3 x 4: "


@pytest.fixture(scope="module")
def smallest() -> Proposal:
    return Judge(TWO, (8, 7)).as_it_is(load_layout(REPOSITORY / "specs" / "results" / "two-kilns-smallest.plan"))


def printed(answer: Answer, spec: Spec = TWO, quiet: bool = False, verbose: bool = False) -> list[str]:
    """Each line as it stands on a wide page, without the blanks around it."""
    page = Console(file=io.StringIO(), width=300)
    page.print(*proposal_report(spec, answer, [], quiet, verbose=verbose), sep="\n")
    text = page.file.getvalue()  # type: ignore[attr-defined]
    return [line.strip() for line in text.splitlines()]


def with_measures(one: Proposal, scheme: str, **measures: Any) -> Proposal:
    return replace(one, scheme=scheme, measures=replace(one.measures, **measures))


def test_a_line_for_each_layout(smallest: Proposal) -> None:
    """What it is even for, what must be filled in first, what stays; who is not one that the claims are about."""
    brimmed = replace(with_measures(smallest, "brimmed row", held_at_start=30, held=3), even_for="stream")
    alone = replace(with_measures(smallest, "burst row", handovers=(8,)), in_scope=False)
    lines = printed(Answer([smallest, brimmed, alone], scope=["one"], solver="none"), verbose=True)
    assert lines[0] == f"{HEADLINE}3 layouts, each confirmed in the simulator."
    header = next(i for i, line in enumerate(lines) if line.startswith("rank"))
    assert " ".join(lines[header].split()) == (
        "rank box cells parts first, ticks last, ticks items an hour even for fill in first left inside handover "
        "scheme wiring"
    )
    rows = [" ".join(line.split()) for line in lines[header + 2 : header + 5]]
    endings = "full loads 0 0 8, 7 burst row", "any arrivals tried 30 3 8, 7 brimmed row", "full loads 0 0 8 burst row*"
    for rank, (row, ending) in enumerate(zip(rows, endings, strict=True), 1):
        assert row.startswith(f"{rank} 4 x 2 x 4 32 21 ")
        assert f" {ending} " in row
    (told,) = (line for line in lines if line.startswith("*"))
    assert told.startswith("* confirmed like the others, but its delays are not among those that the claims below are ")
    assert "The nodes of a brimmed row start with 30 items, which must be put in by hand." in lines


def test_no_star_where_there_is_nothing_to_tell(smallest: Proposal) -> None:
    lines = printed(Answer([smallest], scope=["one"], solver="none"))
    assert lines[0] == f"{HEADLINE}one layout, confirmed in the simulator."
    assert not any("*" in line for line in lines)


def test_a_layout_in_one_line(smallest: Proposal) -> None:
    told = "4 x 2 x 4 = 32 cells, 21 parts, burst row, even for full loads; confirmed"
    assert found_line(2.04, smallest) == f"after 2.0 s: {told}"
    other = replace(smallest, even_for="stream", scheme="muster row")
    assert found_line(0.0, other).endswith("muster row, even for any arrivals tried; confirmed")


@pytest.mark.parametrize("found", [True, False])
def test_ctrl_c_is_told_in_the_first_line(smallest: Proposal, found: bool) -> None:
    answer = Answer([smallest] if found else [], scope=["one"], solver="none", interrupted=True, complete=False)
    told = "one layout, confirmed in the simulator. Interrupted by Ctrl-C: this is what was found so far."
    none = "not found before it was interrupted by Ctrl-C; that is no proof that none exists."
    assert printed(answer, quiet=True)[:1] == [HEADLINE + (told if found else none)]


def test_a_proof_stands_whether_it_was_interrupted_or_not() -> None:
    claim = Claim((4, 3, 4), "none exists", 1.0, (8,), scheme="")
    answer = Answer(claims=[claim], scope=["one"], solver="none", interrupted=True)
    assert printed(answer, quiet=True) == [f"{HEADLINE}none exists (proved; scope below)."]


def test_what_to_do_next_comes_right_after_what_was_found() -> None:
    """Also where --quiet is said."""
    answer = Answer(scope=["one"], solver="none", advice=["Build higher.", "Take more time."], complete=False)
    for quiet in (True, False):
        assert printed(answer, quiet=quiet)[1:3] == ["Build higher.", "Take more time."]
