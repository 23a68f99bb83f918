"""``splitwright propose`` as a user runs it: exit statuses, the report, the document, the files, Ctrl-C."""

from __future__ import annotations

import copy
import json
import re
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commands import REPOSITORY, UPHILL, faults, run, run_as_user, started, told, waited_for
from sim.world.files.layout_json import layout_to_json
from sim.world.files.reading import load_layout
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.search.request import Request
from synth.search.result import Answer

SPECS = REPOSITORY / "specs"
SCHEMA = "splitwright-proposals-1"
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


def spec_file(folder: Path, text: str = TWO) -> str:
    path = folder / "spec.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


# -- found ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def three_kilns(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Path]:
    """The spec of the set, as its comment says, with files."""
    out = tmp_path_factory.mktemp("proposals") / "new" / "build"
    words = ("propose", str(SPECS / "three-kilns.toml"), "--out", str(out), "--time-limit", "25")
    return run_as_user(*words), out


@pytest.mark.slow
def test_three_kilns_are_proposed(three_kilns: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    result, out = three_kilns
    assert result.returncode == 0, result.stderr
    assert "Traceback" not in result.stderr
    text = result.stdout
    assert re.match(
        r"Clay for three kilns: 3 furnaces within 4 x 3 x 4: (\d layouts, each|one layout,) confirmed in", text
    )
    assert re.search(r"^rank +box +cells +parts", text, re.MULTILINE)
    row = re.search(
        r"^ +1 +4 x 3 x 4 +48 +(\d+) +(\d+) +(\d+) +(\d+) +(full loads|any arrivals tried) +0 +0 +8, 7 ",
        text,
        re.MULTILINE,
    )
    assert row, text
    assert "layer 0 (ground)" in text
    assert "layer 3" in text
    assert re.search(r"^B +bin", text, re.MULTILINE)
    assert re.search(r"\bF +furnace", text)
    assert "Proof, of these rows alone (" in text
    assert "burst row" in text
    verdicts = re.search(r"^Tip a whole load in at once \(a multiple of 3\): even \(proved\)\. .*$", text, re.MULTILINE)
    assert verdicts, text
    assert ("Trickling in: not even" in verdicts[0]) == (row[5] == "full loads"), "a burst row is no stream's"
    assert f"{out}/layout-1.json" in text.replace("\n", "")


@pytest.mark.slow
def test_each_better_layout_is_told_as_it_comes(three_kilns: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    """A line on standard error, in the order of time; the first of the list is among them."""
    result, out = three_kilns
    lines = told("\n".join(line for line in result.stderr.splitlines() if not line.startswith("first use: ")))
    assert lines
    found = [re.match(r"after (\S+) s: 4 x 3 x 4 = 48 cells, (\d+) parts, (burst|muster) row,", line) for line in lines]
    assert all(found), lines
    seconds = [float(one[1]) for one in found if one]
    assert seconds == sorted(seconds)
    assert len(load_layout(out / "layout-1.json").parts) in [int(one[2]) for one in found if one]


@pytest.mark.slow
def test_the_files_are_what_was_proposed(three_kilns: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    """Each can be tried and checked, and a plan holds the same build as its JSON."""
    result, out = three_kilns
    names = sorted(path.name for path in out.iterdir())
    assert {"layout-1.json", "layout-1.plan"} <= set(names)
    assert all(re.fullmatch(r"layout-\d\.(json|plan)", name) for name in names)
    assert len(names) % 2 == 0
    for path in out.iterdir():
        assert run("check", str(path)).exit_code == 0
        for load in ("feed=3", "feed=54"):
            trial = run("trial", str(path), "--load", load, "--json")
            assert trial.exit_code == 0
            (stream,) = json.loads(trial.stdout)["streams"]
            assert (stream["spread"], stream["held"]) == (0, 0)
        assert faults(layout_to_json(load_layout(path)), "splitwright-layout-1") == []
    as_json = load_layout(out / "layout-1.json")
    as_plan = load_layout(out / "layout-1.plan")
    assert set(as_plan.parts) == set(as_json.parts)
    assert as_plan.streams == as_json.streams
    parts = re.search(r"^ +1 +4 x 3 x 4 +48 +(\d+) ", result.stdout, re.MULTILINE)
    assert parts
    assert int(parts[1]) == len(as_json.parts)


@pytest.fixture(scope="module")
def two_kilns(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path, str]:
    """The document for two kilns in 4 x 2 x 4."""
    folder = tmp_path_factory.mktemp("two")
    out = folder / "build"
    result = run_as_user(
        "propose", spec_file(folder), "--json", "--out", str(out), "--top", "2", "--workers", "1", "--time-limit", "40"
    )
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout), out, result.stdout


@pytest.mark.slow
def test_the_document_follows_its_schema(two_kilns: tuple[dict[str, Any], Path, str]) -> None:
    found, out, text = two_kilns
    assert text.count("\n") == 1, "one document on one line"
    assert faults(found, SCHEMA) == []
    assert 1 <= len(found["layouts"]) <= 2
    for proposal in found["layouts"]:
        assert faults(proposal["layout"], "splitwright-layout-1") == []
        assert sum(proposal["measures"]["by_kind"].values()) == proposal["measures"]["parts"]
        assert proposal["measures"]["parts"] == len(proposal["layout"]["parts"])
    written = [
        str(out / f"layout-{i}.{suffix}") for i in range(1, 1 + len(found["layouts"])) for suffix in ("json", "plan")
    ]
    assert found["files"] == written
    assert json.loads(Path(written[0]).read_text(encoding="utf-8")) == found["layouts"][0]["layout"]
    assert sorted(str(path) for path in out.iterdir()) == sorted(written)
    assert found["solver"].startswith("CaDiCaL")
    assert {one["even_for"] for one in found["layouts"]} <= {"burst", "stream"}
    assert (found["interrupted"], found["advice"]) == (False, [])


def first(found: dict[str, Any], *way: str) -> Any:
    place: Any = found
    for name in way:
        place = place[name] if isinstance(place, dict) else place[int(name)]
    return place


@pytest.mark.slow
@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found.pop("files"),
        lambda found: found.pop("claims"),
        lambda found: found.update(format="splitwright-proposals/2"),
        lambda found: found.update(complete="yes"),
        lambda found: found.update(interrupted=1),
        lambda found: found.update(advice=[""]),
        lambda found: first(found, "layouts", "0").update(even_for="loads"),
        lambda found: found.update(more=1),
        lambda found: found.update(obstacles=[{"limit": "depth 2", "relaxed": "depth 3", "helps": "yes"}]),
        lambda found: first(found, "layouts", "0").pop("measures"),
        lambda found: first(found, "layouts", "0", "layout").pop("parts"),
        lambda found: first(found, "layouts", "0", "measures").update(parts=0),
        lambda found: first(found, "layouts", "0", "measures").update(by_kind={"wheel": 1}),
        lambda found: first(found, "layouts", "0", "measures").pop("handovers"),
        lambda found: first(found, "claims", "0").update(verdict="impossible"),
        lambda found: first(found, "claims", "0").update(box=[1, 2]),
        lambda found: first(found, "claims", "0").pop("parts"),
    ],
)
def test_the_schema_refuses(
    two_kilns: tuple[dict[str, Any], Path, str], spoil: Callable[[dict[str, Any]], object]
) -> None:
    spoiled = copy.deepcopy(two_kilns[0])
    spoil(spoiled)
    assert spoiled != two_kilns[0]
    assert faults(spoiled, SCHEMA) != []


@pytest.mark.slow
def test_a_second_run_tells_only_its_own_files(two_kilns: tuple[dict[str, Any], Path, str]) -> None:
    """What --out tells is what stands there; files of other names are nobody's business."""
    _, out, _ = two_kilns
    other = out / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    words = ("--json", "--out", str(out), "--top", "1", "--time-limit", "20")
    result = run_as_user("propose", spec_file(out.parent), *words)
    assert result.returncode == 0
    assert {"layout-1.json", "layout-1.plan"} == {Path(path).name for path in json.loads(result.stdout)["files"]}
    assert other.read_text(encoding="utf-8") == "mine"


# -- none -------------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_none_exists_is_told_with_what_stands_in_the_way(tmp_path: Path) -> None:
    """Two kilns in 3 x 2 x 4: proved not to be there; one cell wider or deeper there is one."""
    spec = spec_file(tmp_path, TWO.replace("[4, 2, 4]", "[3, 2, 4]"))
    result = run_as_user("propose", spec, "--time-limit", "40")
    assert result.returncode == 1, result.stdout + result.stderr
    assert "none exists (proved; scope below)" in result.stdout
    lines = result.stdout.splitlines()
    assert "A layout fits with width 4 or depth 3 (confirmed)." in lines
    assert "None fits with height 5 alone (proved)." in lines or "Not decided in time: height 5." in lines
    assert "Traceback" not in result.stderr


@pytest.mark.slow
def test_the_spec_that_is_too_tight(tmp_path: Path) -> None:
    """The set's own: three kilns, two cells deep."""
    out = tmp_path / "build"
    words = ("propose", str(SPECS / "three-kilns-too-tight.toml"), "--json", "--out", str(out), "--time-limit", "30")
    result = run_as_user(*words)
    assert result.returncode == 1, result.stdout + result.stderr
    found = json.loads(result.stdout)
    assert faults(found, SCHEMA) == []
    assert (found["layouts"], found["files"]) == ([], [])
    assert list(out.iterdir()) == []
    assert any(c["box"] == [4, 2, 4] and c["verdict"] == "none exists" and c["parts"] is None for c in found["claims"])
    helps = {obstacle["limit"]: obstacle["helps"] for obstacle in found["obstacles"]}
    assert set(helps) == {"width 4", "depth 2", "height 4"}
    assert helps["depth 2"] is not False, "three-kilns.toml is one cell deeper, and has layouts"


def test_no_time_is_no_proof(tmp_path: Path) -> None:
    result = run_as_user("propose", spec_file(tmp_path, UPHILL), "--time-limit", "1", "--workers", "1")
    assert result.returncode == 3
    assert "not found within the limit" in result.stdout
    assert "no proof" in result.stdout
    assert "none exists" not in result.stdout.replace("no proof that none exists", "")
    assert "Traceback" not in result.stderr


def test_a_site_that_counting_rules_out(tmp_path: Path) -> None:
    """A row takes a bin, two T, two B, two furnaces, two gauges on a support each: no limit need be relaxed to tell.
    The muster row has no T0, and locks only the first of its B."""
    spec = spec_file(tmp_path, TWO.replace("[4, 2, 4]", "[2, 1, 4]"))
    result = run_as_user("propose", spec, "--json", "--workers", "1", "--time-limit", "30")
    assert result.returncode == 1, result.stderr
    found = json.loads(result.stdout)
    assert faults(found, SCHEMA) == []
    assert (found["layouts"], found["obstacles"], found["clashes"]) == ([], [], [])
    counted, larger, *_ = found["advice"]
    assert counted == "Counting alone shows it: a layout has 11 parts at least, the site has 8 free cells."
    assert re.fullmatch(r"The smallest known build for 2 furnaces takes .*; a site of [\d x]+ holds it\.", larger)
    text = run_as_user("propose", spec, "--quiet", "--workers", "1", "--time-limit", "30")
    assert (text.returncode, text.stderr) == (1, "")
    assert counted in text.stdout


# -- how it is asked --------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_known_build_is_told(tmp_path: Path) -> None:
    """The atlas has a build for two kilns in 4 x 2 x 4 (docs/results.md), which takes no search."""
    result = run_as_user("propose", spec_file(tmp_path), "--time-limit", "12", "--workers", "1", "--json")
    assert result.returncode == 0, result.stderr
    assert re.search(r"^after .* s: 4 x 2 x 4 = 32 cells, .*; confirmed$", result.stderr, re.MULTILINE)
    assert json.loads(result.stdout)["layouts"][0]["measures"]["volume"] == 32


@pytest.mark.parametrize("quiet", [False, True])
def test_what_is_told_while_it_searches(tmp_path: Path, quiet: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line for each layout, on standard error; none where --quiet is said."""
    layout = load_layout(SPECS / "results" / "two-kilns-smallest.plan")

    def answer(asked: Spec, request: Request) -> Answer:
        found = Judge(replace(asked, scheme="burst row"), (8, 7)).as_it_is(layout)
        request.found(found)
        request.found(replace(found, even_for="stream"))
        return Answer([found], scope=["none"], solver="none")

    monkeypatch.setattr("splitwright.commands.propose.command.answered", answer)
    monkeypatch.setattr("splitwright.commands.propose.command.is_first_use", lambda: False)
    result = run("propose", spec_file(tmp_path), *["--quiet"] * quiet)
    assert result.exit_code == 0
    line = r"after \d+\.\d s: 4 x 2 x 4 = 32 cells, 21 parts, burst row, even for {}; confirmed\n"
    both = line.format("full loads") + line.format("any arrivals tried")
    assert re.fullmatch("" if quiet else both, result.stderr)


@pytest.mark.parametrize(
    ("words", "top", "dominated"), [([], 8, False), (["--all"], 8, True), (["--top", "3", "--all"], 3, True)]
)
def test_how_many_are_listed(
    tmp_path: Path, words: list[str], top: int, dominated: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those that no other one beats, up to eight; with --all the others too."""
    asked: list[Request] = []

    def answer(_: Spec, request: Request) -> Answer:
        asked.append(request)
        return Answer(scope=["none"], solver="none")

    monkeypatch.setattr("splitwright.commands.propose.command.answered", answer)
    assert run("propose", spec_file(tmp_path), *words).exit_code == 3
    assert [(one.top, one.dominated) for one in asked] == [(top, dominated)]


# -- Ctrl-C -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_ctrl_c_keeps_what_was_found(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    out = tmp_path / "build"
    words = ("--out", str(out), "--json", "--workers", "1", "--time-limit", "600", "--top", "1000")
    process = started(running, "propose", str(SPECS / "three-kilns.toml"), *words)
    waited_for(process, (out / "layout-1.plan").exists)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=30)
    assert process.returncode == 0, stderr
    assert "Traceback" not in stderr
    found = json.loads(stdout)
    assert faults(found, SCHEMA) == []
    assert (found["complete"], found["interrupted"]) == (False, True)
    assert len(found["layouts"]) >= 1
    assert all(Path(path).exists() for path in found["files"])
    assert json.loads((out / "layout-1.json").read_text(encoding="utf-8")) == found["layouts"][0]["layout"]
    assert list(out.glob(".*")) == [], "no temporary file is left"
    assert run("trial", str(out / "layout-1.plan")).exit_code == 0


@pytest.mark.slow
def test_ctrl_c_before_anything_was_found(running: list[subprocess.Popen[str]], tmp_path: Path) -> None:
    """No answer, and no proof; it ends soon, and takes no time for what stands in the way."""
    out = tmp_path / "build"
    words = ("--out", str(out), "--workers", "1", "--time-limit", "600")
    process = started(running, "propose", spec_file(tmp_path, UPHILL), *words)
    waited_for(process, out.exists)  # made when the search begins
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=30)
    assert process.returncode == 3, stderr
    assert "Traceback" not in stderr
    assert "not found before it was interrupted by Ctrl-C; that is no proof that none exists" in stdout
    assert "What stands in the way" not in stdout
    assert list(out.iterdir()) == []


# -- bad input --------------------------------------------------------------------------------------------------------


def one_line(result: Any, *words: str) -> None:
    assert result.returncode == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


def test_a_file_in_the_way_of_the_folder(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    for out in (taken, taken / "below"):
        result = run_as_user("propose", spec_file(tmp_path), "--out", str(out), "--time-limit", "5")
        one_line(result, str(out), "folder")
    assert taken.read_text(encoding="utf-8") == "mine"


def test_a_folder_in_the_way_of_a_file(tmp_path: Path) -> None:
    """Found out when the first layout is to be written: one line all the same, not a fault of the program."""
    out = tmp_path / "build"
    (out / "layout-1.json").mkdir(parents=True)
    result = run_as_user("propose", spec_file(tmp_path), "--out", str(out), "--time-limit", "20", "--quiet")
    one_line(result, "layout-1.json")


def test_what_no_scheme_serves(tmp_path: Path) -> None:
    spec = spec_file(tmp_path, TWO.replace("outputs = 2", 'outputs = 1\neven_for = "stream"'))
    one_line(run_as_user("propose", spec), f"{spec}: split: no scheme serves", "known are burst row")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--top", "0"], "--top"),
        (["--top", "many"], "--top"),
        (["--time-limit", "0"], "--time-limit"),
        (["--time-limit", "1.5"], "--time-limit"),
        (["--workers", "0"], "--workers"),
        (["--seed", "-1"], "--seed"),
        (["--seed", "2147483648"], "--seed"),
    ],
)
def test_numbers_out_of_range(tmp_path: Path, words: list[str], told: str) -> None:
    result = run("propose", spec_file(tmp_path), *words)
    assert result.exit_code != 0
    refused = run_as_user("propose", spec_file(tmp_path), *words)
    one_line(refused, told)


def test_a_spec_that_is_not_there(tmp_path: Path) -> None:
    one_line(run_as_user("propose", str(tmp_path / "none.toml")), "none.toml")
