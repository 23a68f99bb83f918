"""What a search has come to, kept in a file: read back as it was, refused where it belongs elsewhere, gone on from."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from commands import faults
from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json, layout_to_json
from sim.world.files.reading import load_layout
from sim.world.layout import ItemKind
from synth.ask.spec import Demands, PartLimit, Spec
from synth.model.decode import items_of
from synth.model.plots import windows
from synth.read.spec_file import load_spec
from synth.schemes.scheme import DelayWindow, Windows
from synth.search.exact.boxes import Boxes
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, Report
from synth.search.exact.ledger import Ledger, cached, digest_of, opened
from synth.search.exact.worker import JobShare
from synth.search.known.cache import Cache
from synth.search.race import tighter
from synth.search.request import Request
from synth.search.result import Answer, Claim
from synth.solving.parallel.engine import Share

REPOSITORY = Path(__file__).resolve().parent.parent
SPEC = replace(load_spec(REPOSITORY / "specs" / "two-kilns.toml"), size=(4, 2, 4), scheme="burst row")
BOTH = (8, 7)
WINDOW = windows(SPEC, BOTH)
DIGEST = digest_of(SPEC, BOTH, WINDOW)
SCHEMA = "splitwright-search-1"

LAYOUT = load_layout(REPOSITORY / "specs" / "layouts" / "burst-row-of-two.plan")
CLAIMS = [
    Claim((3, 1, 4), "none exists", 0.25, BOTH, None, 3, 2, "2 candidates refused, each cut out by a sound no-good"),
    Claim((2, 2, 4), "none exists", 0.0, BOTH, 20, price=31, implied_by=(3, 2, 4)),
]


def saved(folder: Path) -> Path:
    """A file with two claims, cubes under different caps, and a layout."""
    path = folder / "search.json"
    fill(opened(path, DIGEST))
    return path


def fill(ledger: Ledger) -> None:
    boxes = Boxes(SPEC, WINDOW)
    (place,) = boxes[4, 2, 4].places
    place.note(Caps(parts=22), place.cubes[:3])
    place.note(Caps(), place.cubes[4:5])
    place.note(Caps(price=40), place.cubes[5:6])
    (closed,) = boxes[3, 1, 4].places
    closed.note(Caps(), closed.cubes)
    ledger.save(CLAIMS, boxes, [LAYOUT], 80_000)


# -- there and back ---------------------------------------------------------------------------------------------------


def test_what_was_saved_is_read_back(tmp_path: Path) -> None:
    path = saved(tmp_path)
    assert faults(json.loads(path.read_text(encoding="utf-8")), SCHEMA) == []
    ledger = opened(path, DIGEST)
    assert ledger.closed == CLAIMS
    assert ledger.conflicts == 80_000
    assert [layout_to_json(one) for one in ledger.layouts] == [layout_to_json(LAYOUT)]
    boxes = Boxes(SPEC, WINDOW)
    ledger.restore(boxes, Caps())
    (place,) = boxes[4, 2, 4].places
    cubes = place.cubes
    assert place.left(Caps()) == [*cubes[:4], *cubes[5:]]
    assert place.left(Caps(parts=22)) == [cubes[3], *cubes[5:]]
    assert place.left(Caps(parts=10)) == [cubes[3], *cubes[5:]]
    assert place.left(Caps(price=40)) == [*cubes[:4], *cubes[6:]]
    # the cubes of a box that is ruled out as a whole need not be kept
    assert boxes[3, 1, 4].left(Caps()) == boxes[3, 1, 4].cubes()


def test_saving_what_was_read_gives_the_same_file(tmp_path: Path) -> None:
    path = saved(tmp_path)
    text = path.read_text(encoding="utf-8")
    ledger = opened(path, DIGEST)
    boxes = Boxes(SPEC, WINDOW)
    ledger.restore(boxes, Caps())
    ledger.save(ledger.closed, boxes, ledger.layouts, ledger.conflicts)
    assert path.read_text(encoding="utf-8") == text


def test_no_file_is_an_empty_ledger(tmp_path: Path) -> None:
    ledger = opened(tmp_path / "none.json", DIGEST)
    assert (ledger.closed, ledger.cubes, ledger.layouts, ledger.conflicts) == ([], [], [], 0)
    assert not (tmp_path / "none.json").exists()


def test_cubes_that_the_box_does_not_have_are_passed_over(tmp_path: Path) -> None:
    path = saved(tmp_path)
    document = json.loads(path.read_text(encoding="utf-8"))
    row = {"box": [4, 2, 4], "place": 0, "row": [[0, 0, 0], [1, 0, 0], [2, 0, 0]], "parts": None, "price": None}
    row["but_found"] = False
    document["cubes"] = [row, {**document["cubes"][0], "place": 7}]
    path.write_text(json.dumps(document), encoding="utf-8")
    boxes = Boxes(SPEC, WINDOW)
    opened(path, DIGEST).restore(boxes, Caps())
    assert boxes[4, 2, 4].left(Caps(parts=1, price=1)) == boxes[4, 2, 4].cubes()


def test_the_cache_gives_back_what_a_file_would(tmp_path: Path) -> None:
    """Under the digest of its question alone, to another run."""
    path = tmp_path / "known.sqlite"
    fill(cached(Cache(path), DIGEST))
    kept, found = opened(saved(tmp_path), DIGEST), cached(Cache(path), DIGEST)
    assert found.closed == kept.closed == CLAIMS
    assert found.cubes == kept.cubes != []
    assert (found.layouts, found.conflicts) == (kept.layouts, 80_000)
    other = cached(Cache(path), digest_of(replace(SPEC, outputs=3), BOTH, WINDOW))
    assert (other.closed, other.cubes, other.layouts, other.conflicts) == ([], [], [], 0)


@pytest.mark.parametrize(
    "document",
    [{}, {"format": "splitwright-search/1"}, {"format": "splitwright-search/0", "question": DIGEST}],
    ids=["empty", "cut off", "of another version"],
)
def test_what_cannot_be_read_in_the_cache_is_an_empty_ledger(tmp_path: Path, document: dict[str, Any]) -> None:
    """Of another version, say: it is in nobody's way, and is written anew."""
    cache = Cache(tmp_path / "known.sqlite")
    cache.keep_settled(DIGEST, document)
    ledger = cached(cache, DIGEST)
    assert (ledger.closed, ledger.cubes, ledger.layouts, ledger.conflicts) == ([], [], [], 0)
    fill(ledger)
    assert cached(cache, DIGEST).closed == CLAIMS
    assert cache.faults == []


# -- which question ---------------------------------------------------------------------------------------------------


def test_the_digest_does_not_depend_on_what_no_proof_depends_on() -> None:
    assert digest_of(replace(SPEC, title="another", order=("parts",)), BOTH, WINDOW) == DIGEST
    assert len(DIGEST) == 64


@pytest.mark.parametrize(
    ("spec", "needed", "window"),
    [
        (replace(SPEC, outputs=3), BOTH, WINDOW),
        (replace(SPEC, size=(4, 2, 5)), BOTH, WINDOW),
        (replace(SPEC, blocked=frozenset({(0, 0, 0)})), BOTH, WINDOW),
        (replace(SPEC, streams=(replace(SPEC.streams[0], source="W"),)), BOTH, WINDOW),
        (replace(SPEC, streams=(replace(SPEC.streams[0], enters="side"),)), BOTH, WINDOW),
        (replace(SPEC, limits={"relay": PartLimit(1, 1)}), BOTH, WINDOW),
        (replace(SPEC, limits={"relay": PartLimit(None, 2)}), BOTH, WINDOW),
        (replace(SPEC, overrides={"reach": 14}), BOTH, WINDOW),
        (replace(SPEC, overrides={"overheat_count": 1}), BOTH, WINDOW),
        (replace(SPEC, items={"clay": ItemKind(stack=1)}), BOTH, WINDOW),
        (SPEC, (8,), WINDOW),
        (SPEC, BOTH, {"tail": DelayWindow(WINDOW["tail"].least, WINDOW["tail"].most - 1)}),
        (replace(SPEC, scheme="muster row"), BOTH, WINDOW),
        (replace(SPEC, even_for="stream"), BOTH, WINDOW),
        (replace(SPEC, demands=Demands(throughput=9000)), BOTH, WINDOW),
    ],
    ids=["outputs", "size", "blocked", "source", "face", "most", "price", "rules", "finding", "items", "handovers",
         "window", "scheme", "streams", "throughput"],
)  # fmt: skip
def test_the_digest_depends_on_the_question(spec: Spec, needed: tuple[int, ...], window: Windows) -> None:
    """Of items and rules the proofs depend where candidates were refused: a trial decided."""
    assert digest_of(spec, needed, window) != DIGEST


# -- files that do not serve ------------------------------------------------------------------------------------------


def refused(path: Path, digest: str = DIGEST) -> str:
    with pytest.raises(InputError) as raised:
        opened(path, digest)
    text = str(raised.value)
    assert text.startswith(f"{path}: ")
    assert "\n" not in text
    return text.removeprefix(f"{path}: ")


def test_another_questions_file_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path)
    told = refused(path, digest_of(replace(SPEC, outputs=3), BOTH, WINDOW))
    assert told.startswith("question: ")
    assert "another question's" in told


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda found: found.update(format="splitwright-search/2"), "format"),
        (lambda found: found.pop("cubes"), "cubes"),
        (lambda found: found.update(more=1), "more"),
        (lambda found: found.update(question="0" * 63), "question"),
        (lambda found: found["closed"][0].update(verdict="found"), "closed[0].verdict"),
        (lambda found: found["closed"][1].update(box=[4, 2]), "closed[1].box"),
        (lambda found: found["closed"][0].pop("refused"), "closed[0]"),
        (lambda found: found["cubes"][0].update(parts="few"), "cubes[0].parts"),
        (lambda found: found["cubes"][1].update(row=[[0, 0]]), "cubes[1].row"),
        (lambda found: found.update(conflicts=-1), "conflicts"),
        (lambda found: found["layouts"][0].update(format="splitwright-layout/9"), "format"),
        (lambda found: found["layouts"][0]["parts"].pop(0), ""),
    ],
)
def test_a_spoilt_file_is_refused(tmp_path: Path, spoil: Callable[[dict[str, Any]], object], told: str) -> None:
    path = saved(tmp_path)
    document = json.loads(path.read_text(encoding="utf-8"))
    before = json.dumps(document)
    spoil(document)
    assert json.dumps(document) != before
    path.write_text(json.dumps(document), encoding="utf-8")
    assert told in refused(path)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": "splitwright-search/1"', "no JSON at all\n", "null"])
def test_what_is_no_ledger_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "search.json"
    path.write_text(text, encoding="utf-8")
    assert refused(path)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "search.json"
    path.write_bytes(b"\xff\xfe\x00")
    assert refused(path)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert refused(tmp_path)


def test_a_place_that_cannot_be_written_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    assert refused(tmp_path / "no" / "search.json") == "cannot be written: its folder does not exist"
    path = saved(tmp_path)
    text = path.read_text(encoding="utf-8")
    opened(path, DIGEST)
    opened(tmp_path / "new.json", DIGEST)
    assert list(tmp_path.iterdir()) == [path]
    assert path.read_text(encoding="utf-8") == text


# -- going on ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def jobs(monkeypatch: pytest.MonkeyPatch) -> list[Job]:
    """Every job that an engine was given."""
    given: list[Job] = []
    results = Share.results

    def noted(share: JobShare, asked: Iterable[Job], *others: Any) -> Iterator[Report]:
        def each() -> Iterator[Job]:
            for one in asked:
                given.append(one)
                yield one

        return results(share, each(), *others)

    monkeypatch.setattr(Share, "results", noted)
    return given


def search(spec: Spec, path: Path | None, stop_after: int | None = None) -> Answer:
    """One run; stopped when the search has had news so many times."""
    stop, news = threading.Event(), 0

    def noted(_: object) -> None:
        nonlocal news
        news += 1
        if stop_after is not None and news >= stop_after:
            stop.set()

    return tighter(spec, Request(3, 300.0, 1, ledger=path, ladder=noted, stop=stop))


def conclusions(answer: Answer) -> object:
    """All that an answer says, but for how long it took and what was tried on the way."""
    verdicts = {(one.box, one.parts, one.price, one.verdict) for one in answer.claims if one.verdict == "none exists"}
    best = answer.proposals[0].measures.as_json() if answer.proposals else None
    return answer.complete, [one.as_json() for one in answer.steps], verdicts, best


@pytest.mark.slow
def test_a_search_goes_on_where_it_was_stopped(tmp_path: Path, jobs: list[Job]) -> None:
    """Stopped again and again, it comes to the same; and once done, there is nothing left to solve."""
    spec = replace(SPEC, order=("volume", "parts"))
    whole = search(spec, None)
    assert whole.complete
    effort = len(jobs)
    path = tmp_path / "search.json"
    stopped_open = 0
    for _ in range(40):
        jobs.clear()
        answer = search(spec, path, stop_after=4)
        assert faults(json.loads(path.read_text(encoding="utf-8")), SCHEMA) == []
        if answer.complete:
            break
        stopped_open += 1
        assert len(jobs) < effort
    assert answer.complete
    assert stopped_open >= 2
    assert conclusions(answer) == conclusions(whole)

    jobs.clear()
    again = search(spec, path)
    assert jobs == []
    assert conclusions(again) == conclusions(answer)


@pytest.mark.slow
def test_nothing_is_left_to_solve_of_a_tried_measure_either(tmp_path: Path, jobs: list[Job]) -> None:
    """The shortest latency was proved by looking at every layout there is; that need not be done again."""
    path = tmp_path / "search.json"
    first = search(SPEC, path)
    assert first.complete
    assert any(one.every for one in jobs)
    jobs.clear()
    again = search(SPEC, path)
    assert conclusions(again) == conclusions(first)
    assert jobs == []


@pytest.mark.slow
def test_a_proof_that_there_is_none_is_kept(tmp_path: Path, jobs: list[Job]) -> None:
    """Under both handovers; for the one in force alone the file is not used, and the box is searched."""
    spec, path = replace(SPEC, size=(3, 2, 4)), tmp_path / "search.json"
    first = search(spec, path)
    assert first.complete
    assert {one.needed for one in jobs} == {BOTH, (8,)}
    jobs.clear()
    second = search(spec, path)
    assert {one.needed for one in jobs} == {(8,)}
    assert conclusions(second) == conclusions(first)


@pytest.mark.slow
def test_a_search_goes_on_from_the_cache(tmp_path: Path, jobs: list[Job]) -> None:
    """Without a file: what it came to is told again, and nothing is left to solve; another question is searched."""
    spec, path = replace(SPEC, size=(3, 2, 4)), tmp_path / "known.sqlite"
    first, again = (tighter(spec, Request(3, 300.0, 1, cache=cache)) for cache in (Cache(path), Cache(path)))
    assert first.complete
    assert conclusions(again) == conclusions(first)
    solved = [one.needed for one in jobs].count(BOTH)
    assert solved > 0
    jobs.clear()
    tighter(spec, Request(3, 300.0, 1, cache=Cache(path)))
    assert {one.needed for one in jobs} == {(8,)}, "what is asked for one handover alone is not kept"


@pytest.mark.slow
def test_layouts_are_tried_again_when_they_are_read(tmp_path: Path) -> None:
    """One that does not split evenly is dropped, whatever the file says of it; items are listed as the spec does."""
    spec, path = replace(SPEC, size=(6, 4, 4)), tmp_path / "search.json"
    unlocked = layout_to_json(LAYOUT)
    unlocked["parts"] = [part for part in unlocked["parts"] if part["kind"] not in ("inverter", "gauge")]
    kept = opened(path, digest_of(spec, BOTH, WINDOW))
    kept.save([], Boxes(spec, WINDOW), [layout_from_json(unlocked), LAYOUT], 0)
    answer = search(spec, path, stop_after=1)
    kept_one = layout_to_json(replace(LAYOUT, items=items_of(spec)))
    assert [layout_to_json(one.layout) for one in answer.proposals] == [kept_one]
