"""What ``splitwright propose`` prints: lines that any title and any file name leave whole."""

from __future__ import annotations

from pathlib import Path

from splitwright.proposal_report import claim_lines, proposal_report
from synth.result import Answer, Claim
from synth.spec_file import spec_from_toml

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
    lines = proposal_report(spec_from_toml(SPEC), answer, [Path("kiln\n.json")], quiet=False)
    assert lines[0] == (
        "One\\u000akiln \\u001b[31m: 1 furnace within 4 x 3 x 4: not found within the limit; "
        "that is no proof that none exists."
    )
    assert "Scope: rulebook: \\u001b[31m; none." in lines
    assert lines[-1] == "Written: kiln\\u000a.json"
    assert all(isinstance(line, str) and line.isprintable() for line in lines)


def test_a_box_that_is_ruled_out_is_ruled_out_for_layouts_that_work_under_every_handover_named() -> None:
    """One that works under a single handover may well fit it."""
    boxes = [Claim((4, 1, 4), "none exists", 1.0, (8, 7)), Claim((3, 2, 4), "none exists", 1.0, (8, 7)),
             Claim((4, 2, 4), "none exists", 1.0, (8, 7), parts=17), Claim((4, 3, 4), "open", 1.0, (8, 7))]  # fmt: skip
    which = "that works under handover 8 and 7 alike"
    assert list(claim_lines(boxes)) == [
        f"None {which} exists (proved) in boxes of 4 x 1 x 4, 3 x 2 x 4.",
        f"Open, no proof either way, whether one {which} exists: boxes of 4 x 3 x 4.",
        f"None {which}, with at most 17 parts, exists (proved) in boxes of 4 x 2 x 4.",
    ]


def test_of_several_schemes_each_claim_names_its_own() -> None:
    claims = [Claim((4, 1, 4), "none exists", 1.0, (8,), scheme=name) for name in ("burst row", "muster row")]
    assert list(claim_lines(claims)) == [
        f"None of the {name} that works under handover 8 exists (proved) in boxes of 4 x 1 x 4."
        for name in ("burst row", "muster row")
    ]
