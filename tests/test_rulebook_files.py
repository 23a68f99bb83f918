"""Rulebook files: what is read from them, and the one line that each bad one is answered with."""

from __future__ import annotations

from pathlib import Path

import pytest

from faults import fault_of
from sim.world.files.text import BYTES_MOST
from sim.world.files.toml_text import CHARACTERS_MOST, DOTS_MOST
from sim.world.rulebook import RULE_NAMES, load_rulebook, rulebook_files

DEFAULT = rulebook_files()["default"].read_text(encoding="utf-8")


def changed(before: str, after: str) -> str:
    """The default rulebook with one piece of it replaced."""
    assert before in DEFAULT
    return DEFAULT.replace(before, after, 1)


BAD = {
    "empty": ("", "is empty; a rulebook is TOML text"),
    "binary": ("title = 'a\0b'", "is no text but binary; a rulebook is TOML text"),
    "no TOML": ("clay\n", "line 1, column 5: is no TOML: expected '=' after a key in a key/value pair"),
    "endless": ("#" * (CHARACTERS_MOST + 1), "is longer than 200000 characters, the most that is read"),
    "a long number": ("a = " + "9" * 5000, "is no TOML: a number has too many digits"),
    "a long number to another base": (
        changed("[period]\nvalue = 8", "[period]\nvalue = 0x" + "f" * 5000),
        "period.value: has too many digits",
    ),
    "a long key": (".".join("a" * 20_000) + " = 1", f"line 1: has more than {DOTS_MOST} dots; no key is that long"),
    "a nest of lists": ("a = " + "[" * 20_000, "is nested too deeply"),
    "a nest of tables": ("a = " + "{a=" * 20_000, "is nested too deeply"),
    "a date": (
        changed('title = "The block world as built in practice"', "title = 1979-05-27"),
        "title: is a date or time; none is due (text stands in quotes)",
    ),
    "another format": (
        changed("splitwright-rules/1", "splitwright-rules/2"),
        'format: must be "splitwright-rules/1"',
    ),
    "a title that is no text": (
        changed('title = "The block world as built in practice"', "title = [[[1]]]"),
        "title: must be text",
    ),
    "a meaning that is no text": (
        changed('about = "ticks in one second of world time"', "about = {a = {b = 1}}"),
        "ticks_per_second.about: must be text",
    ),
    "an unknown number": (changed("[period]", "[perod]"), 'perod: unknown number; did you mean "period"?'),
    "an unknown number of no plain name": (
        '"a\\u001b" = 1\n' + DEFAULT,
        f'["a\\u001b"]: unknown number; known are {", ".join(RULE_NAMES)}',
    ),
    "a fuel without its table": (
        changed("[burn.charcoal]", "[burn]"),
        "burn.value: is missing; give value, provenance and about",
    ),
    "a fuel of no plain name": (
        changed('[burn.charcoal]\nvalue = 1600', '[burn."a\\u001b"]\nvalue = 0'),
        'burn["a\\u001b"].value: must be a whole number from 1 to 1000000',
    ),
    "fuels in a list": (changed("[burn.charcoal]", "[[burn]]"), "burn: must be a table of fuels"),
    "a number out of range": (
        changed("[period]\nvalue = 8", "[period]\nvalue = 0"),
        "period.value: must be a whole number from 1 to 1000000",
    ),
    "a boolean": (
        changed("[period]\nvalue = 8", "[period]\nvalue = true"),
        "period.value: must be a whole number from 1 to 1000000",
    ),
    "another provenance": (
        changed('provenance = "memory"', 'provenance = "hearsay"'),
        'ticks_per_second.provenance: must be "practice" or "memory"',
    ),
}


@pytest.mark.parametrize(("text", "line"), BAD.values(), ids=BAD.keys())
def test_a_bad_rulebook_is_answered_with_one_line(text: str, line: str, tmp_path: Path) -> None:
    path = tmp_path / "wet.toml"
    path.write_text(text, encoding="utf-8")
    assert fault_of(lambda: load_rulebook(str(path))) == f"{path}: {line}"


def test_a_rulebook_file_that_cannot_be_read(tmp_path: Path) -> None:
    path = tmp_path / "wet.toml"
    assert fault_of(lambda: load_rulebook(str(path))) == f"{path}: there is no such file"
    assert fault_of(lambda: load_rulebook("\0.toml")) == "\\u0000.toml: is no name of a file"
    path.write_bytes("title = 'Zürich'\n".encode("latin-1"))
    assert fault_of(lambda: load_rulebook(str(path))) == f"{path}: is no UTF-8 text (at byte 11); save it as UTF-8"
    with path.open("wb") as file:
        file.truncate(BYTES_MOST + 1)  # sparse: takes no room
    assert fault_of(lambda: load_rulebook(str(path))) == f"{path}: is larger than 64 MB, the most that is read"
    path.unlink()
    path.mkdir()
    assert fault_of(lambda: load_rulebook(str(path))) == f"{path}: is a folder; name a file in it"


def test_a_rulebook_without_a_title_is_called_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "wet.toml"
    path.write_text(changed("title = ", "# title = "), encoding="utf-8")
    assert load_rulebook(str(path)).title == "wet"
    assert load_rulebook("wet.toml", beside=tmp_path).rules == load_rulebook().rules
