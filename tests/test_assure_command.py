"""``splitwright assure``: answers, exit statuses, documents, case files, limits, bad input, Ctrl-C."""

from __future__ import annotations

import copy
import json
import re
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commands import (
    LAYOUTS,
    ROW,
    UNEVEN,
    WAIT_S,
    document,
    faults,
    run,
    started,
    waited_for,
)
from outside.rows import burst_row_layout
from sim.analysis.assure.verdict import QUESTIONS
from sim.world.case_file import case_from
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from test_assure_load import FILL_GAUGE, brimmed

SCHEMA = "splitwright-assurance-1"
TWO = str(LAYOUTS / "burst-row-of-two.plan")


@pytest.fixture
def even(tmp_path: Path) -> str:
    """A row that is even under every question that decides."""
    path = tmp_path / "brimmed.plan"
    path.write_text(layout_to_plan(brimmed()), encoding="utf-8")
    return str(path)


def asked(layout: str, out: Path, *words: str) -> dict[str, Any]:
    """The document of a run."""
    return document(run("assure", layout, "--out", str(out), "--json", "--workers", "1", *words), SCHEMA)


# -- answers ----------------------------------------------------------------------------------------------------------


def test_even_as_far_as_was_asked(even: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("assure", even, "-v", "--out", str(out), *(f"--ask={one}" for one in QUESTIONS if one != "hazards"))
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("Even for whole loads at once (from 4 items on), ")
    assert "- Trickling in: as even as the number allows (proved)." in result.stdout
    assert re.search(r"^arrivals +8 +proved +114 ", result.stdout, re.MULTILINE)
    assert "Handover 8; steady flow of feed 2 items in 16 ticks, 100 % of what its node can pass" in result.stdout
    assert not out.exists(), "no folder without a counterexample"


def test_refuted_is_a_no(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("assure", UNEVEN, "--out", str(out), "--ask", "load", "--ask", "gaps")
    assert (result.exit_code, result.stderr) == (1, "")
    assert result.stdout.startswith("Not even for whole loads at once, ")
    assert "3 items come to 3 / 0 / 0" in result.stdout
    assert f"splitwright trial {UNEVEN} --case {out}" in " ".join(result.stdout.split())
    assert {path.name for path in out.iterdir()} >= {"load-8.json", "load-7.json", "gaps-8.json"}


def test_open_is_no_answer(tmp_path: Path) -> None:
    """A gauge that reads the source: every pattern of arrivals is not searched."""
    path = tmp_path / "gauge.plan"
    path.write_text(layout_to_plan(FILL_GAUGE), encoding="utf-8")
    result = run("assure", str(path), "-v", "--ask", "arrivals", "--out", str(tmp_path / "out"))
    assert (result.exit_code, result.stderr) == (3, "")
    assert "a gauge reads the source at 2,1,1" in " ".join(result.stdout.split())
    assert result.stdout.startswith("Not decided: trickling in.")


def test_hazards_decide_nothing(tmp_path: Path) -> None:
    found = asked(TWO, tmp_path, "--ask", "hazards")
    assert {one["verdict"] for one in found["verdicts"]} > {"refuted"}
    assert not any(one["decides"] for one in found["verdicts"])
    result = run("assure", TWO, "--ask", "hazards", "--out", str(tmp_path))
    assert result.exit_code == 0
    assert "Even" not in result.stdout.splitlines()[0]


def test_questions_come_in_their_order_each_once(tmp_path: Path) -> None:
    found = asked(UNEVEN, tmp_path, "--ask", "gaps", "--ask", "load", "--ask", "gaps")
    assert [one["question"] for one in found["verdicts"]] == ["load"] * 4 + ["gaps"] * 4


def test_quiet_is_the_answer_alone(even: str, tmp_path: Path) -> None:
    for layout in (even, UNEVEN):
        words = ("assure", layout, "--out", str(tmp_path / "out"), "--ask", "load")
        loud, quiet = (run(*words, *more) for more in ([], ["--quiet"]))
        assert quiet.exit_code == loud.exit_code
        assert quiet.stdout.splitlines() == loud.stdout.splitlines()[:1]
        assert quiet.stderr == ""


def test_the_table_tells_every_verdict(tmp_path: Path) -> None:
    words = ("--ask", "load", "--ask", "drift", "--ask", "arrivals", "--ask", "hazards")
    found = asked(UNEVEN, tmp_path, *words)
    told = " ".join(run("assure", UNEVEN, "-v", "--out", str(tmp_path), *words).stdout.split())
    for one in found["verdicts"]:
        assert f"{one['cases']:,}" in told
        for word in one["text"].split():
            assert word in told


# -- documents --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def all_of_two(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    out = tmp_path_factory.mktemp("two")
    return asked(TWO, out), out


def test_every_question_is_answered(all_of_two: tuple[dict[str, Any], Path]) -> None:
    found, _ = all_of_two
    assert found["format"] == "splitwright-assurance/1"
    assert list(dict.fromkeys(one["question"] for one in found["verdicts"])) == list(QUESTIONS)
    assert found["complete"] is True
    assert {one["handover"] for one in found["figures"]} == {7, 8}


def test_every_case_is_run_again_by_trial(all_of_two: tuple[dict[str, Any], Path]) -> None:
    """As its file says, and uneven: exit status 1."""
    found, out = all_of_two
    cases = [one["counterexample"] for one in found["verdicts"] if one["counterexample"] is not None]
    assert len(cases) == len(found["files"]) == len(list(out.iterdir())) >= 9
    by_file = [json.loads(Path(path).read_text(encoding="utf-8")) for path in found["files"]]
    assert sorted(map(json.dumps, by_file)) == sorted(json.dumps(one["case"]) for one in cases)
    for path in found["files"]:
        result = run("trial", TWO, "--case", path)
        assert (result.exit_code, result.stderr) == (1, "")
        assert result.stdout.splitlines()[-1] == f"As {path} says."


def test_a_counterexample_says_what_its_case_says(all_of_two: tuple[dict[str, Any], Path]) -> None:
    found, _ = all_of_two
    layout = load_layout(TWO)
    for one in found["verdicts"]:
        if (example := one["counterexample"]) is None:
            continue
        case = case_from(example["case"], layout)
        assert example["stream"] == "feed"
        assert example["arrivals"] == [[arrival.tick, arrival.count] for arrival in case.arrivals]
        assert case.delivered == {"feed": tuple(example["delivered"])}
        assert case.handover == one["handover"]
        assert example["order"] == (None if case.order is None else [list(cell) for cell in case.order])


def test_the_same_seed_gives_the_same_document(tmp_path: Path) -> None:
    words = ("--ask", "gaps", "--ask", "orders", "--ask", "hazards")
    first, again, other = (timeless(asked(TWO, tmp_path, *words, "--seed", seed)) for seed in ("3", "3", "4"))
    assert first == again
    assert first != other
    two = timeless(document(run("assure", TWO, "--out", str(tmp_path), "--json", "--workers", "2", *words), SCHEMA))
    one = timeless(document(run("assure", TWO, "--out", str(tmp_path), "--json", "--workers", "1", *words), SCHEMA))
    assert one == two


def timeless(found: dict[str, Any]) -> dict[str, Any]:
    """Without seconds."""
    verdicts = [{key: value for key, value in one.items() if key != "seconds"} for one in found["verdicts"]]
    return {**{key: value for key, value in found.items() if key != "seconds"}, "verdicts": verdicts}


@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found.pop("verdicts"),
        lambda found: found.update(format="splitwright-assurance/2"),
        lambda found: found["verdicts"][0].update(question="weather"),
        lambda found: found["verdicts"][0].update(verdict="true"),
        lambda found: found["verdicts"][0].update(cases=-1),
        lambda found: found["verdicts"][0].pop("text"),
        lambda found: next(one for one in found["verdicts"] if one["verdict"] == "refuted").update(counterexample=None),
        lambda found: next(one for one in found["verdicts"] if one["verdict"] == "refuted").update(verdict="proved"),
        lambda found: found["figures"][0]["fairness"][0].update(jain=1.5),
        lambda found: found["figures"][0].update(held={"1,1,1": 0}),
    ],
)
def test_the_schema_refuses(
    all_of_two: tuple[dict[str, Any], Path], spoil: Callable[[dict[str, Any]], object]
) -> None:
    spoiled = copy.deepcopy(all_of_two[0])
    spoil(spoiled)
    assert faults(spoiled, SCHEMA) != []


def test_no_folder_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Cases go to build/assure-NAME below where one stands."""
    monkeypatch.chdir(tmp_path)
    assert run("assure", UNEVEN, "--ask", "load").exit_code == 1
    assert (tmp_path / "build" / "assure-row-of-three-unlocked" / "load-8.json").is_file()


# -- limits -----------------------------------------------------------------------------------------------------------


def test_time_limit_on_a_large_layout(tmp_path: Path) -> None:
    """What was looked at is told; nothing that was cut short is called proved."""
    found = asked(str(LAYOUTS / "burst-row-of-five.plan"), tmp_path, "--time-limit", "1")
    cut = [one for one in found["verdicts"] if one["verdict"] == "open"]
    assert {one["question"] for one in cut} >= {"orders"}
    assert all("time was up" in one["text"] or "nothing in this layout" in one["text"] for one in cut)
    for one in found["verdicts"]:
        if (one["question"], one["verdict"]) == ("load", "proved"):
            assert one["cases"] in (345, 1728)
    assert found["complete"] is True


def test_memory_limit(tmp_path: Path) -> None:
    """A row that is always locked: more states than that."""
    path = str(LAYOUTS / "row-of-three-locked.plan")
    result = run("assure", path, "--ask", "arrivals", "--memory-limit", "16", "--time-limit", "30", "--quiet", "--out",
                 str(tmp_path))  # fmt: skip
    assert result.exit_code in (0, 3)
    found = asked(path, tmp_path, "--ask", "arrivals", "--memory-limit", "16", "--time-limit", "30")
    for one in found["verdicts"]:
        assert one["verdict"] == "proved" or "memory limit was reached" in one["text"]
        assert one["states"] > 1000


# -- bad input --------------------------------------------------------------------------------------------------------


def one_line(result: Any, *words: str) -> None:
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


@pytest.mark.parametrize(("word", "nearest"), [("lode", "load"), ("order", "orders"), ("overheat", "overheating")])
def test_unknown_questions_name_the_nearest(word: str, nearest: str) -> None:
    one_line(run("assure", TWO, "--ask", word), "--ask", f'"{word}"', nearest)


BAD_LAYOUTS = {
    "no stream": ("layer 0\nnE B\nlayer 1\nB .\n", "no stream"),
    "no node below": ("stream feed clay from 0,0,1 to 1,0,0\nlayer 0\nB B\nlayer 1\nB .\n", "no node below"),
    "source no bin": ("stream feed clay from 0,0,1 to 1,0,0\nlayer 0\nnE B\nlayer 1\nnD .\n", "bin"),
    "shared source": (
        "stream a clay from 0,0,1 to 1,0,0\nstream b sand from 0,0,1 to 1,0,0\nlayer 0\nnE B\nlayer 1\nB .\n", "share",
    ),
    "stacks that fit nowhere": (
        "item a stack 9967\nitem b stack 9973\nstream feed a from 0,0,1 to 1,0,0\nlayer 0\nnE B\nlayer 1\nB .\n",
        "stack limits",
    ),
}


@pytest.mark.parametrize("name", BAD_LAYOUTS)
def test_bad_layouts(tmp_path: Path, name: str) -> None:
    text, fault = BAD_LAYOUTS[name]
    path = tmp_path / "bad.plan"
    path.write_text(f"splitwright-plan/1\n{text}", encoding="utf-8")
    one_line(run("assure", str(path), "--out", str(tmp_path / "out")), str(path), fault)
    assert not (tmp_path / "out").exists()


def test_no_such_file(tmp_path: Path) -> None:
    one_line(run("assure", str(tmp_path / "none.plan")), "none.plan")


@pytest.mark.parametrize(
    ("option", "value"),
    [("--time-limit", "0"), ("--memory-limit", "1"), ("--workers", "0"), ("--seed", "-1"), ("--time-limit", "soon")],
)
def test_numbers_out_of_range(option: str, value: str) -> None:
    one_line(run("assure", TWO, option, value), option)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    one_line(run("assure", UNEVEN, "--ask", "load", "--out", str(taken)), str(taken))
    assert taken.read_text(encoding="utf-8") == "mine"


# -- Ctrl-C -----------------------------------------------------------------------------------------------------------


def test_ctrl_c_keeps_the_verdicts_so_far(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    """As soon as there is a first case; the search over arrivals of a long row would take all the time there is."""
    out = tmp_path / "out"
    words = ("--out", str(out), "--json", "--workers", "1", "--time-limit", "600")
    process = started(running, "assure", str(LAYOUTS / "burst-row-of-five.plan"), *words)
    waited_for(process, lambda: out.is_dir() and any(out.glob("*.json")))
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=WAIT_S)
    assert process.returncode == 1, stderr
    assert stderr == ""
    found = json.loads(stdout)
    assert faults(found, SCHEMA) == []
    assert found["complete"] is False
    refuted = [one for one in found["verdicts"] if one["verdict"] == "refuted"]
    assert refuted
    assert len(list(out.glob("*.json"))) == len(found["files"]) == len(refuted)
    assert {one["question"] for one in found["verdicts"]} >= {"load"}


def test_ctrl_c_before_anything_was_found(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    """Tens of thousands of update orders, all of them even."""
    path = tmp_path / "eight.plan"
    path.write_text(layout_to_plan(burst_row_layout(8)), encoding="utf-8")
    words = ("--ask", "orders", "--out", str(tmp_path / "out"), "--time-limit", "600", "--workers", "1")
    process = started(running, "assure", str(path), *words)
    time.sleep(4.0)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=WAIT_S)
    assert process.returncode == 3, stdout + stderr
    assert "Traceback" not in stderr
    first = stdout.splitlines()[0]
    assert first.startswith(("No uneven case found: ", "Not decided: "))  # that, on a busy machine
    assert first.endswith("; stopped by Ctrl-C.")
    assert not (tmp_path / "out").exists()


def test_the_rows_of_the_set_as_it_is_known(tmp_path: Path) -> None:
    """A burst row: even for loads in any update order and under both handovers, not for gaps (design notes,
    "Schemes": one item every 20 ticks breaks it)."""
    found = asked(ROW, tmp_path, *(f"--ask={one}" for one in ("load", "gaps", "orders", "handover")))
    verdicts = {(one["question"], one["scope"].split(",")[0]): one["verdict"] for one in found["verdicts"]}
    assert verdicts["load", "one load of k*3 items"] == "proved"
    assert verdicts["gaps", "one item every g ticks"] == "refuted"
    assert {verdict for (question, _), verdict in verdicts.items() if question == "orders"} == {"proved"}
    assert {verdict for (question, _), verdict in verdicts.items() if question == "handover"} == {"proved"}
