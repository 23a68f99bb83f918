"""What is said of a claim on pieces: every limit of the question that was asked, whenever it was asked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from hall_kits import RULES, SPEC, keep_both, request, solved
from splitwright.compare.account import account_of_hall
from splitwright.proposing.hall_report import hall_report
from synth.hall.kits import Kit
from synth.hall.piece_file import PieceFile, shipped_file
from synth.hall.piece_question import longest_in_time, piece_question, smallest_number, windows_of
from synth.hall.piece_request import ROOM, PieceRequest
from synth.hall.piece_scope import limits_of
from synth.hall.pieces import RowPieces
from synth.hall.search import HallRequest, propose_hall
from synth.hall.spec_file import hall_from_toml
from synth.schemes.registry import scheme_named
from synth.search.scope import model_limits


def told(asked: PieceRequest) -> str:
    return "; ".join(limits_of(asked))


def test_the_windows_are_those_of_the_longest_row() -> None:
    """Under both handovers an undrained row of 7 is the longest; one of 4 has a wider window, so that a stretch for
    rows of up to 4 could have fewer parts."""
    asked, scheme = request("top", handovers=(8, 7)), scheme_named("undrained row")
    n = longest_in_time(scheme, RULES, (8, 7))
    narrow, wide = (windows_of(scheme, RULES, k, (8, 7))["tail"] for k in (n, smallest_number(scheme)))
    assert narrow.least > wide.least
    assert f"{narrow.least} to {narrow.most} ticks to the locks" in told(asked)
    needs = f"these delays are what a row of {n} needs under handover 8 and 7"
    assert f"{needs}: pieces for shorter rows alone may do with fewer parts" in told(asked)


def test_relays_in_mid_run_take_from_the_windows() -> None:
    assert "0 to 7 ticks to the locks" in told(request("top"))
    assert "0 to 5 ticks to the locks" in told(request("top", spare=2))
    assert "shorter rows" not in told(request("top")), "under one handover the window is the same for all"


def test_what_the_model_leaves_out_is_said() -> None:
    asked = request("side")
    scheme, rules = scheme_named(asked.scheme), asked.rules
    windows = windows_of(scheme, rules, longest_in_time(scheme, rules, (8,)), (8,))
    limits = limits_of(asked)
    assert set(model_limits(scheme, rules, smallest_number(scheme), windows)) <= set(limits)
    for limit in ("no part can act on itself", "at most 8 ticks", "gauges on T4 only", "no T node is ever locked"):
        assert limit in "; ".join(limits)
    question = piece_question(asked.lane, scheme, rules, ROOM, windows, smallest_number(scheme), asked.end).question
    assert question.row_unlocked
    assert (question.reading, question.stages) == (1, 8)


def test_cells_that_are_kept_free_for_the_other_row_are_counted() -> None:
    barred = frozenset({((0, 2, 2), "line"), ((0, 2, 2), "relay"), ((1, 2, 2), "line")})
    assert "in 2 cells" in told(replace(request("side"), barred=barred))
    assert "kept apart" not in told(request("side"))


def test_pieces_have_their_limits_whether_solved_or_read(tmp_path: Path) -> None:
    asked, pieces = request("side"), solved("side")
    assert pieces.limits == limits_of(asked)
    file = PieceFile(tmp_path / "pieces.json")
    file.keep(asked, pieces)
    found = PieceFile(tmp_path / "pieces.json").find(asked)
    assert found is not None
    assert found.limits == limits_of(asked)
    assert limits_of(asked)[0] not in (tmp_path / "pieces.json").read_text(encoding="utf-8")


def test_the_pieces_that_come_with_splitwright_are_told_with_all_their_limits() -> None:
    asked = request("side")
    pieces = PieceFile(shipped_file()).find(asked)
    assert pieces is not None
    for claim in pieces.claims:
        scope = pieces.scope_of(claim)
        assert claim.scope in scope
        assert all(limit in scope for limit in limits_of(asked))


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> PieceFile:
    kept = PieceFile(tmp_path_factory.mktemp("kept") / "pieces.json")
    keep_both(kept)
    return kept


def test_every_answer_tells_them(file: PieceFile) -> None:
    spec = hall_from_toml(SPEC)
    answer = propose_hall(spec, HallRequest(file, top=1))
    kit: Kit = answer.proposals[0].kit
    rows: tuple[RowPieces, ...] = (kit.feed, kit.fuel)
    document = answer.as_json()["claims"]
    printed = " ".join(str(line) for line in hall_report(spec, answer, [], quiet=False, verbose=True))
    page = " ".join(account_of_hall(answer).report)
    for row in rows:
        assert row.limits
        for limit in row.limits:
            assert limit in printed
            assert limit in page
            assert all(limit in one["scope"] for one in document if one["enters"] == row.face)
        for claim in row.claims:
            assert claim.scope in printed
            assert claim.scope in page


