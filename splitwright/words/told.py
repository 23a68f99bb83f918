"""What verdicts, checks and rulebooks say in English, in the words of a page's language.

Verdicts are put together from a few phrases (``told`` in ``specs/words``). One is read by the English phrases and said
with those of the language; what none of them reads stays English, and the page marks it as such.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from string import Formatter
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.statement import Statement, mention
from sim.world.world import Finding
from splitwright.words.catalogue import catalogue
from splitwright.words.words import Words

FAMILY: Final = "told."
BASE: Final = "en"
_FIELDS: Final = {
    "n": r"-?\d[\d,]*", "at": r"-?\d+,-?\d+,-?\d+", "x": r".+?", "y": r".+", "sname": r"[^;:()]+?",
    "sloads": r"\d+(?: then \d+)*", "sshares": r"\d+(?: / \d+)*",
}  # fmt: skip
"""What a field may hold: by its name, or by the first letter of it."""
NESTED: Final = "xy"
"""Fields that hold phrases again."""


def is_base(words: Words) -> bool:
    """The page's language is the one that they are written in."""
    return words.language.partition("-")[0].lower() == BASE


def verdict_said(text: str, words: Words) -> str | None:
    """A verdict's scope or text in the language of ``words``; None: no phrase is known for it."""
    return text if is_base(words) else _said(text, words)


def finding_said(finding: Finding, layout: Layout, words: Words) -> Statement | None:
    """A finding as a statement; None: its own English text is to be shown, since the page is English."""
    key = f"finding.{finding.check.replace(' ', '_')}"
    if is_base(words) or key not in words.phrases:
        return None
    at: Cell | None = finding.at
    return Statement(key, {} if at is None else {"part": mention(layout, at)})


def rule_said(name: str, text: str, words: Words) -> str | None:
    """What a number of a rulebook means, where ``text`` is that of the shipped one; None: there is no other text."""
    key = f"rule.{name.replace('.', '_')}"
    if is_base(words):
        return text
    return words.text(key) if catalogue(BASE).get(key) == text else None


def _said(text: str, words: Words) -> str | None:
    for key, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found is None:
            continue
        values = {name: _value(name, value, words) for name, value in found.groupdict().items()}
        if None not in values.values():
            return words.text(key, **{name: value for name, value in values.items() if value is not None})
    return None


def _value(name: str, value: str, words: Words) -> str | None:
    if name[0] in NESTED:
        return _said(value, words)
    if name[0] == "n":
        return words.number(int(value.replace(",", "")))
    return value.replace(" then ", " + ") if name == "sloads" else value


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """The phrases of the family as patterns; those that say more of their own words come first."""
    phrases = [(key, phrase) for key, phrase in catalogue(BASE).items() if key.startswith(FAMILY)]
    return tuple(
        (key, re.compile("".join(_pieces(phrase)))) for key, phrase in sorted(phrases, key=lambda one: -_own(one[1]))
    )


def _own(phrase: str) -> int:
    return sum(len(text) for text, *_ in Formatter().parse(phrase))


def _pieces(phrase: str) -> Iterator[str]:
    for text, name, *_ in Formatter().parse(phrase):
        yield re.escape(text)
        if name is not None:
            yield f"(?P<{name}>{_FIELDS.get(name) or _FIELDS[name[0]]})"
