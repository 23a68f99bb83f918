"""A claim that is kept counts only while what it rests on is unchanged: code, wherever it is imported, and numbers."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from commands import REPOSITORY
from sim.world.rulebook import RULE_NAMES, default_rules
from synth.solving.proofs_rest_on import (
    NO_MATTER,
    PACKAGES,
    PIECES,
    SEARCH,
    SECTIONS,
    code_digest,
    makes_no_matter,
    modules_behind,
    proofs_digest,
)

ALL = (SEARCH, PIECES, SECTIONS)


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sources alone, to be changed."""
    folder = tmp_path_factory.mktemp("clone")
    for package in PACKAGES:
        shutil.copytree(REPOSITORY / package, folder / package, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


def digest(clone: Path, roots: tuple[str, ...] = SEARCH) -> str:
    code_digest.cache_clear()
    return code_digest(roots, clone)


def test_the_same_sources_have_the_same_digest_wherever_they_stand(clone: Path) -> None:
    for roots in ALL:
        assert digest(clone, roots) == digest(clone, roots) == code_digest(roots)
    assert len({digest(clone, roots) for roots in ALL}) == len(ALL)


CHANGES = {
    "a law": ("sim/world/signals/wants.py", "max(lines, max(", "min(lines, max(", True),
    "a clause": ("synth/model/locks.py", "implies((node, *locked)", "implies((*locked,)", True),
    "a scheme's lock table, which no module names": ("synth/schemes/muster_row.py", "True", "False", True),
    "a number of a scheme": ("synth/schemes/burst_row.py", "promise=10", "promise=11", True),
    "an import within a function": ("synth/search/known/ways.py", "def locks_told", "def locks_said", False),
    "the solver of whole boxes": ("synth/solving/cp_sat.py", "class CpSat", "class CpSat2", True),
    "how a search is told": ("synth/search/exact/ladder.py", "class Ladder", "class Stairs", False),
    "a file that no search imports": ("synth/search/race.py", "class _Race", "class _Run", False),
    "how candidates are ranked, which sets bounds": ("synth/confirm/measures.py", "-measures.", "measures.", True),
    "when a search is over": ("synth/solving/budget.py", "self.left == 0", "self.left == 1", True),
    "in which order jobs are answered": ("synth/solving/parallel/engine.py", "out.popleft()", "out.pop()", True),
    "a process that no module imports": ("synth/solving/parallel/worker.py", "import ", "import this\nimport ", True),
    "what a package does": ("sim/world/__init__.py", '"""The world', 'import os\n"""The world', True),
    "how an imported name is called": ("synth/model/timing.py", "import Edge", "import Place as Edge", True),
    "a comment": ("synth/model/locks.py", "\nfrom ", "\n# a remark\nfrom ", False),
    "a docstring": ("synth/model/locks.py", '"""', '"""In other words: ', False),
    "a blank line": ("sim/world/world.py", "\n\n\n", "\n\n\n\n", False),
}  # fmt: skip


@pytest.mark.parametrize("what", CHANGES)
def test_code_makes_a_difference_and_words_about_it_do_not(clone: Path, what: str) -> None:
    name, old, new, matters = CHANGES[what]
    before, path = digest(clone), clone / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    try:
        assert (digest(clone) != before) is matters
    finally:
        path.write_text(text, encoding="utf-8")
    assert digest(clone) == before


def test_a_module_that_is_moved_is_the_same_one(clone: Path) -> None:
    """Its name stands in those that import it, and what they take from it is by content."""
    before = [digest(clone, roots) for roots in ALL]
    sources = {path: path.read_text(encoding="utf-8") for path in clone.rglob("*.py")}
    old, new = clone / "synth/model/limits.py", clone / "synth/elsewhere.py"
    try:
        for path, text in sources.items():
            path.write_text(text.replace("synth.model.limits", "synth.elsewhere"), encoding="utf-8")
        old.rename(new)
        assert [digest(clone, roots) for roots in ALL] == before
        new.write_text(f"{sources[old]}\nMOST = 1\n", encoding="utf-8")
        assert digest(clone) != before[0]
    finally:
        new.unlink()
        for path, text in sources.items():
            path.write_text(text, encoding="utf-8")


def test_code_that_moves_from_one_file_into_the_next_makes_a_difference(clone: Path) -> None:
    """The digest kept beside the sources is of their names too, not of their bytes run together."""
    one, other = clone / "synth/model/limits.py", clone / "synth/model/links.py"
    texts = [path.read_text(encoding="utf-8") for path in (one, other)]
    before = digest(clone)
    try:
        one.write_text(f"{texts[0]}\nMOST = 1\n", encoding="utf-8")
        with_one = digest(clone)
        one.write_text(texts[0], encoding="utf-8")
        other.write_text(f"MOST = 1\n{texts[1]}", encoding="utf-8")
        assert len({before, with_one, digest(clone)}) == 3
    finally:
        for path, text in zip((one, other), texts, strict=True):
            path.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("name", RULE_NAMES)
def test_a_claim_counts_under_the_numbers_that_it_was_proved_under(name: str) -> None:
    """The handover stands in the claim itself."""
    rules = default_rules()
    other = replace(rules, **{name: getattr(rules, name) + 1})
    assert (proofs_digest(other) == proofs_digest(rules)) is (name == "handover")


def test_what_makes_no_matter_is_imported_all_the_same_and_never_followed() -> None:
    """A name that nothing imports any more is a hole that waits for somebody to fall in."""
    behind = {name for roots in ALL for name in modules_behind(roots)}
    assert not any(makes_no_matter(name) for name in behind)
    assert {"synth.model.build", "synth.confirm.judge", "sim.world.world", "synth.schemes.gated_row"} <= behind
    said = "".join(path.read_text(encoding="utf-8") for name in behind for path in files_of(name))
    assert [name for name in NO_MATTER if name not in said and name != "synth.solving.proofs_rest_on"] == []


def files_of(name: str) -> list[Path]:
    place = REPOSITORY.joinpath(*name.split("."))
    return [path for path in (place.with_suffix(".py"), place / "__init__.py") if path.exists()]


def test_nothing_is_written_where_it_cannot_be(clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = digest(clone)
    shutil.rmtree(clone / PACKAGES[0] / "__pycache__")
    (clone / PACKAGES[0] / "__pycache__").write_text("no folder", encoding="utf-8")
    assert digest(clone) == kept
    (clone / PACKAGES[0] / "__pycache__").unlink()


def test_what_is_kept_beside_the_sources_and_is_no_digest_is_passed_over(clone: Path) -> None:
    before = digest(clone)
    (one,) = (path for path in (clone / PACKAGES[0] / "__pycache__").iterdir() if path.read_text() == before)
    one.write_text("spoilt", encoding="utf-8")
    assert digest(clone) == before
