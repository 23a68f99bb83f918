"""``propose`` where the spec states a hall: as a user runs it, from kept pieces and from none."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from commands import document, faults, run, run_as_user
from hall_kits import RULES, SPEC, keep_both, small_hall
from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.world.files.reading import load_layout
from sim.world.parts import Furnace
from splitwright.proposing.hall_report import hall_verdict
from synth.hall.piece_file import PieceFile
from synth.hall.result import HallAnswer, Room
from synth.hall.search import HallRequest, propose_hall

SCHEMA = "splitwright-hall-proposals-1"


@pytest.fixture(scope="module")
def pieces(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with the pieces of undrained rows."""
    path = tmp_path_factory.mktemp("kept") / "pieces.json"
    keep_both(PieceFile(path))
    return path


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    """A hall of six kilns on two sides."""
    path = tmp_path / "small.toml"
    path.write_text(SPEC, encoding="utf-8")
    return path


def stated(folder: Path, old: str, new: str) -> Path:
    """The spec with something said otherwise."""
    assert old in SPEC
    path = folder / "other.toml"
    path.write_text(SPEC.replace(old, new), encoding="utf-8")
    return path


# -- from kept pieces -------------------------------------------------------------------------------------------------


def test_a_hall_from_kept_pieces(spec: Path, pieces: Path, tmp_path: Path) -> None:
    result = run("propose", str(spec), "--pieces", str(pieces), "--out", str(tmp_path / "out"), "--json")
    assert result.exit_code == 0
    found = document(result, SCHEMA)
    assert found["furnaces"] == 6
    assert found["complete"]
    best = found["layouts"][0]
    assert best["wings"] == [[3], [3]]
    assert best["measures"]["bound"] == 6 * 360
    assert best["measures"]["throughput"] >= 0.99 * 6 * 360
    assert len(found["claims"]) == 4, "ends of both rows: their columns are given"
    assert all(claim["proved"] for claim in found["claims"])
    assert faults(best["layout"], "splitwright-layout-1") == []


def test_the_files_written_are_the_halls(spec: Path, pieces: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    found = document(run("propose", str(spec), "--pieces", str(pieces), "--out", str(out), "--json"), SCHEMA)
    names = [Path(name) for name in found["files"]]
    assert sorted(names) == sorted(out.iterdir())
    assert len(names) == 2 * len(found["layouts"])
    layout = load_layout(str(out / "layout-1.json"))
    assert layout == load_layout(str(out / "layout-1.plan"))
    assert sum(isinstance(part, Furnace) for part in layout.parts) == 6
    assert design_findings(layout, RULES) == []
    assert couplings(layout, RULES) == []
    checked = run("check", str(out / "layout-1.json"))
    assert checked.exit_code == 0


def test_what_a_person_reads(spec: Path, pieces: Path) -> None:
    result = run("propose", str(spec), "--pieces", str(pieces), "-v")
    assert result.exit_code == 0
    told = " ".join(result.stdout.split())
    assert "Small brickyard: 6 furnaces on 2 sides" in told
    assert "confirmed in the simulator" in told
    assert "undrained row" in told
    assert "fewest (proved)" in told
    assert "no smaller one is ruled out" in told, "the whole is not claimed the smallest"
    quiet = run("propose", str(spec), "--pieces", str(pieces), "--quiet")
    assert quiet.exit_code == 0
    assert quiet.stdout.count("\n") == 1
    assert quiet.stdout.splitlines()[0] == result.stdout.splitlines()[0]


def test_quiet_tells_the_files(spec: Path, pieces: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("propose", str(spec), "--pieces", str(pieces), "--quiet", "--out", str(out))
    assert "layout-1.plan" in result.stdout.replace("\n", "")
    assert "layer" not in result.stdout


def test_as_a_user_runs_it(spec: Path, pieces: Path) -> None:
    done = run_as_user("propose", str(spec), "--pieces", str(pieces), "--json")
    assert done.returncode == 0, done.stderr
    assert re.fullmatch(r"(after [\d.]+ s: \d+ x \d+ x \d+ = \d+ cells, \d+ parts; confirmed\n)+", done.stderr)
    assert faults(json.loads(done.stdout), SCHEMA) == []


def test_the_same_seed_the_same_hall(spec: Path, pieces: Path) -> None:
    halls = [
        document(run("propose", str(spec), "--pieces", str(pieces), "--json"), SCHEMA)["layouts"] for _ in range(2)
    ]
    assert halls[0] == halls[1]


def test_as_many_as_are_asked_for(tmp_path: Path, pieces: Path) -> None:
    spec = stated(tmp_path, "furnaces = 6", "furnaces = 12")
    for top in (1, 2):
        found = document(run("propose", str(spec), "--pieces", str(pieces), "--top", str(top), "--json"), SCHEMA)
        assert len(found["layouts"]) == top
    volumes = [hall["measures"]["volume"] for hall in found["layouts"]]
    assert volumes == sorted(volumes)
    assert [hall["product_leaves_at"] for hall in found["layouts"]] == ["straight on", "tail"]


# -- pieces that are not there ----------------------------------------------------------------------------------------


def test_pieces_are_solved_and_kept(spec: Path, tmp_path: Path) -> None:
    """From an empty file; the second run has no search to do."""
    kept = tmp_path / "deep" / "pieces.json"
    first = run("propose", str(spec), "--pieces", str(kept), "--json", "--time-limit", "600")
    assert first.exit_code == 0
    found = document(first, SCHEMA)
    assert found["layouts"]
    keys = [one["for"] for one in json.loads(kept.read_text(encoding="utf-8"))["pieces"]]
    assert {key["row"] for key in keys} == {"top", "side"}
    before = kept.read_bytes()
    again = document(run("propose", str(spec), "--pieces", str(kept), "--json"), SCHEMA)
    assert kept.read_bytes() == before
    assert again["layouts"] == found["layouts"]


def test_out_of_time_without_pieces(tmp_path: Path) -> None:
    """Drained burst rows take minutes: after a second there is none, and nothing is claimed."""
    spec = stated(tmp_path, 'leftovers = "hold"\nscheme = "undrained row"', 'leftovers = "deliver"')
    words = ("propose", str(spec), "--pieces", str(tmp_path / "pieces.json"), "--time-limit", "1")
    result = run(*words, "--json")
    assert result.exit_code == 3
    found = document(result, SCHEMA)
    assert found["layouts"] == found["claims"] == found["files"] == []
    assert not found["complete"]
    assert "proved" not in result.stdout
    told = run(*words)
    assert told.exit_code == 3
    assert "no proof that none exists" in " ".join(told.stdout.split())
    assert "(proved)" not in told.stdout


@pytest.mark.parametrize(
    ("text", "field"), [("[]", ""), ("{", ""), ('{"format": "splitwright-pieces/9", "pieces": []}', "format: ")]
)
def test_a_bad_file_of_pieces(spec: Path, tmp_path: Path, text: str, field: str) -> None:
    bad = tmp_path / "bad.json"
    bad.write_text(text, encoding="utf-8")
    result = run("propose", str(spec), "--pieces", str(bad), "--json")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert f"{bad}: {field}" in result.stderr
    assert bad.read_text(encoding="utf-8") == text, "and it stays as it is"


@pytest.mark.parametrize("name", ["file/pieces.json", "x" * 300])
def test_a_place_where_no_pieces_can_be_kept(spec: Path, tmp_path: Path, name: str) -> None:
    """Told before the search, not after it."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    result = run("propose", str(spec), "--pieces", str(tmp_path / name), "--time-limit", "600")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1


# -- what the spec asks beside the furnaces ---------------------------------------------------------------------------


def answer_of(pieces: Path, *, furnaces: int = 6, more: str = "", **changes: Any) -> HallAnswer:
    asked = replace(small_hall(furnaces, more=more), **changes)
    return propose_hall(asked, HallRequest(PieceFile(pieces), limit_s=60))


def test_a_site_that_is_too_small(pieces: Path) -> None:
    """A hall of six is 4 x 10 x 5, its wings end to end, or 5 x 9 x 5 (by hand: ``test_hall_site``), else wider."""
    answer = answer_of(pieces, size=(4, 9, 5))
    assert answer.proposals == []
    ends = "takes 10 x 4 x 5 cells (turned: 4 x 10 x 5): the depth of 9 is 1 too small"
    assert answer.refusals[0] == f"1 wing a side, product leaving straight on: {ends}"
    wide = "1 wing a side, product leaving at the tail: takes 5 x 9 x 5 cells: the width of 4 is 1 too small"
    assert wide in answer.refusals
    assert answer.room == Room((4, 10, 5), is_confirmed=True)
    assert answer.complete
    larger = answer_of(pieces, size=(4, 10, 5))
    assert larger.proposals
    assert larger.room is None


def test_the_site_that_would_do_keeps_its_blocked_cells(pieces: Path) -> None:
    """Both ways to stand on 5 x 9 are blocked where the product bin would be; end to end the wings have no room."""
    blocked = frozenset({(3, 4, 0), (1, 4, 0)})
    answer = answer_of(pieces, size=(5, 9, 5), blocked=blocked)
    assert answer.proposals == []
    assert any(refusal.endswith("in the best, 1 cell: 3,4,0") for refusal in answer.refusals)
    assert answer.room is not None
    assert sum(answer.room.size) == 5 + 9 + 5 + 1
    assert answer.room.is_confirmed
    assert answer_of(pieces, size=answer.room.size, blocked=blocked).proposals


def test_a_site_is_not_said_to_do_where_its_hall_was_not_tried(pieces: Path) -> None:
    """Stopped while the first hall is put together."""
    request = HallRequest(PieceFile(pieces), limit_s=60)
    request.told = lambda line: request.stop.set() if "a side" in line else None
    answer = propose_hall(replace(small_hall(), size=(4, 9, 5)), request)
    assert len(answer.refusals) == 1
    assert answer.room == Room((4, 10, 5), is_confirmed=False)
    assert not answer.complete


def test_a_trial_of_the_larger_site_that_is_cut_short_shows_nothing(pieces: Path) -> None:
    request = HallRequest(PieceFile(pieces), limit_s=60)
    request.told = lambda line: request.stop.set() if "would do" in line else None
    answer = propose_hall(replace(small_hall(), size=(4, 9, 5)), request)
    assert answer.room == Room((4, 10, 5), is_confirmed=False)
    assert not any("on a site of" in refusal for refusal in answer.refusals)


def test_a_larger_site_does_not_help_a_hall_that_is_too_slow(pieces: Path) -> None:
    """Six kilns make 6 x 360 bricks an hour, on any site."""
    answer = answer_of(pieces, size=(4, 9, 5), output=Fraction(2200))
    assert answer.room is None
    told = "its product lines carry 2160 an hour at most; the spec wants 2200"
    assert f"1 wing a side, product leaving straight on: {told}" in answer.refusals


def test_the_site_that_would_do_stands_below_the_headline(tmp_path: Path, pieces: Path) -> None:
    spec = tmp_path / "tight.toml"
    spec.write_text(f"{SPEC}[site]\nsize = [4, 9, 5]\n", encoding="utf-8")
    for more in ((), ("--quiet",)):
        result = run("propose", str(spec), "--pieces", str(pieces), *more)
        assert result.exit_code == 3
        head, room, *rest = result.stdout.splitlines()
        assert head.endswith("no hall found among those that known rows make; that is no proof that none exists.")
        would = "A site of 4 x 10 x 5 would do, the least change for the halls looked at (confirmed in the simulator)."
        assert room == would
        assert bool(rest) is not bool(more)
    asked = small_hall()
    (_, told) = hall_verdict(asked, HallAnswer(6, room=Room((5, 9, 5), is_confirmed=False)))
    assert told.endswith("would have room, the least change for the halls looked at (not tried in the simulator).")
    (_, told) = hall_verdict(replace(asked, blocked=frozenset({(0, 0, 0)})), HallAnswer(6, room=Room((5, 9, 5), True)))
    assert told.startswith("A site of 5 x 9 x 5 with the same blocked cells would do")
    fed = tuple(replace(stream, even_for="stream") for stream in asked.streams)
    costly = replace(asked, inputs=1, streams=fed)
    (_, _, told) = hall_verdict(costly, HallAnswer(6, room=Room((5, 9, 5), is_confirmed=True)))
    assert told == (
        'What takes room beside the rows: even_for = "stream" (a gate in front of each row) and inputs = 1 '
        "(a split above the rows); a hall without may fit."
    )


def test_parts_beyond_their_limit(pieces: Path) -> None:
    answer = answer_of(pieces, more="[parts]\nrelay = {most = 1}\n")
    assert answer.proposals == []
    assert any("relay" in refusal for refusal in answer.refusals)


def test_more_output_than_the_furnaces_make(pieces: Path) -> None:
    assert answer_of(pieces, output=Fraction(2000)).proposals
    answer = answer_of(pieces, output=Fraction(2200))
    assert answer.proposals == []
    assert any("the spec wants 2200" in refusal for refusal in answer.refusals)


def test_what_is_demanded_beyond_trials_is_shown_or_refused(pieces: Path) -> None:
    """Undrained rows under every update order: whatever is found says so, and nothing is taken unseen."""
    asked = small_hall(4)
    asked = replace(asked, demands=replace(asked.demands, orders="all"))
    answer = propose_hall(asked, HallRequest(PieceFile(pieces), limit_s=60))
    assert answer.proposals or any("[split] demands" in refusal for refusal in answer.refusals)


def test_a_search_that_is_stopped_keeps_nothing_unconfirmed(pieces: Path) -> None:
    request = HallRequest(PieceFile(pieces), limit_s=60)
    request.stop.set()
    answer = propose_hall(small_hall(), request)
    assert answer.proposals == []
    assert not answer.complete


def test_each_hall_is_told_when_it_is_found(pieces: Path) -> None:
    request, told, found = HallRequest(PieceFile(pieces), limit_s=60), list[str](), list[object]()
    request.told, request.found = told.append, found.append
    answer = propose_hall(small_hall(12), request)
    assert len(found) >= len(answer.proposals) > 0
    assert any("wings a side" in line for line in told)


# -- any number of furnaces -------------------------------------------------------------------------------------------


def test_sixty_four_furnaces_are_joined_without_solving(pieces: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No model is built, no solver runs, no process is started: the pieces are known."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("something is solved")

    monkeypatch.setattr("synth.hall.piece_solver.PieceSolver.__init__", refuse)
    monkeypatch.setattr("synth.solving.cadical.Cadical.__init__", refuse)
    monkeypatch.setattr("synth.solving.cp_sat.CpSat.__init__", refuse)
    monkeypatch.setattr("subprocess.Popen.__init__", refuse)
    spec = small_hall(64)
    answer = propose_hall(spec, HallRequest(PieceFile(pieces), top=1, limit_s=600))
    assert answer.proposals
    best = answer.proposals[0]
    assert sum(map(sum, best.wings)) == 64
    assert sum(isinstance(part, Furnace) for part in best.layout.parts) == 64
    assert best.measures.handovers == (8,)
    assert best.measures.output >= best.measures.bound * 99 / 100
    assert max(map(max, best.wings)) <= best.kit.longest
    assert design_findings(best.layout, RULES) == []


def test_parts_grow_with_the_furnaces_alone(pieces: Path) -> None:
    """Wings of eight: each hall twice the one before it, but for two nodes by which pairs of wings stand apart."""
    parts = []
    for furnaces in (16, 32, 64):
        spec = replace(small_hall(furnaces), rows=furnaces // 16)
        answer = propose_hall(spec, HallRequest(PieceFile(pieces), top=1, limit_s=600))
        assert [n for side in answer.proposals[0].wings for n in side] == [8] * (furnaces // 8)
        parts.append(answer.proposals[0].measures.parts)
    assert parts == [parts[0], 2 * parts[0] + 2, 4 * parts[0] + 4]


# -- the document -----------------------------------------------------------------------------------------------------


def put(*way: Any, by: Any) -> Callable[[Any], None]:
    def spoil(found: Any) -> None:
        for step in way[:-1]:
            found = found[step]
        found[way[-1]] = by

    return spoil


def drop(*way: Any) -> Callable[[Any], None]:
    def spoil(found: Any) -> None:
        for step in way[:-1]:
            found = found[step]
        del found[way[-1]]

    return spoil


@pytest.mark.parametrize(
    "spoil",
    [
        drop("files"),
        drop("complete"),
        put("format", by="splitwright-hall-proposals/2"),
        put("furnaces", by=0),
        put("more", by=1),
        put("refusals", by=[1]),
        put("pieces_seconds", by=-1),
        drop("layouts", 0, "wings"),
        put("layouts", 0, "wings", by=[[3], [3], [3]]),
        put("layouts", 0, "product_leaves_at", by="middle"),
        put("layouts", 0, "rows", by=[]),
        put("layouts", 0, "rows", 0, "enters", by="back"),
        put("layouts", 0, "measures", "box", by=[1, 2]),
        put("layouts", 0, "measures", "handovers", by=[]),
        put("layouts", 0, "measures", "by_kind", by={"pipe": 1}),
        put("layouts", 0, "layout", by={}),
        put("claims", 0, "proved", by="yes"),
        drop("claims", 0, "scope"),
    ],
)
def test_the_schema_refuses(spec: Path, pieces: Path, spoil: Callable[[Any], None]) -> None:
    found = known_document(spec, pieces)
    assert faults(found, SCHEMA) == []
    spoiled = copy.deepcopy(found)
    spoil(spoiled)
    assert faults(spoiled, SCHEMA) != []


KNOWN: list[dict[str, Any]] = []


def known_document(spec: Path, pieces: Path) -> dict[str, Any]:
    """Printed once."""
    if not KNOWN:
        KNOWN.append(document(run("propose", str(spec), "--pieces", str(pieces), "--json"), SCHEMA))
    return KNOWN[0]


def test_a_scheme_whose_columns_differ_is_refused(tmp_path: Path) -> None:
    spec = tmp_path / "muster.toml"
    spec.write_text(
        '[hall]\nfurnaces = 2\nfires = "clay"\nfuel = "charcoal"\n[split]\nscheme = "muster row"\n'
        '[items.clay]\nfires_to = "brick"\n', encoding="utf-8",
    )  # fmt: skip
    result = run("propose", str(spec), "--pieces", str(tmp_path / "pieces.json"))
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    assert "streams.feed: no scheme of a hall serves it" in line
