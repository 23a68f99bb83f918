"""The user's cache: what searches on this machine found and proved, and pieces of rows, in one SQLite file.

Several runs may use it at once. A cache is a help and never in the way: whatever is wrong with the file (damaged, in
use for too long, not to be written, the disk full) is told in one line, and the search goes on without.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final, TypeVar

from sim.errors import InputError
from sim.files.places import printable
from sim.files.strict_json import parse_json
from synth.images import canonical_key
from synth.known.build import KnownBuild, KnownClaim, KnownFailure, build_of, claim_of, failure_of
from synth.spec import Face

VERSION: Final = 1
"""Of the tables (``PRAGMA user_version``)."""
BUSY_S: Final = 30.0
"""How long to wait for another run that is writing."""
BUILDS_KEPT: Final = 20
SETTLED_KEPT: Final = 200
"""The newest of a kind that are kept: builds of one row, searches."""
_ROW: Final = "scheme TEXT, face TEXT, outputs INTEGER, handovers TEXT"
_TABLES: Final = (
    f"CREATE TABLE builds ({_ROW}, image TEXT, document TEXT, UNIQUE (scheme, face, outputs, handovers, image))",
    f"CREATE TABLE claims ({_ROW}, box TEXT, parts TEXT, laws TEXT, document TEXT,"
    " UNIQUE (scheme, face, outputs, handovers, box, parts, laws))",
    f"CREATE TABLE failures ({_ROW}, box TEXT, laws TEXT, document TEXT,"
    " UNIQUE (scheme, face, outputs, handovers, box, laws))",
    "CREATE TABLE pieces (key TEXT UNIQUE, document TEXT)",
    "CREATE TABLE settled (key TEXT UNIQUE, document TEXT)",
)
Value = TypeVar("Value")


def default_file() -> Path:
    """Where known builds are kept: in the user's cache folder."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "splitwright" / "known.sqlite"


class Cache:
    """The cache in the file ``path``; nothing is made before something is kept. A ``Store``, and it keeps.

    ``faults``: one line for each thing that went wrong.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.faults: list[str] = []

    # -- what is known

    def builds(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownBuild]:
        """The builds of a row, the newest first."""
        return self._all("builds", build_of, scheme=scheme, face=face, outputs=outputs)

    def stretchable(self, scheme: str, face: Face) -> Sequence[KnownBuild]:
        """The builds of all lengths of row."""
        return self._all("builds", build_of, scheme=scheme, face=face)

    def claims(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownClaim]:
        """All claims on a row."""
        return self._all("claims", claim_of, scheme=scheme, face=face, outputs=outputs)

    def failures(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownFailure]:
        """All failures on a row."""
        return self._all("failures", failure_of, scheme=scheme, face=face, outputs=outputs)

    def pieces_for(self, key: dict[str, Any]) -> dict[str, Any] | None:
        """The document kept for a key of pieces."""
        return self._one("pieces", _text(key))

    def settled(self, digest: str) -> dict[str, Any] | None:
        """What a search has come to, kept under the digest of its question."""
        return self._one("settled", digest)

    # -- what is kept

    def keep_build(self, build: KnownBuild) -> None:
        """Keep a build in the place of its like: one of each set of images, the newest of each row."""
        image = hashlib.sha256(repr(canonical_key(build.layout)).encode()).hexdigest()
        self._keep("builds", build.as_json(), image=image)

    def keep_claim(self, claim: KnownClaim) -> None:
        """Keep what was proved."""
        self._keep("claims", claim.as_json(), box=_text(claim.box), parts=_text(claim.parts), laws=claim.laws)

    def keep_failure(self, failure: KnownFailure) -> None:
        """Keep what was looked for in vain."""
        self._keep("failures", failure.as_json(), box=_text(failure.box), laws=failure.laws)

    def keep_pieces(self, key: dict[str, Any], document: dict[str, Any]) -> None:
        """Keep pieces in the place of older ones of the same key."""
        self._put("pieces", document, key=_text(key))

    def keep_settled(self, digest: str, document: dict[str, Any]) -> None:
        """Keep what a search has come to, in the place of what it had come to before."""
        self._put("settled", document, key=digest)

    # -- the file

    def _keep(self, table: str, document: dict[str, Any], **key: str) -> None:
        row = {name: document[name] for name in ("scheme", "face", "outputs")}
        self._put(table, document, **row, handovers=_text(document["handovers"]), **key)

    def _put(self, table: str, document: dict[str, Any], **key: Any) -> None:
        columns = {**key, "document": _text(document)}
        marks = ", ".join("?" * len(columns))
        with self._told_of(), self._opened(make=True) as connection:
            assert connection is not None
            statement = f"INSERT OR REPLACE INTO {table} ({', '.join(columns)}) VALUES ({marks})"
            connection.execute(statement, tuple(columns.values()))

    def _all(self, table: str, read: Callable[[Any], Value], **key: Any) -> list[Value]:
        found: list[Value] = []
        with self._told_of(), self._opened() as connection:
            if connection is not None:
                for document in _documents(connection, table, key):
                    found.append(read(document))
        return found

    def _one(self, table: str, key: str) -> dict[str, Any] | None:
        found = self._all(table, lambda document: document, key=key)
        return found[0] if found else None

    @contextmanager
    def _opened(self, make: bool = False) -> Iterator[sqlite3.Connection | None]:
        """A connection, within a transaction that is carried out unless an exception leaves; None: no file."""
        if not make and not self.path.exists():
            yield None
            return
        if make:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(self.path, timeout=BUSY_S, isolation_level=None)) as connection:
            connection.execute("BEGIN IMMEDIATE" if make else "BEGIN")
            if make and connection.execute("PRAGMA user_version").fetchone()[0] == 0:
                for table in _TABLES:
                    connection.execute(table)
                connection.execute(f"PRAGMA user_version = {VERSION}")
            yield connection
            connection.execute("COMMIT")

    @contextmanager
    def _told_of(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, OSError, InputError) as error:
            told = f"{printable(str(self.path))}: {error}; the search goes on without"
            if told not in self.faults:
                self.faults.append(told)


def _documents(connection: sqlite3.Connection, table: str, key: dict[str, Any]) -> Iterable[Any]:
    where = " AND ".join(f"{name} = ?" for name in key)
    statement = f"SELECT document FROM {table} WHERE {where} ORDER BY rowid DESC"
    for (text,) in connection.execute(statement, tuple(key.values())):
        yield parse_json(text)


def _text(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False)
