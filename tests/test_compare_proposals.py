"""``propose --sheets``: sheets and a compare page beside the layouts, of splits and halls, found or not."""

from __future__ import annotations

import json
import signal
import subprocess
import threading
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from commands import REPOSITORY, document, faults, run, started, waited_for
from compare_pages import CheckedWords, checked_words, links_of, page_of, parsed, table_of, text_of
from hall_kits import SPEC, keep_both
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from splitwright.cli.measuring import DefaultRun, measured_layout
from splitwright.compare.account import account_of, account_of_hall
from splitwright.compare.comparison import Compared, Comparison, measured, numbered, of_proposals, ranked
from splitwright.compare.page import compare_html
from splitwright.compare.sheets import split_pages
from splitwright.words import Words
from splitwright.words.catalogue import catalogue
from synth.ask.spec import Leftovers, PartLimit, Spec
from synth.confirm.confirmation import confirm, terms_of
from synth.confirm.measures import measured as measured_for
from synth.confirm.proposal import Proposal
from synth.hall.piece_file import PieceFile
from synth.hall.result import HallAnswer
from synth.read.spec_file import load_spec
from synth.search.result import Answer, Claim, Clash, Obstacle, Step
from test_assure_load import brimmed

SPECS = REPOSITORY / "specs"
RULES = default_rules()
NAMES = ("two-kilns", "three-kilns", "four-kilns", "five-kilns")


@cache
def confirmed(
    name: str, scheme: str = "burst row", path: Path | None = None, leftovers: Leftovers = "deliver"
) -> tuple[Spec, Proposal]:
    """A layout of the repository as a search would propose it."""
    spec = replace(load_spec(SPECS / f"{name}.toml"), scheme=scheme, leftovers=leftovers)
    layout = load_layout(path or SPECS / "results" / f"{name}-smallest.json")
    confirmation = confirm(layout, spec.rules, needed=(8,), terms=terms_of(spec))
    return spec, Proposal(layout, measured_for(layout, confirmation, spec), scheme)


def an_answer(**more: Any) -> Answer:
    """Two layouts; the second one is the larger, with more parts, and quicker."""
    _, proposal = confirmed("three-kilns")
    _, larger = confirmed("three-kilns", path=SPECS / "layouts" / "burst-row-of-three.plan")
    return Answer([proposal, larger], scope=["even for loads there at once"], solver="s 1", **more)


# -- measures without a spec are those of a search ---------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_measures_are_those_of_a_search(name: str) -> None:
    _, proposal = confirmed(name)
    same(proposal, proposal.layout)


def test_measures_of_a_row_that_keeps_items_are_those_of_a_search() -> None:
    """Its last arrival is that of a second load."""
    path = SPECS / "layouts" / "row-of-three-no-drain.plan"
    _, proposal = confirmed("three-kilns", "undrained row", path, leftovers="hold")
    assert proposal.measures.held == 3
    same(proposal, proposal.layout)


def test_measures_of_a_row_that_starts_full_are_those_of_a_search() -> None:
    spec = replace(load_spec(SPECS / "two-kilns-stream-held.toml"), scheme="brimmed row")
    layout = brimmed()
    confirmation = confirm(layout, spec.rules, needed=(8,), terms=terms_of(spec))
    m = measured_for(layout, confirmation, spec)
    assert m.held_at_start > 0
    same(Proposal(layout, m, "brimmed row"), layout)


def same(proposal: Proposal, layout: Layout) -> None:
    found, due = measured_layout(layout, RULES, {}), proposal.measures
    for field in ("box", "volume", "footprint", "height", "parts", "price", "latency", "throughput", "held"):
        assert getattr(found, field) == getattr(due, field), field
    assert min(found.steady.values()) == due.steady
    assert found.held_at_start == due.held_at_start
    assert tuple(run.handover for run in found.runs if run.outcome == "even") == due.handovers


def test_a_search_s_layouts_are_not_measured_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """But for a handover of which the search does not tell."""
    _, proposal = confirmed("two-kilns")
    tried: list[tuple[int, int]] = []

    def trial(layout: Layout, rules: Any, handover: int, per_target: int) -> DefaultRun:
        tried.append((handover, per_target))
        return DefaultRun(handover, "uneven", {})

    monkeypatch.setattr("splitwright.compare.comparison.default_run", trial)
    of_proposals([proposal], RULES, {})
    assert tried == []
    partial = replace(proposal, measures=replace(proposal.measures, handovers=(8,)))
    [entry] = of_proposals([partial], RULES, {})
    assert tried == [(7, 18)]
    assert [(one.handover, one.outcome) for one in entry.runs] == [(8, "even"), (7, "uneven")]


# -- ranking -----------------------------------------------------------------------------------------------------------


@cache
def an_entry(volume: int, parts: int, latency: int | None, *, is_even: bool = True) -> Compared:
    one = measured(load_layout(SPECS / "layouts" / "burst-row-of-two.plan"), RULES)
    runs = (DefaultRun(8, "even" if is_even else "uneven", {}),)
    return replace(one, built=replace(one.built, volume=volume, parts=parts), latency=latency, runs=runs)


def test_ranks_and_standings() -> None:
    small, light, quick = an_entry(10, 30, 50), an_entry(20, 20, 50), an_entry(30, 30, 40)
    beaten, uneven, never = an_entry(30, 30, 50), an_entry(1, 1, 1, is_even=False), an_entry(5, 9, None)
    entries = ranked([beaten, uneven, quick, light, small, never])
    assert [entry.built.volume for entry in entries] == [5, 10, 20, 30, 30, 1]
    assert [entry.latency for entry in entries[3:5]] == [40, 50]
    comparison = Comparison(entries, 20)
    assert comparison.standings == ["apart", "front", "front", "front", "beaten", "apart"]
    assert [comparison.beaten_by(entry) for entry in entries] == [[], [], [], [], [2, 3, 4], []]


def test_alike_ones_stay_in_their_order_and_are_on_the_front_together() -> None:
    first, second = replace(an_entry(10, 10, 10), file="first"), replace(an_entry(10, 10, 10), file="second")
    entries = ranked([first, second])
    assert [entry.file for entry in entries] == ["first", "second"]
    assert Comparison(entries, 20).standings == ["front", "front"]


# -- pages of a search -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Answer, Path, list[Path]]:
    """The pages of an answer, without the search."""
    folder = tmp_path_factory.mktemp("pages")
    answer = an_answer(
        steps=[Step("volume", 40, None, True), Step("parts", 30, 28, False), Step("latency", 39, None, False)],
        claims=[Claim((4, 2, 4), "none exists", 1.0, (8,), scheme="burst row")],
    )
    spec = load_spec(SPECS / "three-kilns.toml")
    files = split_pages(folder, spec, answer, lambda _: None, threading.Event())
    return answer, folder, files


def test_every_layout_has_its_sheet_and_the_page_links_to_it(written: tuple[Answer, Path, list[Path]]) -> None:
    answer, folder, files = written
    assert files == [folder / "layout-1.html", folder / "layout-2.html", folder / "compare.html"]
    tree = page_of(folder / "compare.html")
    assert [href for href in links_of(tree) if not href.startswith("#")] == ["layout-1.html", "layout-2.html"]
    for proposal, path in zip(answer.proposals, files, strict=False):
        assert text_of(page_of(path).find("body/header/h1")) == proposal.layout.title


def test_the_page_s_table_is_that_of_the_answer(written: tuple[Answer, Path, list[Path]]) -> None:
    answer, folder, _ = written
    rows = table_of(page_of(folder / "compare.html"))
    for row, told in zip(rows, answer.as_json()["layouts"], strict=True):
        m = told["measures"]
        for name in ("volume", "footprint", "height", "parts", "latency"):
            assert row[name] == f"{m[name]:,}", name
        assert row["throughput"] == f"{m['throughput']:,.0f}"
        assert row["held"] == str(told["held"])
        assert [row["handover-8"], row["handover-7"]] == ["Even", "Even"]


def test_what_is_proved_is_told_beside(written: tuple[Answer, Path, list[Path]]) -> None:
    text = text_of(page_of(written[1] / "compare.html"))
    assert "Ranked by volume, parts, last arrival." in text
    assert "Best by volume: 40. Proved: none is better, within the scope." in text
    assert "Best by parts: 30. Open: of those no worse by volume, none is better than 28 (proved)." in text
    assert "Best by last arrival: 39. Open: no bound is known." in text
    assert "None that works under handover 8 exists (proved) in boxes of 4 x 2 x 4." in text
    assert "Scope: even for loads there at once; s 1." in text


def test_what_is_proved_is_told_of_those_it_was_proved_of() -> None:
    """A later measure is settled among layouts as good in the measures before it, and among no others."""
    words = checked_words()
    steps = [Step("volume", 40, 40, True), Step("parts", 30, 30, True), Step("latency", 39, 39, True)]
    account = account_of(load_spec(SPECS / "three-kilns.toml"), an_answer(steps=steps), words)
    assert [words.text(step) for step in account.steps] == [
        "Best by volume: 40. Proved: none is better, within the scope.",
        "Best by parts: 30. Proved: of those no worse by volume, none is better, within the scope.",
        "Best by last arrival: 39. Proved: of those no worse by volume, parts, none is better, within the scope.",
    ]


def test_prices_show_where_the_spec_has_any(tmp_path: Path) -> None:
    """An inverter costs 5 more than any other part."""
    limits = {"inverter": PartLimit(None, 6)}
    spec, proposal = confirmed("three-kilns")
    m = proposal.measures
    priced = replace(proposal, measures=replace(m, price=m.parts + 5 * m.by_kind["inverter"]))
    found = []
    for asked, one in ((spec, proposal), (replace(spec, limits=limits), priced)):
        split_pages(tmp_path, asked, Answer([one], solver="s"), lambda _: None, threading.Event())
        found.append((table_of(page_of(tmp_path / "compare.html"))[0], text_of(page_of(tmp_path / "layout-1.html"))))
    (row, sheet), (priced_row, priced_sheet) = found
    assert "price" not in row
    assert "Price each" not in sheet
    assert priced_row["price"] == str(priced.measures.price) != str(m.price)
    assert "Price each" in priced_sheet


def test_a_stop_leaves_sheets_out_but_not_the_page(tmp_path: Path) -> None:
    stop, told = threading.Event(), []

    def tell(line: str) -> None:
        told.append(line)
        stop.set()

    files = split_pages(tmp_path, load_spec(SPECS / "three-kilns.toml"), an_answer(), tell, stop)
    assert told == ["build sheet 1 of 2"]
    assert files == [tmp_path / "layout-1.html", tmp_path / "compare.html"]
    tree = page_of(tmp_path / "compare.html")
    assert [href for href in links_of(tree) if not href.startswith("#")] == ["layout-1.html"]
    assert len(table_of(tree)) == 2


def test_where_nothing_is_found_the_page_tells_why(tmp_path: Path) -> None:
    obstacles = [Obstacle("depth 2", "depth 3", True), Obstacle("width 4", "width 5", False),
                 Obstacle("height <4>", "height 5", None)]  # fmt: skip
    clash = Clash((obstacles[0],), (), "The depth of 2 & <nothing> else rule it out.")
    answer = Answer(obstacles=obstacles, clashes=[clash], scope=["small"], solver="s", complete=False)
    files = split_pages(tmp_path, load_spec(SPECS / "three-kilns.toml"), answer, lambda _: None, threading.Event())
    assert files == [tmp_path / "compare.html"]
    text = text_of(page_of(files[0]))
    assert "No layout was found within the limits; that is no proof that none exists." in text
    assert "The search ended at a limit or an interruption" in text
    assert "The depth of 2 & <nothing> else rule it out." in text
    assert "depth 2: with depth 3, there is a layout (confirmed)." in text
    assert "width 4: with width 5, there is still none (proved)." in text
    assert "height <4>: with height 5, it was not decided in time." in text


# -- words -------------------------------------------------------------------------------------------------------------


def test_every_phrase_is_there_with_its_fields_and_used() -> None:
    words: CheckedWords = checked_words()
    spec, answer = load_spec(SPECS / "three-kilns.toml"), an_answer()
    answer.steps = [Step("volume", 40, 30, False), Step("parts", 30, 28, False), Step("latency", 39.5, None, False)]
    entries = of_proposals(answer.proposals, RULES, {1: "layout-1.html"})
    orders = ("volume", "footprint", "height", "parts", "price", "latency", "throughput")
    full = Comparison(entries, 20, order=orders, priced=True, rate="products")
    compare_html(full, words, title="Clay", account=account_of(spec, answer, words))
    answer.steps = [Step(name, 40, 40, True) for name in ("volume", "parts")]
    compare_html(full, words, account=account_of(spec, answer, words))
    bare = measured(replace(load_layout(SPECS / "layouts" / "burst-row-of-two.plan"), title="", streams=()), RULES)
    lot = [an_entry(9, 9, None), an_entry(9, 9, 9, is_even=False), an_entry(9, 9, 11), bare, *[an_entry(9, 9, 10)] * 24]
    compare_html(Comparison(ranked(lot), 20), words)
    compare_html(Comparison(ranked([bare]), 20), words)
    row = load_layout(SPECS / "layouts" / "burst-row-of-two.plan")
    crowded = measured(replace(row, rules={**row.rules, "bin_slots": 1, "stack": 1}, items={}), RULES)
    compare_html(Comparison(ranked([crowded]), 20), words)
    beside = measured(load_layout(SPECS / "layouts" / "row-of-three-unlocked.plan"), RULES, "a.plan")
    compare_html(Comparison(numbered([beside, entries[0]]), 20), words)
    nothing = Answer(obstacles=[Obstacle("a", "b", helps) for helps in (True, False, None)], complete=False)
    proved = Answer(claims=[Claim(spec.size, "none exists", 1, (8,))])
    for one in (nothing, proved):
        compare_html(Comparison((), 20), words, account=account_of(spec, one, words))
    compare_html(Comparison((), 20), words, account=account_of_hall(HallAnswer(6, refusals=["no room"])))
    assert {key for key in catalogue("en") if key.startswith("compare.")} == {
        key for key in words.used if key.startswith("compare.")
    }


def test_other_words_are_in_force_everywhere() -> None:
    """Every phrase of the page turned into signs: no English of ours is left but what is marked as such."""
    ours = ("compare.", "sheet.", "measure.")
    phrases = {key: "§" if key.startswith(ours) else text for key, text in catalogue("en").items()}
    phrases["sheet.writing"] = "ltr"
    comparison = Comparison(of_proposals(an_answer().proposals, RULES, {}), 20)
    tree = parsed(compare_html(comparison, Words("en", phrases)))
    told = {text_of(element) for tag in ("h1", "h2", "dt", "figcaption") for element in tree.iter(tag)}
    assert told == {"§"}
    assert {text_of(heading) for heading in tree.find(".//thead").iter("th")} == {"§"}


# -- the command ------------------------------------------------------------------------------------------------------


def test_sheets_need_a_folder() -> None:
    for spec in ("three-kilns.toml", "kilns-in-one-row.toml"):
        result = run("propose", str(SPECS / spec), "--sheets")
        assert result.exit_code == 2
        assert result.stderr == "splitwright: --sheets: needs --out DIR, the folder that they are put in\n"


TIGHT = """title = "Clay for <b>two</b> kilns"
[split]
outputs = 2
[site]
size = [2, 1, 3]
[streams.feed]
item = "clay"
"""


def test_nothing_exists_as_a_user_sees_it(tmp_path: Path) -> None:
    spec, out = tmp_path / "spec.toml", tmp_path / "out"
    spec.write_text(TIGHT, encoding="utf-8")
    result = run("propose", str(spec), "--out", str(out), "--sheets", "--json", "--time-limit", "5")
    assert result.exit_code == 1
    found = document(result, "splitwright-proposals-1")
    assert found["files"] == [str(out / "compare.html")]
    text = text_of(page_of(out / "compare.html"))
    assert "Layouts side by side: Clay for <b>two</b> kilns" in text
    assert "No such layout exists: proved, within the scope told below." in text
    for obstacle in found["obstacles"]:
        assert f"{obstacle['limit']}: with {obstacle['relaxed']}" in text
    for clash in found["clashes"]:
        assert clash["text"] in text


@pytest.mark.slow
def test_sheets_of_a_search(tmp_path: Path) -> None:
    spec, out = tmp_path / "spec.toml", tmp_path / "out"
    spec.write_text(TIGHT.replace("[2, 1, 3]", "[4, 2, 4]"), encoding="utf-8")
    result = run("propose", str(spec), "--out", str(out), "--sheets", "--json", "--time-limit", "25", "--top", "2")
    assert result.exit_code == 0, result.stderr
    found = document(result, "splitwright-proposals-1")
    count = len(found["layouts"])
    names = [Path(path).name for path in found["files"]]
    assert names == [
        *(f"layout-{n}.{suffix}" for n in range(1, count + 1) for suffix in ("json", "plan")),
        *(f"layout-{n}.html" for n in range(1, count + 1)),
        "compare.html",
    ]
    rows = table_of(page_of(out / "compare.html"))
    assert [int(row["volume"]) for row in rows] == [one["measures"]["volume"] for one in found["layouts"]]
    assert [int(row["latency"]) for row in rows] == [one["measures"]["latency"] for one in found["layouts"]]


@pytest.mark.slow
def test_ctrl_c_leaves_sheets_of_what_was_found(tmp_path: Path, running: list[subprocess.Popen[str]]) -> None:
    out = tmp_path / "build"
    words = ("--out", str(out), "--json", "--workers", "1", "--time-limit", "600", "--top", "1000", "--sheets")
    process = started(running, "propose", str(SPECS / "three-kilns.toml"), *words)
    waited_for(process, (out / "layout-1.plan").exists)
    process.send_signal(signal.SIGINT)
    stdout, stderr = process.communicate(timeout=80)
    assert process.returncode == 0, stderr
    found = json.loads(stdout)
    assert faults(found, "splitwright-proposals-1") == []
    assert found["complete"] is False
    assert str(out / "layout-1.html") in found["files"]
    assert found["files"][-1] == str(out / "compare.html")
    assert all(Path(path).exists() for path in found["files"])
    assert "The search ended at a limit or an interruption" in text_of(page_of(out / "compare.html"))


@pytest.mark.slow
def test_sheets_of_a_hall(tmp_path: Path) -> None:
    pieces, spec, out = tmp_path / "pieces.json", tmp_path / "hall.toml", tmp_path / "out"
    keep_both(PieceFile(pieces))
    spec.write_text(SPEC, encoding="utf-8")
    words = ("--pieces", str(pieces), "--out", str(out), "--sheets", "--json", "--top", "2")
    result = run("propose", str(spec), *words)
    assert result.exit_code == 0, result.stderr
    found = document(result, "splitwright-hall-proposals-1")
    names = [Path(path).name for path in found["files"]]
    assert names[-1] == "compare.html"
    assert "layout-1.html" in names
    tree = page_of(out / "compare.html")
    [row, *_] = table_of(tree)
    m = found["layouts"][0]["measures"]
    assert row["throughput"] == f"{m['throughput']:,.0f}"
    assert row["latency"] == f"{m['latency']:,}"
    assert "Products an hour" in text_of(tree)
    assert found["claims"][0]["text"] in text_of(tree)
