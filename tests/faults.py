"""What a user sees of bad input, and functions that fail."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest

from sim.errors import InputError


def fault_of(call: Callable[[], object]) -> str:
    """The line that a user sees."""
    with pytest.raises(InputError) as caught:
        call()
    text = str(caught.value)
    assert text.isprintable(), "one line, without anything that moves the cursor"
    return text


def refusing(number: int) -> Callable[..., Any]:
    """A function that fails with an error of the system."""

    def refuse(*_: Any, **__: Any) -> Any:
        raise OSError(number, os.strerror(number))

    return refuse
