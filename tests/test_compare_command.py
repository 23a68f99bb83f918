"""``splitwright compare`` as a user runs it: the page, the document, bad input."""

from __future__ import annotations

import copy
import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commands import FLAWED, LAYOUTS, REPOSITORY, ROW, UNEVEN, document, faults, run, run_as_user
from compare_pages import SVG, links_of, page_of, table_of, text_of
from sim.world.files.layout_json import layout_to_json
from sim.world.files.reading import load_layout
from splitwright.sheet.digest import layout_digest
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest
from test_sheet_assembly import NASTY

SCHEMA = "splitwright-compare-1"
RESULTS = REPOSITORY / "specs" / "results"
TWO, THREE = str(RESULTS / "two-kilns-smallest.json"), str(RESULTS / "three-kilns-smallest.json")
NO_DRAIN, LOCKED = str(LAYOUTS / "row-of-three-no-drain.plan"), str(LAYOUTS / "row-of-three-locked.plan")
ALL = (ROW, UNEVEN, THREE, NO_DRAIN, LOCKED)
SPEC = REPOSITORY / "specs" / "three-kilns.toml"
SILENT = """splitwright-plan/1
title Nothing comes
item clay fires-to brick
stream feed clay from 0,1,0 to 0,0,0 1,0,0 2,0,0
layer 0
B . .
F F F
"""


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Any]:
    """The document and the page of a mixed lot."""
    page = tmp_path_factory.mktemp("compared") / "page.html"
    result = run("compare", *ALL, "--out", str(page), "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    found = document(result, SCHEMA)
    assert found["files"] == [str(page)]
    return found, page_of(page)


def test_even_ones_come_first_then_the_smaller(compared: tuple[dict[str, Any], Any]) -> None:
    layouts = compared[0]["layouts"]
    assert [one["number"] for one in layouts] == list(range(1, len(ALL) + 1))
    assert sorted(one["file"] for one in layouts) == sorted(ALL)
    keys = [
        (
            one["runs"][0]["outcome"] != "even", one["measures"]["volume"], one["measures"]["parts"],
            one["measures"]["latency"] if one["measures"]["latency"] is not None else 10**9,
        )
        for one in layouts
    ]  # fmt: skip
    assert keys == sorted(keys)
    assert layouts[0]["file"] == THREE
    assert {one["file"] for one in layouts if one["runs"][0]["outcome"] != "even"} == {UNEVEN, LOCKED}


@pytest.mark.parametrize("handover", [8, 7])
@pytest.mark.parametrize("file", ALL)
def test_runs_are_those_of_trial(compared: tuple[dict[str, Any], Any], file: str, handover: int) -> None:
    """``trial`` by itself, with its default load, under either handover."""
    result = run("trial", file, "--json", "--handover", str(handover))
    told = json.loads(result.stdout)
    [entry] = [one for one in compared[0]["layouts"] if one["file"] == file]
    [found] = [one for one in entry["runs"] if one["handover"] == handover]
    assert found["delivered"] == {one["name"]: one["delivered"] for one in told["streams"]}
    delivers = all(sum(one["delivered"]) for one in told["streams"])
    is_even = all(one["spread"] == 0 for one in told["streams"])
    assert (found["outcome"] == "even") == (delivers and is_even and told["at_rest"])
    assert (found["outcome"] == "nothing") == (is_even and not delivers)
    assert (found["outcome"] == "even") == (result.exit_code == 0)
    if handover == 8 and all(one["last_arrival"] for one in told["streams"]):
        hourly = [sum(one["delivered"]) * 72_000 / one["last_arrival"] for one in told["streams"]]  # 20 ticks a second
        assert entry["measures"]["throughput"] == round(min(hourly), 1)


@pytest.mark.parametrize("file", [ROW, THREE])
def test_the_last_arrival_is_that_of_a_trial_of_one_an_output(compared: tuple[dict[str, Any], Any], file: str) -> None:
    layout = load_layout(file)
    loads = [word for s in layout.streams for word in ("--load", f"{s.name}={len(s.outputs)}")]
    told = json.loads(run("trial", file, "--json", *loads).stdout)
    [entry] = [one for one in compared[0]["layouts"] if one["file"] == file]
    assert entry["measures"]["latency"] == max(one["last_arrival"] for one in told["streams"])
    assert entry["measures"]["parts"] == len(layout.parts)


def test_the_table_shows_the_document(compared: tuple[dict[str, Any], Any]) -> None:
    found, tree = compared
    rows = table_of(tree)
    words = {"even": "Even", "uneven": "Uneven", "nothing": "Delivers nothing", "unfinished": "No answer"}
    standings = {"front": "on it", "beaten": "beaten", "apart": "not compared"}
    assert len(rows) == len(found["layouts"])
    for row, one in zip(rows, found["layouts"], strict=True):
        assert row["number"] == str(one["number"])
        assert row["layout"] == one["title"]
        for name in ("volume", "footprint", "height", "parts", "latency", "held"):
            value = one["measures"][name]
            assert row[name] == ("–" if value is None else f"{value:,}"), name
        value = one["measures"]["throughput"]
        assert row["throughput"] == ("–" if value is None else f"{value:,.0f}")
        assert {key: row[f"handover-{key}"] for key in (8, 7)} == {
            run["handover"]: words[run["outcome"]] for run in one["runs"]
        }
        assert row["front"] == standings[one["standing"]]
        assert "price" not in row, "no spec, no prices"


def test_the_front_is_about_even_layouts_alone(compared: tuple[dict[str, Any], Any]) -> None:
    found, tree = compared
    layouts = {one["number"]: one for one in found["layouts"]}
    for one in layouts.values():
        even, m = one["runs"][0]["outcome"] == "even", one["measures"]
        assert (one["standing"] == "apart") == (not even or m["latency"] is None)
        assert bool(one["beaten_by"]) == (one["standing"] == "beaten")
        for number in one["beaten_by"]:
            better = layouts[number]["measures"]
            assert all(better[name] <= m[name] for name in ("volume", "parts", "latency"))
    # The same in the pictures: every layout with a last arrival, by its number, in each of the three.
    plots = [svg for svg in tree.iter(f"{SVG}svg") if svg.get("class") == "scatter"]
    assert len(plots) == 3
    for plot in plots:
        shown = {int(p.get("data-number")): p.get("class") for p in plot.iter(f"{SVG}path") if p.get("data-number")}
        assert shown == {
            number: f"spot is-{one['standing']}"
            for number, one in layouts.items()
            if one["measures"]["latency"] is not None
        }


def test_the_text_beside_the_plots_says_the_same(compared: tuple[dict[str, Any], Any]) -> None:
    found, tree = compared
    [standings] = [one for one in tree.iter("ul") if one.get("class") == "standings"]
    for line, one in zip(standings, found["layouts"], strict=True):
        text = text_of(line)
        assert text.startswith(f"{one['number']}. {one['title']}: volume {one['measures']['volume']}, ")
        assert ("On the front." in text) == (one["standing"] == "front")
        beaten = re.search(r"Beaten by ([\d, ]+)\.$", text)
        assert one["beaten_by"] == ([int(n) for n in beaten.group(1).split(", ")] if beaten else [])


def test_every_link_within_the_page_leads_somewhere(compared: tuple[dict[str, Any], Any]) -> None:
    tree = compared[1]
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(ids) == len(set(ids)), "each once"
    inside = {href[1:] for href in links_of(tree) if href.startswith("#")}
    assert {f"layout-{one}" for one in range(1, len(ALL) + 1)} <= inside <= set(ids)


def test_every_layer_of_every_layout_is_drawn(compared: tuple[dict[str, Any], Any]) -> None:
    found, tree = compared
    cards = {card.get("id"): card for card in tree.iter("article")}
    for one in found["layouts"]:
        drawn = [
            part.get("data-cell") for part in cards[f"layout-{one['number']}"].iter(f"{SVG}g") if part.get("data-cell")
        ]
        assert sorted(drawn) == sorted(",".join(map(str, part.at)) for part in load_layout(one["file"]).parts)


@pytest.mark.parametrize("others", [[TWO], [TWO, FLAWED]], ids=len)
def test_builds_for_other_numbers_of_outputs_are_no_one_field(tmp_path: Path, others: list[str]) -> None:
    """Refused in one line that ends in commands which work."""
    page = tmp_path / "page.html"
    result = run("compare", ROW, THREE, *others, "--out", str(page))
    assert (result.exit_code, result.stdout, page.exists()) == (2, "", False)
    (line,) = result.stderr.splitlines()
    assert line.startswith("splitwright: LAYOUT...: they do not all serve as many outputs")
    commands = line.partition("compare them apart: ")[2].split(" ; ")
    assert len(commands) == 1 + len(others)
    for i, command in enumerate(commands):
        *words, out = shlex.split(command)[1:]
        assert words[-1] == "--out"
        assert run(*words, str(tmp_path / f"{i}-{out}")).exit_code == 0


def test_a_bare_layout_is_of_no_field(tmp_path: Path) -> None:
    plan = tmp_path / "bare.plan"
    plan.write_text("splitwright-plan/1\ntitle A bin\nlayer 0\nB\n", encoding="utf-8")
    assert run("compare", str(plan), ROW, "--out", str(tmp_path / "page.html")).exit_code == 0


def priced_spec(folder: Path, order: str) -> str:
    spec = folder / "priced.toml"
    text = SPEC.read_text(encoding="utf-8").partition("[prefer]")[0]
    prices = "relay = {price = 30}\nsupport = {price = 0}"
    spec.write_text(f"{text}[prefer]\norder = [{order}]\n[parts]\n{prices}\n", encoding="utf-8")
    return str(spec)


def test_prices_and_the_order_come_from_a_spec(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    spec = priced_spec(tmp_path, '"price", "volume"')
    found = document(run("compare", ROW, THREE, NO_DRAIN, "--spec", spec, "--out", str(page), "--json"), SCHEMA)
    assert found["order"] == ["evenness", "price", "volume"]
    for one in found["layouts"]:
        kinds = one["measures"]["by_kind"]
        each = {"relay": 30, "support": 0}
        assert one["measures"]["price"] == sum(count * each.get(kind, 1) for kind, count in kinds.items())
    prices = [one["measures"]["price"] for one in found["layouts"]]
    assert prices == sorted(prices)
    assert len(set(prices)) > 1
    assert "price" in run("compare", ROW, THREE, "--spec", spec, "--out", str(page)).stdout
    assert "Price" in text_of(page_of(page))


def test_a_spec_of_another_job_is_refused(tmp_path: Path) -> None:
    page, four = tmp_path / "page.html", str(REPOSITORY / "specs" / "four-kilns.toml")
    for words in (["compare", ROW, THREE], ["sheet", ROW, "--time-limit", "0"]):
        result = run(*words, "--spec", four, "--out", str(page))
        assert (result.exit_code, result.stdout, page.exists()) == (2, "", False)
        assert re.fullmatch(
            r"splitwright: .*four-kilns\.toml: asks for another job \(clay for 4\) than .*burst-row-of-three\.plan does"
            r" \(clay for 3\); give the spec that it was made for\n",
            result.stderr,
        )


def test_nothing_to_compare_by(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    result = run("compare", UNEVEN, LOCKED, "--out", str(page))
    assert result.exit_code == 0
    assert "nothing to compare by" in text_of(page_of(page))
    assert result.stdout.startswith("None of 2 splits the load of its trial evenly; splitwright trial")
    assert "When it stays even" not in result.stdout


def test_a_layout_without_streams_has_no_trial(tmp_path: Path) -> None:
    plan, page = tmp_path / "bare.plan", tmp_path / "page.html"
    plan.write_text("splitwright-plan/1\ntitle A bin\nlayer 0\nB\n", encoding="utf-8")
    found = document(run("compare", str(plan), "--out", str(page), "--json"), SCHEMA)
    [one] = found["layouts"]
    assert (one["runs"], one["measures"]["latency"], one["standing"]) == ([], None, "apart")
    assert "It names no stream" in text_of(page_of(page))


def test_a_layout_without_streams_comes_last(tmp_path: Path) -> None:
    """However small it is: behind one that is uneven, and one that delivers nothing."""
    plan, page = tmp_path / "bare.plan", tmp_path / "page.html"
    plan.write_text("splitwright-plan/1\ntitle A bin\nlayer 0\nB\n", encoding="utf-8")
    found = document(run("compare", str(plan), UNEVEN, silent(tmp_path), "--out", str(page), "--json"), SCHEMA)
    assert [one["file"] for one in found["layouts"]][-1] == str(plan)
    assert found["layouts"][-1]["measures"]["volume"] < min(o["measures"]["volume"] for o in found["layouts"][:-1])


def silent(folder: Path) -> str:
    """Three kilns that nothing is brought to."""
    plan = folder / "silent.plan"
    plan.write_text(SILENT, encoding="utf-8")
    return str(plan)


def test_why_a_layout_is_not_compared(tmp_path: Path) -> None:
    page, still = tmp_path / "page.html", silent(tmp_path)
    assert run("compare", still, UNEVEN, "--out", str(page)).exit_code == 0
    [standings] = [one for one in page_of(page).iter("ul") if one.get("class") == "standings"]
    nothing, uneven = (
        next(text_of(one) for one in standings if load_layout(file).title in text_of(one)) for file in (still, UNEVEN)
    )
    assert nothing.endswith("Not compared, since not every stream arrives.")
    assert uneven.endswith("Not compared, since it is not shown to be even.")


def with_room(folder: Path, items: int) -> str:
    """The row of three whose source has room for so many items and no more."""
    plan = Path(ROW).read_text(encoding="utf-8").replace("layer 0", "rule bin_slots 1\nlayer 0", 1)
    path = folder / f"room-{items}.plan"
    path.write_text(plan.replace("stack 64", f"stack {items}"), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize(("room", "load"), [(64, 18), (53, 6), (17, 2), (5, 1)])
def test_a_source_with_less_room_is_tried_with_less(tmp_path: Path, room: int, load: int) -> None:
    """Three outputs: 54 items, or 18, 6, 3; the page names the load, and so does the sheet."""
    plan, page, sheet = with_room(tmp_path, room), tmp_path / "page.html", tmp_path / "sheet.html"
    found = document(run("compare", plan, "--out", str(page), "--json"), SCHEMA)
    [one] = found["layouts"]
    assert [(r["handover"], r["outcome"], r["delivered"]) for r in one["runs"]] == [
        (8, "even", {"feed": [load] * 3}), (7, "even", {"feed": [load] * 3})
    ]  # fmt: skip
    assert (one["measures"]["throughput"] is None) == (load != 18), "over the default load, or none"
    assert one["measures"]["latency"] == 37, "as in its plan of ample room"
    text = text_of(page_of(page))
    assert f"Handover 8, {load} an output at once: Even" in text
    assert run("sheet", plan, "--out", str(sheet), "--time-limit", "0").exit_code == 0
    names = [text_of(name) for name in page_of(sheet).iter("dt")]
    assert [name for name in names if "handover" in name] == [
        f"{load} an output at once, handover {handover}" for handover in (8, 7)
    ]


def test_no_room_for_one_item_an_output(tmp_path: Path) -> None:
    plan, page = with_room(tmp_path, 2), tmp_path / "page.html"
    found = document(run("compare", plan, UNEVEN, "--out", str(page), "--json"), SCHEMA)
    assert [one["file"] for one in found["layouts"]] == [UNEVEN, plan]
    assert (found["layouts"][1]["runs"], found["layouts"][1]["standing"]) == ([], "apart")
    text = text_of(page_of(page))
    assert "A source has no room for even one item an output" in text
    assert "Not compared, since it could not be tried." in text
    assert "It names no stream" not in text


def test_both_flows_are_named_on_both_pages(tmp_path: Path) -> None:
    """Over the whole load: less than in steady flow, as the first item has to arrive."""
    page, sheet = tmp_path / "page.html", tmp_path / "sheet.html"
    assert run("compare", ROW, "--out", str(page)).exit_code == 0
    assert run("sheet", ROW, "--out", str(sheet), "--time-limit", "0").exit_code == 0
    [row] = table_of(page_of(page))
    values = {}
    for path in (page, sheet):
        terms, told = ([text_of(one) for one in page_of(path).iter(tag)] for tag in ("dt", "dd"))
        lines = dict(zip(terms, told, strict=True))
        [steady] = [value for name, value in lines.items() if name.startswith("Steady flow")]
        [whole] = [value for name, value in lines.items() if "whole load" in name]
        values[path] = (whole, steady)
    assert values[page] == values[sheet] == (f"{row['throughput']} items an hour", f"{row['steady']} items an hour")
    assert float(row["throughput"].replace(",", "")) < float(row["steady"].replace(",", ""))


def test_a_stream_that_delivers_nothing_is_not_called_fair(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.html"
    assert run("sheet", FLAWED, "--out", str(sheet), "--time-limit", "0").exit_code == 0
    tree = page_of(sheet)
    lines = dict(zip(*([text_of(one) for one in tree.iter(tag)] for tag in ("dt", "dd")), strict=True))
    assert (lines["Jain's fairness index of fuel"], lines["Largest lag of fuel"]) == ("–", "–")
    assert lines["Jain's fairness index of clay"] == "1.000", "the other one delivers"


# -- sheets beside ---------------------------------------------------------------------------------------------------


def test_sheets_beside_are_linked(tmp_path: Path) -> None:
    """By a relative address that is percent-encoded, whatever the name; ``page.html`` lies in a folder of its own."""
    folder, out = tmp_path / "a b", tmp_path / "pages" / "page.html"
    folder.mkdir()
    out.parent.mkdir()
    plan = Path(ROW).read_text(encoding="utf-8")
    sheet = sheet_html(load_layout(ROW), SheetRequest(limit_s=0))
    for name in ('clay: 50% "wet" #1?', "kilns & drying", "no sheet"):
        (folder / f"{name}.plan").write_text(plan, encoding="utf-8")
        if name != "no sheet":
            (folder / f"{name}.html").write_text(sheet, encoding="utf-8")
    result = run("compare", *map(str, sorted(folder.glob("*.plan"))), "--out", str(out), "--json")
    sheets = {Path(one["file"]).stem: one["sheet"] for one in document(result, SCHEMA)["layouts"]}
    assert sheets == {
        'clay: 50% "wet" #1?': "../a%20b/clay%3A%2050%25%20%22wet%22%20%231%3F.html",
        "kilns & drying": "../a%20b/kilns%20%26%20drying.html",
        "no sheet": None,
    }
    outside = [href for href in links_of(page_of(out)) if not href.startswith("#")]
    assert sorted(outside) == sorted(sheet for sheet in sheets.values() if sheet)


def test_only_a_sheet_of_this_very_layout_is_linked(tmp_path: Path) -> None:
    """Not another page of that name, nor the sheet of another layout, nor one from before a change."""
    plan, page, beside = tmp_path / "kilns.plan", tmp_path / "page.html", tmp_path / "kilns.html"
    text = Path(ROW).read_text(encoding="utf-8")

    def linked() -> str | None:
        [one] = document(run("compare", str(plan), "--out", str(page), "--json"), SCHEMA)["layouts"]
        found: str | None = one["sheet"]
        return found

    plan.write_text(text, encoding="utf-8")
    assert run("sheet", str(plan), "--out", str(beside), "--time-limit", "0").exit_code == 0
    assert linked() == "kilns.html"
    plan.write_text(text.replace("stack 64", "stack 63"), encoding="utf-8")
    assert linked() is None, "changed since"
    plan.write_text(text, encoding="utf-8")
    assert linked() == "kilns.html"
    other = sheet_html(load_layout(TWO), SheetRequest(limit_s=0))
    foreign = f'<!DOCTYPE html><title>x</title><p>data-layout=&quot;{layout_digest(load_layout(ROW))}&quot;</p>'
    for page_text in (other, foreign, ""):
        beside.write_text(page_text, encoding="utf-8")
        assert linked() is None


def test_a_page_in_the_place_of_a_sheet_does_not_link_to_itself(tmp_path: Path) -> None:
    plan, page = tmp_path / "kilns.plan", tmp_path / "kilns.html"
    plan.write_text(Path(ROW).read_text(encoding="utf-8"), encoding="utf-8")
    for _ in range(2):
        found = document(run("compare", str(plan), "--out", str(page), "--json"), SCHEMA)
        assert found["layouts"][0]["sheet"] is None


# -- what users see and write ----------------------------------------------------------------------------------------


def test_as_a_user_runs_it(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    result = run_as_user("compare", ROW, THREE, "--out", str(page))
    assert (result.returncode, result.stderr) == (0, "")
    assert re.search(rf"^ +1 +40 +29 +\d+ +\d+ +yes +\S.*{re.escape(THREE)}$", result.stdout, re.MULTILINE)
    assert result.stdout.endswith(f"Written: {page}\n")
    quiet = run_as_user("compare", ROW, THREE, "--out", str(page), "--quiet")
    assert quiet.stdout == f"First of 2: {THREE}, even in its trial, and ranked by volume, parts, latency.\n"
    assert result.stdout.startswith(quiet.stdout)
    assert f"When it stays even: splitwright assure {THREE}\n" in result.stdout


@pytest.mark.parametrize("nasty", NASTY)
def test_markup_in_titles_and_names_stays_text(tmp_path: Path, nasty: str) -> None:
    """The tree has no element that a clean title does not give, and the title's text is there."""
    made = layout_to_json(load_layout(ROW))
    clean, sharp, page = tmp_path / "clean.json", tmp_path / "sharp.json", tmp_path / "page.html"
    elements = []
    for path, text in ((clean, "plain"), (sharp, nasty)):
        spoilt = copy.deepcopy(made)
        spoilt["title"] = spoilt["streams"][0]["name"] = text
        path.write_text(json.dumps(spoilt), encoding="utf-8")
        labels = tmp_path / "labels.toml"
        labels.write_text(f"[parts]\nnode = {json.dumps(text)}\n".replace("\\u0000", "")
                          .replace("\\u001b", "").replace("\\ufffe", ""), encoding="utf-8")  # fmt: skip
        result = run("compare", str(path), "--out", str(page), "--labels", str(labels))
        if result.exit_code:
            assert "title" in result.stderr, "a title that no layout may have"
            return
        elements.append([element.tag for element in page_of(page).iter()])
    assert elements[0] == elements[1]
    shown = re.sub("[\x00\x1b\ufffe]", "\ufffd", nasty)
    assert " ".join(shown.split()) in text_of(page_of(page))


def test_labels_reach_the_page(tmp_path: Path) -> None:
    labels, page = tmp_path / "labels.toml", tmp_path / "page.html"
    labels.write_text('[phrases]\n"measure.parts" = "Bits"\n"compare.rank" = "Place"\n', encoding="utf-8")
    assert run("compare", ROW, "--out", str(page), "--labels", str(labels)).exit_code == 0
    headings = [text_of(heading) for heading in page_of(page).iter("th")]
    assert {"Bits", "Place"} <= set(headings)
    assert "Parts" not in headings


HTML = "<!DOCTYPE html><title>a sheet</title>"


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["compare"], r"compare: LAYOUT\.\.\. is missing; see splitwright compare --help"),
        (["compare", "{folder}/none.plan"], r"{folder}/none\.plan: .*(no such file|not found|cannot be read).*"),
        (["compare", "{folder}/sheet.html"], r"{folder}/sheet\.html: is no layout; .*"),
        (["compare", ROW, "{folder}/sheet.html"], r"{folder}/sheet\.html: is no layout; .*"),
        (["compare", ROW, ROW], r".*burst-row-of-three\.plan: is given twice; name it once"),
        (["compare", "{folder}/own.plan", "--out", "{folder}/own.plan"], r"--out: is the layout .* itself; .*"),
        (["compare", ROW, "--out", "{folder}/none/page.html"], r"{folder}/none/page\.html: .*"),
        (["compare", ROW, "--out", "{folder}"], r"{folder}: .*"),
        (["compare", ROW, "--labels", "{folder}/none.toml"], r"{folder}/none\.toml: .*"),
    ],
)  # fmt: skip
def test_bad_input_is_one_line(tmp_path: Path, words: list[str], line: str) -> None:
    (tmp_path / "sheet.html").write_text(HTML, encoding="utf-8")
    plan = Path(ROW).read_text(encoding="utf-8")
    (tmp_path / "own.plan").write_text(plan, encoding="utf-8")
    filled = [word.format(folder=tmp_path) for word in words]
    if "--out" not in filled:
        filled += ["--out", str(tmp_path / "page.html")] if len(filled) > 1 else []
    result = run(*filled)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert re.fullmatch(f"splitwright: {line.replace('{folder}', re.escape(str(tmp_path)))}\n", result.stderr, re.I)
    assert (tmp_path / "own.plan").read_text(encoding="utf-8") == plan
    assert not (tmp_path / "page.html").exists(), "nothing is half-written"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found.pop("order"),
        lambda found: found["layouts"][0].pop("standing"),
        lambda found: found["layouts"][0].__setitem__("standing", "best"),
        lambda found: found["layouts"][0]["measures"].__setitem__("volume", 0),
        lambda found: found["layouts"][0]["measures"].__setitem__("price", -1),
        lambda found: found["layouts"][0]["runs"][0].__setitem__("outcome", "yes"),
        lambda found: found["layouts"][0]["runs"][0]["delivered"].__setitem__("feed", []),
        lambda found: found.__setitem__("layouts", []),
    ],
)
def test_the_schema_is_no_open_door(compared: tuple[dict[str, Any], Any], spoil: Callable[[Any], object]) -> None:
    spoilt = copy.deepcopy(compared[0])
    spoil(spoilt)
    assert faults(spoilt, SCHEMA) != []
