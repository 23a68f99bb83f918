"""TOML that we write reads back as it was, by Python's own reader (tomllib)."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splitwright.words.toml_writing import toml_key, toml_value

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
"""TOML holds Unicode scalar values: no halves of surrogate pairs (TOML 1.0.0, "Spec")."""
VALUES = st.recursive(
    TEXTS | st.booleans() | st.integers(-(2**63), 2**63 - 1),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=8,
)


@given(TEXTS, VALUES)
def test_anything_reads_back(name: str, value: Any) -> None:
    line = f"{toml_key(name)} = {toml_value(value)}"
    assert "\n" not in line
    assert tomllib.loads(line) == {name: value}
    assert tomllib.loads(f"[{toml_key(name)}]\nx = 1") == {name: {"x": 1}}


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("clay", "clay"),
        ("wet-clay_2", "wet-clay_2"),
        ("wet clay", '"wet clay"'),
        ("sheet.parts", '"sheet.parts"'),
        ("", '""'),
        ("clay\n", '"clay\\n"'),
        ("löss", '"löss"'),
    ],
)
def test_keys_are_bare_where_they_can_be(name: str, written: str) -> None:
    assert toml_key(name) == written


def test_what_does_not_print_is_escaped() -> None:
    assert toml_value('a"\\\x00\x7f\n') == '"a\\"\\\\\\u0000\\u007f\\n"'
