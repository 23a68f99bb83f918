"""The grammar of answers (DEVELOPERS.md, "Answers"): the first line is the answer, and agrees with the exit status."""

from __future__ import annotations

import os
import pty
import re
import subprocess
from pathlib import Path

import pytest

from commands import LAYOUTS, REPOSITORY, ROW, UNEVEN, command_line, environment, run

LONGEST = 130
"""Characters that a line read aloud may have, paths apart."""
SPECS = REPOSITORY / "specs"
GATED = str(LAYOUTS / "gated-row-of-three.plan")
TOUCHING = str(LAYOUTS / "touching-runs.plan")
TWO = str(LAYOUTS / "burst-row-of-two.plan")
YES = ("Even: ", "Even for ", "No findings: ", "No change is needed", "16 furnaces for ")
NO = ("As even as ", "Uneven: ", "Nothing delivered: ", "1 finding: ", "Not even for ", "Not always even: ",
      "Not a hall: ")  # fmt: skip
ANSWERS = [
    (("trial", ROW), 0),
    (("trial", ROW, "--load", "feed=4"), 1),
    (("trial", UNEVEN), 1),
    (("trial", GATED, "--load", "feed=1"), 1),
    (("check", ROW), 0),
    (("check", TOUCHING), 1),
    (("assure", ROW, "--ask", "load"), 0),
    (("assure", ROW, "--ask", "load", "--ask", "drift"), 1),
    (("assure", UNEVEN, "--ask", "load"), 1),
    (("shift", ROW, "--incident", "steady", "--hours", "0.1"), 1),
    (("improve", TWO), 0),
    (("size", str(SPECS / "sixteen-kilns.toml")), 0),
]


@pytest.mark.parametrize(("words", "status"), ANSWERS)
def test_the_answer_fits_one_line_and_agrees_with_the_exit_status(
    words: tuple[str, ...], status: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*words, "-q")
    (answer,) = result.stdout.splitlines()
    assert (result.exit_code, result.stderr) == (status, "")
    assert len(answer.replace(words[1], "")) <= LONGEST
    assert any(one in answer for one in (YES if status == 0 else NO)), answer
    assert not any(one in answer for one in (NO if status == 0 else YES) if answer.startswith(one))
    assert answer.endswith(".")


@pytest.mark.parametrize("words", [words for words, _ in ANSWERS if words[0] in ("trial", "check", "shift", "improve")])
def test_the_answer_stands_first_and_more_below_it(words: tuple[str, ...]) -> None:
    first, second, *_ = run(*words).stdout.splitlines()
    assert [first] == run(*words, "-q").stdout.splitlines()
    assert second.strip(), "what it holds for, or what to do next, comes right below"


@pytest.mark.parametrize("words", [("trial", ROW, "-v"), ("laws",), ("shift", ROW, "--hours", "0.05", "-v")])
@pytest.mark.parametrize("more", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_a_terminal_of_60_columns_breaks_no_heading(words: tuple[str, ...], more: dict[str, str]) -> None:
    """Read through a pseudo-terminal, as a person's: every line fits, each heading is there whole."""
    watched, theirs = pty.openpty()
    environ = environment(COLUMNS="60", **{"TERM": "xterm", **more})
    process = subprocess.Popen(command_line(*words), stdout=theirs, stderr=subprocess.DEVNULL, env=environ)
    os.close(theirs)
    told = b""
    while True:
        try:
            part = os.read(watched, 65_536)
        except OSError:  # that is how the end of a pseudo-terminal looks
            break
        if not part:
            break
        told += part
    process.wait()
    os.close(watched)
    text = told.decode()
    assert not (more and re.search(r"\x1b\[[0-9;]*3[0-7]", text)), "no colour where none is wanted"
    plain = re.sub(r"\x1b\[[0-9;]*m", "", text)
    assert max(map(len, plain.splitlines())) <= 60
    heading = {"trial": "delivered", "laws": "provenance", "shift": "products an hour"}[words[0]]
    assert heading in " ".join(plain.split())


def test_a_pipe_gets_no_colours() -> None:
    assert "\x1b" not in run("laws").stdout + run("trial", UNEVEN).stdout
