"""The steps of docs/tutorial.md and docs/howto: what a reader types and edits, done as it stands, and what was printed.

The page is the script. A fence of ``sh`` holds commands, a fence of ``diff`` an edit; comments before a fence, which do
not show, say the rest:

- ``<!-- not run: WHY -->``: the next ``sh`` fence is for the reader alone;
- ``<!-- needs a browser -->``: the next ``sh`` fence is left out on machines without one;
- ``<!-- columns N -->``: width of the terminal for the next ``sh`` fence, in place of ``COLUMNS``;
- ``<!-- typed: A | B -->``: the next command runs on a terminal, where these answers are typed, one a question;
- ``<!-- until Ctrl-C -->``: the next command goes on in the background while the edits are made that follow;
  ``<!-- Ctrl-C -->`` ends it;
- ``<!-- edit FILE -->``: the next ``diff`` fence changes that file, a line (``-``) for a line (``+``);
- ``<!-- printed -->``: the next ``text`` fence is what the commands before it printed, and is written by this code;
  ``<!-- printed from "A" until "B" -->``: from the line that begins with A to the one before the first then with B.

The exit status that is due is the first that the text names behind the commands ("exit status 1"), else 0.
"""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

DOCS: Final = Path(__file__).resolve().parent
PAGE: Final = DOCS / "tutorial.md"
HOW_TO: Final = tuple(sorted((DOCS / "howto").glob("*.md")))
PICTURES: Final = DOCS / "tutorial"
COLUMNS: Final = 100
WAIT_S: Final = 400.0
"""Bound on any one command, for machines that are busy; nothing is measured by it."""
FENCE: Final = re.compile(
    r"(?P<comments>(?:<!-- [^\n]* -->\n)*)```(?P<kind>sh|diff|text|toml)\n(?P<body>.*?)^```$|(?P<stop><!-- Ctrl-C -->)",
    re.DOTALL | re.MULTILINE,
)
STATUS: Final = re.compile(r"exit status (\d)", re.IGNORECASE)
CLOCK: Final = re.compile(r"^\d\d:\d\d:\d\d  ", re.MULTILINE)
SECONDS: Final = re.compile(r"^\d+\.\d s$\n?", re.MULTILINE)
NEWS: Final = re.compile(r"^(?:after \d+\.\d s: |first use: |Candidates of the model: ).*\n", re.MULTILINE)
"""What is told while a search goes on, or of how it went: another machine has it sooner, or later, or more of it."""
SIZE: Final = re.compile(r"\([\d,]+ kB\)")
PRINTED: Final = re.compile(r'printed(?: from "(?P<from>[^"]*)")?(?: until "(?P<until>[^"]*)")?')


@dataclass(frozen=True, slots=True)
class Block:
    """A fence of the page, or the place where Ctrl-C is pressed (kind "Ctrl-C").

    ``notes``: the comments before it; ``start`` and ``end``: where the body stands in the page; ``status``: the exit
    status due.
    """

    kind: str
    body: str
    notes: tuple[str, ...] = ()
    start: int = 0
    end: int = 0
    status: int = 0

    def note(self, name: str) -> str | None:
        """What a comment says behind its name; "" where it says no more."""
        found = (note.removeprefix(name) for note in self.notes if note.startswith(name))
        return next((rest.lstrip(": ") for rest in found if rest[:1] in ("", " ", ":")), None)

    @property
    def is_run(self) -> bool:
        """Whether it holds commands that are run here too."""
        return self.kind == "sh" and self.note("not run") is None

    @property
    def commands(self) -> list[str]:
        """One a line."""
        return [line for line in self.body.splitlines() if line.strip()]


@dataclass(slots=True)
class Ran:
    """A command that was run: its exit status and all that it printed, on either output."""

    command: str
    status: int
    printed: str
    due: int


@dataclass(slots=True)
class Walk:
    """The page walked through once: the commands in order, and for each ``text`` fence (by its start) what belongs."""

    ran: list[Ran] = field(default_factory=list)
    texts: dict[int, str] = field(default_factory=dict)


def blocks(page: str) -> list[Block]:
    """The fences of the page, in order."""
    found = list(FENCE.finditer(page))
    listed = []
    for match, after in zip(found, [*found[1:], None], strict=True):
        if match["stop"]:
            listed.append(Block("Ctrl-C", ""))
            continue
        notes = tuple(line[5:-4] for line in match["comments"].splitlines())
        block = Block(match["kind"], match["body"], notes, *match.span("body"))
        listed.append(_with_status(block, page[match.end() : _next_commands(found, after, page)]))
    return listed


def _with_status(block: Block, text: str) -> Block:
    """The block with the exit status that ``text`` names first; code and outputs in it do not count."""
    named = STATUS.search(re.sub(r"```.*?```", "", text, flags=re.DOTALL))
    return replace(block, status=int(named[1])) if named and block.kind == "sh" else block


def _next_commands(found: list[re.Match[str]], after: re.Match[str] | None, page: str) -> int:
    if after is None:
        return len(page)
    later = found[found.index(after) :]
    return next((match.start() for match in later if match["kind"] == "sh"), len(page))


def walk(page: str, folder: Path, tools: Path, *, has_browser: bool = True) -> Walk:
    """Do all that the page says in ``folder``; ``tools`` is a folder for the command itself.

    Raises AssertionError where the page does not fit what comes: an edit, a line that is shown, a watch that ends.
    """
    (folder / "specs").symlink_to(DOCS.parent / "specs")
    done = Walk()
    world = _environment(tools)
    background: _Background | None = None
    last: list[Ran] = []
    try:
        for block in blocks(page):
            if block.is_run and not has_browser and block.note("needs a browser") is not None:
                last = []
            elif block.is_run:
                wide = {**world, "COLUMNS": block.note("columns") or str(COLUMNS)}
                last = []
                if block.note("until Ctrl-C") is not None:
                    background = _Background(block, folder, wide)
                    background.wait_for_looks(1)
                    continue
                last = [_run(command, block, folder, wide) for command in block.commands]
                done.ran += last
            elif block.kind == "diff":
                looks = background.looks if background else 0
                _edit(folder, block)
                if background:
                    background.wait_for_looks(looks + 1)
            elif block.kind == "Ctrl-C":
                assert background is not None, "nothing is running that Ctrl-C could end"
                last, background = [background.ended()], None
                done.ran += last
            elif block.kind == "text" and last:
                done.texts[block.start] = _cut(block, "".join(one.printed for one in last))
    finally:
        if background:
            background.ended()
    return done


def refreshed(page: str, done: Walk) -> str:
    """The page with what the commands printed in its ``text`` fences."""
    for block in reversed(blocks(page)):
        if block.start in done.texts and block.kind == "text":
            page = page[: block.start] + done.texts[block.start] + page[block.end :]
    return page


def _environment(tools: Path) -> dict[str, str]:
    """A user's, in which ``splitwright`` is the one of this interpreter."""
    tool = tools / "splitwright"
    tool.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m splitwright "$@"\n', encoding="utf-8")
    tool.chmod(0o755)
    dropped = {"FORCE_COLOR", "COLUMNS", "SPLITWRIGHT_DEBUG"}
    kept = {name: value for name, value in os.environ.items() if name not in dropped}
    return {**kept, "PATH": f"{tools}{os.pathsep}{os.environ['PATH']}", "NO_COLOR": "1", "TERM": "dumb"}


def _run(command: str, block: Block, folder: Path, world: dict[str, str]) -> Ran:
    answers = block.note("typed")
    if answers is not None:
        status, printed = _on_a_terminal(command, [answer.strip() for answer in answers.split("|")], folder, world)
    else:
        run = subprocess.run(
            ["sh", "-c", command], cwd=folder, env=world, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=WAIT_S, check=False,
        )  # fmt: skip
        status, printed = run.returncode, run.stdout
    return Ran(command, status, _normal(printed), block.status)


def _normal(printed: str) -> str:
    """Without what differs from run to run: clock times, seconds that were needed, sizes of pages."""
    return SIZE.sub("(… kB)", NEWS.sub("", SECONDS.sub("", CLOCK.sub("hh:mm:ss  ", printed))))


def _on_a_terminal(command: str, answers: list[str], folder: Path, world: dict[str, str]) -> tuple[int, str]:
    """Run on a terminal of its own, an answer typed whenever it asks (a line that ends in "]: ")."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        ["sh", "-c", command], cwd=folder, env=world, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
    )
    os.close(theirs)
    said, due, end = b"", list(answers), time.monotonic() + WAIT_S
    while time.monotonic() < end:
        if not select.select([ours], [], [], 0.1)[0]:
            if due and said.endswith(b"]: "):
                os.write(ours, f"{due.pop(0)}\n".encode())
            continue
        try:
            piece = os.read(ours, 4096)
        except OSError:  # Linux: the other end is closed
            break
        if not piece:
            break
        said += piece
    os.close(ours)
    return process.wait(WAIT_S), said.decode("utf-8").replace("\r\n", "\n")


class _Background:
    """A command that watches a file until Ctrl-C."""

    def __init__(self, block: Block, folder: Path, world: dict[str, str]) -> None:
        (self.command,) = block.commands
        self.due = block.status
        self.log = folder.parent / f"{folder.name}-watched.txt"
        with self.log.open("w", encoding="utf-8") as out:
            self.process = subprocess.Popen(
                ["sh", "-c", f"exec {self.command}"], cwd=folder, env=world, stdin=subprocess.DEVNULL,
                stdout=out, stderr=subprocess.STDOUT, start_new_session=True,
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # ignored in background jobs
            )  # fmt: skip

    @property
    def looks(self) -> int:
        """How many looks are printed to their end, which is an empty line."""
        text = self.log.read_text(encoding="utf-8")
        return sum(bool(CLOCK.match(part)) for part in text.split("\n\n")[:-1])

    def wait_for_looks(self, count: int) -> None:
        """Raises AssertionError when the command has ended, or nothing comes."""
        end = time.monotonic() + WAIT_S
        while self.looks < count:
            assert self.process.poll() is None, self.log.read_text(encoding="utf-8")
            assert time.monotonic() < end, f"no look number {count} came"
            time.sleep(0.05)

    def ended(self) -> Ran:
        """Press Ctrl-C."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGINT)
        status = self.process.wait(WAIT_S)
        return Ran(self.command, status, _normal(self.log.read_text(encoding="utf-8")), self.due)


def _edit(folder: Path, block: Block) -> None:
    """Put the lines with ``+`` in the place of those with ``-``, each of which must stand there once."""
    name = block.note("edit")
    assert name, "an edit names its file"
    path = folder / name
    lines = path.read_text(encoding="utf-8").split("\n")
    for old, new in _changes(block.body):
        assert lines.count(old) == 1, f"{name} has the line {old!r} {lines.count(old)} times"
        lines[lines.index(old)] = new
    path.write_text("\n".join(lines), encoding="utf-8")


def _changes(body: str) -> Iterator[tuple[str, str]]:
    old = [line[1:] for line in body.splitlines() if line.startswith("-")]
    new = [line[1:] for line in body.splitlines() if line.startswith("+")]
    return zip(old, new, strict=True)


def _cut(block: Block, printed: str) -> str:
    """What of the printed lines the page shows."""
    match = next((found for note in block.notes if (found := PRINTED.fullmatch(note))), None)
    assert match, f"a fence of text says what it shows: {block.body[:60]!r}"
    lines = [line.rstrip() for line in printed.splitlines()]
    first = 0 if match["from"] is None else _line(lines, match["from"], 0)
    last = len(lines) if match["until"] is None else _line(lines, match["until"], first + 1)
    return "\n".join(lines[first:last]).strip("\n") + "\n"


def _line(lines: list[str], beginning: str, after: int) -> int:
    found = next((i for i, line in enumerate(lines) if i >= after and line.startswith(beginning)), None)
    assert found is not None, f"no line begins with {beginning!r} in:\n" + "\n".join(lines)
    return found
