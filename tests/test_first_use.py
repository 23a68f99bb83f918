"""The wait on the first use is told in the same words wherever there is one, and not where there is none."""

from __future__ import annotations

import pytest

from splitwright.cli import first_use


@pytest.mark.parametrize("first", [True, False])
def test_a_minute_or_two_is_told_on_the_first_use_alone(first: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_use, "is_first_use", lambda: first)
    assert (first_use.HOW_LONG in first_use.compiling_told()) == first
    assert "a minute or two" in first_use.HOW_LONG
