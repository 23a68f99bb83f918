"""``tighter`` on a hall that stands: what it is asked for is read off, and only better ones are told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from commands import REPOSITORY, faults, run
from sim.world.files.layout_json import layout_json_text
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Relay
from synth.improve.hall_reading import read_hall

SCHEMA = "splitwright-hall-proposals-1"


@pytest.fixture(scope="module")
def halls(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Of ten kilns: the tightest, and a wide one."""
    folder = tmp_path_factory.mktemp("halls")
    text = (REPOSITORY / "specs" / "sixteen-kilns.toml").read_text(encoding="utf-8")
    spec = folder / "spec.toml"
    spec.write_text(text.replace("furnaces = 16", "furnaces = 10"), encoding="utf-8")
    assert run("propose", str(spec), "--top", "2", "--out", str(folder)).exit_code == 0
    return [folder / "layout-1.json", folder / "layout-2.json"]


def test_what_a_hall_is_asked_for_is_read_off(halls: list[Path]) -> None:
    spec = read_hall(load_layout(halls[1])).spec
    assert (spec.furnaces, spec.sides, spec.fires, spec.fuel, spec.product_bins) == (10, 2, "clay", "charcoal", 1)
    assert spec.output is None, "at full speed"
    assert spec.reachable == {"feed", "fuel", "product"}
    asked = [(one.scheme, one.even_for, one.leftovers) for one in spec.streams]
    assert asked == [("burst row", "burst", "deliver")] * 2


def test_of_a_wide_hall_the_close_one_is_told(halls: list[Path], tmp_path: Path) -> None:
    found = run("tighter", str(halls[1]), "--json", "--out", str(tmp_path))
    assert found.exit_code == 0
    document = json.loads(found.stdout)
    assert faults(document, SCHEMA) == []
    best = document["layouts"][0]["measures"]
    assert best["volume"] < document["given"]["volume"]
    assert best["throughput"] >= document["given"]["throughput"]
    assert load_layout(tmp_path / "layout-1.json").size == tuple(best["box"])


def test_of_the_tightest_none_is_told_and_what_is_proved(halls: list[Path], tmp_path: Path) -> None:
    found = run("tighter", str(halls[0]), "--out", str(tmp_path))
    assert found.exit_code == 3
    assert "no better hall was found among those that known rows make; that is no proof" in found.stdout
    assert "No hall of its kind takes fewer than 200 cells (proved" in found.stdout
    assert not (tmp_path / "layout-1.json").exists()


def without_a_relay(layout: Layout) -> Layout:
    relay = next(part for part in layout.parts if isinstance(part, Relay))
    return replace(layout, parts=tuple(part for part in layout.parts if part is not relay))


def test_a_hall_that_does_not_work_is_mended_first(halls: list[Path], tmp_path: Path) -> None:
    file = tmp_path / "broken.json"
    file.write_text(layout_json_text(without_a_relay(load_layout(halls[0]))), encoding="utf-8")
    found = run("tighter", str(file))
    assert found.exit_code == 2
    assert found.stderr.count("\n") == 1
    assert "splitwright improve mends them" in found.stderr
