"""The phrases that come with splitwright: a folder for each language, a file for each family."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache

from sim.datafiles import data_dir


def languages() -> list[str]:
    """The languages that there are phrases for, as BCP 47 tags, in alphabetical order."""
    return sorted(folder.name for folder in data_dir("words").iterdir() if folder.is_dir())


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """Every phrase of a language, by ``family.name``; linear in their number. Raises KeyError for an unknown one."""
    if language not in languages():
        raise KeyError(language)
    return {
        f"{family}.{name}": phrase
        for file in sorted((data_dir("words") / language).glob("*.toml"))
        for family, phrases in tomllib.loads(file.read_text(encoding="utf-8")).items()
        for name, phrase in phrases.items()
    }
