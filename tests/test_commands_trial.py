"""``splitwright trial``: answers, exit statuses, documents."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import time
from pathlib import Path

import pytest

import splitwright.commands.trial.command as trial_command
from commands import (
    LAYOUTS,
    OSCILLATOR,
    ROW,
    UNEVEN,
    command_line,
    document,
    environment,
    run,
    run_as_user,
)
from printed import ONE_KILN, ONE_KILN_TRIAL

RACE = (
    "splitwright-plan/1\nitem clay stack 1\nrule bin_slots 1\nholds 0,0,0 clay 1\nholds 2,0,0 clay 1\n"
    "stream east clay from 1,0,1 to 1,0,0\nlayer 0\nnE B nW\nlayer 1\n. B .\n"
)
"""Two nodes push into one bin with room for a single item more."""


@pytest.fixture
def one_kiln(tmp_path: Path) -> str:
    path = tmp_path / "one-kiln.json"
    path.write_text(ONE_KILN, encoding="utf-8")
    return str(path)


@pytest.fixture
def oscillator(tmp_path: Path) -> str:
    path = tmp_path / "oscillator.plan"
    path.write_text(OSCILLATOR, encoding="utf-8")
    return str(path)


def test_document_of_the_formats_page(one_kiln: str) -> None:
    """Source: the formats page, "Commands": the document of its own layout with --load feed=3.

    The fairness figures came later; nothing else may differ.
    """
    result = run("trial", one_kiln, "--load", "feed=3", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    found = document(result, "splitwright-trial-1")
    added = {"jain": 1.0, "largest_lag": 0, "largest_lag_tick": None}
    (stream,) = ONE_KILN_TRIAL["streams"]
    assert found == {**ONE_KILN_TRIAL, "streams": [{**stream, **added}]}


def test_even_load() -> None:
    result = run("trial", ROW, "--load", "feed=54")
    assert result.exit_code == 0
    answer, scope, *_ = result.stdout.splitlines()
    assert answer == "Even: feed 18 / 18 / 18 of 54 (at once, handover 8)."
    assert scope.startswith("This holds for this one load (feed=54, there at once), the layout's update order and ")
    assert "handover 8; at rest after " in scope
    assert re.search(r"feed \(clay\) +54 +18 / 18 / 18 +0 +0 ", result.stdout)


def test_default_load_is_18_a_target() -> None:
    assert run("trial", ROW, "--json").stdout == run("trial", ROW, "--load", "feed=54", "--json").stdout


def test_uneven_load_is_a_no() -> None:
    result = run("trial", UNEVEN, "--json")
    assert result.exit_code == 1
    assert document(result, "splitwright-trial-1")["streams"][0]["delivered"] == [54, 0, 0]
    assert run("trial", UNEVEN).stdout.startswith("Uneven: feed 54 / 0 / 0 of 54 ")


def test_gaps_in_the_arrivals() -> None:
    """Source: design notes, "Schemes": one item every 20 ticks breaks a burst row, 18/0/0 over 3 targets."""
    result = run("trial", ROW, "--load", "feed=18", "--every", "20", "--json")
    assert result.exit_code == 1
    (stream,) = document(result, "splitwright-trial-1")["streams"]
    assert stream["delivered"] == [18, 0, 0]
    assert stream["last_arrival"] > 17 * 20
    assert "one item every 20 ticks" in run("trial", ROW, "--load", "feed=18", "--every", "20").stdout


@pytest.mark.parametrize("ticks", [0, 1, 40, 5_000])
def test_ticks_is_the_number_run(ticks: int) -> None:
    found = document(run("trial", ROW, "--ticks", str(ticks), "--json"), "splitwright-trial-1")
    assert found["tick"] == ticks
    assert found["at_rest"] is (ticks == 5_000)


def test_before_tick_1_the_load_is_in() -> None:
    found = document(run("trial", ROW, "--ticks", "0", "--load", "feed=3", "--json"), "splitwright-trial-1")
    assert found["contents"]["0,1,3"][0] == ["clay", 3]


def test_handover_overrides_the_layout(tmp_path: Path) -> None:
    """An item goes through three nodes one behind the other: two handovers, then the push into the bin."""
    for stated in ("", "rule handover 8\n"):
        path = tmp_path / "chain.plan"
        text = "stream s clay from 0,0,1 to 3,0,0\nlayer 0\nnE nE nE B\nlayer 1\nB . . .\n"
        path.write_text(f"splitwright-plan/1\n{stated}{text}", encoding="utf-8")
        ticks = {}
        for handover in ("7", "8", "20"):
            result = run("trial", str(path), "--load", "s=1", "--handover", handover, "--json")
            (stream,) = document(result, "splitwright-trial-1")["streams"]
            ticks[handover] = stream["first_arrival"]
        assert ticks == {"7": 1 + 8 + 2 * 7, "8": 1 + 8 + 2 * 8, "20": 1 + 8 + 2 * 20}
    assert "handover 7" in run("trial", ROW, "--handover", "7").stdout


def test_order_file(tmp_path: Path) -> None:
    """Two nodes push into one bin with room for a single item more: who comes first in the update order delivers."""
    layout = tmp_path / "race.plan"
    layout.write_text(RACE, encoding="utf-8")
    left = {}
    for first, second in (("0,0,0", "2,0,0"), ("2,0,0", "0,0,0")):
        order = tmp_path / "order.txt"
        order.write_text(f"# who goes first\n{first}  # this one\n\n {second}\n", encoding="utf-8")
        result = run("trial", str(layout), "--load", "east=0", "--order", str(order), "--json")
        found = document(result, "splitwright-trial-1")
        left[first] = [cell for cell in ("0,0,0", "2,0,0") if found["contents"][cell][0] is not None]
    assert left == {"0,0,0": ["2,0,0"], "2,0,0": ["0,0,0"]}
    assert f"the update order of {order}" in run("trial", str(layout), "--load", "east=0", "--order", str(order)).stdout


def case_at(path: Path, **fields: object) -> str:
    """A case file at ``path``, which puts nothing in unless ``fields`` say so."""
    path.write_text(json.dumps({"format": "splitwright-case/1", "arrivals": {}, **fields}), encoding="utf-8")
    return str(path)


CASES_AS_OPTIONS: dict[str, tuple[dict[str, object], list[str]]] = {
    "a load": ({"arrivals": {"feed": [[0, 7]]}}, ["--load", "feed=7"]),
    "gaps": ({"arrivals": {"feed": [[20 * i, 1] for i in range(9)]}}, ["--load", "feed=9", "--every", "20"]),
    "handover": ({"arrivals": {"feed": [[0, 7]]}, "handover": 7}, ["--load", "feed=7", "--handover", "7"]),
    "ticks": ({"arrivals": {"feed": [[0, 7]]}}, ["--load", "feed=7", "--ticks", "40"]),
    "nothing": ({}, ["--load", "feed=0"]),
}


@pytest.mark.parametrize("name", CASES_AS_OPTIONS)
def test_case_is_run_as_options_that_say_the_same(tmp_path: Path, name: str) -> None:
    """Document, waves and exit status."""
    fields, words = CASES_AS_OPTIONS[name]
    case = case_at(tmp_path / "case.json", **fields)
    ours, theirs = str(tmp_path / "ours.vcd"), str(tmp_path / "theirs.vcd")
    kept = words[-2:] if "--ticks" in words else []
    found = run("trial", ROW, "--case", case, *kept, "--json", "--waves", ours)
    expected = run("trial", ROW, *words, "--json", "--waves", theirs)
    assert document(found, "splitwright-trial-1") == document(expected, "splitwright-trial-1")
    assert (found.exit_code, found.stderr) == (expected.exit_code, "")
    assert Path(ours).read_text(encoding="utf-8") == Path(theirs).read_text(encoding="utf-8")


def test_case_states_the_update_order(tmp_path: Path) -> None:
    layout = tmp_path / "race.plan"
    layout.write_text(RACE, encoding="utf-8")
    for first, second in (([0, 0, 0], [2, 0, 0]), ([2, 0, 0], [0, 0, 0])):
        case = case_at(tmp_path / "case.json", order=[first, second])
        contents = document(run("trial", str(layout), "--case", case, "--json"), "splitwright-trial-1")["contents"]
        held = [cell for cell in (first, second) if contents[",".join(map(str, cell))][0] is not None]
        assert held == [second]


def test_case_states_contents_and_other_kinds(tmp_path: Path) -> None:
    fields = {"arrivals": {"feed": [[0, 2], [0, 3, "sand"]]}, "holds": {"1,1,1": [["clay", 9]]}}
    found = document(
        run("trial", ROW, "--case", case_at(tmp_path / "case.json", **fields), "--ticks", "0", "--json"),
        "splitwright-trial-1",
    )
    assert found["contents"]["0,1,3"][:2] == [["clay", 2], ["sand", 3]]
    assert found["contents"]["1,1,1"][0] == ["clay", 9]


def test_case_is_told_with_its_scope(tmp_path: Path) -> None:
    order = [[x, 1, z] for x, z in ((3, 0), (2, 0), (1, 0), (3, 1), (2, 1), (1, 1), (3, 2), (2, 2), (1, 2), (0, 2))]
    fields = {
        "text": "a gap, then sand",
        "handover": 7,
        "arrivals": {"feed": [[0, 3], [12, 1], [20, 1, "sand"]]},
        "order": order,
        "signal_order": [[4, 1, 2], [0, 2, 2], [1, 3, 2], [5, 0, 2]],
        "holds": {"0,1,2": [["clay", 2]]},
    }
    case = case_at(tmp_path / "case.json", **fields)
    shown = run("trial", ROW, "--case", case).stdout
    assert "\nThe case says: a gap, then sand\n" in shown
    assert re.search(r"feed \(clay\) +4 \+ 1 sand +2 / 2 / 2 ", shown)
    scope = (
        f"for the one case of {case} (feed=4 + 1 sand, in 3 arrivals, the last after tick 20), its update order, "
        "its order of signal parts, its starting contents and handover 7; at rest after "
    )
    assert scope in shown.splitlines()[1]
    least = run("trial", ROW, "--case", case_at(tmp_path / "case.json", arrivals={"feed": [[0, 3]]})).stdout
    assert f"{case} (feed=3, at once), the layout's update order and handover 8; " in least
    nothing = run("trial", ROW, "--case", case_at(tmp_path / "case.json")).stdout
    assert f"{case} (no load), the layout's update order and handover 8; " in nothing


@pytest.mark.parametrize(("load", "delivered", "status"), [(54, [18, 18, 18], 0), (55, [18, 18, 19], 1)])
def test_case_that_comes_to_what_it_says(tmp_path: Path, load: int, delivered: list[int], status: int) -> None:
    fields = {"arrivals": {"feed": [[0, load]]}, "delivered": {"feed": sorted(delivered, reverse=True)}}
    case = case_at(tmp_path / "case.json", **fields)
    result = run("trial", ROW, "--case", case)
    assert (result.exit_code, result.stderr) == (status, "")
    assert result.stdout.splitlines()[-1] == f"As {case} says."
    assert len(run("trial", ROW, "--case", case, "--quiet").stdout.splitlines()) == 1
    assert run("trial", ROW, "--case", case, "--json").stdout.count("\n") == 1


@pytest.mark.parametrize(("load", "status"), [(54, 0), (55, 1)])
@pytest.mark.parametrize("words", [[], ["--json"], ["--quiet"]])
def test_case_that_comes_to_something_else(tmp_path: Path, load: int, status: int, words: list[str]) -> None:
    """One line on standard error; the exit status is that of the run."""
    fields = {"arrivals": {"feed": [[0, load]]}, "delivered": {"feed": [5, 9, 4]}}
    case = case_at(tmp_path / "case.json", **fields)
    result = run("trial", ROW, "--case", case, *words)
    assert result.exit_code == status
    assert re.fullmatch(
        rf"splitwright: {re.escape(case)}: comes to feed 1\d / 1\d / 1\d, not 5 / 9 / 4 as it says; .*\n", result.stderr
    )
    assert "says." not in result.stdout


def test_case_that_is_cut_short_is_not_judged(tmp_path: Path) -> None:
    fields = {"arrivals": {"feed": [[0, 54]]}, "delivered": {"feed": [18, 18, 18]}}
    case = case_at(tmp_path / "case.json", **fields)
    cut = run("trial", ROW, "--case", case, "--ticks", "100")
    assert (cut.stderr, "says." in cut.stdout) == ("", False)
    whole = run("trial", ROW, "--case", case, "--ticks", "1000")
    assert (whole.stderr, "says." in whole.stdout) == ("", True)


@pytest.mark.parametrize(
    "words", [["--load", "feed=3"], ["--every", "3"], ["--order", "order.txt"], ["--handover", "7"]], ids=lambda w: w[0]
)
def test_case_stands_alone(tmp_path: Path, words: list[str]) -> None:
    result = run("trial", ROW, "--case", case_at(tmp_path / "case.json"), *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        f"splitwright: {words[0]}: goes not together with --case, which says all of that itself; leave one out\n"
    )


def test_bad_cases_name_the_file(tmp_path: Path) -> None:
    case = tmp_path / "case.json"
    expected = {
        "no-such.json": "no-such.json: there is no such file",
        ROW: f"{ROW}: line 1, column 1: is no JSON: ",
        case_at(
            case, arrivals={"feed": [[0, 1728], [5, 99]]}
        ): f"{case}: load after tick 5: the bin at 0,1,3 has room ",
    }
    for path, line in expected.items():
        result = run("trial", ROW, "--case", path)
        assert result.stderr.startswith(f"splitwright: {line}")
        assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)


def test_waves_do_not_take_the_place_of_the_case(tmp_path: Path) -> None:
    case = case_at(tmp_path / "case.json")
    result = run("trial", ROW, "--case", case, "--waves", case)
    assert (result.exit_code, result.stderr) == (2, "splitwright: --waves: is the case itself; name another file\n")
    assert json.loads(Path(case).read_text(encoding="utf-8"))["format"] == "splitwright-case/1"


def test_findings_are_a_no(oscillator: str) -> None:
    result = run("trial", oscillator, "--json")
    assert result.exit_code == 1
    found = document(result, "splitwright-trial-1")
    assert [finding["check"] for finding in found["findings"]] == ["never settles", "overheats", "never rests"]
    shown = run("trial", oscillator)
    assert shown.exit_code == 1
    assert "the inverter at 1,2,0 switches off 8 times within 60 ticks" in shown.stdout


def test_nothing_delivered_is_not_called_even() -> None:
    shown = run("trial", str(LAYOUTS / "row-of-three-locked.plan")).stdout
    assert shown.startswith("Nothing delivered: feed 0 / 0 / 0 of 54, 54 left in nodes ")
    assert re.search(r"node +3,1,2 +54 clay", shown)


TOUCHING = str(LAYOUTS / "touching-runs.plan")


def test_nothing_of_a_load_is_a_no() -> None:
    """Two runs that touch: the clay locks the charcoal's node for good."""
    result = run("trial", TOUCHING, "--load", "clay=1", "--load", "fuel=1")
    assert result.exit_code == 1
    assert result.stdout.startswith("Nothing delivered of fuel: clay 1 of 1, fuel 0 of 1, 1 left in nodes (at once")
    assert "\nfuel: No charcoal comes to any output. " in result.stdout
    found = document(run("trial", TOUCHING, "--load", "clay=1", "--load", "fuel=1", "--json"), "splitwright-trial-1")
    assert [(one["stream"], one["kind"]) for one in found["explanation"]] == [("fuel", "nothing")]
    assert run("trial", str(LAYOUTS / "row-of-three-locked.plan"), "--quiet").exit_code == 1


@pytest.mark.parametrize(
    ("words", "claim"),
    [
        (["--load", "clay=1", "--load", "fuel=0"], "Even: clay 1 "),
        (["--load", "clay=0", "--load", "fuel=0"], "Nothing to share out: clay 0 "),
        (["--load", "clay=1", "--load", "fuel=1", "--ticks", "10"], "Even so far: clay 1 "),
        (["--load", "clay=1", "--load", "fuel=1", "--ticks", "5"], "Nothing delivered so far: clay 0 "),
    ],
)
def test_no_load_and_too_little_time_are_no_fault(words: list[str], claim: str) -> None:
    result = run("trial", TOUCHING, *words)
    assert (result.exit_code, result.stdout[: len(claim)]) == (0, claim)
    assert "No charcoal" not in result.stdout


def test_a_stream_whose_bin_starts_with_something_waits_for_it(tmp_path: Path) -> None:
    path = tmp_path / "runs.plan"
    text = Path(TOUCHING).read_text(encoding="utf-8")
    path.write_text(text.replace("\nlayer 0", "\nholds 8,0,2 charcoal 1\n\nlayer 0", 1), encoding="utf-8")
    result = run("trial", str(path), "--load", "clay=1", "--load", "fuel=0")
    assert result.exit_code == 1
    assert result.stdout.startswith("Nothing delivered of fuel: ")


def test_no_answer_within_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trial_command, "LIMIT_TICKS", 100)
    result = run("trial", ROW, "--json")
    assert result.exit_code == 3
    found = document(result, "splitwright-trial-1")
    assert (found["tick"], found["at_rest"]) == (100, False)
    assert result.stderr.startswith("splitwright: No answer: neither at rest nor repeating after 100 ticks (5.00 s)")
    assert run("trial", ROW).exit_code == 3


def test_limit_counts_from_the_last_arrival(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trial_command, "LIMIT_TICKS", 100)
    assert run("trial", ROW, "--load", "feed=3", "--every", "2000", "--json").exit_code in (0, 1)


def test_quiet_prints_the_verdict_alone() -> None:
    lines = run("trial", ROW, "--quiet").stdout.splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("Even: ")
    assert run("trial", ROW, "--quiet", "--json").stdout == run("trial", ROW, "--json").stdout


def test_names_are_shown_as_they_are(tmp_path: Path) -> None:
    """A name is text: no markup of the table's, no control sequence of the terminal's."""
    path = tmp_path / "odd.json"
    text = ONE_KILN.replace('"feed"', '"[red]\\u001b[31mfeed"')
    path.write_text(text, encoding="utf-8")
    shown = run("trial", str(path), FORCE_COLOR="1").stdout
    assert "[red]\\u001b[31mfeed (clay)" in re.sub(r"\x1b\[[0-9;]*m", "", shown)
    assert "\x1b[31m" not in shown


def test_as_a_user_runs_it() -> None:
    shown = run_as_user("trial", ROW, "--load", "feed=54")
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "\x1b" not in shown.stdout
    assert all(line == line.rstrip() for line in shown.stdout.splitlines())
    found = run_as_user("trial", ROW, "--json")
    assert (found.returncode, found.stderr) == (0, "")
    assert json.loads(found.stdout)["streams"][0]["delivered"] == [18, 18, 18]


@pytest.mark.parametrize("no_color", [True, False])
def test_on_a_terminal(no_color: bool) -> None:
    """Standard output is a terminal of 80 columns: nothing is wider, and NO_COLOR is heeded."""
    ours, theirs = pty.openpty()
    env = environment(TERM="xterm-256color", COLUMNS="80", **({"NO_COLOR": "1"} if no_color else {}))
    process = subprocess.Popen(command_line("laws", "--rules", "default"), stdout=theirs, stderr=theirs, env=env)
    os.close(theirs)
    shown = b""
    while True:
        try:
            chunk = os.read(ours, 65536)
        except OSError:  # the terminal's other side is closed
            break
        shown += chunk
    os.close(ours)
    assert process.wait() == 0
    assert "handover" in shown.decode()
    assert max(len(re.sub(r"\x1b\[[0-9;]*m", "", line)) for line in shown.decode().splitlines()) <= 80
    assert not (no_color and re.search(rb"\x1b\[[0-9;]*3[0-7]m", shown))


@pytest.mark.parametrize("quiet", [False, True])
def test_progress_where_standard_error_is_a_terminal(oscillator: str, quiet: bool) -> None:
    """A run without end shows its tick, but not when quiet; then Ctrl-C ends it."""
    ours, theirs = pty.openpty()
    words = ["trial", oscillator, "--ticks", "1000000000", "--json", *(["--quiet"] if quiet else [])]
    process = subprocess.Popen(
        command_line(*words), stdout=subprocess.PIPE, stderr=theirs, env=environment(TERM="xterm")
    )
    os.close(theirs)
    shown, until = b"", time.monotonic() + (4 if quiet else 60)
    while b"tick " not in shown and time.monotonic() < until:
        if select.select([ours], [], [], 0.1)[0]:
            shown += os.read(ours, 65536)
    process.send_signal(signal.SIGINT)
    stdout, _ = process.communicate(timeout=60)
    os.close(ours)
    assert process.returncode == 3
    assert json.loads(stdout)["tick"] > 0
    assert (b"tick " in shown) is not quiet


@pytest.mark.parametrize("as_json", [True, False])
def test_ctrl_c_tells_what_is_known(oscillator: str, tmp_path: Path, as_json: bool) -> None:
    waves = tmp_path / "waves.vcd"
    words = ["trial", oscillator, "--ticks", "1000000000", "--waves", str(waves), *(["--json"] if as_json else [])]
    process = subprocess.Popen(
        command_line(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment()
    )
    _wait_until_running(process, tmp_path)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=60)
    assert process.returncode == 3
    assert "Traceback" not in stderr
    if as_json:
        found = json.loads(stdout)
        assert found["at_rest"] is False
        assert found["tick"] > 0
        assert stderr.startswith(f"splitwright: No answer: stopped by Ctrl-C after {found['tick']} tick")
    else:
        assert re.search(r"^No answer: stopped by Ctrl-C after \d+ tick", stdout, re.MULTILINE)
    assert waves.read_text(encoding="utf-8").count("#") > 1
    assert list(tmp_path.glob(".*.tmp")) == []


def _wait_until_running(process: subprocess.Popen[str], folder: Path) -> None:
    """The run has begun to write its wave file; a bound on the wait keeps a broken one from hanging."""
    for _ in range(1200):
        if any(path.stat().st_size > 10_000 for path in folder.glob(".*.tmp")):
            return
        assert process.poll() is None
        time.sleep(0.05)
    raise AssertionError("the trial never began to write")


def test_reader_that_goes_away_is_silent() -> None:
    process = subprocess.Popen(
        command_line("trial", ROW), stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment()
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait() == 0
