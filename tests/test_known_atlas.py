"""The atlas: what is written is read back; what is no atlas is told in one line and passed over; when claims count."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commands import REPOSITORY, faults
from known_builds import CLAIM, FAILURE, LAWS, SCHEME, made_up, overfull, smallest
from synth.confirm.confirmation import confirm, terms_of
from synth.model.images import moved
from synth.read.spec_file import load_spec
from synth.schemes.registry import schemes
from synth.search.known.atlas import Atlas, atlas, file_of, write_atlas
from synth.search.known.build import SCHEMA, at_origin, build_of

OTHER = made_up(scheme="another row", face="side")


def written(folder: Path) -> Path:
    """An atlas of two schemes; the file of the first."""
    first, _ = write_atlas(folder, [OTHER, smallest(3), smallest(2)], [CLAIM], [FAILURE])[::-1]
    assert first.name == "burst-row.json"
    return first


# -- there and back ---------------------------------------------------------------------------------------------------


def test_what_is_written_comes_back_equal(tmp_path: Path) -> None:
    written(tmp_path)
    read = Atlas(tmp_path)
    assert read.builds(SCHEME, "top", 3) == [smallest(3)]
    assert read.builds("another row", "side", 1) == [OTHER]
    assert read.stretchable(SCHEME, "top") == [smallest(2), smallest(3)]
    assert read.claims(SCHEME, "top", 3) == [CLAIM]
    assert read.failures(SCHEME, "top", 3) == [FAILURE]
    for scheme, face, outputs in ((SCHEME, "side", 3), (SCHEME, "top", 4), ("another row", "top", 3)):
        assert not read.builds(scheme, face, outputs)  # type: ignore[arg-type]
        assert not read.claims(scheme, face, outputs)  # type: ignore[arg-type]
        assert not read.failures(scheme, face, outputs)  # type: ignore[arg-type]
    assert read.faults == []


def test_a_file_follows_its_schema_and_does_not_depend_on_the_order(tmp_path: Path) -> None:
    path = written(tmp_path)
    text = path.read_text(encoding="utf-8")
    document = json.loads(text)
    assert faults(document, SCHEMA) == []
    assert [len(document[name]) for name in ("builds", "claims", "failures")] == [2, 1, 1]
    write_atlas(tmp_path, [smallest(2), smallest(3)], [CLAIM], [FAILURE])
    assert path.read_text(encoding="utf-8") == text


def test_no_folder_is_an_empty_atlas(tmp_path: Path) -> None:
    read = Atlas(tmp_path / "none")
    assert read.builds(SCHEME, "top", 3) == []
    assert read.faults == []


def test_an_atlas_is_read_once_and_not_before_it_is_asked(tmp_path: Path) -> None:
    read = Atlas(tmp_path)
    path = written(tmp_path)
    assert read.builds(SCHEME, "top", 3) == [smallest(3)]
    path.unlink()
    assert read.claims(SCHEME, "top", 3) == [CLAIM]


def test_the_atlas_that_comes_with_splitwright_is_whole() -> None:
    assert atlas() is atlas()
    assert list(atlas().builds(SCHEME, "top", 3)), "it is found where data files are"
    for scheme in schemes():
        atlas().stretchable(scheme, "top")
    assert atlas().faults == []


def test_a_build_of_the_atlas_works_under_the_handovers_it_states() -> None:
    """The first one; whoever takes one runs it again."""
    (build, *_) = atlas().builds(SCHEME, "top", 3)
    spec = load_spec(REPOSITORY / "specs" / "three-kilns.toml")
    assert spec.outputs == build.outputs
    asked = terms_of(replace(spec, scheme=build.scheme))
    assert set(build.handovers) <= set(confirm(build.layout, spec.rules, needed=(), terms=asked).handovers)


# -- a build ----------------------------------------------------------------------------------------------------------


def test_a_build_stands_at_the_origin_in_the_box_around_its_parts() -> None:
    build = made_up()
    layout = replace(build.layout, title="Clay", streams=(replace(build.layout.streams[0], name="clay"),))
    aside = moved(layout, (2, 1, 4), (9, 9, 9))
    assert at_origin(aside) == build.layout
    of_two = replace(build.layout, streams=layout.streams * 2)
    for wrong in (aside, layout, of_two, replace(build.layout, streams=())):
        with pytest.raises(ValueError, match="stream"):
            replace(build, layout=wrong)
    with pytest.raises(ValueError, match="2 outputs"):
        replace(build, outputs=2)


def test_a_plan_says_all_of_a_build() -> None:
    """Delay, finish, order of the parts, items, overrides."""
    build = made_up(width=4, height=3, supports=2)
    document = json.loads(json.dumps(build.as_json()))
    assert build_of(document) == build
    turned = replace(build, layout=replace(build.layout, parts=build.layout.parts[::-1]))
    assert build_of(turned.as_json()) == turned
    assert turned != build


# -- files and entries that are none ----------------------------------------------------------------------------------

BAD_FILES: dict[str, bytes] = {
    "empty": b"",
    "no JSON": b"{",
    "a list": b"[]",
    "another format": b'{"format": "splitwright-atlas/2", "builds": [], "claims": [], "failures": []}',
    "no claims": b'{"format": "splitwright-atlas/1", "builds": [], "failures": []}',
    "an unknown key": b'{"format": "splitwright-atlas/1", "builds": [], "claims": [], "failures": [], "more": 1}',
    "builds no list": b'{"format": "splitwright-atlas/1", "builds": {}, "claims": [], "failures": []}',
    "no text": b"\xff\xfe\x00",
    "nested": b"[" * 100_000,
}


def told_once(read: Atlas, path: Path) -> str:
    """The one fault, which names the file."""
    (told,) = read.faults
    assert told.startswith(f"{path}: ")
    assert "\n" not in told
    assert "passed over" in told
    return told


@pytest.mark.parametrize("how", BAD_FILES)
def test_a_file_that_is_none_is_passed_over(tmp_path: Path, how: str) -> None:
    bad = file_of(tmp_path, "muster row")
    bad.write_bytes(BAD_FILES[how])
    written(tmp_path)
    read = Atlas(tmp_path)
    assert read.builds("muster row", "top", 3) == []
    assert read.builds(SCHEME, "top", 3) == [smallest(3)]
    told_once(read, bad)
    assert bad.read_bytes() == BAD_FILES[how]


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_a_file_that_is_cut_off_is_passed_over(tmp_path: Path, share: float) -> None:
    path = written(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    read = Atlas(tmp_path)
    assert read.builds(SCHEME, "top", 3) == []
    assert read.builds("another row", "side", 1) == [OTHER]
    told_once(read, path)


def test_a_folder_of_that_name_is_passed_over(tmp_path: Path) -> None:
    written(tmp_path)
    folder = file_of(tmp_path, "muster row")
    folder.mkdir()
    read = Atlas(tmp_path)
    assert read.builds("muster row", "top", 3) == []
    assert read.builds(SCHEME, "top", 3) == [smallest(3)]
    told_once(read, folder)


def put(key: str, value: Any) -> Callable[[dict[str, Any]], None]:
    return lambda entry: entry.__setitem__(key, value)


def line(number: int, text: str) -> Callable[[dict[str, Any]], None]:
    return lambda entry: entry["plan"].__setitem__(number, text)


BAD_ENTRIES: dict[str, tuple[str, Callable[[dict[str, Any]], Any], str]] = {
    "a part that is none": ("builds", line(5, "?  ?  ?"), "builds[0].plan"),
    "a plan that is text": ("builds", put("plan", "splitwright-plan/1"), "builds[0].plan"),
    "a plan that is none": ("builds", put("plan", ["layer 0", "."]), "builds[0].plan"),
    "no plan": ("builds", lambda entry: entry.pop("plan"), "builds[0].plan"),
    "no stream": ("builds", lambda entry: entry["plan"].pop(3), "builds[0].plan"),
    "a stream of another name": (
        "builds", lambda entry: line(3, entry["plan"][3].replace("feed", "clay"))(entry), "builds[0].plan",
    ),
    "other outputs": ("builds", put("outputs", 5), "builds[0].plan"),
    "a title": ("builds", lambda entry: entry["plan"].insert(1, "title  Clay"), "builds[0].plan"),
    "more room than it takes": ("builds", lambda entry: entry["plan"].extend(["", "layer 4", "."]), "builds[0].plan"),
    "a scheme that is a number": ("builds", put("scheme", 3), "builds[0].scheme"),
    "no such face": ("builds", put("face", "back"), "builds[0].face"),
    "no handover": ("builds", put("handovers", []), "builds[0].handovers"),
    "a digest that is none": ("builds", put("laws", LAWS[:-1]), "builds[0].laws"),
    "an entry that is a list": ("builds", lambda entry: entry.clear(), "builds[0]"),
    "a box of two sides": ("claims", put("box", [5, 2]), "claims[0].box"),
    "a box of half a cell": ("claims", put("box", [5, 2, 2.5]), "claims[0].box"),
    "no parts": ("claims", put("parts", 0), "claims[0].parts"),
    "parts untold": ("claims", lambda entry: entry.pop("parts"), "claims[0].parts"),
    "effort below nothing": ("failures", put("effort", -1), "failures[0].effort"),
    "a number without end": ("failures", put("effort", 10**400), "failures[0].effort"),
}  # fmt: skip


@pytest.mark.parametrize("how", BAD_ENTRIES)
def test_an_entry_that_is_none_is_passed_over_and_the_others_are_not(tmp_path: Path, how: str) -> None:
    path = written(tmp_path)
    document = json.loads(path.read_text(encoding="utf-8"))
    kind, spoil, field = BAD_ENTRIES[how]
    spoil(document[kind][0])
    path.write_text(json.dumps(document), encoding="utf-8")
    read = Atlas(tmp_path)
    assert read.stretchable(SCHEME, "top") == ([smallest(3)] if kind == "builds" else [smallest(2), smallest(3)])
    assert read.claims(SCHEME, "top", 3) == ([] if kind == "claims" else [CLAIM])
    assert read.failures(SCHEME, "top", 3) == ([] if kind == "failures" else [FAILURE])
    assert told_once(read, path).startswith(f"{path}: {field}")


def test_many_faults_of_a_file_are_one_line(tmp_path: Path) -> None:
    path = written(tmp_path)
    document = json.loads(path.read_text(encoding="utf-8"))
    document["builds"][1]["plan"] = []
    document["claims"] = [None, {}]
    path.write_text(json.dumps(document), encoding="utf-8")
    read = Atlas(tmp_path)
    assert read.stretchable(SCHEME, "top") == [smallest(2)]
    assert "2 more" in told_once(read, path)


def test_a_build_that_no_plan_can_say_is_refused_as_one_of_bad_form() -> None:
    """What a node starts with is held against the default rulebook."""
    with pytest.raises(Exception, match="slots") as fault:
        build_of(overfull().as_json())
    assert str(fault.value).startswith("plan")
