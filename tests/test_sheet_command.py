"""``splitwright sheet`` as a user runs it: what is written, and what each section says of known layouts."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree.ElementTree import Element

import html5lib
import pytest

from commands import LAYOUTS, ROW, UNEVEN, document, run, run_as_user
from halls import locked_hall
from sim.analysis.checks import design_findings
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.trial import arrivals_for, run_trial
from splitwright.page.assembly import cell_id
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest

BYTES_MOST = 2_000_000
SPEC = str(LAYOUTS.parent / "six-kilns.toml")
SECTIONS = ["shown", "parts-list", "plans", "order", "workings", "view", "replay", "rules"]


def tree_of(text: str) -> Element:
    tree: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    return tree


def by_id(tree: Element, name: str) -> Element:
    return next(element for element in tree.iter() if element.get("id") == name)


def words_of(element: Element) -> str:
    """The text of an element, without that of scripts."""
    scripts = {text for script in element.iter("script") for text in script.itertext()}
    return " ".join("".join(text for text in element.itertext() if text not in scripts).split())


def rows_of(table: Element) -> list[list[str]]:
    return [[words_of(cell) for cell in row] for row in table.iter("tr")]


@pytest.fixture(scope="module")
def row_sheet() -> Element:
    """The sheet of a row of three, its questions not asked."""
    return tree_of(sheet_html(load_layout(Path(ROW)), SheetRequest(limit_s=0)))


def test_the_command_writes_one_file_and_says_so(tmp_path: Path) -> None:
    out = tmp_path / "kilns.html"
    result = run("sheet", ROW, "--out", str(out), "--time-limit", "0")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(f"Build sheet: {out} (")
    assert [path.name for path in tmp_path.iterdir()] == ["kilns.html"]
    assert out.stat().st_size < BYTES_MOST


def test_json_tells_the_files(tmp_path: Path) -> None:
    out = tmp_path / "kilns.html"
    found = document(run("sheet", ROW, "--out", str(out), "--time-limit", "0", "--json"), "splitwright-sheet-1")
    assert found["files"] == [{"path": str(out), "bytes": out.stat().st_size}]
    assert found["title"] == "Three kilns, even for a burst of clay"


def test_the_same_layout_gives_the_same_file() -> None:
    layout, request = load_layout(Path(ROW)), SheetRequest(limit_s=0)
    assert sheet_html(layout, request) == sheet_html(layout, request)


def test_the_sheet_takes_the_layout_s_name_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("sheet", ROW, "--time-limit", "0", "--quiet").stdout == ""
    assert (tmp_path / "burst-row-of-three.html").is_file()


@pytest.mark.parametrize("layout", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
def test_every_example_has_a_sheet_that_conforms_with_all_its_sections(layout: Path) -> None:
    known = load_layout(layout)
    text = sheet_html(known, SheetRequest(limit_s=0))
    tree = tree_of(text)
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    due = [name for name in SECTIONS if name != "replay" or known.streams]
    assert [section.get("id") for section in tree.iter("section") if section.get("id") != "trouble"] == due
    linked = {(link.get("href") or "").removeprefix("#") for link in tree.iter("a")}
    assert linked <= set(ids), "every link leads somewhere on the page"
    assert len(text.encode()) < BYTES_MOST
    for element in tree.iter():
        for name in ("src", "href", "{http://www.w3.org/1999/xlink}href"):
            assert (element.get(name) or "#").startswith("#"), "nothing from outside"


def test_each_layer_has_its_plan_and_each_part_its_place(row_sheet: Element) -> None:
    layout = load_layout(Path(ROW))
    figures = list(by_id(row_sheet, "plans").iter("figure"))
    assert len(figures) == layout.size[2]
    for z, figure in enumerate(figures):
        drawn = {element.get("data-cell") for element in figure.iter() if element.get("data-cell")}
        assert drawn == {f"{x},{y},{z}" for x, y, layer in layout.by_cell if layer == z}


def test_the_parts_list_counts_every_part_in_stacks_and_singles() -> None:
    layout = load_layout(Path(ROW))
    rules = {**layout.rules, "stack": 4}
    tree = tree_of(sheet_html(Layout(layout.title, layout.size, layout.items, layout.parts, layout.streams, rules),
                              SheetRequest(limit_s=0, prices=dict.fromkeys(KINDS, 3))))  # fmt: skip
    rows = rows_of(next(by_id(tree, "parts-list").iter("table")))
    listed = {row[0]: row[1:] for row in rows[1:]}
    assert listed["furnaces"] == ["3", "3", "3", "9"]
    assert listed["nodes"] == ["7", "1 × 4 + 3", "3", "21"]
    assert listed["supports"] == ["14", "3 × 4 + 2", "3", "42"]
    assert listed["temporary support"] == ["1", "1", "", ""]
    assert listed["Parts of the layout"] == [str(len(layout.parts)), "", "", str(3 * len(layout.parts))]


KINDS = ("bin", "node", "furnace", "support", "line", "inverter", "relay", "gauge")


def test_prices_come_from_a_spec_that_sets_them(tmp_path: Path) -> None:
    out = tmp_path / "kilns.html"
    spec = tmp_path / "kilns.toml"
    text = "[split]\noutputs = 3\n[site]\nsize = [6, 4, 4]\n[streams.feed]\nitem = 'clay'\n[parts]\nrelay = {most = 4"
    for price, listed in ((", price = 7}", True), ("}", False)):
        spec.write_text(text + price, encoding="utf-8")
        assert run("sheet", ROW, "--out", str(out), "--spec", str(spec), "--time-limit", "0").exit_code == 0
        heads = rows_of(next(by_id(tree_of(out.read_text(encoding="utf-8")), "parts-list").iter("table")))[0]
        assert ("Price each" in heads) is listed


def test_every_step_has_a_box_to_tick_and_the_order_is_said_to_be_proved(row_sheet: Element) -> None:
    order = by_id(row_sheet, "order")
    steps = [box.get("data-step") for box in order.iter("input")]
    assert steps == [str(number) for number in range(1, len(steps) + 1)]
    assert "Each step was checked in turn on an empty site" in words_of(order)
    assert f"Steps: {len(steps)};" in words_of(order)


def test_an_order_that_cannot_be_is_not_said_to_be_proved() -> None:
    known = load_layout(Path(ROW))
    fewer = tuple(part for part in known.parts if part.at != (4, 0, 0))  # a line hangs on that support
    tree = tree_of(sheet_html(Layout("", known.size, known.items, fewer, known.streams), SheetRequest(limit_s=0)))
    text = words_of(by_id(tree, "order"))
    assert "checked in turn" not in text
    assert "No complete order was found: The line at 4,0,1 can't be placed" in text
    assert words_of(next(tree.iter("title"))) == "A layout without a title"


def test_the_answer_is_that_of_the_trial() -> None:
    for path, verdict in ((ROW, "Even"), (UNEVEN, "Uneven")):
        layout = load_layout(Path(path))
        tree = tree_of(sheet_html(layout, SheetRequest(limit_s=0)))
        result = run_trial(layout, arrivals_for(layout))
        answer = next(p for p in tree.iter("p") if p.get("class") == "answer")
        assert words_of(answer) == verdict
        delivered = result.streams[0].delivered
        each = " / ".join(map(str, delivered))
        told = f"every output gets {delivered[0]}" if result.is_even else f"outputs get {each}"
        assert told in words_of(next(tree.iter("header")))


def test_an_uneven_layout_shows_where_it_goes_wrong_and_points_there() -> None:
    layout = load_layout(Path(UNEVEN))
    trouble = by_id(tree_of(sheet_html(layout, SheetRequest(limit_s=0))), "trouble")
    assert re.search(r"In tick \d+ the node at", words_of(trouble))
    cells = {id for link in trouble.iter("a") for id in (link.get("data-cells") or link.get("href", "")[1:]).split()}
    assert cells
    assert cells <= {cell_id(part.at) for part in layout.parts}


def test_another_trial_can_be_shown_with_where_it_goes_wrong(tmp_path: Path) -> None:
    out = tmp_path / "kilns.html"
    words = ("--load", "feed=18", "--every", "10", "--time-limit", "0", "--out", str(out))
    assert run("sheet", ROW, *words).exit_code == 0
    tree = tree_of(out.read_text(encoding="utf-8"))
    told = run("trial", ROW, "--load", "feed=18", "--every", "10", "--json")
    why = json.loads(told.stdout)["explanation"][0]["text"]
    assert why == words_of(by_id(tree, "trouble")).partition("goes wrong ")[2]
    assert "18 clay put in, outputs get" in words_of(next(tree.iter("header")))


def test_a_case_can_be_shown(tmp_path: Path) -> None:
    out, cases = tmp_path / "kilns.html", tmp_path / "cases"
    assert run("assure", ROW, "--ask", "gaps", "--out", str(cases)).exit_code == 1
    case = sorted(cases.iterdir())[0]
    assert run("sheet", ROW, "--case", str(case), "--time-limit", "0", "--out", str(out)).exit_code == 0
    tree = tree_of(out.read_text(encoding="utf-8"))
    delivered = json.loads(case.read_text(encoding="utf-8"))
    assert words_of(next(p for p in tree.iter("p") if p.get("class") == "answer")) == "Uneven"
    assert delivered["format"] == "splitwright-case/1"
    result = run("sheet", ROW, "--case", str(case), "--every", "3")
    assert (result.exit_code, result.stderr.count("\n")) == (2, 1)


def test_what_delivers_nothing_is_never_called_even() -> None:
    layout = load_layout(LAYOUTS / "touching-runs.plan")
    tree = tree_of(sheet_html(layout, SheetRequest(limit_s=0)))
    head = words_of(next(tree.iter("header")))
    assert "Even" not in head.partition("With 18 an output")[0]
    assert "fuel: 18 charcoal put in, nothing delivered." in head


def test_the_head_tells_the_other_handover_too() -> None:
    tree = tree_of(sheet_html(load_layout(LAYOUTS / "burst-row-of-three.plan"), SheetRequest(limit_s=0)))
    assert "With 18 an output, there at once, under handover 7: Even." in words_of(next(tree.iter("header")))


def test_a_missing_browser_is_told_before_the_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SPLITWRIGHT_BROWSER", str(tmp_path / "none"))
    result = run("sheet", ROW, "--out", str(tmp_path / "a.html"), "--pdf", str(tmp_path / "a.pdf"))
    assert (result.exit_code, result.stderr.count("\n"), list(tmp_path.iterdir())) == (2, 1, [])


def test_what_stays_inside_is_told_without_calling_it_wrong() -> None:
    layout = load_layout(LAYOUTS / "row-of-three-no-drain.plan")
    tree = tree_of(sheet_html(layout, SheetRequest(limit_s=0)))
    assert not [section for section in tree.iter("section") if section.get("id") == "trouble"]
    assert "Not all the clay comes to the outputs." in words_of(next(tree.iter("header")))


def test_ticks_are_kept_for_this_layout_alone() -> None:
    layout = load_layout(Path(ROW))
    fewer = tuple(part for part in layout.parts if part.at != (4, 0, 0))
    other = Layout(layout.title, layout.size, layout.items, fewer, layout.streams, layout.rules)
    digests = [
        by_id(tree_of(sheet_html(one, SheetRequest(limit_s=0))), "order").get("data-layout") for one in (layout, other)
    ]
    assert len(set(digests)) == 2


def test_findings_of_the_design_checks_are_on_the_sheet() -> None:
    layout = load_layout(LAYOUTS / "touching-runs.plan")
    shown = words_of(by_id(tree_of(sheet_html(layout, SheetRequest(limit_s=0))), "shown"))
    findings = design_findings(layout)
    assert findings
    assert all(" ".join(finding.text.split()) in shown for finding in findings)


def test_the_rulebook_shows_what_the_layout_overrides() -> None:
    known = load_layout(Path(ROW))
    other = Layout(known.title, known.size, known.items, known.parts, known.streams, {"handover": 7})
    rows = rows_of(next(by_id(tree_of(sheet_html(other, SheetRequest(limit_s=0))), "rules").iter("table")))
    by_name = {row[0]: row[1:3] for row in rows}
    assert by_name["handover"] == ["7", "this layout"]
    assert by_name["period"] == ["8", "from memory"]


def test_house_names_stand_in_every_section(tmp_path: Path) -> None:
    house = tmp_path / "house.toml"
    house.write_text(
        '[parts]\nnode = ["hop", "hops"]\nsupport = ["clinker", "clinkers"]\n[items]\nclay = "loam"\n'
        '[directions]\nE = {name = "roadward", letter = "R"}\n[phrases]\n"sheet.parts" = "What to fetch"\n',
        encoding="utf-8",
    )
    out = tmp_path / "kilns.html"
    assert run("sheet", ROW, "--labels", str(house), "--out", str(out), "--time-limit", "0").exit_code == 0
    tree = tree_of(out.read_text(encoding="utf-8"))
    for name in ("parts-list", "plans", "order", "workings"):
        assert "clinker" in words_of(by_id(tree, name)), name
    for name in ("plans", "order"):
        assert "roadward" in words_of(by_id(tree, name)), name
    for name in ("shown", "workings", "replay"):
        assert "loam" in words_of(by_id(tree, name)), name
    told = "".join(words_of(by_id(tree, name)) for name in SECTIONS if name != "rules")
    assert not re.search(r"\b(support|node)s?\b", told)
    assert "What to fetch" in told


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["nowhere.plan"], "nowhere.plan: there is no such file"),
        ([ROW, "--labels", "nowhere.toml"], "nowhere.toml: there is no such file"),
        ([ROW, "--spec", ROW], "burst-row-of-three.plan"),
        ([ROW, "--out", "nowhere/kilns.html", "--time-limit", "0"], "cannot be written: its folder does not exist"),
        ([ROW, "--out", ROW], "--out: is the layout itself; name another file"),
        ([ROW, "--pdf", ROW], "--pdf: is the layout itself; name another file"),
        ([ROW, "--out", "new.html", "--pdf", "./new.html"], "--pdf: is the sheet itself; name another file"),
        ([ROW, "--time-limit", "-1"], "--time-limit: must be a whole number from 0 to "),
    ],
)
def test_bad_input_is_one_line(words: list[str], line: str) -> None:
    before = Path(ROW).read_bytes()
    result = run("sheet", *words)
    assert (result.exit_code, result.stderr.count("\n"), result.stdout) == (2, 1, "")
    assert line in result.stderr
    assert Path(ROW).read_bytes() == before


@pytest.mark.slow
def test_a_user_gets_verdicts_with_their_scope(tmp_path: Path) -> None:
    out = tmp_path / "kilns.html"
    done = run_as_user("sheet", ROW, "--out", str(out), "--time-limit", "60")
    assert (done.returncode, done.stderr) == (0, "")
    tree = tree_of(out.read_text(encoding="utf-8"))
    rows = rows_of(next(by_id(tree, "shown").iter("table")))
    first = {row[0]: row for row in reversed(rows)}
    assert first["loads that are there at once"][1:3] == ["proved", "Handover: 8, 7"]
    assert first["every pattern of arrivals"][1] == "refuted"
    assert re.search(r"Where it goes wrong:? ?In tick \d+", first["every pattern of arrivals"][4])
    head = words_of(next(tree.iter("header")))
    assert re.search(r"When it stays even .* of 3\): even \(proved\)\..* When not .*Trickling in: not even", head)
    assert head.index("When it stays even") < head.index("When not") < head.index("What to do") < head.index("54 clay")
    measures = {words_of(div[0]): words_of(div[1]) for div in by_id(tree, "shown").iter("div") if len(div) == 2}
    # by hand: one item a period of 8 ticks, at 20 ticks a second
    assert measures["Steady flow of feed"] == "9,000 items an hour"


def test_a_page_that_would_be_too_large_shows_less_of_the_trial(monkeypatch: pytest.MonkeyPatch) -> None:
    layout, request = locked_hall(8, 2), SheetRequest(limit_s=0)
    whole = sheet_html(layout, request)
    most = len(whole.encode()) - 10_000
    monkeypatch.setattr("splitwright.sheet.html.BYTES_MOST", most)
    shorter = sheet_html(layout, request)
    assert len(shorter.encode()) <= most
    bars = [by_id(tree_of(text), "replay").find(".//input[@type='range']") for text in (whole, shorter)]
    until = [int(bar.get("max")) for bar in bars]
    assert until[1] < until[0]
    assert f"tick {until[1]:,}" in words_of(by_id(tree_of(shorter), "replay"))
