"""The user's cache: what is kept comes back, from several runs at once too; whatever is wrong with the file is told in
one line, the file is moved aside where it is damaged, and nothing is lost."""

from __future__ import annotations

import fcntl
import functools
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from commands import REPOSITORY
from hall_kits import request
from known_builds import CLAIM, FAILURE, LAWS, SCHEME, made_up, overfull, smallest
from synth.hall.piece_file import PieceFile, key_of, shipped_file
from synth.hall.piece_json import pieces_to_json
from synth.model.images import TURNS, turned
from synth.search.known import cache as module
from synth.search.known.cache import BUILDS, Cache, default_file

KEY = key_of(request("side"))


def pieces() -> dict[str, Any]:
    found = PieceFile(shipped_file()).find(request("side"))
    assert found is not None
    return pieces_to_json(KEY, found, "0" * 64)


STATE = {"cubes": [1, 2, 3], "note": "half\ud800 a character"}


def keep_all(cache: Cache) -> None:
    """Something of each kind."""
    cache.keep_build(smallest(3))
    cache.keep_claim(CLAIM)
    cache.keep_failure(FAILURE)
    cache.keep_pieces(KEY, pieces())
    cache.keep_settled("question", STATE)


@functools.cache
def full_file() -> bytes:
    """A file with something of each kind; it is made once."""
    with TemporaryDirectory() as folder:
        cache = Cache(Path(folder) / "known.sqlite")
        keep_all(cache)
        assert cache.faults == []
        return cache.path.read_bytes()


def filled(path: Path) -> Cache:
    """A cache with something of each kind."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(full_file())
    return Cache(path)


def whole(cache: Cache) -> bool:
    """It has all that ``filled`` put in."""
    return (
        smallest(3) in cache.builds(SCHEME, "top", 3)
        and CLAIM in cache.claims(SCHEME, "top", 3)
        and FAILURE in cache.failures(SCHEME, "top", 3)
        and cache.pieces_for(KEY) == pieces()
        and cache.settled("question") == STATE
    )


@pytest.fixture(autouse=True)
def no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is written is left to the system: no power is cut here, and the tests take half the time."""
    connected = module._connected

    def at_once(path: Path, mode: str) -> sqlite3.Connection:
        connection = connected(path, mode)
        with suppress(sqlite3.Error, UnicodeDecodeError):  # where there is no database
            connection.execute("PRAGMA synchronous = OFF")
        return connection

    monkeypatch.setattr(module, "_connected", at_once)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "down" / "known.sqlite"


# -- there and back ---------------------------------------------------------------------------------------------------


def test_what_is_kept_comes_back_equal_to_other_runs_too(path: Path) -> None:
    own = Cache(path)
    keep_all(own)
    for cache in (own, Cache(path)):
        assert whole(cache)
        assert cache.stretchable(SCHEME, "top") == [smallest(3)]
        assert cache.faults == []
    assert [one.name for one in path.parent.iterdir()] == ["known.sqlite"]


def test_it_comes_back_to_the_row_it_is_for_alone(path: Path) -> None:
    cache = filled(path)
    for scheme, outputs in ((SCHEME, 4), ("another row", 3)):
        assert cache.builds(scheme, "top", outputs) == []
        assert cache.claims(scheme, "top", outputs) == []
        assert cache.failures(scheme, "top", outputs) == []
    assert cache.builds(SCHEME, "side", 3) == []
    assert cache.stretchable(SCHEME, "side") == []
    assert cache.pieces_for({**KEY, "spare": 9}) is None
    assert cache.settled("another question") is None


def test_looking_makes_no_file(path: Path) -> None:
    cache = Cache(path)
    assert cache.builds(SCHEME, "top", 3) == []
    assert cache.settled("question") is None
    assert not path.parent.exists()
    assert cache.faults == []


def test_an_empty_file_is_an_empty_cache(path: Path) -> None:
    path.parent.mkdir(parents=True)
    path.touch()
    cache = Cache(path)
    assert cache.claims(SCHEME, "top", 3) == []
    keep_all(cache)
    assert whole(cache)


def test_it_lies_in_the_users_cache_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_file() == tmp_path / "splitwright" / "known.sqlite"
    monkeypatch.setenv("XDG_CACHE_HOME", "")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert default_file() == tmp_path / ".cache" / "splitwright" / "known.sqlite"


# -- how much is kept -------------------------------------------------------------------------------------------------


def test_a_build_and_its_images_are_kept_once(path: Path) -> None:
    cache, build = Cache(path), smallest(3)
    for turn in TURNS:
        cache.keep_build(replace(build, layout=turned(build.layout, turn), how="turned"))
    cache.keep_build(build)
    assert cache.builds(SCHEME, "top", 3) == [build]
    elsewhere = replace(build, handovers=(8,))
    cache.keep_build(elsewhere)
    assert cache.builds(SCHEME, "top", 3) == [elsewhere, build], "what was confirmed under other handovers is another"


def test_of_one_row_those_that_none_beats_and_the_newest_are_kept(path: Path) -> None:
    """A wide one of few parts, then narrow ones of more and more parts: none beats another. Then ones beaten by all."""
    cache = Cache(path)
    low_and_wide = made_up(width=40, supports=0)
    small = [made_up(width=width, supports=30 - width) for width in range(16, 19)]
    large = [made_up(width=width, height=3, supports=width - 2) for width in range(41, 41 + BUILDS.kept)]
    for one in (low_and_wide, *small, *large):
        cache.keep_build(one)
    kept = cache.builds(SCHEME, "top", 1)
    assert len(kept) == BUILDS.kept
    assert {one.layout.size for one in (low_and_wide, *small)} <= {one.layout.size for one in kept}
    assert kept[0] == large[-1]
    assert large[0] not in kept
    cache.keep_build(smallest(3))
    assert len(cache.stretchable(SCHEME, "top")) == BUILDS.kept + 1, "each row for itself"
    assert cache.faults == []


def test_the_newest_of_what_searches_came_to_are_kept(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SETTLED", replace(module.SETTLED, kept=3))
    cache = Cache(path)
    for question in ("a", "b", "c", "a", "d", "e"):
        cache.keep_settled(question, {"of": question})
    assert [cache.settled(question) for question in "abcde"] == [{"of": "a"}, None, None, {"of": "d"}, {"of": "e"}]


def test_efforts_that_differ_are_kept_beside_each_other(path: Path) -> None:
    cache = filled(path)
    cache.keep_failure(replace(FAILURE, effort=7))
    cache.keep_failure(FAILURE)
    assert {one.effort for one in cache.failures(SCHEME, "top", 3)} == {7, FAILURE.effort}


def test_a_build_that_could_not_be_read_again_is_not_kept(path: Path) -> None:
    cache = filled(path)
    cache.keep_build(overfull())
    (told,) = cache.faults
    assert told.startswith(f"{path}: not kept")
    assert cache.builds(SCHEME, "top", 1) == []
    assert whole(Cache(path))


# -- several runs at once ---------------------------------------------------------------------------------------------

WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from synth.search.known.build import KnownClaim
from synth.search.known.cache import Cache
cache, number = Cache(Path(sys.argv[1])), int(sys.argv[2])
claim = KnownClaim("burst row", "top", 3, (8, 7), (5, 2, 3), 20, "0" * 64)
print("ready", flush=True)
sys.stdin.readline()
for i in range(12):
    cache.keep_claim(replace(claim, box=(100 * number + i + 1, 1, 1)))
    cache.keep_settled("shared", {"by": number})
    assert cache.claims("burst row", "top", 3)
print(*cache.faults, sep="\\n")
"""


@pytest.mark.parametrize("before", [None, b"rubbish\n" * 1000])
def test_nothing_is_lost_when_several_runs_write_at_once(
    path: Path, before: bytes | None, running: list[subprocess.Popen[str]]
) -> None:
    """And where there is a damaged file, just one of them moves it aside."""
    if before is not None:
        path.parent.mkdir(parents=True)
        path.write_bytes(before)
    pipe = subprocess.PIPE
    for number in range(3):
        words = [sys.executable, "-c", WRITER, str(path), str(number)]
        running.append(subprocess.Popen(words, stdin=pipe, stdout=pipe, stderr=pipe, text=True, cwd=REPOSITORY))
    for process in running:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    told = []
    for process in running:
        assert process.stdin is not None
        process.stdin.write("\n")
        process.stdin.flush()
    for process in running:
        out, err = process.communicate()
        assert err == ""
        told += out.split("\n")
    boxes = {one.box[0] for one in Cache(path).claims(SCHEME, "top", 3)}
    assert boxes == {100 * number + i + 1 for number in range(3) for i in range(12)}
    found = Cache(path).settled("shared")
    assert found is not None
    faults = [line for line in told if line]
    assert len(faults) == (before is not None)
    names = ["known.sqlite", "known.sqlite.damaged-1"]
    assert sorted(one.name for one in path.parent.iterdir()) == names[: 1 + len(faults)]


@contextmanager
def taken(path: Path) -> Iterator[None]:
    """Another run is in the midst of writing."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield


def test_a_run_that_waits_too_long_goes_on_without(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(path)
    monkeypatch.setattr(module, "BUSY_S", 0.05)
    cache, waited = Cache(path), []
    connect = sqlite3.connect

    def noted(arguments: tuple[Any, ...]) -> None:
        if len(arguments) > 1:  # ours
            waited.append(arguments[1])

    monkeypatch.setattr(sqlite3, "connect", lambda *a, **k: noted(a) or connect(*a, **k))
    with taken(path):
        waited.clear()
        assert cache.builds(SCHEME, "top", 3) == []
        assert cache.claims(SCHEME, "top", 3) == []
        assert waited == [module.READ_BUSY_S], "who waits for an answer waits once, and not for long"
        cache.keep_claim(replace(CLAIM, parts=9))
    assert len(cache.faults) == 2
    assert all(line.startswith(f"{path}: cannot be ") for line in cache.faults)
    assert whole(Cache(path))
    assert len(list(path.parent.iterdir())) == 1, "in use is not damaged"


KILLED = """
import os, sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA cache_size = 1")
connection.execute("BEGIN IMMEDIATE")
connection.execute("DELETE FROM claims")
connection.executemany("INSERT INTO settled (key, document) VALUES (?, ?)", [(str(i), "x" * 999) for i in range(999)])
os._exit(0)
"""


def test_what_a_run_that_was_killed_left_half_written_is_undone(path: Path) -> None:
    filled(path)
    subprocess.run([sys.executable, "-c", KILLED, str(path)], check=True)
    assert path.with_name("known.sqlite-journal").exists(), "it was in the midst of it"
    cache = Cache(path)
    assert whole(cache)
    assert cache.faults == []


# -- files that are damaged -------------------------------------------------------------------------------------------


def sql(*statements: str) -> Callable[[Path], None]:
    """Changed by somebody with SQLite at hand."""

    def spoil(path: Path) -> None:
        with closing(sqlite3.connect(path)) as connection:
            for statement in statements:
                connection.execute(statement)
            connection.commit()

    return spoil


def bytes_at(place: int, data: bytes) -> Callable[[Path], None]:
    def spoil(path: Path) -> None:
        found = path.read_bytes()
        path.write_bytes(found[:place] + data + found[place + len(data) :])

    return spoil


def cut_to(share: float) -> Callable[[Path], None]:
    return lambda path: path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)]) and None


FILES: dict[str, Callable[[Path], Any]] = {
    "no database": lambda path: path.write_bytes(b"rubbish\n" * 1000),
    "JSON": lambda path: path.write_text('{"format": "splitwright-pieces/1", "pieces": []}'),
    "cut off in the head": lambda path: path.write_bytes(path.read_bytes()[:50]),
    "cut off": cut_to(0.3),
    "cut off near its end": cut_to(0.9),
    "no page of it": bytes_at(100, b"\xff" * 3000),
    "a form of later days": bytes_at(44, (9).to_bytes(4, "big")),
    "may not be written, it says": bytes_at(18, b"\x07\x01"),
    "another version": sql(f"PRAGMA user_version = {module.VERSION + 1}"),
    "no version": sql("PRAGMA user_version = 0"),
    "a table less": sql("DROP TABLE claims"),
    "another table": sql("CREATE TABLE more (a)"),
    "a table of another form": sql("ALTER TABLE builds ADD COLUMN more TEXT"),
    "names that are no text": lambda path: path.write_bytes(path.read_bytes().replace(b"TABLE cl", b"TABLE \xffl")),
}


def asked_and_kept(cache: Cache) -> None:
    """As a search does."""
    cache.builds(SCHEME, "top", 3)
    cache.stretchable(SCHEME, "top")
    cache.claims(SCHEME, "top", 3)
    cache.failures(SCHEME, "top", 3)
    cache.pieces_for(KEY)
    cache.settled("question")
    keep_all(cache)


def moved_aside(cache: Cache, name: str = "known.sqlite.damaged-1") -> str:
    """The one fault: a line that says where the file went."""
    (told,) = cache.faults
    assert told.startswith(f"{cache.path}: is damaged (")
    assert name in told
    assert told.isprintable()
    return told


@pytest.mark.parametrize("how", FILES)
@pytest.mark.parametrize("first", [asked_and_kept, keep_all])
def test_a_damaged_file_is_moved_aside_and_a_new_one_begun(
    path: Path, how: str, first: Callable[[Cache], None]
) -> None:
    """Whether the run that meets it asks first or keeps something first."""
    filled(path)
    FILES[how](path)
    damaged, cache = path.read_bytes(), Cache(path)
    first(cache)
    cache.builds(SCHEME, "top", 3)
    moved_aside(cache)
    assert path.with_name("known.sqlite.damaged-1").read_bytes() == damaged
    again = Cache(path)
    assert whole(again)
    assert again.faults == []


ROWS: dict[str, Callable[[Path], Any]] = {
    "a document that is no JSON": sql("UPDATE claims SET document = substr(document, 2)"),
    "no document": sql("UPDATE claims SET document = NULL"),
    "a document of another type": sql("UPDATE claims SET document = 3"),
    "a layout that is none": sql("UPDATE builds SET document = replace(document, 'layer 0', 'layer 9')"),
    "another box": sql("UPDATE claims SET document = replace(document, '[5, 2, 3]', '[9, 9, 9]')"),
    "another row": sql("UPDATE claims SET outputs = 4"),
    "no text": sql("UPDATE settled SET document = CAST(x'ff' || document AS TEXT)"),
    "pieces that are none": sql("UPDATE pieces SET document = '{}'"),
    "no digest": sql("UPDATE failures SET digest = NULL"),
    "a letter": lambda path: path.write_bytes(path.read_bytes().replace(b"the exact search", b"the eXact search")),
}


@pytest.mark.parametrize("how", ROWS)
def test_of_a_file_with_a_row_that_was_changed_all_others_are_kept(path: Path, how: str) -> None:
    filled(path)
    ROWS[how](path)
    damaged, cache = path.read_bytes(), Cache(path)
    for outputs in (3, 4):
        cache.builds(SCHEME, "top", outputs)
        cache.claims(SCHEME, "top", outputs)
    cache.failures(SCHEME, "top", 3)
    cache.pieces_for(KEY)
    cache.settled("question")
    assert "with 4 rows of it" in moved_aside(cache)
    assert path.with_name("known.sqlite.damaged-1").read_bytes() == damaged
    left = [
        cache.builds(SCHEME, "top", 3), cache.claims(SCHEME, "top", 3), cache.failures(SCHEME, "top", 3),
        cache.pieces_for(KEY), cache.settled("question"),
    ]  # fmt: skip
    assert sum(map(bool, left)) == 4
    assert not any(cache.claims(SCHEME, "top", outputs) for outputs in (4, 9))


def test_of_a_file_that_is_cut_off_what_is_left_is_kept(path: Path) -> None:
    cache = filled(path)
    for i in range(100):
        cache.keep_claim(replace(CLAIM, box=(i + 10, 2, 3)))
    cut_to(0.8)(path)
    found = Cache(path).claims(SCHEME, "top", 3)
    assert CLAIM in found
    assert len(found) > 20


def test_every_damaged_file_is_kept(path: Path) -> None:
    path.parent.mkdir(parents=True)
    for number in (1, 2, 3):
        path.write_bytes(b"%d is no database\n" % number * 100)
        cache = Cache(path)
        assert cache.builds(SCHEME, "top", 3) == []
        moved_aside(cache, f"known.sqlite.damaged-{number}")
    for number in (1, 2, 3):
        assert path.with_name(f"known.sqlite.damaged-{number}").read_bytes().startswith(b"%d" % number)


def test_a_file_that_another_run_has_moved_is_not_moved_again(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both have met it; while the one waits for the other, a new file comes to stand there."""
    path.parent.mkdir(parents=True)
    path.write_bytes(b"rubbish")
    held = module._held

    def after_the_other(folder: Path, how: int) -> AbstractContextManager[None]:
        monkeypatch.setattr(module, "_held", held)
        keep_all(Cache(path))
        return held(folder, how)

    monkeypatch.setattr(module, "_held", after_the_other)
    cache = Cache(path)
    assert cache.builds(SCHEME, "top", 3) == [smallest(3)]
    assert whole(cache)
    assert cache.faults == []
    assert sorted(one.name for one in path.parent.iterdir()) == ["known.sqlite", "known.sqlite.damaged-1"]


def test_a_damaged_file_is_not_moved_while_another_run_writes_to_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path.parent.mkdir(parents=True)
    path.write_bytes(b"rubbish")
    monkeypatch.setattr(module, "BUSY_S", 0.05)
    with module._held(path.parent, fcntl.LOCK_SH):
        cache = Cache(path)
        assert cache.builds(SCHEME, "top", 3) == []
        assert cache.faults == [f"{path}: cannot be read (other runs hold it); the search goes on without"]
        assert [one.name for one in path.parent.iterdir()] == ["known.sqlite"]
    cache = Cache(path)
    keep_all(cache)
    moved_aside(cache)
    assert whole(cache)


def test_a_damaged_file_that_cannot_be_moved_is_told_in_one_line(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(path)
    path.write_bytes(b"rubbish")

    def refused(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.rename", refused)
    cache = Cache(path)
    assert cache.builds(SCHEME, "top", 3) == []
    assert cache.claims(SCHEME, "top", 3) == []
    assert cache.faults == [f"{path}: cannot be read (Permission denied); the search goes on without"]
    assert path.read_bytes() == b"rubbish"


# -- places that cannot be written ------------------------------------------------------------------------------------


def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """No connection may make the file any larger."""
    connected = module._connected

    def with_no_room(path: Path, mode: str) -> sqlite3.Connection:
        connection = connected(path, mode)
        connection.execute("PRAGMA max_page_count = 1")  # as many as there are, at least
        return connection

    monkeypatch.setattr(module, "_connected", with_no_room)


def test_a_full_disk_is_told_once_and_costs_nothing_that_was_kept(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(path)
    before = path.read_bytes()
    cache = Cache(path)
    with monkeypatch.context() as patched:
        full_disk(patched)
        cache.keep_settled("much", {"much": "x" * 100_000})
        assert whole(cache), "it is still read"
    cache.keep_settled("little", {})
    assert cache.settled("little") is None, "it is not tried again and again"
    assert cache.faults == [f"{path}: cannot be written (database or disk is full); nothing is kept"]
    assert path.read_bytes() == before
    assert len(list(path.parent.iterdir())) == 1


def test_a_full_disk_with_no_file_yet(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    full_disk(monkeypatch)
    cache = Cache(path)
    cache.keep_build(smallest(3))
    cache.keep_claim(CLAIM)
    assert cache.builds(SCHEME, "top", 3) == []
    (told,) = cache.faults
    assert "full" in told


@pytest.mark.parametrize("place", ["file/known.sqlite", "file/deep/known.sqlite", "folder", "x" * 300])
def test_a_place_where_no_file_can_be(tmp_path: Path, place: str) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    (tmp_path / "folder").mkdir()
    cache = Cache(tmp_path / place)
    asked_and_kept(cache)
    assert cache.builds(SCHEME, "top", 3) == []
    assert 1 <= len(cache.faults) <= 2, "for reading and for writing"
    assert all(line.startswith(f"{tmp_path / place}: cannot be ") and "\n" not in line for line in cache.faults)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["file", "folder"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written(path: Path) -> None:
    filled(path)
    path.parent.chmod(0o500)
    cache = Cache(path)
    assert whole(cache)
    cache.keep_claim(replace(CLAIM, parts=9))
    path.parent.chmod(0o700)
    (told,) = cache.faults
    assert "cannot be written" in told
    assert whole(Cache(path))


def test_laws_are_told_as_they_were(path: Path) -> None:
    """Claims of other laws come back with theirs: whoever asks sees whether they count."""
    cache = filled(path)
    old = replace(CLAIM, laws="0" * 64)
    cache.keep_claim(old)
    assert {one.laws for one in cache.claims(SCHEME, "top", 3)} == {LAWS, old.laws}
