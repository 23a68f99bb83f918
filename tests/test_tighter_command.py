"""``splitwright tighter`` as a user runs it: the question read off, the verdict, the files, Ctrl-C, going on."""

from __future__ import annotations

import json
import re
import signal
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, REPOSITORY, UPHILL, WAIT_S, faults, run, run_as_user, started, told, waited_for
from sim.world.files.layout_json import layout_json_text, layout_to_json
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Support
from sim.world.trial import arrivals_for, run_trial

SPECS = REPOSITORY / "specs"
SCHEMA = "splitwright-proposals-1"
BURST_TWO = LAYOUTS / "burst-row-of-two.plan"
TWO = """title = "Clay for two kilns"
[split]
outputs = 2
[site]
size = [4, 2, 4]
[streams.feed]
item = "clay"
[items.clay]
fires_to = "brick"
"""
EMPTY_LAYOUT = '{"format": "splitwright-layout/1", "size": [1, 1, 1], "items": {}, "parts": []}'
Finished = subprocess.CompletedProcess[str]


def spec_file(folder: Path, text: str = TWO) -> str:
    path = folder / "spec.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


@dataclass(frozen=True)
class Run:
    """A run with ``--json`` and ``--out``."""

    result: Finished
    found: dict[str, Any]
    out: Path
    ledger: Path


def with_json(folder: Path, asked: Path | str, *words: str) -> Run:
    out, ledger = folder / "build", folder / "search.json"
    options = ("--json", "--out", str(out), "--resume", str(ledger), "--workers", "1", "--time-limit", "100")
    result = run_as_user("tighter", str(asked), *options, *words)
    assert "Traceback" not in result.stderr
    assert result.stdout.count("\n") == 1, "nothing but one document on one line"
    found = json.loads(result.stdout)
    assert faults(found, SCHEMA) == []
    return Run(result, found, out, ledger)


def assert_files_work(found: dict[str, Any], out: Path) -> None:
    """Each file is a layout that a trial accepts, as JSON and as a plan, best first."""
    assert sorted(found["files"]) == sorted(str(path) for path in out.iterdir())
    assert len(found["files"]) == 2 * len(found["layouts"])
    for rank, one in enumerate(found["layouts"], 1):
        assert json.loads((out / f"layout-{rank}.json").read_text(encoding="utf-8")) == one["layout"]
        for suffix in ("json", "plan"):
            path = out / f"layout-{rank}.{suffix}"
            assert run("check", str(path)).exit_code == 0
            for each in (1, 18):
                trial = run("trial", str(path), "--load", f"feed={2 * each}", "--json")
                assert trial.exit_code == 0
                (stream,) = json.loads(trial.stdout)["streams"]
                assert (stream["delivered"], stream["held"]) == ([each, each], 0)


# -- a spec -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_smallest_build_for_two_kilns(tmp_path: Path) -> None:
    """The spec of the set: 32 cells, 18 parts as a muster row (burst row 21: test_exact_descent), each step proved."""
    asked = (str(SPECS / "two-kilns.toml"), "-v", "--scope", "--out", str(tmp_path), "--time-limit", "100")
    result = run_as_user("tighter", *asked)
    assert result.returncode == 0, result.stderr
    lines = told(result.stderr)
    assert any("4 x 2 x 4 = 32 cells, 18 parts, muster row, even for any arrivals tried" in line for line in lines)
    text = result.stdout
    verdict = "none of less volume exists (proved; scope below)"
    assert text.startswith(f"Clay for two kilns: 2 furnaces: {verdict}.")
    assert "  volume 32: proved, no layout has less" in text
    assert "  parts 18: proved, no layout of that volume has fewer" in text
    latency = re.search(
        r"^  latency (\d+): proved, no layout of that volume and number of parts has less$", text, re.MULTILINE
    )
    assert latency
    row = re.search(r"^ +1 +4 x 2 x 4 +32 +18 +\d+ +(\d+) ", text, re.MULTILINE)
    assert row
    assert row[1] == latency[1]
    assert "layer 0 (ground)" in text
    assert "Scope: " in text
    for scheme in ("burst row", "muster row"):
        which = rf"of the {scheme} that works under handover 8 and 7 alike"
        assert re.search(rf"^None {which} exists \(proved\) in boxes of .*3 x 2 x 4", text, re.MULTILINE)
    assert "Open, no proof" not in text
    assert (tmp_path / "layout-1.plan").exists()
    assert run("trial", str(tmp_path / "layout-1.plan")).exit_code == 0


@pytest.mark.slow
def test_a_spec_that_is_too_tight(tmp_path: Path) -> None:
    spec = spec_file(tmp_path, TWO.replace("[4, 2, 4]", "[3, 2, 4]"))
    result = run_as_user("tighter", spec, "--out", str(tmp_path / "build"), "--time-limit", "100")
    assert (result.returncode, told(result.stderr)) == (1, [])
    assert "none exists in the site (proved; scope below)" in result.stdout
    assert "Written" not in result.stdout
    assert not (tmp_path / "build").exists()


def test_a_spec_whose_site_is_too_low(tmp_path: Path) -> None:
    result = run_as_user("tighter", spec_file(tmp_path, TWO.replace("[4, 2, 4]", "[6, 6, 3]")))
    assert result.returncode == 1
    assert "none exists in the site" in result.stdout


def test_no_time_is_no_proof(tmp_path: Path) -> None:
    out = tmp_path / "build"
    words = ("--time-limit", "1", "--workers", "1", "--out", str(out))
    result = run_as_user("tighter", spec_file(tmp_path, UPHILL), *words)
    assert result.returncode == 3
    assert "that is no proof that none exists" in result.stdout
    assert "proved, within" not in result.stdout
    assert "Traceback" not in result.stderr
    assert not out.exists()


# -- a layout ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bettered(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The hand-made row of two, in as small a box as there is."""
    return with_json(tmp_path_factory.mktemp("bettered"), BURST_TWO)


@pytest.mark.slow
def test_a_layout_is_bettered(bettered: Run) -> None:
    assert bettered.result.returncode == 0
    assert any(" = 32 cells, 21 parts, burst row, " in line for line in told(bettered.result.stderr))
    found = bettered.found
    layout = load_layout(BURST_TWO)
    assert found["given"]["box"] == [5, 4, 4]
    assert found["given"]["parts"] == len(layout.parts)
    assert found["given"]["measures"]["volume"] == 80
    best = found["layouts"][0]["measures"]
    assert (best["volume"], best["parts"]) == (32, 21)
    assert [(step["measure"], step["value"], step["proved"]) for step in found["steps"]][:2] == [
        ("volume", 32, True), ("parts", 21, True),
    ]  # fmt: skip
    assert all(one["measures"]["volume"] < 80 for one in found["layouts"])
    assert_files_work(found, bettered.out)


@pytest.mark.slow
def test_what_is_implied_is_said_to_be(bettered: Run) -> None:
    """The boxes that a larger one implies name one that was ruled out by itself and contains them."""
    none = {tuple(one["box"]): one for one in bettered.found["claims"] if one["verdict"] == "none exists"}
    assert none
    for one in none.values():
        if one["implied_by"] is not None:
            outer = none[tuple(one["implied_by"])]
            assert outer["implied_by"] is None
            (w, d, h), (x, y, z) = outer["box"], one["box"]
            assert z <= h
            assert (x <= w and y <= d) or (y <= w and x <= d)


@pytest.fixture(scope="module")
def own_result(bettered: Run, tmp_path_factory: pytest.TempPathFactory) -> tuple[Finished, Path, Path]:
    """The best of all, given again: what was printed, the search's file, the folder that is not made."""
    folder = tmp_path_factory.mktemp("own")
    ledger, out = folder / "search.json", folder / "build"
    best = str(bettered.out / "layout-1.plan")
    words = ("--out", str(out), "--resume", str(ledger), "--workers", "1", "--time-limit", "100")
    return run_as_user("tighter", best, *words), ledger, out


@pytest.mark.slow
def test_its_own_result_cannot_be_bettered(own_result: tuple[Finished, Path, Path]) -> None:
    result, _, out = own_result
    assert result.returncode == 1, result.stdout + result.stderr
    assert result.stderr == "", "nothing that is not tighter is told"
    text = " ".join(result.stdout.split())
    assert "4 x 2 x 4 = 32 cells, 21 parts stream feed: clay from" in text
    assert "T0 holds something, T2 is empty: the B nodes are locked" in text
    assert "as a burst row has it" in text
    assert "no, none tighter exists (proved; scope below)" in text
    assert not out.exists()


@pytest.mark.slow
def test_a_worse_layout_in_the_searchs_file_is_not_tighter(
    bettered: Run, own_result: tuple[Finished, Path, Path], tmp_path: Path
) -> None:
    """The file may hold layouts that another run was given, such as the same build with a support too many."""
    path, best = bettered.out / "layout-1.plan", load_layout(bettered.out / "layout-1.plan")
    free = next(
        (x, y, 3) for x in range(4) for y in range(2) if (x, y, 3) not in best.by_cell and stays_even(best, (x, y, 3))
    )
    kept = json.loads(own_result[1].read_text(encoding="utf-8"))
    kept["layouts"].append(layout_to_json(with_support(best, free)))
    ledger = tmp_path / "search.json"
    ledger.write_text(json.dumps(kept), encoding="utf-8")
    again = with_json(tmp_path, path)
    assert again.ledger == ledger
    assert again.found["given"]["measures"]["parts"] == 21
    assert again.found["layouts"] == []
    assert again.result.returncode == 1


def with_support(layout: Layout, cell: tuple[int, int, int]) -> Layout:
    return replace(layout, parts=(*layout.parts, Support(cell)))


def stays_even(layout: Layout, cell: tuple[int, int, int]) -> bool:
    more = with_support(layout, cell)
    result = run_trial(more, arrivals_for(more, {"feed": 36}))
    return result.streams[0].delivered == (18, 18) and result.streams[0].held == 0


@pytest.mark.parametrize("name", ["row.json", "row.PLAN"])
def test_what_was_read_off_is_shown_below_the_answer(tmp_path: Path, name: str) -> None:
    """Of a layout file of either form."""
    path, layout = tmp_path / name, load_layout(BURST_TWO)
    path.write_text(layout_json_text(layout) if name == "row.json" else layout_to_plan(layout), encoding="utf-8")
    result = run_as_user("tighter", str(path), "--time-limit", "1", "--out", str(tmp_path / "build"))
    lines = result.stdout.replace(f"\n{name}", name).splitlines()
    (about,) = (at for at, line in enumerate(lines) if line.endswith(f"{name}: 5 x 4 x 4 = 80 cells, 32 parts"))
    assert about > 0
    assert len(layout.parts) == 32
    assert lines[about + 1] == "stream feed: clay from 0,1,3 into 2 outputs, from the top, by a row of 3 nodes"
    assert lines[about + 6] == "  as a burst row has it"
    assert result.returncode in (0, 3)


def test_a_layout_that_is_no_burst_row_itself(tmp_path: Path) -> None:
    path = str(LAYOUTS / "row-of-three-locked.plan")
    result = run_as_user("tighter", path, "--time-limit", "1", "--out", str(tmp_path))
    assert "  not as a burst row has it" in result.stdout
    assert "it does not pass every trial itself" in result.stdout
    assert result.returncode in (0, 1, 3)
    assert "Traceback" not in result.stderr


def test_quiet_tells_the_verdict_alone(tmp_path: Path) -> None:
    result = run_as_user("tighter", str(BURST_TWO), "--time-limit", "1", "--quiet", "--out", str(tmp_path))
    assert result.stdout.startswith("Two kilns, even for a burst of clay: 2 furnaces: ")
    assert "Scope" not in result.stdout


# -- going on ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_finished_search_is_told_again_from_its_file(tmp_path: Path) -> None:
    spec = spec_file(tmp_path, f'{TWO}[prefer]\norder = ["volume", "parts"]\n')
    first = with_json(tmp_path, spec)
    assert first.result.returncode == 0
    assert faults(json.loads(first.ledger.read_text(encoding="utf-8")), "splitwright-search-1") == []
    second = with_json(tmp_path, spec)
    assert second.result.returncode == 0
    for part in ("layouts", "steps", "complete", "scope"):
        assert second.found[part] == first.found[part], part
    assert second.found["complete"] is True
    assert_files_work(second.found, second.out)
    other = spec_file(tmp_path, TWO.replace("[4, 2, 4]", "[4, 2, 5]"))
    one_line(in_process(other, "--resume", str(first.ledger)), str(first.ledger), "question")


# -- Ctrl-C -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_ctrl_c_keeps_what_was_found(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    """As soon as there is a first layout, and the search is at work; what comes after it has not been looked for."""
    out, ledger = tmp_path / "build", tmp_path / "search.json"
    spec = spec_file(tmp_path)
    words = ("--out", str(out), "--resume", str(ledger), "--json", "--workers", "1", "--time-limit", "600")
    process = started(running, "tighter", spec, *words)
    waited_for(process, lambda: (out / "layout-1.plan").exists() and ledger.exists())
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=WAIT_S)
    assert process.returncode == 0, stderr
    found = json.loads(stdout)
    assert (found["interrupted"], found["complete"]) == (True, False)
    assert len(told(stderr)) >= len(found["layouts"])
    assert faults(found, SCHEMA) == []
    assert len(found["layouts"]) >= 1
    assert_files_work(found, out)
    assert list(out.glob(".*")) == [], "no temporary file is left"
    files = {"burst row": ledger, "muster row": ledger.with_name("search.muster-row.json")}
    for one in found["layouts"]:
        kept = json.loads(files[one["scheme"]].read_text(encoding="utf-8"))
        assert faults(kept, "splitwright-search-1") == []
        assert one["layout"] in kept["layouts"]


@pytest.mark.slow
def test_ctrl_c_before_anything_was_found(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    out, ledger = tmp_path / "build", tmp_path / "search.json"
    words = ("--out", str(out), "--resume", str(ledger), "--workers", "1", "--time-limit", "600")
    process = started(running, "tighter", spec_file(tmp_path, UPHILL), *words)
    waited_for(process, ledger.exists)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=WAIT_S)
    assert process.returncode == 3, stdout + stderr
    assert stderr == ""
    assert "no proof that none exists" in stdout
    assert not out.exists()
    assert faults(json.loads(ledger.read_text(encoding="utf-8")), "splitwright-search-1") == []


# -- bad input --------------------------------------------------------------------------------------------------------


def in_process(*words: str) -> Finished:
    """The command in this process: for what ends before any search begins."""
    result = run("tighter", *words)
    return Finished(words, result.exit_code, result.stdout, result.stderr)


def one_line(result: Finished, *words: str) -> None:
    assert result.returncode == 2, result.stdout + result.stderr
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


@pytest.mark.parametrize("name", ["runs-apart", "kiln-gives-products-only"])
def test_a_layout_without_a_row(name: str) -> None:
    path = str(LAYOUTS / f"{name}.plan")
    one_line(in_process(path), path, "streams.clay", "where T1 should be")


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("none.plan", None, "none.plan"),
        ("none.toml", None, "none.toml"),
        ("empty.toml", "", "split"),
        ("empty.plan", "splitwright-plan/1\nlayer 0\n. .\n", "there is nothing built"),
        ("empty.json", EMPTY_LAYOUT, "nothing built"),
        ("broken.json", "{", "broken.json"),
        ("parts.plan", "splitwright-plan/1\nlayer 0\n# -\n", "stream"),
    ],
)
def test_files_that_are_no_question(tmp_path: Path, name: str, text: str | None, told: str) -> None:
    path = tmp_path / name
    if text is not None:
        path.write_text(text, encoding="utf-8")
    one_line(in_process(str(path), "--time-limit", "5"), str(path), told)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--top", "0"], "--top"),
        (["--time-limit", "0"], "--time-limit"),
        (["--workers", "none"], "--workers"),
        (["--memory-limit", "1"], "--memory-limit"),
        (["--seed", "-1"], "--seed"),
    ],
)
def test_numbers_out_of_range(words: list[str], told: str) -> None:
    one_line(in_process(str(BURST_TWO), *words), told)


def test_files_in_the_way(tmp_path: Path) -> None:
    """A ledger that is none; one that cannot be written; both before any time is spent."""
    spec, ledger = spec_file(tmp_path), tmp_path / "search.json"
    ledger.write_text("mine", encoding="utf-8")
    one_line(in_process(spec, "--resume", str(ledger)), str(ledger))
    assert ledger.read_text(encoding="utf-8") == "mine"
    one_line(run_as_user("tighter", spec, "--resume", str(tmp_path / "no" / "search.json"), "--time-limit", "20"), "no")
