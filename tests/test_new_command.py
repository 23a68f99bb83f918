"""``splitwright new`` as a user runs it: with options, with piped answers, on a terminal."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import threading
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from typer.testing import CliRunner, Result

import splitwright.commands.new.command as new
from commands import REPOSITORY, command_line, document, environment, run
from sim.world.files.reading import load_layout
from sim.world.files.schema import published
from splitwright.app import app
from splitwright.cli.spec_input import known_hall
from splitwright.commands.new.command import MAY_LACK, with_known_site
from splitwright.commands.new.spec_writing import CELLS_MOST, Answers, site_guess, spec_text
from synth.answer.advice import smallest
from synth.confirm.judge import Judge
from synth.model.plots import volume
from synth.read.spec_file import load_spec, spec_from_toml
from synth.read.spec_schema import SCHEMA as SPEC_SCHEMA
from synth.schemes.registry import admissible
from synth.search.known.atlas import atlas
from synth.search.known.source import KnownBuilds, shipped
from synth.search.scope import required_handovers

SCHEMA = "splitwright-new-1"
ALL = (
    "--for", "split", "--outputs", "3", "--item", "clay", "--arrival", "burst", "--leftovers", "deliver",
    "--site", "4 3 4", "--standing", "nothing", "--bin", "any", "--first", "volume",
)  # fmt: skip
YARD = """splitwright-plan/1
title  The yard as it is
item   clay fires-to brick
rule   handover 7
layer 0
B . . . #
. . . . .
. F F F .
layer 1
. . . . #
. . . . .
. . . . .
layer 2
. . . . .
. . . . .
. . . . .
layer 3
. . . . .
. . . . .
. . . . .
"""


def piped(path: Path, answers: str, *words: str) -> Result:
    """The command with its answers on standard input, which is no terminal."""
    return CliRunner().invoke(app, ["new", str(path), *words], input=answers)


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """The question for the site waits until a known build is found, however slow the machine is."""
    monkeypatch.setattr(new, "PATIENCE_S", 300.0)


def refused(result: Result, *told: str) -> None:
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    for text in told:
        assert text in result.stderr


# -- what is written ---------------------------------------------------------------------------------------------------


def test_options_answer_every_question(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    result = piped(path, "", *ALL)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines() == [
        f"Written: {path}",
        f"Next: splitwright propose {path} --out build",
        f"Or, while you edit it: splitwright watch {path}",
    ]
    spec = load_spec(path)
    assert (spec.title, spec.outputs, spec.size) == ("Clay for 3 furnaces", 3, (4, 3, 4))
    assert (spec.even_for, spec.leftovers, spec.order) == ("burst", "deliver", ("volume", "parts", "latency"))
    assert [(s.name, s.item, s.enters) for s in spec.streams] == [("feed", "clay", "top")]
    assert spec.items["clay"].fires_to == "brick"


def test_piped_answers_in_their_order(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    result = piped(path, "split\n5\nsand\ntrickling\nhold\n7x4x5\n\nW\nQuickest\n", "--json")
    assert result.exit_code == 0, result.stderr
    spec = load_spec(path)
    assert (spec.outputs, spec.streams[0].item, spec.even_for) == (5, "sand", "stream")
    assert (spec.size, spec.order) == ((7, 4, 5), ("latency", "volume", "parts"))
    assert (spec.leftovers, spec.streams[0].source) == ("hold", "W")
    assert "sand" not in spec.items, "nobody knows what it fires to"
    found = document(result, SCHEMA)
    assert found == {
        "format": "splitwright-new/1",
        "file": str(path),
        "answers": {
            "for": "split", "outputs": 5, "item": "sand", "arrival": "stream", "leftovers": "hold", "site": [7, 4, 5],
            "bin": "W", "kilns": [], "taken": [], "first": "latency",
        },
        "next": [["splitwright", "propose", str(path), "--out", "build"], ["splitwright", "watch", str(path)]],
    }  # fmt: skip


def test_empty_answers_take_what_is_offered(tmp_path: Path, patient: None) -> None:
    path = tmp_path / "kilns.toml"
    assert piped(path, "\n4" + "\n" * 8, "--quiet").stdout == f"Written: {path}\n"
    spec = load_spec(path)
    assert (spec.outputs, spec.streams[0].item, spec.even_for) == (4, "clay", "burst")
    assert (spec.size, spec.order) == (with_known_site(Answers(outputs=4)).size, ("volume", "parts", "latency"))


def test_an_option_leaves_its_question_out(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    assert piped(path, "\n2\nburst\n\n\n\nparts\n", "--item", "charcoal", "--site", "4,3,4").exit_code == 0
    spec = load_spec(path)
    assert (spec.outputs, spec.order[0]) == (2, "parts")
    assert [(s.item, s.enters) for s in spec.streams] == [("charcoal", "side")], "a fuel goes in from the side"


@pytest.mark.parametrize("arrival", ["burst", "stream"])
@pytest.mark.parametrize("item", ["clay", "charcoal", "sand", 'of "two" words # no comment'])
def test_every_line_has_a_comment(item: str, arrival: Any) -> None:
    text = spec_text(Answers(item=item, arrival=arrival))
    for line in text.splitlines():
        assert not line or line.startswith("#") or re.search(r"  # \S", line), line
        assert len(line) <= 120
    assert "no guide to real kilns" in text
    Draft202012Validator(published(SPEC_SCHEMA)).validate(tomllib.loads(text))


@given(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=60), st.integers(2, 64))
def test_any_item_comes_through(item: str, outputs: int) -> None:
    spec = spec_from_toml(spec_text(Answers(outputs=outputs, item=item, size=site_guess(outputs))))
    assert (spec.streams[0].item, spec.outputs, spec.size) == (item, outputs, site_guess(outputs))


@pytest.mark.parametrize(
    ("outputs", "name", "arrival"),
    [(2, "two", "burst"), (3, "three", "burst"), (4, "four", "burst"), (5, "five", "burst"), (2, "two", "stream")],
)
def test_the_site_that_is_offered_holds_a_known_build(
    outputs: int, name: str, arrival: str, tmp_path: Path, patient: None
) -> None:
    """One that is confirmed for the very spec that is written; in no more cells than that of specs/results takes, but
    for three, where it is that of three-kilns.toml."""
    known = load_layout(REPOSITORY / "specs" / "results" / f"{name}-kilns-smallest.plan").size
    if outputs == 3:
        known = load_spec(REPOSITORY / "specs" / "three-kilns.toml").size
    path = tmp_path / "kilns.toml"
    assert piped(path, f"\n{outputs}\n\n{arrival}" + "\n" * 6).exit_code == 0
    spec = load_spec(path)
    assert volume(spec.size) <= volume(known)
    schemes = [replace(spec, scheme=scheme.name) for scheme in admissible(spec)]
    every = ((one, layout) for one in schemes for layout in KnownBuilds((atlas(),)).candidates(one))
    assert any(Judge(one, required_handovers(one)).accepts(layout) for one, layout in every)


def test_what_the_known_build_does_with_leftovers_is_written(tmp_path: Path, patient: None) -> None:
    """Eight for streams: builds are known that keep some in the nodes, if any at all."""
    path = tmp_path / "kilns.toml"
    assert piped(path, "\n8\n\nstream" + "\n" * 6).exit_code == 0
    offered = with_known_site(Answers(outputs=8, arrival="stream"))
    spec = load_spec(path)
    assert (spec.leftovers, spec.size) == (offered.leftovers, offered.size)


@pytest.mark.parametrize("outputs", [1, 2, 3, 6, 62, 63, 64])
def test_where_no_build_is_known_the_site_is_as_wide_as_a_straight_row(
    outputs: int, tmp_path: Path, patient: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """N + 1 nodes in a row (the burst row's T0 to TN, synth/schemes/burst_row.py), or the most that a spec may have.
    Where the row must bend, it has another column beside its own, and two for the wiring."""
    site = published(SPEC_SCHEMA)["$defs"]["site"]["properties"]["size"]
    most = site["items"]["maximum"]
    width, depth, _ = site_guess(outputs)
    assert width >= min(outputs + 1, most)
    assert depth >= (4 if outputs + 1 > most else 3)
    monkeypatch.setattr(new, "KnownBuilds", lambda _: KnownBuilds(()))
    path = tmp_path / "kilns.toml"
    assert piped(path, f"\n{outputs}" + "\n" * 8).exit_code == 0
    assert load_spec(path).size == site_guess(outputs), "what is offered can be written and read"
    assert max(site_guess(outputs)) <= most == CELLS_MOST


def test_nobody_waits_long_for_a_known_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it takes too long to find one, a guess is offered."""
    ended = threading.Event()
    monkeypatch.setattr(new, "PATIENCE_S", 0.05)
    monkeypatch.setattr(new, "with_known_site", lambda _: ended.wait())
    path = tmp_path / "kilns.toml"
    try:
        assert piped(path, "\n4" + "\n" * 8).exit_code == 0
    finally:
        ended.set()
    assert load_spec(path).size == site_guess(4)


def test_an_awkward_name_is_quoted_for_the_shell(tmp_path: Path) -> None:
    path = tmp_path / "my kilns.toml"
    assert f"Next: splitwright propose '{path}' --out build\n" in piped(path, "", *ALL).stdout


def test_a_script_need_not_speak_of_what_it_has_not(tmp_path: Path) -> None:
    """The options of old: questions that came later take what is offered where no input is left."""
    path, whole = tmp_path / "kilns.toml", tmp_path / "whole.toml"
    given = [word for i in range(0, len(ALL), 2) for word in ALL[i : i + 2] if ALL[i] not in MAY_LACK]
    assert piped(path, "", *given).exit_code == 0
    assert piped(whole, "", *ALL).exit_code == 0
    assert path.read_text(encoding="utf-8") == whole.read_text(encoding="utf-8")


# -- what stands there -------------------------------------------------------------------------------------------------


def test_a_typed_picture_pins_kilns_bin_and_taken_cells(tmp_path: Path) -> None:
    """Rows from the north, as plans have them; blanks between the signs are free."""
    path = tmp_path / "kilns.toml"
    picture = "layer 0\nx . . . .\n.....\n. F F F .\nlayer 3\n#....\n.B...\n.....\n\n"
    assert piped(path, f"\n3\n\n\n\n5 3 4\n{picture}\n").exit_code == 0
    spec = load_spec(path)
    assert spec.blocked == {(0, 2, 0), (0, 2, 3)}
    (stream,) = spec.streams
    assert stream.outputs_at == ((1, 0, 0), (2, 0, 0), (3, 0, 0))
    assert stream.source == (1, 1, 3)


def test_the_picture_as_an_option_says_the_same(tmp_path: Path) -> None:
    typed, given = tmp_path / "typed.toml", tmp_path / "given.toml"
    words = [word for word in ALL if word not in ("--standing", "nothing")]
    picture = "layer 1\n....\n.x..\n....\nlayer 0\nFFF.\n....\n....\n"
    assert piped(typed, picture + "\n", *words).exit_code == 0
    assert piped(given, "", *words, "--standing", picture.replace("\n", "/")).exit_code == 0
    assert typed.read_text(encoding="utf-8") == given.read_text(encoding="utf-8")
    assert load_spec(typed).blocked == {(1, 1, 1)}


@pytest.mark.parametrize(
    ("picture", "told"),
    [
        ("layer 4/..../..../....", "layer 4: the site has 0 to 3"),
        ("layer 0/..../..../..../layer 0/..../..../....", "layer 0: is there twice"),
        ("F..Q/..../....", 'layer 0: "Q" is no sign; there are . free'),
        ("BB../..../....", "shows 2 bins"),
    ],
)
def test_a_picture_that_will_not_do(tmp_path: Path, picture: str, told: str) -> None:
    words = [picture if word == "nothing" else word for word in ALL]
    refused(run("new", str(tmp_path / "kilns.toml"), *words), "--standing: ", told)


def test_the_site_of_a_plan_with_what_stands_in_it(tmp_path: Path) -> None:
    plan, path = tmp_path / "yard.plan", tmp_path / "kilns.toml"
    plan.write_text(YARD, encoding="utf-8")
    result = piped(path, "\n\n\n\n", "--from", str(plan))
    assert result.exit_code == 0, result.stderr
    assert result.stderr == (
        f"splitwright: {plan}: stands there: kilns at 1,0,0 2,0,0 3,0,0; bin at 0,2,0; cells taken: 2\n"
    )
    spec = load_spec(path)
    assert (spec.outputs, spec.size, spec.blocked) == (3, (5, 3, 4), {(4, 2, 0), (4, 2, 1)})
    assert (spec.streams[0].source, spec.streams[0].outputs_at) == ((0, 2, 0), ((1, 0, 0), (2, 0, 0), (3, 0, 0)))
    assert (spec.items["clay"].fires_to, spec.overrides) == ("brick", {"handover": 7})
    for option in ("--for", "--site", "--standing", "--outputs", "--bin"):
        refused(run("new", str(tmp_path / "x.toml"), "--from", str(plan), option, "3"), f"{option}: is settled by")


@pytest.mark.parametrize("answer", ["", "go", "stay"])
def test_the_site_of_a_finished_build(tmp_path: Path, answer: str) -> None:
    """The kilns in the stream's order and its bin stand; its wiring makes room for another build, unless it stays."""
    source = REPOSITORY / "specs" / "results" / "three-kilns-smallest.plan"
    layout, path = load_layout(source), tmp_path / "kilns.toml"
    result = piped(path, f"{answer}\n\n\n\n\n", "--from", str(source))
    assert result.exit_code == 0, result.stderr
    spec, (stream,) = load_spec(path), layout.streams
    assert (spec.streams[0].outputs_at, spec.streams[0].source) == (stream.outputs, stream.source)
    wiring = {part.at for part in layout.parts} - {*stream.outputs, stream.source}
    assert f"; nodes and wiring: {len(wiring)} cells\n" in result.stderr
    free = "the cells of its nodes and wiring are free for the new build; --wiring stay leaves them taken\n"
    assert (free in result.stderr) == (answer != "stay")
    assert spec.blocked == (wiring if answer == "stay" else frozenset())
    if answer != "stay":
        assert smallest(spec, KnownBuilds(shipped())) is not None, "what is told to be next is possible"


def test_wiring_is_asked_about_where_there_is_some(tmp_path: Path) -> None:
    refused(run("new", str(tmp_path / "x.toml"), *ALL, "--wiring", "go"), "--wiring: is settled by a site without")


# -- halls, and what comes next ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answers", "arrival", "leftovers", "inputs"),
    [("hall\n16\n\n\n\n\n\n\n", "burst", "deliver", None),
     ("hall\n8\nclay\ntrickling\n\none\n24 12 6\n\n", "stream", "hold", 1)],
)  # fmt: skip
def test_a_hall(tmp_path: Path, answers: str, arrival: str, leftovers: str, inputs: int | None) -> None:
    path = tmp_path / "hall.toml"
    result = piped(path, answers, "--json")
    assert result.exit_code == 0, result.stderr
    found = document(result, SCHEMA)["answers"]
    hall = known_hall(path)
    assert (found["for"], found["outputs"], found["item"]) == ("hall", hall.furnaces, hall.fires)
    assert {(s.even_for, s.leftovers) for s in hall.streams} == {(arrival, leftovers)}
    assert (hall.inputs, hall.size) == (inputs, None if found["site"] is None else tuple(found["site"]))


def test_a_hall_that_nothing_serves_is_refused_at_the_question(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    refused(piped(path, "hall\n16\nsand\nfired sand\nstream\ndeliver\n"), "answer for --leftovers: no scheme of a hall")
    assert not path.exists()


def test_a_hall_is_refused_in_the_words_of_the_options(tmp_path: Path) -> None:
    """What is named is taken; an empty picture of what stands there settles nothing."""
    given = ["--for", "hall", "--outputs", "4", "--item", "clay", "--inputs", "one", "--site", "any"]
    path, more = tmp_path / "hall.toml", ["--first", "volume", "--standing", ""]
    refused(
        piped(path, "", *given, "--arrival", "burst", "--leftovers", "deliver"),
        "--inputs: one needs --arrival stream and --leftovers hold",
    )
    refused(piped(path, "", *given, "--arrival", "stream", "--leftovers", "deliver"), "say --leftovers hold, or")
    assert not path.exists()
    assert piped(path, "", *given, *more, "--arrival", "stream", "--leftovers", "hold").exit_code == 0


def test_run_runs_what_was_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """``propose`` of that very file; its exit status is the command's own."""
    ran: list[list[str]] = []

    def noted(words: list[str], **_: Any) -> subprocess.CompletedProcess[str]:
        ran.append(words)
        return subprocess.CompletedProcess(words, 3)

    monkeypatch.setattr(new.subprocess, "run", noted)
    path = tmp_path / "kilns.toml"
    assert piped(path, "", *ALL, "--run").exit_code == 3
    assert [words[1:] for words in ran] == [["-m", "splitwright", "propose", str(path), "--out", "build"]]
    assert piped(tmp_path / "other.toml", "", *ALL).exit_code == 0
    assert len(ran) == 1, "nobody is asked where nobody is there"


# -- what is refused ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("option", "answer", "told"),
    [
        ("--outputs", "0", "must be a whole number from 1 to 64"),
        ("--outputs", "many", "must be a whole number from 1 to 64"),
        ("--item", "", "must be 1 to 60 characters"),
        ("--item", "cl\x1bay", "must be 1 to 60 characters"),
        ("--item", "x" * 61, "must be 1 to 60 characters"),
        ("--item", "x" * 300, "must be 1 to 60 characters"),
        ("--item", "cl\x7fay", "must be 1 to 60 characters"),
        ("--item", "cl\u202eay", "must be 1 to 60 characters"),
        ("--item", "cl\nay", "must be 1 to 60 characters"),
        ("--arrival", "brust", 'did you mean "burst"?'),
        ("--site", "4 3", "must be three numbers"),
        ("--site", "4 3 65", "must be a whole number from 1 to 64"),
        ("--first", "beauty", "known are volume"),
    ],
)
def test_a_bad_option_is_told(tmp_path: Path, option: str, answer: str, told: str) -> None:
    path = tmp_path / "kilns.toml"
    words = list(ALL)
    words[words.index(option) + 1] = answer
    refused(run("new", str(path), *words), option, told)
    assert not path.exists()


@pytest.mark.parametrize(
    ("answers", "told"),
    [
        ("\nx\n", "answer for --outputs: must be a whole number"),
        ("\n3\nclay\nnever\n", "answer for --arrival"),
        ("\n1\nclay\nstream\ndeliver\n", "answer for --leftovers: no scheme serves"),
        ("\n3\nclay\n", "standard input: ends before the answer for --arrival"),
        ("", "standard input: ends before the answer for --outputs"),
        ("\n3\nclay\nburst\n\n4 3 4\nF.F.\n", "answer for --standing: layer 0: has 1 row; the site is 3 deep"),
        ("\n3\nclay\nburst\n\n4 3 4\nF.F./..../....\n\n", "answer for --standing: shows 2 kilns, and 3 share it"),
    ],
)
def test_a_bad_piped_answer_is_told(tmp_path: Path, answers: str, told: str) -> None:
    path = tmp_path / "kilns.toml"
    refused(piped(path, answers), told)
    assert not path.exists()


def test_a_file_that_is_there_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    path.write_text("mine", encoding="utf-8")
    refused(piped(path, "", *ALL), f"{path}: is there already", "--force")
    assert path.read_text(encoding="utf-8") == "mine"
    refused(piped(path, "nonsense\n", "--force"), "answer for --for")
    assert path.read_text(encoding="utf-8") == "mine", "lost only when there is a spec to take its place"
    assert piped(path, "", *ALL, "--force").exit_code == 0
    assert load_spec(path).outputs == 3


@pytest.mark.parametrize("name", ["kilns.plan", "kilns", "none/kilns.toml", "no\0name.toml"])
def test_names_that_will_not_do(tmp_path: Path, name: str) -> None:
    result = run("new", f"{tmp_path}/{name}", *ALL)
    refused(result)
    assert list(tmp_path.iterdir()) == []


# -- on a terminal -----------------------------------------------------------------------------------------------------


def test_on_a_terminal_a_bad_answer_is_asked_for_again(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        command_line("new", str(path), "--json"), cwd=REPOSITORY, env=environment(TERM="dumb"),
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        os.close(theirs)
        os.write(
            ours, b"\nnone\n2\n\nsideways\nburst\n\n4 3 4\nlayer 3\nB..\n\nlayer 3\n....\nB...\n....\n\nfewest\nn\n"
        )
        stdout, stderr = process.communicate(timeout=90)
        os.close(ours)
    assert process.returncode == 0, stderr
    assert stderr.count("How many furnaces share it [3]: ") == 2
    assert 'splitwright: furnaces: must be a whole number from 1 to 64, not "none"\n' in stderr
    assert 'splitwright: arrival: "sideways" is none of the answers; ' in stderr
    assert stderr.count("How large is the site") == 1
    assert stderr.count("What stands there") == 2
    assert "splitwright: layer 3: a row has 3 cells, the site 4 from west to east\n" in stderr
    assert "Where does its bin stand" not in stderr, "the picture shows it"
    assert stdout.startswith("{"), "questions are no part of the document"
    assert json.loads(stdout)["answers"] == {
        "for": "split", "outputs": 2, "item": "clay", "arrival": "burst", "leftovers": "deliver", "site": [4, 3, 4],
        "bin": [0, 1, 3], "kilns": [], "taken": [], "first": "parts",
    }  # fmt: skip
    assert load_spec(path).order == ("parts", "volume", "latency")


def test_ctrl_c_at_a_question_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "kilns.toml"
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        command_line("new", str(path)), cwd=REPOSITORY, env=environment(TERM="dumb"),
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        os.close(theirs)
        os.write(ours, b"\n2\n\x04")  # the end of what is typed
        _, stderr = process.communicate(timeout=90)
        os.close(ours)
    assert process.returncode == 3, stderr
    assert stderr.endswith(
        f"splitwright: go on from here: splitwright new {path} --for split --outputs 2\nsplitwright: interrupted\n"
    )
    assert "Traceback" not in stderr
    assert list(tmp_path.iterdir()) == []
