"""TOML as we write it: keys, basic strings, arrays and inline tables (TOML 1.0.0, "Keys", "String", "Inline Table")."""

from __future__ import annotations

import json
import re
from typing import Any


def toml_key(name: str) -> str:
    """A bare key where the name can be one, else a quoted one."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_value(name)


def toml_value(value: Any) -> str:
    """A text, a whole number, true or false, a list or a table, on one line; linear in its length.

    Strings are written as in JSON, which is a part of TOML's form but for DEL, which TOML wants escaped.
    """
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml_key(key)} = {toml_value(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
