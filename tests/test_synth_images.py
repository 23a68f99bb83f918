"""Mirror images and rotations: one key for all of them, the same behaviour, and another key for another layout."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commands import LAYOUTS
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Bin, Inverter, Line, Node, Part, Relay, Support
from sim.world.trial import Arrival, run_trial
from symmetries import all_symmetries
from synth.confirm.built import box_of
from synth.model.images import canonical_key, images

NAMES = ("burst-row-of-three", "burst-row-of-three-one-relay-more", "run-with-relay")


def layout_called(name: str) -> Layout:
    return load_layout(LAYOUTS / f"{name}.plan")


@pytest.mark.parametrize("name", NAMES)
def test_images_share_one_key(name: str) -> None:
    layout = layout_called(name)
    eight = list(images(layout))
    assert len(eight) == 8
    # a flat run that is its own mirror image has four
    assert len({frozenset(image.parts) for image in eight}) == (4 if name == "run-with-relay" else 8)
    keys = {canonical_key(image) for image in eight}
    assert keys == {canonical_key(layout)}
    width, depth, height = box_of(layout)
    assert {image.size for image in eight} == {(width, depth, height), (depth, width, height)}
    assert all(box_of(image) == image.size for image in eight)


@pytest.mark.parametrize("name", NAMES)
def test_the_key_is_that_of_images_made_another_way(name: str) -> None:
    """The tests turn layouts with code of their own; the key knows those images too, wherever they stand."""
    layout = layout_called(name)
    for symmetry in all_symmetries():
        assert canonical_key(symmetry.layout(layout)) == canonical_key(layout)


def test_images_behave_alike() -> None:
    """The same deliveries at the same ticks, whichever way the build is turned."""
    layout = layout_called("burst-row-of-three")
    results = [run_trial(image, [Arrival(0, "feed", 12)]) for image in images(layout)]
    assert {result.tick for result in results} == {results[0].tick}
    assert all(result.streams == results[0].streams for result in results)
    assert results[0].streams[0].delivered == (4, 4, 4)


@pytest.mark.parametrize("name", NAMES)
def test_the_order_of_parts_is_no_part_of_the_key(name: str) -> None:
    layout = layout_called(name)
    assert canonical_key(replace(layout, parts=layout.parts[::-1])) == canonical_key(layout)


def changed(layout: Layout, old: Part, *new: Part) -> Layout:
    return replace(layout, parts=tuple(p for part in layout.parts for p in (new if part == old else (part,))))


def test_another_layout_has_another_key() -> None:
    """One part more, less, elsewhere, turned, or with another delay."""
    layout = layout_called("burst-row-of-three-one-relay-more")
    support = next(p for p in layout.parts if isinstance(p, Support))
    line = next(p for p in layout.parts if isinstance(p, Line))
    relay = next(p for p in layout.parts if isinstance(p, Relay))
    inverter = next(p for p in layout.parts if isinstance(p, Inverter))
    node = next(p for p in layout.parts if isinstance(p, Node) and p.outlet == "E")
    bin_ = next(p for p in layout.parts if isinstance(p, Bin))
    others = [
        changed(layout, support),
        changed(layout, line, Support(line.at)),
        changed(layout, relay, replace(relay, delay=relay.delay + 1)),
        changed(layout, relay, replace(relay, output="N" if relay.output != "N" else "S")),
        changed(layout, inverter, replace(inverter, mount="D" if inverter.mount != "D" else "E")),
        changed(layout, node, replace(node, outlet="D")),
        changed(layout, bin_, replace(bin_, finish="marked")),
    ]
    keys = [canonical_key(one) for one in (layout, *others)]
    assert len(set(keys)) == len(keys)


def test_what_is_upside_down_is_no_image() -> None:
    """Up and down differ in this world: a build and the same build stood on its head are two layouts."""
    low = Layout("", (2, 1, 2), parts=(Support((0, 0, 0)), Support((1, 0, 0)), Line((0, 0, 1))))
    high = Layout("", (2, 1, 2), parts=(Support((0, 0, 1)), Support((1, 0, 1)), Line((0, 0, 0))))
    assert canonical_key(low) != canonical_key(high)
