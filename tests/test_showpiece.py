"""The brickyard of sixteen kilns as ``make hall`` makes it: from the pieces in specs/, confirmed, and at work."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from commands import run
from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.analysis.production.lines import product_lines
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace
from sim.world.rulebook import default_rules
from synth.hall.lanes import LANES
from synth.hall.piece_file import KnownPieces, PieceFile
from synth.hall.piece_question import Site
from synth.hall.piece_request import PieceRequest
from synth.search.known.cache import Cache

SPECS = Path(__file__).resolve().parent.parent / "specs"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """The answer, and the first layout's file; the shipped pieces are copied, so that nothing is written to them."""
    folder = tmp_path_factory.mktemp("hall")
    pieces = shutil.copy(SPECS / "pieces" / "default.json", folder / "pieces.json")
    words = ("--pieces", str(pieces), "--out", str(folder / "out"), "--time-limit", "60", "--json")
    result = run("propose", str(SPECS / "sixteen-kilns.toml"), *words)
    assert result.exit_code == 0, result.stderr
    assert (folder / "pieces.json").read_bytes() == (SPECS / "pieces" / "default.json").read_bytes()
    return json.loads(result.stdout), folder / "out" / "layout-1.plan"


def layout_of(built: tuple[dict[str, Any], Path]) -> Layout:
    return load_layout(str(built[1]))


def test_sixteen_kilns_on_two_sides_and_one_product_bin(built: tuple[dict[str, Any], Path]) -> None:
    layout = layout_of(built)
    assert sum(isinstance(part, Furnace) for part in layout.parts) == 16
    assert sum(isinstance(part, Bin) for part in layout.parts) == 5
    assert built[0]["layouts"][0]["wings"] == [[8], [8]]
    (line,) = product_lines(layout, default_rules())
    assert (len(line.furnaces), len(line.bins)) == (16, 1)


def test_it_makes_what_sixteen_kilns_can(built: tuple[dict[str, Any], Path]) -> None:
    """By hand: a kiln fires 3600 x 20 / 200 = 360 an hour."""
    measures = built[0]["layouts"][0]["measures"]
    assert (measures["throughput"], measures["bound"]) == (5760, 16 * 360)


def test_the_readme_tells_its_figures(built: tuple[dict[str, Any], Path]) -> None:
    measures = built[0]["layouts"][0]["measures"]
    box = " x ".join(map(str, measures["box"]))
    told = f"{box} cells, {measures['parts']} parts, {measures['throughput']:,.0f} bricks an hour"
    assert f"| {told} | `make hall` |" in (SPECS.parent / "README.md").read_text(encoding="utf-8")


def test_the_ranking_is_that_of_the_spec(built: tuple[dict[str, Any], Path]) -> None:
    found = [(one["measures"]["volume"], one["measures"]["parts"]) for one in built[0]["layouts"]]
    assert found == sorted(found)
    prices = {"node": 5, "furnace": 8, "gauge": 4, "relay": 3, "inverter": 2, "bin": 2, "line": 1, "support": 1}
    for one in built[0]["layouts"]:
        assert one["measures"]["price"] == sum(prices[kind] * n for kind, n in one["measures"]["by_kind"].items())


def test_no_row_acts_on_another(built: tuple[dict[str, Any], Path]) -> None:
    layout = layout_of(built)
    assert design_findings(layout) == []
    assert couplings(layout) == []


def test_what_is_proved_is_told_of_pieces_only(built: tuple[dict[str, Any], Path]) -> None:
    claims = built[0]["claims"]
    assert {claim["piece"] for claim in claims} == {"head and tail"}, "its cross-section is given"
    assert all(claim["text"].startswith("fewest (proved)" if claim["proved"] else "best found") for claim in claims)
    assert all(claim["proved"] for claim in claims)


def test_an_hour_of_everything_that_goes_wrong(built: tuple[dict[str, Any], Path]) -> None:
    result = run("shift", str(built[1]), "--hours", "1", "--json")
    assert result.exit_code == 0, result.stdout[:2000]


def test_forty_kilns_with_one_row_a_side_have_relays_in_mid_run(tmp_path: Path) -> None:
    pieces = shutil.copy(SPECS / "pieces" / "default.json", tmp_path / "pieces.json")
    words = ("--pieces", str(pieces), "--top", "1", "--time-limit", "60", "--json")
    result = run("propose", str(SPECS / "kilns-in-one-row.toml"), *words)
    assert result.exit_code == 0, result.stderr
    (best,) = json.loads(result.stdout)["layouts"]
    assert best["wings"] == [[20], [20]]
    assert all(row["relay"] and row["reach"] < 20 <= row["longest"] for row in best["rows"])
    assert best["measures"]["throughput"] >= 9000


def test_pieces_that_come_with_splitwright_need_not_be_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are looked up beside the user's own, and nothing is written where nothing new was solved."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    shipped = (SPECS / "pieces" / "default.json").read_bytes()
    result = run("propose", str(SPECS / "sixteen-kilns.toml"), "--top", "1", "--time-limit", "30", "--json")
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["layouts"][0]["measures"]["throughput"] == 5760
    assert not list((tmp_path / "splitwright").glob("pieces*"))
    assert not list((tmp_path / "splitwright").glob("known*"))
    assert (SPECS / "pieces" / "default.json").read_bytes() == shipped


def test_own_pieces_come_before_those_of_others(tmp_path: Path) -> None:
    own = tmp_path / "own.json"
    kept = json.loads((SPECS / "pieces" / "default.json").read_text(encoding="utf-8"))
    first, *_ = kept["pieces"]
    own.write_text(json.dumps({**kept, "pieces": [{**first, "longest": 1}]}), encoding="utf-8")
    asked = request_for(first["for"])
    cache = Cache(tmp_path / "known.sqlite")
    both = KnownPieces(cache, own, SPECS / "pieces" / "default.json").find(asked)
    theirs = KnownPieces(cache, tmp_path / "none.json", SPECS / "pieces" / "default.json").find(asked)
    assert both is not None
    assert theirs is not None
    assert (both.longest, theirs.longest) == (1, first["longest"])
    assert PieceFile(tmp_path / "none.json").find(asked) is None


def request_for(key: dict[str, Any]) -> PieceRequest:
    barred = frozenset(((x, y, z), kind) for x, y, z, kind in key["barred"])
    return PieceRequest(
        LANES[key["row"]], key["scheme"], default_rules(), tuple(key["handovers"]), end=key["product_leaves_at"],
        barred=barred, room=Site(*key["room"]), spare=key["spare"],
    )  # fmt: skip


def test_the_shipped_pieces_are_whole() -> None:
    """Read with every check; and each set was solved for the numbers of the default rulebook."""
    PieceFile(SPECS / "pieces" / "default.json")
    kept = json.loads((SPECS / "pieces" / "default.json").read_text(encoding="utf-8"))["pieces"]
    rules = default_rules()
    assert kept
    assert all(getattr(rules, name) == value for one in kept for name, value in one["for"]["rules"].items())
