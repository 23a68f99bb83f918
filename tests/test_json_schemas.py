"""What the commands print as JSON follows the published schemas; and the schemas are no open doors."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from commands import FLAWED, LAYOUTS, ROW, document, faults, run
from sim.datafiles import data_dir

PRINTED = {
    "trial": "splitwright-trial-1",
    "check": "splitwright-check-1",
    "draw": "splitwright-layout-1",
    "laws": "splitwright-laws-1",
}

NOTHING_DUE = {"splitwright-labels-1"}
"""Documents that may leave out everything."""


@pytest.mark.parametrize("command", PRINTED)
@pytest.mark.parametrize("layout", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
def test_documents_follow_their_schema(command: str, layout: Any) -> None:
    result = run(command, str(layout), "--json")
    assert result.exit_code in (0, 1)
    assert result.stderr == ""
    assert document(result, PRINTED[command])["format"] == PRINTED[command].replace("-1", "/1")


@pytest.mark.parametrize("path", sorted(data_dir("schema").glob("*.json")), ids=lambda path: path.stem)
def test_schemas_say_which_document_they_are_of(path: Any) -> None:
    schema = json.loads(path.read_text(encoding="utf-8"))
    name, _, version = path.stem.rpartition("-")
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"urn:splitwright:schema:{name.removeprefix('splitwright-')}:{version}"
    assert faults([], path.stem) != []
    assert (faults({}, path.stem) == []) is (path.stem in NOTHING_DUE)


def drop(key: str) -> Callable[[dict[str, Any]], object]:
    return lambda found: found.pop(key)


def put(key: str, value: Any) -> Callable[[dict[str, Any]], object]:
    return lambda found: found.__setitem__(key, value)


@pytest.mark.parametrize(
    ("words", "spoil"),
    [
        (["trial", ROW], drop("tick")),
        (["trial", ROW], put("tick", -1)),
        (["trial", ROW], put("tick", 1.5)),
        (["trial", ROW], put("format", "splitwright-trial/2")),
        (["trial", ROW], put("at_rest", "yes")),
        (["trial", ROW], put("signals", {"1,2": 3})),
        (["trial", ROW], put("contents", {"1,2,3": [["clay", 0]]})),
        (["trial", ROW], put("contents", {"1,2,3": [["clay"]]})),
        (["trial", ROW], put("locked", [[1, 2, 3]])),
        (["trial", ROW], lambda found: found["streams"][0].pop("spread")),
        (["trial", ROW], lambda found: found["streams"][0].update(delivered=[])),
        (["trial", ROW], lambda found: found["streams"][0].update(jain=0)),
        (["trial", ROW], lambda found: found["streams"][0].update(jain=1.01)),
        (["trial", ROW], lambda found: found["streams"][0].update(largest_lag=-1)),
        (["trial", ROW], lambda found: found["streams"][0].update(largest_lag_tick=0)),
        (["check", FLAWED], drop("findings")),
        (["check", FLAWED], lambda found: found["findings"][0].pop("text")),
        (["check", FLAWED], lambda found: found["findings"][0].update(at="1,2,3")),
        (["laws"], lambda found: found["laws"][0].update(provenance="hearsay")),
        (["laws"], lambda found: found["laws"][0].update(provenance="layout")),
        (["laws"], lambda found: found["laws"][0].update(rulebook={"value": 8, "provenance": "memory"})),
        (["laws"], lambda found: found["laws"][0].update(value="8")),
    ],
)
def test_schemas_refuse(words: list[str], spoil: Callable[[dict[str, Any]], object]) -> None:
    found = document(run(*words, "--json"), PRINTED[words[0]])
    spoiled = copy.deepcopy(found)
    spoil(spoiled)
    assert spoiled != found
    assert faults(spoiled, PRINTED[words[0]]) != []


def test_trial_documents_of_before_the_fairness_figures_are_taken() -> None:
    found = document(run("trial", ROW, "--json"), "splitwright-trial-1")
    for name in ("jain", "largest_lag", "largest_lag_tick"):
        del found["streams"][0][name]
    assert faults(found, "splitwright-trial-1") == []
