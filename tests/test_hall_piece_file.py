"""Pieces on disk: what is kept comes back the same, and only to the request that it answers."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commands import REPOSITORY, faults, run
from hall_kits import RULES, SPEC, request
from sim.errors import InputError
from sim.world.parts import Gauge, Inverter, Line, Relay, Support
from synth.ask.hall_spec import HallSpec
from synth.hall.lanes import LANES
from synth.hall.piece_file import PieceFile, key_of, shipped_file, users_pieces
from synth.hall.piece_json import SCHEMA, section_to_json
from synth.hall.piece_question import Site
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_scope import limits_of
from synth.hall.pieces import PieceClaim, RowPieces
from synth.hall.result import HallAnswer
from synth.hall.search import HallRequest
from synth.hall.section import SECTIONS
from synth.hall.short_row import works_as_a_row

MADE_UP = RowPieces(
    face="side", scheme="undrained row", lanes=2, before=1, after=3, lead=1,
    head=(Support((-1, 1, 1)), Line((-1, 1, 2)), Inverter((0, 2, 2), "N")),
    stretch=(Support((0, 2, 1)), Line((0, 2, 2))),
    tail=(Support((2, 1, 0)), Gauge((0, 1, 2), "E"), Relay((1, 2, 3), "W", 3)),
    relay=(Relay((2, 2, 2), "W", 4),), relay_width=2, reach=7, longest=19,
    claims=(
        PieceClaim("stretch", "fewest (proved): 2", True, 0.25, "rows of 4"), PieceClaim("tail", "3", False, 1, ""),
    ),
)  # fmt: skip
"""Not to be built: each field has a value of its own."""
ASKED = request("side")
SHIPPED = ASKED
"""Pieces for it come with splitwright."""
UNHEARD_OF = replace(ASKED, spare=9)
"""No pieces for it do."""


def kept(path: Path, pieces: RowPieces = MADE_UP, asked: PieceRequest = ASKED) -> dict[str, Any]:
    """A file with these pieces; its document."""
    PieceFile(path).keep(asked, pieces)
    return document(path)


def document(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("rests_on", [None, "0" * 64])
def test_claims_of_other_code_are_no_proofs(tmp_path: Path, rests_on: str | None) -> None:
    """The pieces themselves are as good as any: they are run before anybody sees them."""
    path = tmp_path / "pieces.json"
    changed = kept(path)
    if rests_on is None:
        del changed["pieces"][0]["rests_on"]
    else:
        changed["pieces"][0]["rests_on"] = rests_on
    path.write_text(json.dumps(changed), encoding="utf-8")
    found = PieceFile(path).find(ASKED)
    assert found is not None
    assert not any(claim.proved for claim in found.claims)
    assert [claim.text for claim in found.claims] == ["best found: 2", "3"]
    assert replace(found, claims=MADE_UP.claims) == MADE_UP


def test_what_is_kept_comes_back_equal(tmp_path: Path) -> None:
    path = tmp_path / "pieces.json"
    assert faults(kept(path), SCHEMA) == []
    assert PieceFile(path).find(ASKED) == MADE_UP


def test_pieces_without_relays_or_head_come_back_equal(tmp_path: Path) -> None:
    bare = replace(MADE_UP, head=(), relay=(), relay_width=0)
    path = tmp_path / "pieces.json"
    kept(path, bare)
    assert PieceFile(path).find(ASKED) == bare


def test_one_file_keeps_many_and_a_newer_one_replaces_the_older(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "down" / "pieces.json"
    other, newer = request("top"), replace(MADE_UP, longest=20)
    file = PieceFile(path)
    file.keep(ASKED, MADE_UP)
    file.keep(other, replace(MADE_UP, face="top"))
    file.keep(ASKED, newer)
    for one in (file, PieceFile(path)):
        assert one.find(ASKED) == newer
        assert one.find(other) == replace(MADE_UP, face="top")
    assert len(document(path)["pieces"]) == 2


def test_no_file_no_pieces(tmp_path: Path) -> None:
    file = PieceFile(tmp_path / "none.json")
    assert file.find(ASKED) is None
    assert not list(tmp_path.iterdir()), "looking makes no file"


# -- the user's pieces ------------------------------------------------------------------------------------------------


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's cache folder for splitwright; it is not there yet."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "splitwright"


def test_the_users_pieces_are_kept_in_the_cache(home: Path) -> None:
    pieces = users_pieces()
    assert pieces.find(UNHEARD_OF) is None
    assert not home.exists(), "looking makes no file"
    pieces.keep(UNHEARD_OF, MADE_UP)
    pieces.keep(UNHEARD_OF, replace(MADE_UP, longest=20))
    for one in (pieces, users_pieces()):
        found = one.find(UNHEARD_OF)
        assert found == replace(MADE_UP, longest=20)
        assert found.limits == limits_of(UNHEARD_OF)
        assert one.find(replace(UNHEARD_OF, spare=5)) is None
        assert one.faults == []
    assert [one.name for one in home.iterdir()] == ["known.sqlite"]


def test_two_runs_at_once_keep_the_pieces_of_both(home: Path) -> None:
    """Each has looked before the other wrote."""
    asked = [replace(UNHEARD_OF, spare=spare) for spare in (3, 4)]
    runs = [users_pieces(), users_pieces()]
    assert [one.find(which) for one in runs for which in asked] == [None] * 4
    for one, which in zip(runs, asked, strict=True):
        one.keep(which, replace(MADE_UP, longest=which.spare))
    assert [found.longest for which in asked if (found := users_pieces().find(which))] == [3, 4]


def test_the_pieces_that_come_with_splitwright_are_the_users_too(home: Path) -> None:
    shipped = PieceFile(shipped_file()).find(SHIPPED)
    assert shipped is not None
    assert users_pieces().find(SHIPPED) == shipped
    assert users_pieces().find(SHIPPED) != MADE_UP
    users_pieces().keep(SHIPPED, MADE_UP)
    assert users_pieces().find(SHIPPED) == MADE_UP, "the user's own come first"


def test_the_file_that_earlier_versions_wrote_is_read_and_not_written(home: Path) -> None:
    PieceFile(home / "pieces.json").keep(UNHEARD_OF, MADE_UP)
    before = (home / "pieces.json").read_bytes()
    assert users_pieces().find(UNHEARD_OF) == MADE_UP
    users_pieces().keep(UNHEARD_OF, replace(MADE_UP, longest=21))
    found = users_pieces().find(UNHEARD_OF)
    assert found is not None
    assert found.longest == 21
    assert (home / "pieces.json").read_bytes() == before


@pytest.mark.parametrize("text", ["", "{", '{"format": "splitwright-pieces/2", "pieces": []}', "\0"])
def test_an_old_file_that_is_none_is_told_in_one_line_and_passed_over(home: Path, text: str) -> None:
    home.mkdir()
    (home / "pieces.json").write_text(text, encoding="utf-8")
    pieces = users_pieces()
    (told,) = pieces.faults
    assert told.startswith(f"{home / 'pieces.json'}: ")
    assert told.endswith("the file is passed over")
    assert "\n" not in told
    assert pieces.find(SHIPPED) is not None
    pieces.keep(UNHEARD_OF, MADE_UP)
    assert pieces.find(UNHEARD_OF) == MADE_UP
    assert (home / "pieces.json").read_text(encoding="utf-8") == text


def test_the_search_for_a_hall_goes_on_without_a_cache(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told in one line on standard error, and the answer is printed. (The search itself is left out.)"""

    def search(_: HallSpec, request: HallRequest) -> HallAnswer:
        assert request.pieces.find(UNHEARD_OF) is None
        assert request.pieces.find(SHIPPED) is not None
        request.pieces.keep(UNHEARD_OF, MADE_UP)
        request.pieces.keep(SHIPPED, MADE_UP)
        return HallAnswer(furnaces=6)

    home.write_text("a file where the folder should be", encoding="utf-8")
    monkeypatch.setattr("splitwright.commands.propose.halls.propose_hall", search)
    spec = tmp_path / "hall.toml"
    spec.write_text(SPEC, encoding="utf-8")
    result = run("propose", str(spec))
    assert "no hall found" in result.stdout
    (told,) = result.stderr.splitlines()
    assert told.startswith(f"splitwright: {home / 'known.sqlite'}: cannot be written")


# -- what pieces depend on --------------------------------------------------------------------------------------------

OTHERS: dict[str, PieceRequest] = {
    "row": replace(ASKED, lane=LANES["top"]),
    "scheme": replace(ASKED, scheme="burst row"),
    "end": replace(ASKED, end="head"),
    "handovers": replace(ASKED, handovers=(8, 7)),
    "one handover": replace(ASKED, handovers=(7,)),
    "spare": replace(ASKED, spare=2),
    "room": replace(ASKED, room=Site(3, 3, 1)),
    "barred cell": replace(ASKED, barred=frozenset({((0, 2, 2), "line")})),
    "barred kind": replace(ASKED, barred=frozenset({((0, 2, 2), "gauge")})),
    **{
        name: replace(ASKED, rules=RULES.with_overrides({name: getattr(RULES, name) + 1}))
        for name in (
            "period", "node_slots", "stack", "reach", "inverter_delay", "gauge_delay", "relay_step", "firing",
        )
    },
}  # fmt: skip


@pytest.mark.parametrize("what", OTHERS)
def test_pieces_of_another_request_are_not_taken(tmp_path: Path, what: str) -> None:
    other, path = OTHERS[what], tmp_path / "pieces.json"
    assert key_of(other) != key_of(ASKED)
    kept(path)
    assert PieceFile(path).find(other) is None
    kept(path, replace(MADE_UP, longest=3), other)
    file = PieceFile(path)
    found = file.find(other)
    assert found is not None
    assert found.longest == 3
    assert file.find(ASKED) == MADE_UP


def test_what_pieces_do_not_depend_on_is_of_no_account(tmp_path: Path) -> None:
    path = tmp_path / "pieces.json"
    kept(path)
    for same in (replace(ASKED, seed=7), replace(ASKED, told=print)):
        assert PieceFile(path).find(same) == MADE_UP


def test_barred_cells_are_taken_in_any_order(tmp_path: Path) -> None:
    cells = [((x, 1, 2), kind) for x in range(5) for kind in ("line", "relay")]
    path = tmp_path / "pieces.json"
    kept(path, MADE_UP, replace(ASKED, barred=frozenset(cells)))
    assert PieceFile(path).find(replace(ASKED, barred=frozenset(cells[::-1]))) == MADE_UP


# -- files that are none ----------------------------------------------------------------------------------------------


def spoil(*way: str | int, by: Any) -> Callable[[dict[str, Any]], None]:
    def spoiled(found: Any) -> None:
        for step in way[:-1]:
            found = found[step]
        found[way[-1]] = by

    return spoiled


def dropped(*way: str | int) -> Callable[[dict[str, Any]], None]:
    def spoiled(found: Any) -> None:
        for step in way[:-1]:
            found = found[step]
        del found[way[-1]]

    return spoiled


SPOILED: dict[str, tuple[Callable[[dict[str, Any]], None], str]] = {
    "format": (spoil("format", by="splitwright-pieces/2"), "format"),
    "no pieces": (dropped("pieces"), "pieces"),
    "no list": (spoil("pieces", by={}), "pieces"),
    "unknown key": (spoil("pieces", 0, "extra", by=1), "pieces[0].extra"),
    "no tail": (dropped("pieces", 0, "tail"), "pieces[0].tail"),
    "reach": (spoil("pieces", 0, "reach", by=-1), "pieces[0].reach"),
    "half a column": (spoil("pieces", 0, "before", by=1.5), "pieces[0].before"),
    "row": (spoil("pieces", 0, "for", "row", by="back"), "pieces[0].for.row"),
    "no scheme": (dropped("pieces", 0, "for", "scheme"), "pieces[0].for.scheme"),
    "low corner": (spoil("pieces", 0, "head", "low", by=[0, 1]), "pieces[0].head.low"),
    "claim": (spoil("pieces", 0, "claims", 0, "proved", by="yes"), "pieces[0].claims[0].proved"),
    "a layout of nothing": (spoil("pieces", 0, "stretch", "layout", by={}), "pieces[0].stretch.layout"),
    "a part outside": (spoil("pieces", 0, "tail", "layout", "size", by=[1, 1, 1]), "pieces[0].tail.layout"),
    "no such part": (
        spoil("pieces", 0, "relay", "layout", "parts", 0, "kind", by="pipe"), "pieces[0].relay.layout.parts[0]",
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", SPOILED)
def test_a_bad_file_is_told_in_one_line(tmp_path: Path, how: str) -> None:
    path = tmp_path / "pieces.json"
    found = kept(path)
    change, field = SPOILED[how]
    change(found)
    path.write_text(json.dumps(found), encoding="utf-8")
    with pytest.raises(InputError) as fault:
        PieceFile(path)
    told = str(fault.value)
    assert told.startswith(f"{path}: {field}")
    assert "\n" not in told
    assert fault.value.fault


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"format": "splitwright-pieces/1"}', '{"a": NaN}'])
def test_what_is_no_such_document_is_told_in_one_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "pieces.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as fault:
        PieceFile(path)
    assert str(fault.value).startswith(f"{path}: ")
    assert "\n" not in str(fault.value)


def test_what_is_no_text_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "pieces.json"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match=r"pieces\.json: "):
        PieceFile(path)
    with pytest.raises(InputError, match="folder"):
        PieceFile(tmp_path)


def test_a_name_that_no_file_can_have_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        PieceFile(tmp_path / ("x" * 300)).keep(ASKED, MADE_UP)


def test_where_no_folder_can_be_made_it_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(InputError) as fault:
        PieceFile(tmp_path / "taken" / "pieces.json").keep(ASKED, MADE_UP)
    assert "taken" in str(fault.value)


def test_the_old_file_stays_when_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full in the middle of it."""
    path = tmp_path / "pieces.json"
    kept(path)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    file = PieceFile(path)
    with monkeypatch.context() as patched:
        patched.setattr("os.replace", full)
        with pytest.raises(InputError, match="No space left"):
            file.keep(request("top"), MADE_UP)
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["pieces.json"]
    assert PieceFile(path).find(ASKED) == MADE_UP


# -- the pieces that come with the clone -------------------------------------------------------------------------------


def test_the_pieces_of_the_clone_follow_the_schema_and_work() -> None:
    """Each set in a row as long as it claims to reach, and none longer."""
    path = REPOSITORY / "specs" / "pieces" / "default.json"
    found = document(path)
    assert faults(found, SCHEMA) == []
    assert found["pieces"]
    for one in found["pieces"]:
        key = one["for"]
        section = next((one for one in SECTIONS if section_to_json(one) == key.get("section")), None)
        asked = PieceRequest(
            LANES[key["row"]] if section is None else section.lane(key["row"]),
            key["scheme"], RULES, tuple(key["handovers"]), key["product_leaves_at"],
            frozenset(((x, y, z), kind) for x, y, z, kind in key["barred"]),
            Site(*key["room"]), key["spare"], section=section,
        )  # fmt: skip
        assert key_of(asked) == key, "solved for the numbers of the rulebook as it is"
        pieces = PieceFile(path).find(asked)
        assert pieces is not None
        assert pieces.reach >= 2
        for n in {2, pieces.reach, pieces.longest}:
            assert works_as_a_row(pieces, asked.lane, n, RULES, asked.handovers)
        assert not works_as_a_row(replace(pieces, relay=()), asked.lane, pieces.reach + 1, RULES, asked.handovers)
