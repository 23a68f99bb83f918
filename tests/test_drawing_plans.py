"""Plans, stage and legend, read back: every part once, where it stands, and as it stands."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given

from commands import LAYOUTS
from drawn import cell_at, code_shown, every_code, placed, strokes, toward, with_class
from sim.world.files.plan_cells import CODES, code_of
from sim.world.files.reading import load_layout
from sim.world.geometry import HORIZONTAL, Cell, cell_text, step
from sim.world.layout import Layout
from sim.world.parts import Line, Node, Part, Relay
from sim.world.signals.structure import links, points_into
from splitwright.drawing.layer_plan import layer_plan, layer_plans
from splitwright.drawing.legend import legend_entries
from splitwright.drawing.naming import plan_code
from splitwright.drawing.stage import stage, stage_positions
from splitwright.drawing.svg import markup
from splitwright.drawing.turning_view import turning_view
from splitwright.page.assembly import cell_id
from splitwright.words import Words, english
from splitwright.words.labels import load_labels
from strategies import layouts

NAMES = sorted(path.stem for path in LAYOUTS.glob("*.plan"))
A4_POINTS = (210 - 2 * 14) / 25.4 * 72
"""Width of an A4 sheet (ISO 216: 210 mm) within the sheet's margins of 14 mm, in points of 1/72 inch."""


def example(name: str) -> Layout:
    return every_code() if name == "every code" else load_layout(LAYOUTS / f"{name}.plan")


def read_again(picture: Element) -> Element:
    return fromstring(markup(picture))


def shown_on(plan: Element, layout: Layout, z: int) -> Counter[tuple[str, Cell]]:
    """What a plan shows: codes and cells, from shapes and places alone."""
    ((_, corner),) = [found for found in placed(plan) if found[0].get("class", "").startswith("frame")]
    return Counter(
        (code_shown(group), cell_at(at, corner, layout.size[1], z))
        for group, at in placed(plan)
        if group.get("class", "").startswith("part ")
    )


def standing(layout: Layout) -> Counter[tuple[str, Cell]]:
    return Counter((code_of(part), part.at) for part in layout.parts)


def everything_on_plans(layout: Layout) -> Counter[tuple[str, Cell]]:
    plans = layer_plans(layout, english())
    assert len(plans) == layout.size[2]
    return sum((shown_on(read_again(plan), layout, z) for z, plan in enumerate(plans)), Counter())


@pytest.mark.parametrize("name", [*NAMES, "every code"])
def test_plans_show_every_part_once_where_and_as_it_stands(name: str) -> None:
    layout = example(name)
    assert everything_on_plans(layout) == standing(layout)


@given(layouts())
def test_plans_show_any_layout(layout: Layout) -> None:
    assert everything_on_plans(layout) == standing(layout)


@given(layouts())
def test_stage_shows_any_layout(layout: Layout) -> None:
    picture, where = read_again(stage(layout, english())), stage_positions(layout)
    cells = {place: cell for cell, place in where.items()}
    assert len(cells) == len(where), "two cells at one place"
    found = Counter(
        (code_shown(group), cells[at]) for group, at in placed(picture) if group.get("class", "").startswith("part ")
    )
    assert found == standing(layout)


def test_stage_layers_give_their_origin() -> None:
    layout = example("burst-row-of-three")
    where = stage_positions(layout)
    for layer in with_class(stage(layout, english()), "stage-layer"):
        origin = tuple(float(number) for number in (layer.get("data-origin") or "").split(","))
        z = int(layer.get("data-layer") or "")
        assert origin == where[0, 0, z]
        assert where[2, 1, z] == (origin[0] + 80, origin[1] - 40)


def test_stage_has_what_the_replay_fills_in() -> None:
    layout = every_code()
    picture = read_again(stage(layout, english()))
    kinds = Counter(part.kind for part in layout.parts)
    assert len(with_class(picture, "count")) == kinds["bin"] + kinds["node"] + kinds["furnace"]
    assert len(with_class(picture, "lock")) == kinds["node"]
    assert len(with_class(picture, "level")) == kinds["line"]
    assert [*picture][-1].get("class") == "movers"


def test_stage_draws_no_two_layers_over_each_other() -> None:
    layout = replace(example("burst-row-of-three"), size=(6, 4, 9))
    where = stage_positions(layout)
    assert len(set(where.values())) == 6 * 4 * 9
    view = [float(number) for number in (stage(layout, english()).get("viewBox") or "").split()]
    assert all(20 <= x <= view[2] - 20 and 20 <= y <= view[3] - 20 for x, y in where.values())


@pytest.mark.parametrize("name", [*NAMES, "every code"])
def test_strokes_of_lines_are_their_links(name: str) -> None:
    layout = example(name)
    for group, cell in groups_of(layout, "line"):
        part = layout.by_cell[cell]
        assert isinstance(part, Line)
        linked = links(layout.by_cell, cell)
        over = {side for side in HORIZONTAL if any(other[:2] == step(cell, side)[:2] for other in linked)}
        assert {toward(end) for _, end in ends(group, "link")} == over
        assert {toward(end) for _, end in ends(group, "points")} == set(points_into(layout.by_cell, cell)) - over
        for start, end in ends(group, "link"):
            assert start == (0, 0)
            assert max(map(abs, end)) == 20, "a long stroke meets the one of the next cell"
        up, down = chevrons(group)
        assert up == {side for side in HORIZONTAL if (*step(cell, side)[:2], cell[2] + 1) in linked}
        assert down == {side for side in HORIZONTAL if (*step(cell, side)[:2], cell[2] - 1) in linked}


def test_examples_hold_steps_up_and_down() -> None:
    """The test above is not about nothing."""
    found = [chevrons(group) for group, _ in groups_of(every_code(), "line")]
    assert any(up for up, _ in found)
    assert any(down for _, down in found)


def groups_of(layout: Layout, kind: str) -> list[tuple[Element, Cell]]:
    plans = [read_again(plan) for plan in layer_plans(layout, english())]
    groups = [group for plan in plans for group in with_class(plan, f"k-{kind}")]
    return [(group, tuple(int(n) for n in (group.get("data-cell") or "").split(","))) for group in groups]  # type: ignore[misc]


def ends(group: Element, name: str) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [
        (stroke[0], stroke[-1]) for one in with_class(group, name) for stroke in strokes(one.get("d") or "")
    ]


def chevrons(group: Element) -> tuple[set[str], set[str]]:
    """The sides at which a chevron points outward, and inward."""
    out, into = set(), set()
    for one in with_class(group, "step"):
        for first, tip, _ in strokes(one.get("d") or ""):
            along = 0 if tip[0] else 1
            (out if abs(tip[along]) > abs(first[along]) else into).add(toward(tip))
    return out, into


HOUSE_LETTERS = {"N": "T", "S": "G", "E": "O", "W": "W", "D": "un"}
"""Those of specs/labels/brickyard-de.toml over those of specs/words/de/parts.toml, read off by hand."""


def house_code(part: Part) -> str:
    """The code of a plan file, which ends in its direction, with the house's letter there."""
    code = code_of(part)
    return code[:-1] + HOUSE_LETTERS[code[-1]] if code[0] in "nirg" else code


@pytest.mark.parametrize("name", ["burst-row-of-three", "every code"])
def test_codes_have_the_letters_of_the_compass_beside_them(name: str) -> None:
    layout, words = example(name), load_labels(LAYOUTS.parent / "labels" / "brickyard-de.toml")
    for z, plan in enumerate(layer_plans(layout, words)):
        rose = {one.text for one in with_class(plan, "letter")}
        assert rose == ({"T", "O", "G", "W"} if z == 0 else set()), "the compass stands once"
        for group in with_class(plan, "part"):
            (code,) = with_class(group, "code")
            cell = tuple(map(int, (group.get("data-cell") or "").split(",")))
            assert code.text == house_code(layout.by_cell[cell])  # type: ignore[index]
    legend = [str(text).partition(": ")[0] for sign, text in legend_entries(layout, words) if with_class(sign, "part")]
    assert set(map(house_code, layout.parts)) <= set(legend)
    assert not {"nE", "nN", "nS", "nD", "gN", "iS", "r1E"} & set(legend)


def test_no_two_parts_have_one_code_in_a_house() -> None:
    words = load_labels(LAYOUTS.parent / "labels" / "brickyard-de.toml")
    assert len({plan_code(model, words) for model in CODES.values()}) == len(CODES)
    assert {code: plan_code(model, english()) for code, model in CODES.items()} == {code: code for code in CODES}


def filled() -> Layout:
    """A node that starts with two items beside one that starts with an empty slot alone."""
    nodes = (Node((0, 0, 0), "E", (("clay", 2),)), Node((1, 0, 0), "E", (None,)))
    return Layout("", (3, 1, 1), {}, nodes)


TAKEN = frozenset({(2, 0, 0)})


def test_what_must_be_filled_and_what_is_taken_shows_on_plan_and_legend() -> None:
    (plan,) = layer_plans(filled(), english(), blocked=TAKEN)
    marked = [group.get("data-cell") for group in with_class(plan, "part") if with_class(group, "fill-first")]
    assert marked == ["0,0,0"]
    (taken,) = with_class(plan, "blocked")
    assert taken.get("data-cell") == "2,0,0"
    told = [str(text) for _, text in legend_entries(filled(), english(), TAKEN)]
    assert sum("fill it before the first load" in text for text in told) == 1
    assert sum("taken already" in text for text in told) == 1
    (bare,) = layer_plans(Layout("", (3, 1, 1), {}, filled().parts[1:]), english())
    assert not with_class(bare, "fill-first")
    assert not with_class(bare, "blocked")


def test_a_long_code_stays_in_its_cell() -> None:
    """A house's letter can be three; what fits is left as it is."""
    relay = Relay((0, 0, 0), "E", 2)
    for letter, width in (("E", None), ("Et", None), ("Eas", "36")):
        words = Words("en", {**english().phrases, "letter.E": letter})
        (code,) = with_class(layer_plan(Layout("", (1, 1, 1), {}, (relay,)), 0, words), "code")
        assert (code.text, code.get("textLength")) == (f"r2{letter}", width)


def test_layer_below_shows_in_outline() -> None:
    layout = example("burst-row-of-three")
    for z, plan in enumerate(layer_plans(layout, english())):
        below = [one.get("data-below") for one in plan.iter() if one.get("data-below")]
        assert sorted(below) == sorted(cell_text(part.at) for part in layout.parts if part.at[2] == z - 1)


def test_sentences_find_their_parts() -> None:
    layout = example("burst-row-of-three")
    ids = [one.get("id") for plan in layer_plans(layout, english(), ids=True) for one in plan.iter() if one.get("id")]
    assert sorted(ids) == sorted(cell_id(part.at) for part in layout.parts)
    assert not [one for plan in layer_plans(layout, english()) for one in plan.iter() if one.get("id")]


def test_parts_say_what_they_are() -> None:
    layout = example("burst-row-of-three")
    titles = {group.get("data-cell"): group[0].text for kind in ("node", "gauge", "bin", "line", "inverter")
              for group, _ in groups_of(layout, kind)}  # fmt: skip
    assert titles["0,1,2"] == "node at 0,1,2, outlet east"
    assert titles["1,1,1"] == "node at 1,1,1, outlet down"
    assert titles["4,1,2"] == "gauge at 4,1,2, reads the node at 3,1,2, output east"
    assert titles["0,1,3"] == "bin at 0,1,3"
    assert titles["1,3,2"] == "inverter at 1,3,2, mounted west"
    assert titles["4,0,1"] == "line at 4,0,1, linked to the lines at 5,0,1 and 3,0,2"


def test_north_is_at_the_top_and_numbers_stand_at_their_cells() -> None:
    plan = read_again(layer_plan(example("burst-row-of-three"), 0, english()))
    (numbers,) = with_class(plan, "coordinates")
    found = {(text.text, float(text.get("x") or 0), float(text.get("y") or 0)) for text in numbers}
    assert {(text, x) for text, x, y in found if y < 0} == {(str(x), x * 40 + 20.0) for x in range(6)}
    west = sorted((y, int(text or "")) for text, x, y in found if x < 0)
    assert [number for _, number in west] == [3, 2, 1, 0], "y grows to the north"
    letters = {text.text: (float(text.get("x") or 0), float(text.get("y") or 0)) for text in with_class(plan, "letter")}
    assert letters["N"][1] < letters["E"][1] < letters["S"][1]
    assert letters["W"][0] < letters["N"][0] < letters["E"][0]


def test_house_words_stand_in_pictures_and_markup_stays_text() -> None:
    words = english()
    hostile = "<script>alert(1)</script>&\"'"
    words = Words("en", {**words.phrases, "part.node": hostile, "letter.N": "<b>", "direction.E": "]]>"}, words.items)
    layout = example("burst-row-of-three")
    pictures = [*layer_plans(layout, words, ids=True), stage(layout, words)]
    for picture in pictures:
        text = markup(picture)
        assert "<script" not in text
        assert "<b>" not in text
        again = fromstring(text)
        assert {one.tag for one in again.iter()} <= {"svg", "g", "title", "desc", "path", "circle", "rect", "text"}
    titles = [one.text for one in fromstring(markup(pictures[2])).iter("title")]
    assert f"{hostile} at 0,1,2, outlet ]]>" in titles
    legend = [str(meaning) for _, meaning in legend_entries(layout, words)]
    assert f"nE: {hostile}, outlet ]]>" in legend


def test_legend_has_what_occurs_and_nothing_else() -> None:
    layout = example("burst-row-of-three")
    found = [(code_shown(sign), str(meaning)) for sign, meaning in legend_entries(layout, english())
             if with_class(sign, "part") and ": " in str(meaning) and "line" not in str(meaning)]  # fmt: skip
    assert {code for code, _ in found} == {code_of(part) for part in layout.parts} - {"-"}
    assert all(text.startswith(f"{code}: ") for code, text in found)
    assert ("gN", "gN: gauge, output north") in found
    every = {str(meaning).partition(": ")[0] for _, meaning in legend_entries(every_code(), english())}
    assert {code_of(part) for part in every_code().parts} <= every
    bare = Layout("", (1, 1, 1))
    assert [str(meaning) for _, meaning in legend_entries(bare, english())] == ["Shaded: the ground"]


def test_letters_are_large_enough_on_paper() -> None:
    """At least 7 points for layouts up to 22 columns wide, on A4."""
    css = (LAYOUTS.parents[1] / "splitwright" / "page" / "static" / "drawing.css").read_text(encoding="utf-8")
    found = re.findall(r"\.drawing \.(code|coordinates)(?: text)? \{[^}]*font-size: (\d+)px", css)
    sizes = {name: float(size) for name, size in found}
    assert set(sizes) == {"code", "coordinates"}
    plan = layer_plan(Layout("", (22, 9, 1)), 0, english())
    width = float((plan.get("viewBox") or "").split()[2])
    assert min(sizes.values()) * A4_POINTS / width >= 7


def test_phrases_are_filled_with_what_they_have() -> None:
    """Every phrase of the family is used, and none lacks a field or has one that nothing fills."""
    words = english()
    used: set[str] = set()

    class Noting(dict[str, str]):
        def __getitem__(self, key: str) -> str:
            used.add(key)
            return super().__getitem__(key)

    noting = Words("en", Noting(words.phrases), words.items)
    high = replace(every_code(), size=(*every_code().size[:2], 30))
    for layout in (every_code(), high, example("burst-row-of-three"), filled()):
        layer_plans(layout, noting, blocked=TAKEN)
        stage(layout, noting)
        legend_entries(layout, noting, TAKEN)
        turning_view(layout, noting)
    template = (LAYOUTS.parents[1] / "splitwright/page/templates/view.html.j2").read_text(encoding="utf-8")
    asked = set(re.findall(r"say\('(drawing\.\w+)'\)", template))
    for key in asked:
        words.text(key)
    assert used | asked >= {key for key in words.phrases if key.startswith("drawing.")}
