"""What a picture shows, read back from its geometry alone: shapes and where they stand, not names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_cells import CODES
from sim.world.geometry import OPPOSITE, Cell, Direction
from sim.world.layout import Layout

UNIT = 40
Point = tuple[float, float]


def every_code() -> Layout:
    """A layout in which every code of plans occurs, and lines that climb, descend and turn."""
    codes = [*CODES, "-", "-", "-", "-"]
    rows = [codes[i : i + 8] for i in range(0, len(codes), 8)]
    rows[-1] += ["."] * (8 - len(rows[-1]))
    steps = [["-", "#", ".", ".", ".", ".", ".", "."], *([["."] * 8] * (len(rows) - 1))]
    above = [[".", "-", "-", ".", ".", ".", ".", "."], *([["."] * 8] * (len(rows) - 1))]
    layers = "\n".join(
        f"layer {z}\n" + "\n".join(" ".join(row) for row in layer) for z, layer in enumerate((steps, above, rows))
    )
    return layout_from_plan(f"splitwright-plan/1\ntitle Every code\n{layers}\n")


def classes(element: Element) -> list[str]:
    return (element.get("class") or "").split()


def with_class(element: Element, name: str) -> list[Element]:
    return [one for one in element.iter() if name in classes(one)]


def moved(element: Element) -> Point:
    """The translation of a group."""
    found = re.match(r"translate\((-?[\d.]+) (-?[\d.]+)\)", element.get("transform") or "")
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)


def placed(element: Element, origin: Point = (0.0, 0.0)) -> Iterator[tuple[Element, Point]]:
    """Every element below, with the place of its origin in the picture. Scales are left out: they keep the origin."""
    dx, dy = moved(element)
    here = origin[0] + dx, origin[1] + dy
    yield element, here
    for child in element:
        yield from placed(child, here)


def strokes(path: str) -> list[list[Point]]:
    """The points of each open or closed stroke of straight path data."""
    return [
        [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+)[ ,]?(-?[\d.]+)", stroke)]
        for stroke in path.split("M")[1:]
    ]


def toward(point: Point) -> Direction:
    """The side of the cell that a point lies nearest to; y grows to the south."""
    x, y = point
    if abs(x) > abs(y):
        return "E" if x > 0 else "W"
    return "S" if y > 0 else "N"


def code_shown(group: Element) -> str:
    """The code of the part whose sign a group shows, from its shapes."""
    shapes = {name: one for one in group.iter() for name in classes(one)}
    if "hatch" in shapes:
        return "#"
    if "mouth" in shapes:
        return "F"
    if "inner" in shapes:
        return "B*" if "wedge" in shapes else "B"
    if "hub" in shapes:
        return "-"
    if "needle" in shapes:
        assert _dial(shapes["body"]) == _tip(shapes["tip"]), "the dial is round toward its output"
        ((start, end),) = strokes(shapes["bar"].get("d") or "")
        read = toward(((start[0] + end[0]) / 2, (start[1] + end[1]) / 2))
        assert read == OPPOSITE[_tip(shapes["tip"])], "the base bar lies on the side that is read"
        return "g" + _tip(shapes["tip"])
    if "ticks" in shapes:
        (pentagon,) = strokes(shapes["body"].get("d") or "")
        point = next(corner for corner in pentagon if 0 in corner)
        return f"r{len(strokes(shapes['ticks'].get('d') or ''))}{toward(point)}"
    if "plate" in shapes:
        return "iD"
    if "bar" in shapes:
        ((start, end),) = strokes(shapes["bar"].get("d") or "")
        return "i" + toward(((start[0] + end[0]) / 2, (start[1] + end[1]) / 2))
    return "nD" if "tail" in shapes else "n" + _tip(shapes["tip"])


def _tip(head: Element) -> Direction:
    """Where a solid head points: to its corner that is farthest out."""
    (corners,) = strokes(head.get("d") or "")
    return toward(max(corners, key=lambda corner: max(map(abs, corner))))


def _dial(body: Element) -> Direction:
    """Where a half circle is round: an arc with sweep flag 1 runs clockwise on the picture (SVG 2, section 9.3.8)."""
    found = re.fullmatch(r"M(-?[\d.]+) ?(-?[\d.]+)A12 12 0 0 1 (-?[\d.]+) ?(-?[\d.]+)Z", body.get("d") or "")
    assert found is not None
    x0, y0, x1, y1 = map(float, found.groups())
    return toward((y1 - y0, x0 - x1))


def cell_at(point: Point, corner: Point, depth: int, z: int) -> Cell:
    """The cell about whose centre a sign is drawn. Fails where it is no cell's centre."""
    x, y = (point[0] - corner[0]) / UNIT - 0.5, (point[1] - corner[1]) / UNIT - 0.5
    assert x == int(x), point
    assert y == int(y), point
    return int(x), depth - 1 - int(y), z
