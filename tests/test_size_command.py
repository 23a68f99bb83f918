"""``splitwright size`` as a user runs it."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from typer.testing import Result

from commands import REPOSITORY, document, faults, run, run_as_user

SPECS = REPOSITORY / "specs"
SIXTEEN = str(SPECS / "sixteen-kilns.toml")
BY_OUTPUT = str(SPECS / "hall-by-output.toml")
SCHEMA = "splitwright-size-1"


def found(*words: str) -> dict[str, Any]:
    result = run("size", *words, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    return document(result, SCHEMA)


def figures(*words: str) -> dict[str, Any]:
    return {one["name"]: Fraction(one["exact"]) for one in found(*words)["figures"]}


def lines(text: str) -> list[str]:
    """Each line with single blanks between its words."""
    return [" ".join(line.split()) for line in text.splitlines()]


# --- what it says


def test_the_brickyard_as_a_user_asks() -> None:
    """16 x 360 = 5760 bricks; 720 charcoal; a node passes 9000, so that each side's row is 2880 / 9000 = 32 % used."""
    result = run_as_user("size", SIXTEEN, "-v")
    assert (result.returncode, result.stderr) == (0, "")
    told = lines(result.stdout)
    assert "output of one furnace q 360 products/h 3600 s / t" in told
    assert "furnaces n 16 furnaces stated" in told
    assert "feed rows 5760 18000 32 % 18000 min over sides of rows v n / side" in told
    assert result.stdout.startswith("16 furnaces for 5760 products an hour: ")
    assert "\nBrickyard, sixteen kilns: 16 furnaces in 2 sides, clay with charcoal\n" in result.stdout
    assert (
        "\nBottleneck: furnaces, 100 % used; good for 5760 products an hour. The next would be feed rows and product "
        "lines, 32 % used; good for 18000 products an hour.\n" in result.stdout
    )


def test_a_hall_by_its_output() -> None:
    """5000 / 360 = 13.9: fourteen furnaces, good for 5040."""
    told = found(BY_OUTPUT)
    assert (told["sides"], told["bottleneck"], told["capacity"]) == ([7, 7], ["furnaces"], 5040)
    assert (told["title"], told["fires"], told["fuel"]) == (
        "Brickyard, five thousand bricks an hour",
        "clay",
        "charcoal",
    )


def test_quiet_is_the_answer_alone() -> None:
    result = run("size", BY_OUTPUT, "--quiet")
    assert result.stdout == (
        "14 furnaces for 5000 products an hour: 2 feed rows, 2 fuel rows, 2 product lines, 630 fuel an hour.\n"
    )


def test_every_figure_has_its_formula_in_the_table_too() -> None:
    told, table = found(SIXTEEN), run("size", SIXTEEN, "-v").stdout
    for one in told["figures"]:
        assert any(line.startswith(one["about"]) and line.endswith(one["formula"]) for line in table.splitlines())
    assert {one["name"] for one in told["figures"]} >= {"furnaces", "feed_rows", "fuel_rows", "product_lines", "fuel"}


def test_a_bottleneck_of_all_stations_has_no_next(tmp_path: Path) -> None:
    """Firing as fast as a node moves, every 8 ticks, with fuel that burns as long: all of one furnace is as busy."""
    result = run("size", "--furnaces", "1", "--rules", rulebook(tmp_path, firing=8, burn=8))
    assert "Bottleneck: furnaces, feed rows, feed nodes at the furnaces, fuel rows," in result.stdout
    assert "100 % used; good for 9000 products an hour. No other station is less used." in result.stdout
    assert found("--furnaces", "1", "--rules", rulebook(tmp_path, firing=8, burn=8))["next"] == []


def rulebook(folder: Path, firing: int, burn: int) -> str:
    """The default rulebook with other times."""
    text = (SPECS / "rules" / "default.toml").read_text(encoding="utf-8")
    path = folder / "own.toml"
    path.write_text(text.replace("value = 200\n", f"value = {firing}\n", 1).replace("= 1600", f"= {burn}"), "utf-8")
    return str(path)


# --- without a spec, and options in place of one


def test_options_alone() -> None:
    """One side where nothing says so; 5761 takes a seventeenth furnace."""
    told = figures("--output", "5761")
    assert (told["furnaces"], told["sides"], told["feed_rows"]) == (17, 1, 1)
    told = figures("--furnaces", "16", "--sides", "2", "--product-bins", "2")
    assert (told["output"], told["product_fills"], told["lines_a_product_bin"]) == (5760, 36, 1)
    kinds = found("--furnaces", "2", "--fires", "loam", "--fuel", "charcoal")
    assert (kinds["title"], kinds["fires"], kinds["fuel"]) == ("", "loam", "charcoal")


def test_options_take_the_place_of_what_the_spec_says() -> None:
    assert figures(SIXTEEN, "--output", "7200")["furnaces"] == 20, "as many as it takes"
    assert figures(BY_OUTPUT, "--furnaces", "16")["output"] == 5760, "as fast as they go"
    assert figures(BY_OUTPUT, "--furnaces", "16", "--output", "5000")["furnaces"] == 16
    assert figures(SIXTEEN, "--output", "full")["furnaces"] == 16
    assert figures(SIXTEEN, "--sides", "1")["feed_rows"] == 1


def test_a_rulebook_of_ones_own(tmp_path: Path) -> None:
    """Firing in 100 ticks, charcoal for 800: 720 an hour a furnace; under the spec's own kinds."""
    own = rulebook(tmp_path, firing=100, burn=800)
    for words in ([SIXTEEN], ["--furnaces", "16"]):
        told = figures(*words, "--rules", own)
        assert (told["furnace_output"], told["burn"], told["fuel"]) == (720, 800, 1440)


def test_a_fuel_that_burns_too_short(tmp_path: Path) -> None:
    own = rulebook(tmp_path, firing=100, burn=7)
    told = "burns 7 ticks, and a node brings the next in 8: its fire goes out between"
    assert refused(run("size", SIXTEEN, "--rules", own)) == f"--rules: {told}"
    assert refused(run("size", "--furnaces", "2", "--fuel", "charcoal", "--rules", own)) == f"--fuel: {told}"


# --- bad input


def refused(result: Result) -> str:
    assert result.exit_code == 2, result.stdout
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    return result.stderr.removeprefix("splitwright: ").rstrip("\n")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ([], "size: give a SPEC, or --output N or --furnaces N"),
        (["--output", "full"], "size: give a SPEC, or --output N or --furnaces N"),
        ([BY_OUTPUT, "--output", "full"], '--output: "full" needs a number of furnaces; add --furnaces N'),
        (["--output", "0"], '--output: must be a whole number from 1 to 1000000, not "0"'),
        (["--output", "many"], '--output: must be a whole number from 1 to 1000000, not "many"'),
        (["--output", "500000"], "--output: takes 1389 furnaces, more than 1000; at most 360000 an hour"),
        (["--furnaces", "1001"], '--furnaces: must be a whole number from 1 to 1000, not "1001"'),
        (["--furnaces", "3", "--sides", "4"], '--sides: must be a whole number from 1 to 2, not "4"'),
        (["--furnaces", "1", "--sides", "2"], "--sides: must be 1 at most for 1 furnace, not 2"),
        ([SIXTEEN, "--furnaces", "1"], "--furnaces: must be 1 at most for 1 furnace, not 2"),
        ([SIXTEEN, "--output", "300"], "--output: must be 1 at most for 1 furnace, not 2"),
        (
            ["--furnaces", "16", "--output", "5761"],
            "--output: is more than 16 furnaces can fire: at most 5760 an hour; it takes 17 furnaces",
        ),
        (["--output", "5", "--fuel", "chalk"], '--fuel: "chalk" does not burn; name a fuel (charcoal)'),
        (
            [SIXTEEN, "--fires", "loam"],
            '--fires: "loam" fires to nothing; add fires_to = KIND to [items.loam], or name what fires (clay)',
        ),
        (
            ["--output", "5", "--rules", "defalt"],
            'no rulebook is called "defalt": did you mean "default"? (or name a .toml file)',
        ),
        (["none.toml"], "none.toml: there is no such file"),
        (["--ouput", "5"], 'size: --ouput: there is no such option; did you mean "--output"?'),
    ],
)
def test_what_cannot_be_sized_is_answered_with_one_line(words: list[str], line: str) -> None:
    assert refused(run("size", *words)) == line


def test_the_spec_of_one_split_is_no_hall() -> None:
    path = str(SPECS / "two-kilns.toml")
    assert refused(run("size", path)).startswith(f"{path}: hall: is missing; this is the spec of one split")


def test_a_fault_in_the_hall_names_the_field(tmp_path: Path) -> None:
    path = tmp_path / "yard.toml"
    path.write_text((SPECS / "hall-by-output.toml").read_text(encoding="utf-8").replace("sides =", "side ="), "utf-8")
    assert refused(run("size", str(path))) == f'{path}: hall.side: unknown key; did you mean "sides"?'


# --- the schema is no open door


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("format",), "splitwright-size/2"),
        (("sides",), []),
        (("figures", 0, "exact"), "0.5"),
        (("figures", 0, "formula"), ""),
        (("figures", 0, "value"), "20"),
        (("stations", 0, "utilisation"), 1.5),
        (("stations", 0, "load"), 0),
        (("bottleneck",), []),
        (("capacity",), -1),
    ],
)
def test_the_schema_refuses(place: tuple[str | int, ...], value: Any) -> None:
    spoilt = json.loads(json.dumps(found(SIXTEEN)))
    holder: Any = spoilt
    for way in place[:-1]:
        holder = holder[way]
    holder[place[-1]] = value
    assert len(faults(spoilt, SCHEMA)) == 1


def test_the_room_that_is_told_is_the_room_that_propose_takes(tmp_path: Path) -> None:
    """An estimate, but a good one; where the product must come to fewer bins than such halls have, none is made."""
    text = (REPOSITORY / "specs" / "sixteen-kilns.toml").read_text(encoding="utf-8")
    spec = tmp_path / "hall.toml"
    spec.write_text(text.replace("furnaces = 16", "furnaces = 24").replace("product_bins = 1", ""), encoding="utf-8")
    sized = json.loads(run("size", str(spec), "--json").stdout)
    built = json.loads(run("propose", str(spec), "--top", "1", "--json").stdout)
    assert sized["room"]["box"] == built["layouts"][0]["measures"]["box"]
    assert sized["room"]["at_least"] == built["bound"]["cells"] < sized["room"]["cells"]
    assert f"fewer than {built['bound']['cells']} cells (proved" in run("size", str(spec)).stdout
    spec.write_text(text.replace("furnaces = 16", "furnaces = 64"), encoding="utf-8")
    assert "room" not in json.loads(run("size", str(spec), "--json").stdout)
