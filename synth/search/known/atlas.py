"""The builds that come with splitwright: ``specs/atlas/*.json``, one file a scheme (schema splitwright-atlas-1)."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeVar

from sim.datafiles import data_dir
from sim.errors import InputError
from sim.world.files.places import json_place, printable
from sim.world.files.schema import check_document
from sim.world.files.strict_json import parse_json
from sim.world.files.text import read_text
from sim.world.files.writing import write_text
from synth.ask.spec import Face
from synth.search.known.build import (
    SCHEMA,
    KnownBuild,
    KnownClaim,
    KnownFailure,
    Store,
    build_of,
    claim_of,
    failure_of,
)

FORMAT: Final = "splitwright-atlas/1"
One = TypeVar("One", KnownBuild, KnownClaim, KnownFailure)


@cache
def atlas() -> Store:
    """The atlas of this installation; it is read when something is first asked of it."""
    return Atlas(data_dir("atlas"))


class Atlas:
    """The builds, claims and failures of the files of a folder; none where there is no such folder.

    A file that cannot be read, or is of another form, is passed over with a line in ``faults``; so are single entries.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._read: dict[str, _Contents] = {}

    @property
    def faults(self) -> list[str]:
        """One line for each file that was read so far, with something in it that was passed over."""
        return [fault for contents in self._read.values() for fault in contents.faults]

    def builds(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownBuild]:
        """The builds of a row, in the order of the file."""
        return _of(self._contents(scheme).builds, scheme, face, outputs)

    def stretchable(self, scheme: str, face: Face) -> Sequence[KnownBuild]:
        """The builds of all lengths of row."""
        return [one for one in self._contents(scheme).builds if (one.scheme, one.face) == (scheme, face)]

    def claims(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownClaim]:
        """All claims on a row."""
        return _of(self._contents(scheme).claims, scheme, face, outputs)

    def failures(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownFailure]:
        """All failures on a row."""
        return _of(self._contents(scheme).failures, scheme, face, outputs)

    def _contents(self, scheme: str) -> _Contents:
        """The scheme's file, read when it is first asked for: to read all of them takes half a second."""
        if scheme not in self._read:
            contents = self._read[scheme] = _Contents()
            if (path := file_of(self._folder, scheme)).exists():
                contents.take(path)
        return self._read[scheme]


def file_of(folder: Path, scheme: str) -> Path:
    """The file of a scheme."""
    return folder / f"{scheme.replace(' ', '-')}.json"


class _Contents:
    """What all files hold."""

    def __init__(self) -> None:
        self.builds: list[KnownBuild] = []
        self.claims: list[KnownClaim] = []
        self.failures: list[KnownFailure] = []
        self.faults: list[str] = []

    def take(self, path: Path) -> None:
        """All entries of a file that can be read, and a line about the first that cannot."""
        faults: list[InputError] = []
        try:
            document = parse_json(read_text(str(path), "an atlas is JSON text"))
            check_document(document, SCHEMA)
        except InputError as error:
            self.faults.append(f"{error.within(printable(str(path)))}; the file is passed over")
            return
        self.builds += _entries(document, "builds", build_of, faults)
        self.claims += _entries(document, "claims", claim_of, faults)
        self.failures += _entries(document, "failures", failure_of, faults)
        if faults:
            passed = "this one is" if len(faults) == 1 else f"this and {len(faults) - 1} more are"
            self.faults.append(f"{faults[0].within(printable(str(path)))}; {passed} passed over")


def _entries(
    document: dict[str, Any], name: str, read: Callable[[Any], One], faults: list[InputError]
) -> Iterable[One]:
    for i, one in enumerate(document[name]):
        try:
            yield read(one)
        except InputError as error:
            faults.append(error.under(json_place((name, i))))


def _of(all_of_them: Iterable[One], scheme: str, face: Face, outputs: int) -> list[One]:
    return [one for one in all_of_them if (one.scheme, one.face, one.outputs) == (scheme, face, outputs)]


def write_atlas(
    folder: Path,
    builds: Sequence[KnownBuild],
    claims: Sequence[KnownClaim] = (),
    failures: Sequence[KnownFailure] = (),
) -> list[Path]:
    """Write a file for each scheme, sorted, in the place of an older one; the paths. The folder must be there.

    Raises InputError where a file cannot be written.
    """
    written = []
    everything: list[KnownBuild | KnownClaim | KnownFailure] = [*builds, *claims, *failures]
    for scheme in sorted({one.scheme for one in everything}):
        entries = {
            "builds": _sorted(builds, scheme),
            "claims": _sorted(claims, scheme),
            "failures": _sorted(failures, scheme),
        }
        rows = (f' "{name}": [{_rows(documents)}]' for name, documents in entries.items())
        path = file_of(folder, scheme)
        write_text(path, f'{{"format": {json.dumps(FORMAT)},\n' + ",\n".join(rows) + "}\n")
        written.append(path)
    return written


def _sorted(all_of_them: Iterable[KnownBuild | KnownClaim | KnownFailure], scheme: str) -> list[dict[str, Any]]:
    documents = [one.as_json() for one in all_of_them if one.scheme == scheme]
    return sorted(documents, key=lambda one: (one["face"], one["outputs"], one["handovers"], json.dumps(one)))


def _rows(documents: Iterable[dict[str, Any]]) -> str:
    """One entry a line."""
    return ",\n  ".join(json.dumps(one, ensure_ascii=False) for one in documents)
