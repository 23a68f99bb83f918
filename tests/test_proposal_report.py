"""What ``splitwright propose`` prints: lines that any title and any file name leave whole."""

from __future__ import annotations

from pathlib import Path

from splitwright.proposal_report import proposal_report
from synth.result import Answer
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
