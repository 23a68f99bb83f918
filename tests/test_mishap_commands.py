"""Where it went wrong, as ``trial`` and ``assure`` tell it."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, ROW, UNEVEN, document, faults, run

LOCKED = str(LAYOUTS / "row-of-three-locked.plan")
GAPS = ("--load", "feed=7", "--every", "20")
SENTENCE = (
    "In tick 35 the node at 1,1,1 took clay from the node at 1,1,2 out of turn: it has now had 2, the node at 2,1,1 0."
)
CAUSE = "The node at 1,1,1 was unlocked since tick 35, because the gauge at 0,2,2 read the node at 0,1,2 empty."


def test_trial_tells_where_below_the_verdict() -> None:
    lines = run("trial", ROW, *GAPS).stdout.splitlines()
    assert lines[0].startswith("Uneven: feed 7 / 0 / 0 of 7 (one item every 20 ticks")
    (told,) = [line for line in lines if line.startswith("feed: ")]
    assert told.startswith(f"feed: {SENTENCE} {CAUSE} ")


def test_trial_tells_what_nothing_came_of() -> None:
    told = run("trial", LOCKED, "--load", "feed=1").stdout
    assert "feed: No clay comes to any output. At the end the node at 3,1,2 holds 1 clay. " in told
    assert told.startswith("Nothing delivered: ")


@pytest.mark.parametrize(
    ("plan", "turned"),
    [("nD nD nD #", "nD nN nD #"), ("nE nE nE nE", "nE nE nW nE")],
    ids=["away from its kiln", "back along the row"],
)
def test_a_turned_node_is_told_before_the_lock_that_another_output_profits_from(
    plan: str, turned: str, tmp_path: Path
) -> None:
    path = tmp_path / "turned.plan"
    path.write_text(Path(ROW).read_text(encoding="utf-8").replace(plan, turned, 1), encoding="utf-8")
    lines = run("trial", str(path)).stdout.splitlines()
    told = next(line for line in run("check", str(path)).stdout.splitlines() if line.startswith("Turned the wrong way"))
    assert lines.index(told) < next(i for i, line in enumerate(lines) if line.startswith("feed: In tick"))
    assert "Turned the wrong way" not in run("trial", UNEVEN).stdout, "there every output can be reached"


@pytest.mark.parametrize("words", [(ROW,), (UNEVEN, "--quiet"), (ROW, *GAPS, "--quiet"), (LOCKED, "--quiet")])
def test_trial_tells_nothing_where_it_is_even_or_quiet(words: tuple[str, ...]) -> None:
    told = run("trial", *words).stdout
    assert "In tick" not in told
    assert "No clay" not in told


def test_trial_json() -> None:
    found = document(run("trial", ROW, *GAPS, "--json"), "splitwright-trial-1")
    (one,) = found["explanation"]
    assert {key: one[key] for key in ("stream", "kind", "tick", "at")} == {
        "stream": "feed", "kind": "uneven", "tick": 35, "at": [1, 1, 1],
    }  # fmt: skip
    assert one["text"].startswith(f"{SENTENCE} {CAUSE} ")
    assert "explanation" not in document(run("trial", ROW, "--json"), "splitwright-trial-1")


@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found.update(explanation=[]),
        lambda found: found["explanation"][0].update(kind="bad luck"),
        lambda found: found["explanation"][0].update(at="1,1,1"),
        lambda found: found["explanation"][0].update(tick=-1),
        lambda found: found["explanation"][0].update(tick=1.5),
        lambda found: found["explanation"][0].pop("text"),
        lambda found: found["explanation"][0].update(more=1),
    ],
)
def test_the_schema_refuses(spoil: Callable[[dict[str, Any]], object]) -> None:
    found = document(run("trial", ROW, *GAPS, "--json"), "splitwright-trial-1")
    spoiled = copy.deepcopy(found)
    spoil(spoiled)
    assert faults(spoiled, "splitwright-trial-1") != []


def test_trial_explains_the_run_that_was_asked_for(tmp_path: Path) -> None:
    """Handover, update order and ticks count for the explanation too: it tells of the same run."""
    machines = [f"{x},0,2" for x in range(4)] + [f"{x},0,{z}" for z in (1, 0) for x in (1, 2, 3)]
    order = tmp_path / "order.txt"
    order.write_text("\n".join(machines), encoding="utf-8")
    for more, tick in (((), 18), (("--order", str(order)), 17), (("--ticks", "17"), None)):
        found = document(run("trial", UNEVEN, *more, "--json"), "splitwright-trial-1")
        assert [one["tick"] for one in found.get("explanation", [])] == ([] if tick is None else [tick]), more


def test_names_from_a_file_cannot_act_on_a_terminal(tmp_path: Path) -> None:
    layout = tmp_path / "row.json"
    drawn = json.loads(run("draw", UNEVEN, "--as", "json").stdout)
    text = json.dumps(drawn).replace('"clay"', '"cl\\u001b[31may"')
    layout.write_text(text, encoding="utf-8")
    told = run("trial", str(layout)).stdout
    assert "In tick 18 the node at 1,0,1 took cl" in told
    assert "\x1b" not in told


def test_assure_tells_where_a_counterexample_went_wrong(tmp_path: Path) -> None:
    out = tmp_path / "cases"
    told = " ".join(run("assure", UNEVEN, "--out", str(out), "--ask", "gaps", "--ask", "load", "-v").stdout.split())
    (case, *_) = sorted(out.glob("gaps-*.json"))
    again = run("trial", UNEVEN, "--case", str(case)).stdout
    (line,) = [line for line in again.splitlines() if line.startswith("feed: ")]
    first = line.removeprefix("feed: ").partition(". ")[0]
    assert first.startswith("In tick ")
    assert first in told
