"""``splitwright watch`` as a user runs it: a process, and an editor that saves in its own way."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, UNEVEN, UPHILL, faults, run, run_as_user, started, told, waited_for
from hall_kits import SPEC as HALL

SCHEMA = "splitwright-watch-1"
TWO = LAYOUTS / "burst-row-of-two.plan"
TOO_TIGHT = """title = "Two in no room"
[split]
outputs = 2
[site]
size = [1, 1, 1]
[streams.feed]
item = "clay"
"""
EVEN = (
    "Even: feed 18 / 18 for this one load (feed=36, there at once), the layout's update order and handover 8 and 7.\n"
)
"""Six kilns, 10 x 4 x 5, or 4 x 10 x 5; the pieces of their rows come with splitwright."""


class Watched:
    """A watcher at work, and what it has printed so far."""

    def __init__(self, running: list[subprocess.Popen[str]], *words: str) -> None:
        self.process = started(running, "watch", *words)
        self.lines: list[str] = []
        self.told: list[str] = []
        """Layouts as they were found, once it has ended."""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        self.lines.extend(iter(self.process.stdout.readline, ""))

    def until(self, there: Callable[[str], bool]) -> str:
        """The text once ``there`` is so."""
        waited_for(self.process, lambda: there("".join(self.lines)))
        return "".join(self.lines)

    def document(self, number: int) -> dict[str, Any]:
        """The document of run ``number``, which follows the published schema."""
        waited_for(self.process, lambda: len(self.lines) >= number)
        found: dict[str, Any] = json.loads(self.lines[number - 1])
        assert faults(found, SCHEMA) == []
        assert found["run"] == number
        return found

    def close(self) -> None:
        """The end of it, however it stands."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._reader.join(timeout=30)
        for pipe in (self.process.stdout, self.process.stderr):
            assert pipe is not None
            pipe.close()

    def ended(self) -> str:
        """All that was printed, once Ctrl-C has ended it."""
        self.process.send_signal(signal.SIGINT)
        assert self.process.wait(timeout=60) == 0
        self._reader.join(timeout=30)
        assert self.process.stderr is not None
        self.told = told(self.process.stderr.read())
        return "".join(self.lines)


@pytest.fixture
def watching(running: list[subprocess.Popen[str]]) -> Iterator[Callable[..., Watched]]:
    """Starts watchers that are ended with the test."""
    made: list[Watched] = []

    def watch(*words: str) -> Watched:
        made.append(Watched(running, *words))
        return made[-1]

    yield watch
    for one in made:
        one.close()


def renamed_over(path: Path, text: str) -> None:
    """A save by rename."""
    beside = path.with_name(".saving")
    beside.write_text(text, encoding="utf-8")
    os.replace(beside, path)


def in_place(path: Path, text: str) -> None:
    """A save in place, in two goes: the first half alone is no layout."""
    with path.open("w", encoding="utf-8") as file:
        file.write(text[: len(text) // 2])
        file.flush()
        file.write(text[len(text) // 2 :])


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return Path(shutil.copy(TWO, tmp_path / "kilns.plan"))


@pytest.mark.parametrize("save", [renamed_over, in_place])
def test_each_save_is_told_with_what_has_changed(
    plan: Path, watching: Callable[..., Watched], save: Callable[[Path, str], None]
) -> None:
    """The gauge over the drain is taken away: facts 3 and 4 of the rulebook say that the items then stay in the row."""
    text = plan.read_text(encoding="utf-8")
    watched = watching(str(plan))
    first = watched.until(lambda text: "kilns.plan\n" in text and text.endswith("\n\n"))
    assert first.startswith(f"Watching {plan}; Ctrl-C ends it.\n")
    assert EVEN in first
    assert "Changed" not in first, "there was no save before"
    assert "Where it went wrong" not in first
    spoilt = text.replace("gN .  .  .  -", ".  .  .  .  -")
    assert spoilt != text
    save(plan, spoilt)
    second = watched.until(lambda text: text.count("kilns.plan\n") == 2 and text.endswith("\n\n")).removeprefix(first)
    assert "Changed since the last save:\n  removed the gauge at 0,2,2\n" in second
    save(plan, text)
    third = watched.until(lambda text: text.count("kilns.plan\n") == 3 and text.endswith("\n\n"))
    third = third.removeprefix(first + second)
    assert EVEN in third
    assert "  added a gauge, output N at 0,2,2\n" in third
    assert watched.ended().count("kilns.plan\n") == 3, "each save is told once"


def test_an_uneven_layout_is_told_with_the_place(watching: Callable[..., Watched], tmp_path: Path) -> None:
    path = Path(shutil.copy(UNEVEN, tmp_path / "row.plan"))
    found = watching(str(path), "--json").document(1)
    assert found["even"] is False
    assert [one["handover"] for one in found["trials"]] == [8, 7]
    for one in found["trials"]:
        assert one["verdict"] == "uneven"
        (mishap,) = one["mishaps"]
        assert (mishap["stream"], mishap["kind"]) == ("feed", "uneven")
        assert mishap["tick"] > 0
        assert mishap["text"]
    trial = json.loads(run("trial", str(path), "--json").stdout)
    assert found["trials"][0]["streams"][0]["delivered"] == trial["streams"][0]["delivered"]
    assert found["changes"] is None


def test_a_fault_is_told_and_watching_goes_on(plan: Path, watching: Callable[..., Watched]) -> None:
    text = plan.read_text(encoding="utf-8")
    watched = watching(str(plan), "--json")
    assert watched.document(1)["even"] is True
    renamed_over(plan, text.replace("gN", "gX"))
    told = watched.document(2)["fault"]
    assert told.startswith(f"{plan}: ")
    assert "gX" in told
    plan.unlink()
    assert watched.document(3)["fault"] == f"{plan}: is gone; waiting for it to come back"
    renamed_over(plan, text.replace("title  Two", "title  Both"))
    back = watched.document(4)
    assert (back["fault"], back["even"]) == (None, True)
    assert back["changes"] == [{"what": "other", "text": "changed the title"}], "against the last layout without fault"
    watched.ended()


def test_quiet_prints_the_answer_alone(plan: Path, watching: Callable[..., Watched]) -> None:
    watched = watching(str(plan), "--quiet")
    watched.until(lambda text: text.endswith("\n"))
    renamed_over(plan, plan.read_text(encoding="utf-8").replace("Two", "2"))
    watched.until(lambda text: text.count("\n") == 2)
    assert watched.ended() == EVEN * 2


def test_other_files_of_the_folder_are_nobodys_business(plan: Path, watching: Callable[..., Watched]) -> None:
    watched = watching(str(plan), "--json")
    watched.document(1)
    (plan.parent / "other.plan").write_text("x", encoding="utf-8")
    plan.touch()
    assert watched.document(2)["changes"] == []
    assert watched.ended().count("\n") == 2


@pytest.mark.slow
def test_a_save_while_a_spec_is_proposed_for_starts_anew(watching: Callable[..., Watched], tmp_path: Path) -> None:
    """Eight kilns take minutes; the question in its place is answered at once, and nothing is told of the old one."""
    spec = tmp_path / "kilns.toml"
    spec.write_text(UPHILL, encoding="utf-8")
    watched = watching(str(spec), "--json", "--time-limit", "3000")
    threading.Event().wait(3)  # so that the search is at work: if not, the test still holds
    renamed_over(spec, TOO_TIGHT)
    found = watched.document(1)
    assert faults(found["answer"], "splitwright-proposals-1") == []
    assert found["answer"]["layouts"] == []
    assert (found["answer"]["complete"], found["answer"]["interrupted"]) == (True, False)
    assert found["answer"]["advice"][0].startswith("Counting alone shows it: ")
    assert watched.ended().count("\n") == 1
    assert watched.told == []


@pytest.mark.slow
def test_the_best_layout_of_a_spec_is_drawn(watching: Callable[..., Watched], tmp_path: Path) -> None:
    spec = tmp_path / "kilns.toml"
    spec.write_text(TOO_TIGHT.replace("[1, 1, 1]", "[4, 2, 4]"), encoding="utf-8")
    watched = watching(str(spec), "--time-limit", "20")
    text = watched.until(lambda text: text.endswith("\n\n") and "layer 3" in text)
    assert "Two in no room: 2 furnaces within 4 x 2 x 4: one layout, confirmed in the simulator.\n" in text
    assert re.search(r"^ +1 +4 x 2 x 4 +32 ", text, re.MULTILINE), text
    assert "layer 0 (ground)" in text
    watched.ended()
    assert any(" s: 4 x 2 x 4 = 32 cells, " in line for line in watched.told)


@pytest.mark.slow
def test_ctrl_c_during_a_search_ends_it(watching: Callable[..., Watched], tmp_path: Path) -> None:
    spec = tmp_path / "kilns.toml"
    spec.write_text(UPHILL, encoding="utf-8")
    watched = watching(str(spec), "--time-limit", "3000")
    watched.until(lambda text: text.startswith("Watching"))
    threading.Event().wait(3)
    assert "no proof" in watched.ended(), "what was found so far is told: nothing"


def test_a_spec_becomes_one_of_a_hall_and_back(watching: Callable[..., Watched], tmp_path: Path) -> None:
    spec = tmp_path / "kilns.toml"
    spec.write_text(TOO_TIGHT, encoding="utf-8")
    watched = watching(str(spec), "--json", "--time-limit", "60")
    assert watched.document(1)["answer"]["layouts"] == []
    renamed_over(spec, HALL)
    found = watched.document(2)
    assert "answer" not in found
    assert faults(found["hall"], "splitwright-hall-proposals-1") == []
    (best,) = found["hall"]["layouts"]
    assert found["hall"]["furnaces"] == sum(map(sum, best["wings"])) == 6
    assert best["measures"]["box"] == [10, 4, 5]
    renamed_over(spec, HALL.replace('fires = "clay"', 'fires = "loam"'))
    assert "loam" in watched.document(3)["fault"]
    renamed_over(spec, f"{HALL}[site]\nsize = [4, 9, 5]\n")
    tight = watched.document(4)["hall"]
    assert tight["layouts"] == []
    assert tight["refusals"][0].endswith("takes 10 x 4 x 5 cells (turned: 4 x 10 x 5): the depth of 9 is 1 too small")
    renamed_over(spec, TOO_TIGHT)
    assert "hall" not in watched.document(5)
    assert watched.ended().count("\n") == 5


def test_the_best_hall_is_drawn_and_none_is_told_with_why(watching: Callable[..., Watched], tmp_path: Path) -> None:
    spec = tmp_path / "hall.toml"
    spec.write_text(HALL, encoding="utf-8")
    watched = watching(str(spec), "--time-limit", "60")
    first = watched.until(lambda text: "layer 4" in text and text.endswith("\n\n"))
    assert "Small brickyard: 6 furnaces on 2 sides: one hall, confirmed in the simulator.\n" in first
    assert re.search(r"^ +1 +10 x 4 x 5 +200 ", first, re.MULTILINE), first
    assert "layer 0 (ground)" in first
    renamed_over(spec, f"{HALL}[site]\nsize = [4, 9, 5]\n")
    second = watched.until(lambda text: text.count("hall.toml\n") == 2 and text.endswith("\n\n")).removeprefix(first)
    _, headline, room, *refusals = second.strip().splitlines()
    assert headline.endswith("no hall found among those that known rows make; that is no proof that none exists.")
    assert room.startswith("A site of 4 x 10 x 5 would do, ")
    assert refusals[0].endswith("takes 10 x 4 x 5 cells (turned: 4 x 10 x 5): the depth of 9 is 1 too small.")
    watched.ended()


@pytest.mark.slow
def test_a_save_while_a_hall_is_looked_for_starts_anew(watching: Callable[..., Watched], tmp_path: Path) -> None:
    """Trials of a hundred and twenty kilns take long; six in their place are told, and nothing of the others."""
    spec = tmp_path / "hall.toml"
    spec.write_text(HALL.replace("furnaces = 6", "furnaces = 120"), encoding="utf-8")
    watched = watching(str(spec), "--json", "--time-limit", "3000")
    threading.Event().wait(3)  # so that the search is at work: if not, the test still holds
    renamed_over(spec, HALL)
    assert watched.document(1)["hall"]["furnaces"] == 6
    assert watched.ended().count("\n") == 1


def test_quiet_tells_the_verdict_on_a_hall_alone(watching: Callable[..., Watched], tmp_path: Path) -> None:
    spec = tmp_path / "hall.toml"
    spec.write_text(f"{HALL}[site]\nsize = [4, 9, 5]\n", encoding="utf-8")
    watched = watching(str(spec), "--quiet")
    watched.until(lambda text: "would do" in text)
    headline, room = watched.ended().splitlines()
    assert "no hall found" in headline
    assert room.startswith("A site of 4 x 10 x 5 would do, ")


@pytest.mark.parametrize("name", ["none.plan", ".", "no\0name.plan"])
def test_what_cannot_be_watched(tmp_path: Path, name: str) -> None:
    if "\0" in name:
        assert run("watch", name).exit_code == 2
        return
    result = run_as_user("watch", str(tmp_path / name))
    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr


def test_nothing_of_one_stream_is_a_no(watching: Callable[..., Watched], tmp_path: Path) -> None:
    """Two runs that touch: the clay locks the charcoal's node."""
    path = Path(shutil.copy(LAYOUTS / "touching-runs.plan", tmp_path / "runs.plan"))
    found = watching(str(path), "--json").document(1)
    assert found["even"] is False
    assert [one["verdict"] for one in found["trials"]] == ["nothing delivered"] * 2
    told = watching(str(path), "--quiet").until(lambda text: "\n" in text)
    assert told.startswith("Nothing delivered of fuel: clay 1, 1 held in nodes, fuel 0, 18 held in nodes for ")
