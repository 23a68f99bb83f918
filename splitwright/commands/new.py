"""``splitwright new``: a first spec, from five questions."""

from __future__ import annotations

import re
import shlex
from dataclasses import replace
from pathlib import Path
from time import monotonic
from typing import Annotated, Any, Final

import typer

from sim.errors import InputError, nearest
from sim.files.places import printable, shown
from sim.files.writing import write_text
from splitwright.asking import Question, answer_to
from splitwright.failures import DONE
from splitwright.options import AsJson, Quiet, number_from
from splitwright.output import emit_json, show
from splitwright.spec_writing import CELLS_MOST, Answers, Arrival, First, site_guess, spec_text
from synth.advice import smallest
from synth.deadline import Aside
from synth.known.source import KnownBuilds, shipped
from synth.schemes.registry import every_admissible, no_scheme
from synth.spec import Leftovers
from synth.spec_file import spec_from_toml

EXAMPLE: Final = "Example: splitwright new kilns.toml --outputs 3 --item clay"
FORMAT: Final = "splitwright-new/1"
OUTPUTS_MOST: Final = 64
NAME_MOST: Final = 60
"""Longest name of an item that is taken here."""
ARRIVALS: Final[dict[str, Arrival]] = {
    "burst": "burst",
    "at once": "burst",
    "stream": "stream",
    "as it comes": "stream",
}
MUSTERED: Final = 3
"""Furnaces up to which rows that end empty are known for any arrivals (the muster row)."""
PATIENCE_S: Final = 4.0
"""How long somebody waits for a question."""
LEFTOVERS: Final[tuple[Leftovers, ...]] = ("deliver", "hold")
"""What happens to leftovers, the better first."""
FIRSTS: Final[dict[str, First]] = {
    "volume": "volume",
    "smallest": "volume",
    "parts": "parts",
    "fewest": "parts",
    "latency": "latency",
    "quickest": "latency",
}

SpecFile = Annotated[Path, typer.Argument(metavar="FILE.toml", help="The spec to be written.")]
Outputs = Annotated[
    str | None, typer.Option("--outputs", metavar="N", show_default="asked for", help="How many furnaces share it.")
]
Item = Annotated[
    str | None, typer.Option("--item", metavar="KIND", show_default="asked for", help="Which item is shared out.")
]
ArrivalOption = Annotated[
    str | None,
    typer.Option(
        "--arrival",
        metavar="WORD",
        show_default="asked for",
        help="burst: a load that is there at once; stream: as it comes.",
    ),
]
Site = Annotated[
    str | None,
    typer.Option(
        "--site",
        metavar="'W D H'",
        show_default="asked for",
        help="Width, depth and height of the site in cells; 4x3x4 will do too.",
    ),
]
FirstOption = Annotated[
    str | None,
    typer.Option(
        "--first",
        metavar="WORD",
        show_default="asked for",
        help="What counts most: volume (the smallest), parts (the fewest) or latency (the quickest).",
    ),
]
Force = Annotated[bool, typer.Option("--force", help="Write it even if there is a file of that name.")]


def new(
    spec: SpecFile,
    outputs: Outputs = None,
    item: Item = None,
    arrival: ArrivalOption = None,
    site: Site = None,
    first: FirstOption = None,
    force: Force = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Write a first spec, explained line by line, by asking five questions; an option answers its question.

    Answers may be piped in, one a line in the order of the options; an empty line takes what is offered.
    Exit status: 0 written, 2 bad input (nothing is written), 3 Ctrl-C.
    """
    _check_free(spec, force)
    answers = _answers(outputs, item, arrival, site, first)
    text = spec_text(answers)
    _check_served(answers)
    write_text(spec, text)
    commands = [["splitwright", "propose", str(spec), "--out", "build"], ["splitwright", "watch", str(spec)]]
    if as_json:
        emit_json(_document(spec, answers, commands))
    else:
        show(f"Written: {printable(str(spec))}")
        if not quiet:
            propose, watch = (printable(shlex.join(words)) for words in commands)
            show(f"Next: {propose}", f"Or, while you edit it: {watch}")
    return DONE


def _answers(
    outputs: str | None, item: str | None, arrival: str | None, site: str | None, first: str | None
) -> Answers:
    """The five answers, each question with what is known from those before it. Raises InputError."""
    answers = Answers()
    count = answer_to(Question("--outputs", "How many furnaces share it", str(answers.outputs), _count), outputs)
    answers = replace(answers, outputs=count)
    kind = answer_to(Question("--item", "Which item is shared out", answers.item, _kind), item)
    answers = replace(answers, item=kind)

    def served(text: str) -> Arrival:
        _check_served(replace(answers, arrival=(word := _arrival(text))))
        return word

    text = "Is it there at once (burst), or does it come as it comes (stream)"
    answers = replace(answers, arrival=answer_to(Question("--arrival", text, answers.arrival, served), arrival))
    answers = _offered(answers)
    offered = " ".join(map(str, answers.size))
    text = "How large is the site: width, depth, height in cells"
    answers = replace(answers, size=answer_to(Question("--site", text, offered, _size), site))
    text = "What counts most: smallest (volume), fewest (parts) or quickest (latency)"
    return replace(answers, first=answer_to(Question("--first", text, "volume", _first), first))


def _offered(answers: Answers) -> Answers:
    """With the site of a known build, if that is found soon; else with a guess."""
    asking = Aside(lambda: with_known_site(answers))
    if asking.wait(monotonic() + PATIENCE_S):
        return asking.outcome
    return _guessed(answers)


def _guessed(answers: Answers) -> Answers:
    """Beyond three furnaces only rows whose nodes keep some are known to serve a stream."""
    leftovers: Leftovers = "hold" if answers.arrival == "stream" and answers.outputs > MUSTERED else "deliver"
    return replace(answers, size=site_guess(answers.outputs), leftovers=leftovers)


def with_known_site(answers: Answers) -> Answers:
    """The site of the smallest build that is known for it, and confirmed, and what that does with leftovers; else a
    guess."""
    known = KnownBuilds(shipped())
    for leftovers in LEFTOVERS:
        asked = replace(answers, leftovers=leftovers)
        spec = spec_from_toml(spec_text(asked))
        if every_admissible(spec) and (build := smallest(spec, known)) is not None:
            return replace(asked, size=build.layout.size)
    return _guessed(answers)


def _count(text: str) -> int:
    return number_from(text, 1, OUTPUTS_MOST, "furnaces")


def _kind(text: str) -> str:
    if not text or len(text) > NAME_MOST or not text.isprintable():
        raise InputError(f"must be 1 to {NAME_MOST} characters that print, not {shown(text)}", file="item")
    return text


def _arrival(text: str) -> Arrival:
    if text.lower() not in ARRIVALS:
        raise InputError(f"{shown(text)} is no arrival; {nearest(text.lower(), ARRIVALS)}", file="arrival")
    return ARRIVALS[text.lower()]


def _size(text: str) -> tuple[int, int, int]:
    words = [word for word in re.split(r"[\s,x]+", text.lower()) if word]
    if len(words) != 3:
        raise InputError(f"must be three numbers, width depth height, as in 4 3 4, not {shown(text)}", file="site")
    width, depth, height = (number_from(word, 1, CELLS_MOST, "site") for word in words)
    return width, depth, height


def _first(text: str) -> First:
    if text.lower() not in FIRSTS:
        raise InputError(f"{shown(text)} is nothing to rank by here; {nearest(text.lower(), FIRSTS)}", file="first")
    return FIRSTS[text.lower()]


def _check_served(answers: Answers) -> None:
    """Raises InputError where no scheme does what is asked for."""
    spec = spec_from_toml(spec_text(answers))
    if not every_admissible(spec):
        raise InputError(no_scheme(spec), file="arrival")


def _check_free(path: Path, force: bool) -> None:
    """Raises InputError, before anything is asked, where the file cannot be what is wanted."""
    name = printable(str(path))
    if path.suffix.lower() != ".toml":
        raise InputError("is no name of a spec; let it end in .toml", file=name)
    try:
        taken = path.exists() or path.is_symlink()
        if not path.parent.is_dir():
            raise InputError("cannot be written: its folder does not exist", file=name)
    except (OSError, ValueError):
        raise InputError("is no name of a file", file=name) from None
    if taken and not force:
        raise InputError("is there already; name another file, or give --force to lose it", file=name)


def _document(path: Path, answers: Answers, commands: list[list[str]]) -> dict[str, Any]:
    """``splitwright-new/1``."""
    return {
        "format": FORMAT,
        "file": str(path),
        "answers": {
            "outputs": answers.outputs,
            "item": answers.item,
            "arrival": answers.arrival,
            "site": list(answers.size),
            "first": answers.first,
        },
        "next": commands,
    }
