"""``splitwright new``: a first spec, from what its builder has and wants."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import monotonic
from typing import Annotated, Any, Final, TypeVar

import typer

from sim.errors import InputError, nearest
from sim.world.files.places import printable, shown
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.geometry import Cell
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, Quiet, number_from
from splitwright.cli.output import complain, emit_json, show, written
from splitwright.cli.output_files import check_ending
from splitwright.cli.spec_input import check_hall_served
from splitwright.commands.new.asking import Question, answer_to, confirmed
from splitwright.commands.new.site_picture import SIGNS, Standing, in_words, standing_in, standing_on
from splitwright.commands.new.spec_writing import (
    CELLS_MOST,
    FIRES_TO,
    Answers,
    Arrival,
    First,
    Inputs,
    Kind,
    Side,
    site_guess,
    spec_text,
)
from synth.answer.advice import smallest
from synth.ask.spec import Leftovers, Spec
from synth.hall.spec_file import hall_from_toml
from synth.read.spec_file import spec_from_toml
from synth.schemes.registry import every_admissible, no_scheme
from synth.search.known.source import KnownBuilds, shipped
from synth.solving.deadline import Aside

T = TypeVar("T")

EXAMPLE: Final = "Example: splitwright new kilns.toml --outputs 3 --item clay"
FORMAT: Final = "splitwright-new/1"
OUTPUTS_MOST: Final = 64
NAME_MOST: Final = 60
"""Longest name of an item that is taken here."""
ARRIVALS: Final[dict[str, Arrival]] = {
    "burst": "burst",
    "at once": "burst",
    "stream": "stream",
    "trickling": "stream",
    "as it comes": "stream",
}
KINDS: Final[dict[str, Kind]] = {"split": "split", "hall": "hall"}
WAITING: Final[dict[str, Leftovers]] = {"deliver": "deliver", "out": "deliver", "hold": "hold", "wait": "hold"}
STAYS: Final = {"go": False, "stay": True}
SIDES: Final[dict[str, Side]] = {"any": "any", "w": "W", "e": "E", "n": "N", "s": "S"}
INPUTS: Final[dict[str, Inputs]] = {"row": "row", "one": "one"}
MUSTERED: Final = 3
"""Furnaces up to which rows that end empty are known for any arrivals (the muster row)."""
PATIENCE_S: Final = 4.0
"""How long somebody waits for a question."""
MAY_LACK: Final = ("--for", "--product", "--leftovers", "--inputs", "--standing", "--wiring", "--bin")
"""Questions that a script may leave out: what is offered suits whoever has nothing to say of it."""
NOTHING: Final = "nothing"
ANY_SIZE: Final = "any"
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
KindOption = Annotated[
    str | None,
    typer.Option(
        "--for",
        metavar="WORD",
        show_default="asked for",
        help="split: one item to N furnaces; hall: furnaces with clay, fuel and product lanes.",
    ),
]
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
        help="burst: a load that is there at once; stream: trickling in.",
    ),
]
LeftoversOption = Annotated[
    str | None,
    typer.Option(
        "--leftovers",
        metavar="WORD",
        show_default="asked for",
        help="deliver: nothing stays in the nodes; hold: what cannot be shared out may wait there.",
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
StandingOption = Annotated[
    str | None,
    typer.Option(
        "--standing",
        metavar="PICTURE",
        show_default="asked for",
        help="What stands there: 'layer 0/F.F/...', rows from the north, F a kiln, B its bin, x taken, . free.",
    ),
]
WiringOption = Annotated[
    str | None,
    typer.Option(
        "--wiring",
        metavar="WORD",
        show_default="asked for",
        help="With --from a finished build: its nodes and wiring go (another build takes their place) or stay (taken).",
    ),
]
BinOption = Annotated[
    str | None,
    typer.Option(
        "--bin", metavar="PLACE", show_default="asked for", help="Where the bin stands: any, W, E, N, S or x,y,z."
    ),
]
Product = Annotated[
    str | None,
    typer.Option("--product", metavar="KIND", show_default="asked for", help="Of a hall: what the item is fired to."),
]
InputsOption = Annotated[
    str | None,
    typer.Option(
        "--inputs",
        metavar="WORD",
        show_default="asked for",
        help="Of a hall: bins for each row (row), or one for the whole (one).",
    ),
]
From = Annotated[
    Path | None,
    typer.Option(
        "--from", metavar="LAYOUT", show_default=False, help="Take the site of this layout, with all that stands in it."
    ),
]
Run = Annotated[bool, typer.Option("--run", help="Run propose at once; on a terminal you are asked.")]
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
    kind: KindOption = None,
    wiring: WiringOption = None,
    outputs: Outputs = None,
    item: Item = None,
    product: Product = None,
    arrival: ArrivalOption = None,
    leftovers: LeftoversOption = None,
    inputs: InputsOption = None,
    site: Site = None,
    standing: StandingOption = None,
    bin_place: BinOption = None,
    first: FirstOption = None,
    from_layout: From = None,
    run: Run = False,
    force: Force = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Write a first spec, explained line by line, from what you have and want; an option answers its question.

    Answers may be piped in, one a line in the order of the options; an empty line takes what is offered, and ends a
    picture of the site. Questions that an answer or --from settles are not asked. Ctrl-C tells how to go on from there.
    Exit status: 0 written (with --run that of propose), 2 bad input (nothing is written), 3 Ctrl-C.
    """
    _check_free(spec, force)
    if run and as_json:
        raise InputError("would mix its own text with the document; run propose with --json", file="--run")
    given = {
        "--for": kind, "--wiring": wiring, "--outputs": outputs, "--item": item, "--product": product,
        "--arrival": arrival, "--leftovers": leftovers, "--inputs": inputs, "--site": site, "--standing": standing,
        "--bin": bin_place, "--first": first,
    }  # fmt: skip
    interview = _Interview({option: text for option, text in given.items() if text is not None})
    try:
        answers = _answers(interview, from_layout)
    except (KeyboardInterrupt, typer.Abort):
        _tell_how_to_go_on(spec, interview, from_layout, force)
        raise
    text = spec_text(answers)
    _check_served(answers)
    write_text(spec, text)
    commands = [["splitwright", "propose", str(spec), "--out", "build"], ["splitwright", "watch", str(spec)]]
    if as_json:
        emit_json(_document(spec, answers, commands))
        return DONE
    show(written([spec]))
    propose, watch = (printable(shlex.join(words)) for words in commands)
    if run or (not quiet and interview.has_asked and confirmed(f"Run it now: {propose}")):
        return subprocess.run([sys.executable, "-m", *commands[0]], check=False).returncode
    if not quiet:
        show(f"Next: {propose}", f"Or, while you edit it: {watch}")
    return DONE


@dataclass
class _Interview:
    """Questions and answers. ``given``: what options say; ``accepted``: what was answered, by option."""

    given: dict[str, str]
    accepted: dict[str, str] = field(default_factory=dict)
    has_asked: bool = False

    def ask(self, option: str, text: str, default: str, read: Callable[[str], T], is_long: bool = False) -> T:
        """The answer. Raises InputError as ``answer_to`` does."""

        def noted(answer: str) -> T:
            value = read(answer)
            self.accepted[option] = answer
            return value

        self.has_asked |= option not in self.given
        return answer_to(Question(option, text, default, noted, is_long, option in MAY_LACK), self.given.get(option))

    def settled(self, by: str, options: Sequence[str]) -> None:
        """Raises InputError where an option says what is settled already."""
        for option in options:
            if option in self.given:
                raise InputError(f"is settled by {by}; leave one of them out", file=option)


def _tell_how_to_go_on(spec: Path, interview: _Interview, from_layout: Path | None, force: bool) -> None:
    """The command that asks what is left, with what was answered so far."""
    answered = [word for option, text in {**interview.given, **interview.accepted}.items() for word in (option, text)]
    more = [*(["--from", str(from_layout)] if from_layout else []), *(["--force"] if force else [])]
    if answered:
        typer.echo(err=True)
        complain(f"go on from here: {printable(shlex.join(['splitwright', 'new', str(spec), *answered, *more]))}")


def _answers(ask: _Interview, from_layout: Path | None) -> Answers:
    """The answers, each question with what is known from those before it. Raises InputError."""
    answers = Answers() if from_layout is None else _answers_of(from_layout)
    if from_layout is None:
        text = "A split (one item to N furnaces) or a hall (with fuel and product lanes)"
        answers = replace(answers, kind=ask.ask("--for", text, "split", _word(KINDS, "for")))
    else:
        ask.settled("--from", ["--for", "--site", "--standing"])
        ask.settled("the kilns that stand there", ["--outputs"] if answers.standing.kilns else [])
        ask.settled("the bin that stands there", ["--bin"] if answers.standing.bin else [])
        complain(f"{printable(str(from_layout))}: stands there: {in_words(answers.standing)}")
    answers = replace(answers, standing=_with_wiring(ask, answers.standing))
    is_hall = answers.kind == "hall"
    if not answers.standing.kilns:
        count = ask.ask("--outputs", "How many furnaces share it", "16" if is_hall else str(answers.outputs), _count)
        answers = replace(answers, outputs=count)
    answers = replace(answers, item=ask.ask("--item", "Which item is shared out", answers.item, _kind))
    if is_hall and answers.item not in FIRES_TO:
        product = ask.ask("--product", "What is it fired to", f"fired {answers.item}", _kind)
        answers = replace(answers, fires_to=product)
    answers = _with_arrivals(ask, answers)
    if is_hall:
        says = [option for option in ("--standing", "--bin") if ask.given.get(option, "").strip()]
        ask.settled("--for hall", says)  # an empty answer takes what is offered, and settles nothing
        answers = _with_hall(ask, answers)
    else:
        ask.settled("--for split", ["--product", "--inputs"])
        answers = _with_site(ask, answers, from_layout is not None)
    text = "What counts most: smallest (volume), fewest (parts) or quickest (latency)"
    return replace(answers, first=ask.ask("--first", text, "volume", _word(FIRSTS, "first")))


def _with_wiring(ask: _Interview, standing: Standing) -> Standing:
    """The wiring of a finished build as taken, or as free for another one."""
    if not standing.wiring:
        ask.settled("a site without the wiring of a build", ["--wiring"])
        return standing
    text = "Its nodes and wiring: do they go, for another build in their place (go), or stay as they are (stay)"
    stays = ask.ask("--wiring", text, "go", _word(STAYS, "wiring"))
    if not stays:
        complain("the cells of its nodes and wiring are free for the new build; --wiring stay leaves them taken")
    return replace(standing, taken=standing.taken | (standing.wiring if stays else frozenset()), wiring=frozenset())


def _with_arrivals(ask: _Interview, answers: Answers) -> Answers:
    """How it arrives, what may wait, and a site that would do where none is known yet."""

    def served(text: str) -> Arrival:
        word = _word(ARRIVALS, "arrival")(text)
        if answers.kind == "split":
            _check_served(replace(answers, arrival=word, leftovers="hold"))
        return word

    text = "Is it there at once (burst) or trickling in (stream)"
    answers = replace(answers, arrival=ask.ask("--arrival", text, answers.arrival, served))
    if answers.kind == "hall":
        answers = replace(answers, size=None, leftovers="hold" if answers.arrival == "stream" else "deliver")
    elif answers.standing == Standing():
        answers = _offered(answers)
    else:
        answers = replace(answers, leftovers=_guessed(answers).leftovers)

    def waiting(text: str) -> Leftovers:
        word = _word(WAITING, "leftovers")(text)
        _check_served(replace(answers, leftovers=word))
        return word

    text = "What cannot be shared out: to the furnaces (deliver), or may it wait in the nodes (hold)"
    return replace(answers, leftovers=ask.ask("--leftovers", text, answers.leftovers, waiting))


def _with_hall(ask: _Interview, answers: Answers) -> Answers:
    def inputs(text: str) -> Inputs:
        word = _word(INPUTS, "inputs")(text)
        try:
            _check_served(replace(answers, inputs=word))
        except InputError:
            if cure := _what_serves(replace(answers, inputs=word)):
                raise InputError(f"{word} needs {cure}", file="inputs") from None
            raise
        return word

    text = "A bin of each for every row (row), or one for the whole hall (one)"
    answers = replace(answers, inputs=ask.ask("--inputs", text, "row", inputs))

    def size(text: str) -> tuple[int, int, int] | None:
        return None if text.lower() == ANY_SIZE else _size(text)

    text = "How large is the site: width, depth, height in cells, or any"
    return replace(answers, size=ask.ask("--site", text, ANY_SIZE, size))


def _with_site(ask: _Interview, answers: Answers, is_known: bool) -> Answers:
    """The site, what stands in it, and where the bin is."""
    if not is_known:
        offered = answers.size or site_guess(answers.outputs)
        text = "How large is the site: width, depth, height in cells"
        size = ask.ask("--site", text, " ".join(map(str, offered)), _size)
        answers = replace(answers, size=size)

        def stands(text: str) -> Standing:
            found = Standing() if text.lower() == NOTHING else standing_in(text, size)
            if found.kilns and len(found.kilns) != answers.outputs:
                raise InputError(f"shows {len(found.kilns)} kilns, and {answers.outputs} share it", file="standing")
            _check_served(replace(answers, standing=found))
            return found

        text = (
            f"What stands there: nothing, or type it, layer 0 and its rows from the north ({SIGNS}), an empty line last"
        )
        answers = replace(answers, standing=ask.ask("--standing", text, NOTHING, stands, is_long=True))
    if answers.standing.bin is not None:
        ask.settled("the bin that stands there", ["--bin"])
        return answers

    def place(text: str) -> Side | Cell:
        where = SIDES.get(text.lower()) or _cell(text)
        _check_served(replace(answers, bin=where))
        return where

    text = "Where does its bin stand: any, a side (W, E, N, S), or a cell x,y,z"
    return replace(answers, bin=ask.ask("--bin", text, "any", place))


def _answers_of(path: Path) -> Answers:
    """What a layout tells of its site. Raises InputError for bad input, and for a site that is too large."""
    layout = load_layout(path)
    name = printable(str(path))
    if max(layout.size) > CELLS_MOST:
        raise InputError(f"is larger than a site may be ({CELLS_MOST} cells a side)", file=name)
    standing = standing_on(layout)
    if len(standing.kilns) > OUTPUTS_MOST:
        raise InputError(f"has {len(standing.kilns)} kilns; a split has {OUTPUTS_MOST} at most", file=name)
    stream = next(iter(layout.streams), None)
    item = next(iter(layout.items), Answers().item) if stream is None else stream.item
    kind = layout.items.get(item)
    return Answers(
        outputs=len(standing.kilns) or Answers().outputs, item=item, size=layout.size, standing=standing,
        fires_to=None if kind is None else kind.fires_to, rules=dict(layout.rules),
    )  # fmt: skip


def _offered(answers: Answers) -> Answers:
    """With the site of a known build, if that is found soon; else with a guess."""
    asking = Aside(lambda: with_known_site(answers))
    if asking.wait(monotonic() + PATIENCE_S):
        return asking.outcome
    return _guessed(answers)


def _guessed(answers: Answers) -> Answers:
    """Beyond three furnaces only rows whose nodes keep some are known to serve a stream; and one alone is no muster."""
    keeps = answers.arrival == "stream" and not 1 < answers.outputs <= MUSTERED
    return replace(answers, size=site_guess(answers.outputs), leftovers="hold" if keeps else "deliver")


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


def _size(text: str) -> tuple[int, int, int]:
    words = [word for word in re.split(r"[\s,x]+", text.lower()) if word]
    if len(words) != 3:
        raise InputError(f"must be three numbers, width depth height, as in 4 3 4, not {shown(text)}", file="site")
    width, depth, height = (number_from(word, 1, CELLS_MOST, "site") for word in words)
    return width, depth, height


def _cell(text: str) -> Cell:
    words = [word for word in re.split(r"[\s,]+", text) if word]
    if len(words) != 3 or not all(word.isdecimal() and len(word) <= 3 for word in words):
        raise InputError(f"must be any, W, E, N, S or a cell, as 0,0,3, not {shown(text)}", file="bin")
    x, y, z = map(int, words)
    return x, y, z


def _word(words: dict[str, T], name: str) -> Callable[[str], T]:
    """Reads one of a few words."""

    def read(text: str) -> T:
        if text.lower() not in words:
            raise InputError(f"{shown(text)} is none of the answers; {nearest(text.lower(), words)}", file=name)
        return words[text.lower()]

    return read


def _check_served(answers: Answers) -> None:
    """Raises InputError where the spec would be none, or no scheme does what is asked for."""
    text = spec_text(answers)
    if answers.kind == "hall":
        try:
            check_hall_served(hall_from_toml(text))
        except InputError as error:
            raise InputError(_in_options(error.fault), file=error.file, field=error.field) from None
        return
    spec: Spec = spec_from_toml(text)
    if not every_admissible(spec):
        raise InputError(no_scheme(spec))


def _in_options(fault: str) -> str:
    """A fault of a spec, what to say instead in the words of the options."""
    return fault.replace('leftovers = "hold"', "--leftovers hold").replace('even_for = "burst"', "--arrival burst")


def _what_serves(answers: Answers) -> str | None:
    """The first of the other ways of arrival and leftovers with which the answers are served, as options that say it;
    None where no way is."""
    ways: list[tuple[Arrival, Leftovers]] = [(answers.arrival, "hold"), ("stream", "hold"), ("burst", "deliver")]
    for arrival, leftovers in ways:
        try:
            _check_served(replace(answers, arrival=arrival, leftovers=leftovers))
        except InputError:
            continue
        return f"--arrival {arrival} and --leftovers {leftovers}"
    return None


def _check_free(path: Path, force: bool) -> None:
    """Raises InputError, before anything is asked, where the file cannot be what is wanted."""
    name = printable(str(path))
    check_ending(name, path, (".toml",))
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
    is_split = answers.kind == "split"
    source = answers.source
    return {
        "format": FORMAT,
        "file": str(path),
        "answers": {
            "for": answers.kind,
            "outputs": answers.outputs,
            "item": answers.item,
            "arrival": answers.arrival,
            "leftovers": answers.leftovers,
            "site": None if answers.size is None else list(answers.size),
            **({} if is_split else {"inputs": answers.inputs}),
            **({"bin": source if isinstance(source, str) else list(source)} if is_split else {}),
            **({"kilns": [list(cell) for cell in answers.standing.kilns]} if is_split else {}),
            **({"taken": [list(cell) for cell in sorted(answers.standing.taken)]} if is_split else {}),
            "first": answers.first,
        },
        "next": commands,
    }
