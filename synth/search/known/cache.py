"""The user's cache: what searches on this machine found and proved, and pieces of rows, in one SQLite file.

Several runs may use it at once. It helps and is never in the way: whatever is wrong with the file is told in one line,
and the search goes on. A damaged file is moved aside, never deleted, and a new one begun with what of it can be read.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from time import monotonic, sleep
from typing import Any, Final, Generic, TypeVar

from sim.errors import InputError
from sim.world.files.places import counted, printable
from sim.world.files.schema import check_document
from sim.world.files.strict_json import parse_json
from synth.ask.spec import Face
from synth.model.images import canonical_key
from synth.model.plots import Size
from synth.search.known.build import KnownBuild, KnownClaim, KnownFailure, build_of, claim_of, failure_of

VERSION: Final = 1
"""Of the tables (``PRAGMA user_version``)."""
BUSY_S: Final = 10.0
"""How long to wait for other runs, with something to be written."""
READ_BUSY_S: Final = 0.5
"""How long with something to be read: somebody waits for it."""
DAMAGED: Final = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR, sqlite3.SQLITE_CONSTRAINT}
"""What SQLite says of a file that is cut off, none of its own, of a form it does not know, or contradicts itself."""

Document = dict[str, Any]
One = TypeVar("One")
Value = TypeVar("Value")


def cache_folder() -> Path:
    """The user's cache folder for splitwright."""
    return Path(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")) / "splitwright"


def default_file() -> Path:
    """Where known builds are kept."""
    return cache_folder() / "known.sqlite"


class Cache:
    """The cache in the file ``path``; nothing is made before something is kept. It is a ``Store``, and keeps.

    ``faults``: one line for each thing that went wrong. After a fault in writing this object keeps nothing more,
    after one in reading it reads nothing more.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.faults: list[str] = []
        self._keeps = self._reads = True

    # -- what is known

    def builds(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownBuild]:
        """The builds of a row, the newest first."""
        return self._all(BUILDS, scheme=scheme, face=face, outputs=outputs)

    def stretchable(self, scheme: str, face: Face) -> Sequence[KnownBuild]:
        """The builds of all lengths of row, the newest first."""
        return self._all(BUILDS, scheme=scheme, face=face)

    def claims(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownClaim]:
        """All claims on a row, the newest first."""
        return self._all(CLAIMS, scheme=scheme, face=face, outputs=outputs)

    def failures(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownFailure]:
        """All failures on a row, the newest first; several of one box where efforts differed."""
        return self._all(FAILURES, scheme=scheme, face=face, outputs=outputs)

    def pieces_for(self, key: Document) -> Document | None:
        """The document of pieces (schema splitwright-pieces-1, "set") that is kept for a key."""
        return next(iter(self._all(PIECES, key=_text(key))), None)

    def settled(self, digest: str) -> Document | None:
        """What a search has come to, kept under the digest of its question."""
        found = next(iter(self._all(SETTLED, key=digest)), None)
        return None if found is None else found["state"]

    # -- what is kept

    def keep_build(self, build: KnownBuild) -> None:
        """Keep a build in the place of its like (one of each set of images).

        Of one row the ``BUILDS.kept`` that no other beats in size and parts are kept first, then the newest.
        """
        self._put(BUILDS, build.as_json())

    def keep_claim(self, claim: KnownClaim) -> None:
        """Keep what was proved."""
        self._put(CLAIMS, claim.as_json())

    def keep_failure(self, failure: KnownFailure) -> None:
        """Keep what was looked for in vain."""
        self._put(FAILURES, failure.as_json())

    def keep_pieces(self, key: Document, document: Document) -> None:
        """Keep pieces in the place of older ones for the same key."""
        self._put(PIECES, {**document, "for": key})

    def keep_settled(self, digest: str, document: Document) -> None:
        """Keep what a search has come to, in the place of what it had come to before."""
        self._put(SETTLED, {"question": digest, "state": document})

    # -- the file

    def _all(self, table: _Table[One], **where: Any) -> list[One]:
        return self._use(lambda connection: _found(connection, table, where), [])

    def _put(self, table: _Table[Any], document: Document) -> None:
        """Keep the document, if it can be read again."""
        try:
            entry = table.read(document)
        except InputError as error:
            return self._told(f"not kept, since it could not be read again: {error}")

        def put(connection: sqlite3.Connection) -> None:
            _insert(connection, table, entry, document)
            connection.execute(table.pruning, table.row(entry))

        self._use(put, None, writes=True)

    def _use(self, work: Callable[[sqlite3.Connection], Value], otherwise: Value, *, writes: bool = False) -> Value:
        """What one transaction comes to; ``otherwise``, where there is no such file, or with a line in ``faults``."""
        if not (self._keeps if writes else self._reads):
            return otherwise
        try:
            if writes:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            seen = _identity(self.path)
            if seen is None and not writes:
                return otherwise
            try:
                return self._transaction(work, otherwise, writes)
            except _Damaged as error:
                self._begin_anew(seen, str(error))
                return self._transaction(work, otherwise, writes)
        except (sqlite3.Error, OSError, _Damaged) as error:
            self._keeps = self._keeps and not writes
            self._reads = self._reads and writes
            what, then = ("written", "nothing is kept") if writes else ("read", "the search goes on without")
            self._told(f"cannot be {what} ({getattr(error, 'strerror', None) or error}); {then}")
            return otherwise

    def _transaction(self, work: Callable[[sqlite3.Connection], Value], otherwise: Value, writes: bool) -> Value:
        lock = _held(self.path.parent, fcntl.LOCK_SH) if writes else nullcontext()
        with lock, closing(_connected(self.path, "rwc" if writes else "rw")) as connection:
            try:
                connection.execute("BEGIN IMMEDIATE" if writes else "BEGIN")
                if not _has_tables(connection, make=writes):
                    return otherwise
                value = work(connection)
                connection.execute("COMMIT")
            except sqlite3.DatabaseError as error:
                if self._is_damage(getattr(error, "sqlite_errorcode", 0)):
                    raise _Damaged(str(error)) from None
                raise
            except UnicodeDecodeError:  # in what SQLite says of it
                raise _Damaged("it holds what is no text") from None
            return value

    def _is_damage(self, code: int) -> bool:
        """The error is the file's fault; so it is where a file that may be written says of itself that it may not."""
        return code & 0xFF in DAMAGED or (code == sqlite3.SQLITE_READONLY and os.access(self.path, os.W_OK))

    def _begin_anew(self, seen: object, fault: str) -> None:
        """Move the file that was ``seen`` aside, unless another run has, and keep what of it can be read."""
        with _held(self.path.parent, fcntl.LOCK_EX):
            if _identity(self.path) != seen:
                return
            names = (self.path.with_name(f"{self.path.name}.damaged-{i}") for i in count(1))
            aside = next(name for name in names if not name.exists())
            for suffix in ("-journal", "-wal", "-shm", ""):  # a journal left behind would be taken for the new file's
                with suppress(FileNotFoundError):
                    os.rename(f"{self.path}{suffix}", f"{aside}{suffix}")
        rows = list(_readable(aside))

        def put(connection: sqlite3.Connection) -> None:
            for table, document, entry in rows:
                _insert(connection, table, entry, document, otherwise="IGNORE")

        self._transaction(put, None, writes=True)
        begun = f"moved to {aside.name}, and a new one begun with {counted(len(rows), 'row')} of it"
        self._told(f"is damaged ({printable(fault)}); {begun}")

    def _told(self, fault: str) -> None:
        line = str(InputError(fault, file=printable(str(self.path))))
        if line not in self.faults:
            self.faults.append(line)


class _Damaged(Exception):
    """The file holds what it should not hold, or lacks what it should."""


# -- rows


@dataclass(frozen=True, slots=True)
class _Table(Generic[One]):
    """Entries of one kind. ``read``: of a document, raising InputError where it states none; ``row``: what entries are
    looked up by and measured by; ``key``: the same for two of which the newer one takes the place of the other.

    ``kept``: how many are kept, ``within`` such a set, the first in the order of ``rank``, then the newest.
    """

    name: str
    read: Callable[[Any], One]
    row: Callable[[One], Document]
    key: Callable[[One], str]
    kept: int
    within: str = "TRUE"
    rank: str = ""

    @property
    def pruning(self) -> str:
        """The statement that deletes what is not to be kept."""
        order = f"{self.rank}rowid DESC LIMIT -1 OFFSET {self.kept}"
        which = f"SELECT rowid FROM {self.name} AS one WHERE {self.within} ORDER BY {order}"
        return f"DELETE FROM {self.name} WHERE rowid IN ({which})"


def _row(one: KnownBuild | KnownClaim | KnownFailure, size: Size, parts: int | None) -> Document:
    width, depth, height = size
    return {
        **{"scheme": one.scheme, "face": one.face, "outputs": one.outputs, "handovers": _text(one.handovers)},
        **{"width": max(width, depth), "depth": min(width, depth), "height": height, "parts": parts},
    }


def _build_key(build: KnownBuild) -> str:
    image = hashlib.sha256(repr(canonical_key(build.layout)).encode()).hexdigest()
    return _text([build.scheme, build.face, build.outputs, build.handovers, image])


def _pieces(document: Any) -> Document:
    check_document(document, "splitwright-pieces-1", "set")
    checked: Document = document
    return checked


def _settled(document: Any) -> Document:
    checked: Document = document
    match document:
        case {"question": str(), "state": dict()}:
            return checked
    raise InputError("is not what a search has come to")


_SAME_ROW: Final = "scheme = :scheme AND face = :face AND outputs = :outputs AND handovers = :handovers"
_MEASURES: Final = ("width", "depth", "height", "parts")
_NO_MORE: Final = " AND ".join(f"other.{name} <= one.{name}" for name in _MEASURES)
_LESS: Final = " OR ".join(f"other.{name} < one.{name}" for name in _MEASURES)
_BEATEN: Final = f"EXISTS (SELECT * FROM builds AS other WHERE {_SAME_ROW} AND {_NO_MORE} AND ({_LESS})), "

BUILDS: Final = _Table(
    "builds", build_of, lambda b: _row(b, b.layout.size, len(b.layout.parts)), _build_key, 20, _SAME_ROW, _BEATEN
)
CLAIMS: Final = _Table("claims", claim_of, lambda c: _row(c, c.box, c.parts), lambda c: _text(c.as_json()), 20_000)
FAILURES: Final = _Table("failures", failure_of, lambda f: _row(f, f.box, None), lambda f: _text(f.as_json()), 5_000)
PIECES: Final = _Table("pieces", _pieces, lambda _: {}, lambda document: _text(document["for"]), 1_000)
SETTLED: Final = _Table("settled", _settled, lambda _: {}, lambda document: str(document["question"]), 200)
TABLES: Final[tuple[_Table[Any], ...]] = (BUILDS, CLAIMS, FAILURES, PIECES, SETTLED)
_COLUMNS: Final = {
    **{"scheme": "TEXT", "face": "TEXT", "outputs": "INTEGER", "handovers": "TEXT", "width": "INTEGER"},
    **{"depth": "INTEGER", "height": "INTEGER", "parts": "INTEGER", "key": "TEXT UNIQUE", "document": "TEXT"},
}
"""Of every table; ``digest``, over all of them, tells a row that has been changed."""
_STATED: Final = ", ".join(f"{name} {kind}" for name, kind in {**_COLUMNS, "digest": "BLOB"}.items())
_MADE_BY: Final = {f"CREATE TABLE {table.name} ({_STATED})".encode() for table in TABLES}


def _insert(
    connection: sqlite3.Connection, table: _Table[One], entry: One, document: Document, otherwise: str = "REPLACE"
) -> None:
    stated = {**table.row(entry), "key": table.key(entry), "document": _text(document)}
    row = [stated.get(name) for name in _COLUMNS]
    marks = ", ".join("?" * (len(row) + 1))
    connection.execute(f"INSERT OR {otherwise} INTO {table.name} VALUES ({marks})", (*row, _digest(row)))


def _digest(row: Sequence[Any]) -> bytes:
    plain = [value.encode() if isinstance(value, str) else value for value in row]
    return hashlib.sha256(repr(plain).encode()).digest()


def _found(connection: sqlite3.Connection, table: _Table[One], where: Document) -> list[One]:
    """The entries, the newest first. Raises _Damaged where a row is not as it was written."""
    conditions = " AND ".join(f"{name} = :{name}" for name in where)
    statement = f"SELECT * FROM {table.name} WHERE {conditions} ORDER BY rowid DESC"
    return [_entry(table, row)[1] for row in connection.execute(statement, where)]


def _entry(table: _Table[One], row: Sequence[Any]) -> tuple[Document, One]:
    """The document and the entry of a row. Raises _Damaged where it is not as it was written."""
    *stated, digest = row
    if _digest(stated) != digest:
        raise _Damaged(f"a row of {table.name} has been changed")
    try:
        document = parse_json(stated[-1].decode())
        return document, table.read(document)
    except InputError as error:
        raise _Damaged(f"a row of {table.name}: {error}") from None


def _readable(path: Path) -> Iterator[tuple[_Table[Any], Document, Any]]:
    """Table, document and entry of all rows of a damaged file that are as they were written, the oldest first."""
    for table in TABLES:
        with suppress(sqlite3.Error, UnicodeDecodeError, _Damaged), closing(_connected(path, "ro")) as connection:
            connection.execute("PRAGMA writable_schema = ON")  # a file that is cut off is read as far as it goes
            if _has_tables(connection, make=False):
                for row in connection.execute(f"SELECT * FROM {table.name} ORDER BY rowid"):
                    with suppress(_Damaged):
                        yield table, *_entry(table, row)


def _text(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


# -- files


def _connected(path: Path, mode: str) -> sqlite3.Connection:
    busy = READ_BUSY_S if mode == "rw" else BUSY_S
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", busy, isolation_level=None, uri=True)
    connection.text_factory = bytes  # what is no UTF-8 is found where rows are read
    return connection


def _has_tables(connection: sqlite3.Connection, make: bool) -> bool:
    """The tables are there, or have been made in an empty file. Raises _Damaged for others."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    made_by = {sql for (sql,) in connection.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL")}
    if (version, made_by) == (VERSION, _MADE_BY):
        return True
    if version or made_by:
        raise _Damaged("it is of another version" if version != VERSION else "its tables are others")
    if make:
        for statement in sorted(_MADE_BY):
            connection.execute(statement.decode())
        connection.execute(f"PRAGMA user_version = {VERSION}")
    return make


def _identity(path: Path) -> tuple[int, int] | None:
    """Tells a file from another that takes its name while the first is kept; None: there is none."""
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    return found.st_dev, found.st_ino


@contextmanager
def _held(folder: Path, how: int) -> Iterator[None]:
    """The folder's lock: shared by those who write, held alone by whoever moves a file of it aside, so that nobody
    writes to a file that is on its way. Raises OSError where it cannot be had."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        until = monotonic() + BUSY_S
        while True:
            try:
                fcntl.flock(handle, how | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if monotonic() > until:
                    raise TimeoutError("other runs hold it") from None
            sleep(0.01)
        yield
    finally:
        os.close(handle)
