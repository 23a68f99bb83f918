"""A real scheduler and real workers, as processes on the loopback: the same answers as on one machine, whatever dies.

Public facts that are checked against stand beside the tests. Nothing here is told apart by how long it takes; the
seconds are what no test may need.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import networkx as nx
import pytest

import cluster_jobs as work
from cluster_jobs import Costly, Packing
from commands import run
from sim.errors import InputError
from sim.world.files.layout_json import layout_json_text
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.plots import sizes, volume
from synth.read.spec_file import load_spec
from synth.search.exact.descent import Descent
from synth.search.exact.worker import JobEngine, engine_for
from synth.search.race import tighter
from synth.search.request import Request
from synth.solving.parallel import cluster as module
from synth.solving.parallel.cluster import Cluster, Tls
from synth.solving.parallel.engine import Engine
from synth.solving.parallel.processes import Processes
from synth.solving.parallel.work import STOPPED, Slots, Work

TESTS = Path(__file__).resolve().parent
CLONE = TESTS.parent
FAR = 120.0
GOING_ON = threading.Event()


def in_force(seconds: float = FAR) -> float:
    return time.monotonic() + seconds


def until(there: Callable[[], object]) -> None:
    end = in_force()
    while not there():
        assert time.monotonic() < end
        time.sleep(0.05)


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class Loopback:
    """A scheduler, and workers that join it."""

    def __init__(self, tls: Tls | None = None) -> None:
        self.folder = tempfile.mkdtemp()
        self.port = free_port()
        self.address = f"{'tls' if tls else 'tcp'}://127.0.0.1:{self.port}"
        self.tls = ("--tls-ca-file", tls.ca, "--tls-cert", tls.cert, "--tls-key", tls.key) if tls else ()
        self.scheduler = self._begun("scheduler", "--host", "127.0.0.1", "--port", str(self.port))
        self.workers: list[subprocess.Popen[bytes]] = []
        until(self._listens)

    def worker(self, code: Path = CLONE) -> subprocess.Popen[bytes]:
        self.workers.append(self._begun("worker", self.address, "--nthreads", "1", "--no-nanny", code=code))
        return self.workers[-1]

    def end(self) -> None:
        for one in (*self.workers, self.scheduler):
            one.send_signal(signal.SIGCONT)
            one.kill()
            one.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _listens(self) -> bool:
        with socket.socket() as one:
            return one.connect_ex(("127.0.0.1", self.port)) == 0

    def _begun(self, what: str, *words: str, code: Path = CLONE) -> subprocess.Popen[bytes]:
        paths = os.pathsep.join([str(code), str(TESTS)])
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.dask_{what}", *words, *self.tls, "--no-dashboard"],
            env={**os.environ, "PYTHONPATH": paths}, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, cwd=self.folder,
        )  # fmt: skip


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine at work may need long to start a worker."""
    monkeypatch.setattr(module, "CONNECT_S", FAR)


@pytest.fixture(scope="module")
def steady() -> Iterator[Loopback]:
    """Two workers that nobody touches."""
    one = Loopback()
    one.worker()
    one.worker()
    yield one
    one.end()


@pytest.fixture(scope="module")
def cluster(steady: Loopback) -> Iterator[Cluster]:
    with usable(steady.address) as one:
        until(lambda: one.count == 2)
        yield one


@pytest.fixture
def shaken() -> Iterator[Loopback]:
    """One of its own for a test that kills something."""
    one = Loopback()
    yield one
    one.end()


def results(what: Work[Any, Any], slots: Slots, jobs: list[Any]) -> list[Any]:
    """Of all jobs; the slots stay."""
    return list(Engine(what, slots).results(jobs, GOING_ON, in_force()))


# -- the same answers -------------------------------------------------------------------------------------------------


def pigeons(holes: int) -> tuple[tuple[int, ...], ...]:
    """DIMACS hole6 to hole10: a pigeon more than holes (42 variables and 133 clauses for six)."""

    def sits(pigeon: int, hole: int) -> int:
        return pigeon * holes + hole + 1

    everyone = [tuple(sits(pigeon, hole) for hole in range(holes)) for pigeon in range(holes + 1)]
    pairs = combinations(range(holes + 1), 2)
    return (*everyone, *((-sits(a, hole), -sits(b, hole)) for a, b in pairs for hole in range(holes)))


def colours(graph: nx.Graph, count: int) -> tuple[tuple[int, ...], ...]:
    number = {node: i for i, node in enumerate(graph)}
    some = [tuple(number[node] * count + one + 1 for one in range(count)) for node in graph]
    clash = [(-(number[a] * count + c + 1), -(number[b] * count + c + 1)) for a, b in graph.edges for c in range(count)]
    return (*some, *clash)


def test_named_instances_come_to_what_is_published_here_and_on_the_cluster(cluster: Cluster) -> None:
    """DIMACS hole6: unsatisfiable; DIMACS myciel3, myciel4: chromatic numbers 4 and 5 (Mycielski 1955); the Petersen
    graph: 3 (Lovasz 1978)."""
    hole6 = pigeons(6)
    assert (max(lit for clause in hole6 for lit in clause), len(hole6)) == (42, 133)
    myciel3, myciel4, petersen = nx.mycielski_graph(4), nx.mycielski_graph(5), nx.petersen_graph()
    instances = [
        (hole6, False),
        (colours(myciel3, 3), False), (colours(myciel3, 4), True),
        (colours(myciel4, 4), False), (colours(myciel4, 5), True),
        (colours(petersen, 2), False), (colours(petersen, 3), True),
    ]  # fmt: skip
    asked = [clauses for clauses, _ in instances]
    found = results(work.SATISFYING, cluster, asked)
    for (clauses, satisfiable), literals in zip(instances, found, strict=True):
        assert (literals is not None) == satisfiable
        assert literals is None or all(set(clause) & set(literals) for clause in clauses)
    with Engine(work.SATISFYING, Processes(1)) as here:
        assert list(here.results(asked, GOING_ON, in_force())) == found


def test_the_smallest_rectangles_for_squares_are_the_published_ones(cluster: Cluster) -> None:
    """OEIS A038666 (Korf, "Optimal rectangle packing: initial results", ICAPS 2003, and later): the least area of a
    rectangle that holds squares of the sizes 1 to n."""
    published = {3: 15, 4: 35, 5: 60, 6: 99, 7: 154}
    jobs = [
        Packing(n, width, area // width)
        for n, least in published.items()
        for area in range(sum(size * size for size in range(1, n + 1)), least + 1)
        for width in range(n, area)
        if area % width == 0 and n <= area // width <= width
    ]
    least: dict[int, int] = {}
    for job, corners in zip(jobs, results(work.PACKING, cluster, jobs), strict=True):
        if corners is None:
            continue
        cells = [
            (x + i, y + j) for size, (x, y) in enumerate(corners, 1) for i in range(size) for j in range(size)
        ]
        assert len(set(cells)) == len(cells)
        assert all(0 <= x < job.width and 0 <= y < job.height for x, y in cells)
        least.setdefault(job.most, job.width * job.height)
    assert least == published


def searched(engine: JobEngine) -> tuple[object, ...]:
    """All that the exact search comes to in some boxes for two kilns, but for how long it took."""
    spec = replace(load_spec(CLONE / "specs" / "two-kilns.toml"), size=(4, 2, 4), order=("volume", "parts"))
    found: list[Proposal] = []

    def best() -> Proposal | None:
        return min(found, key=lambda one: rank_key(one.measures, spec.order), default=None)

    request = Request(seed=7)
    descent = Descent(spec, request, (8, 7), engine, found.append, best, sizes(spec, volume), in_force())
    assert descent.run()
    claims = [replace(claim, seconds=0.0) for claim in descent.claims.values()]
    return [layout_json_text(one.layout) for one in found], descent.steps, claims


@pytest.mark.slow
def test_the_exact_search_comes_to_the_same_as_on_one_machine(cluster: Cluster) -> None:
    """With the same seed: layouts in the same order, the same claims in the same order, the same bounds."""
    with engine_for(1) as here:
        expected = searched(here)
    assert expected[0]
    assert searched(engine_for(1, slots=cluster)) == expected


def test_what_is_stopped_tells_what_it_had_come_to(cluster: Cluster) -> None:
    """And its process is ended, so that the slot is free again."""
    stop = threading.Event()
    engine = Engine(work.SQUARING, cluster)
    stopped = iter(engine.results([2, -3], stop, in_force()))
    assert next(stopped) == 4
    until(lambda: any(one.so_far == -3 for one in cluster._running.values()))
    stop.set()
    assert list(stopped) == [(-3, STOPPED)]
    assert results(work.SQUARING, cluster, [5, 6, 7]) == [25, 36, 49]


def test_a_job_twice_out_of_memory_is_split_then_left_open(cluster: Cluster) -> None:
    assert all(one.mebibytes > 0 for one in cluster._workers.values()), "each job has its bound"
    ((settled, *others, open_one),) = results(work.SPENDING, cluster, [Costly((7, 8, 13))])
    assert (settled, others) == (-7, [-8])
    assert open_one.startswith("a worker ran out of memory under its cap of ")


# -- what dies --------------------------------------------------------------------------------------------------------


def test_jobs_of_a_worker_that_is_killed_run_again(shaken: Loopback) -> None:
    first = shaken.worker()
    with Cluster(shaken.address) as cluster:
        shaken.worker()
        until(lambda: cluster.count == 2)
        engine = Engine(work.SQUARING, cluster)
        coming = iter(engine.results(list(range(12)), GOING_ON, in_force()))
        assert next(coming) == 0
        first.kill()
        assert list(coming) == [number * number for number in range(1, 12)]
        until(lambda: cluster.count == 1)
        assert not cluster.lost


def test_jobs_of_a_worker_that_is_paused_run_elsewhere(shaken: Loopback, monkeypatch: pytest.MonkeyPatch) -> None:
    """It counts as lost while it is silent, and is taken back when it is heard of again."""
    monkeypatch.setattr(module, "SILENT_S", 4.0)
    first = shaken.worker()
    with Cluster(shaken.address) as cluster:
        shaken.worker()
        until(lambda: cluster.count == 2)
        engine = Engine(work.SQUARING, cluster)
        coming = iter(engine.results(list(range(8)), GOING_ON, in_force()))
        assert next(coming) == 0
        first.send_signal(signal.SIGSTOP)
        assert list(coming) == [number * number for number in range(1, 8)]
        until(lambda: cluster.count == 1)
        first.send_signal(signal.SIGCONT)
        until(lambda: cluster.count == 2)


def test_a_lost_scheduler_ends_the_search_and_what_was_settled_stands(shaken: Loopback) -> None:
    shaken.worker()
    with Cluster(shaken.address) as cluster:
        engine = Engine(work.SQUARING, cluster)
        coming = iter(engine.results([1, 2, -3, 4], GOING_ON, in_force()))
        assert [next(coming), next(coming)] == [1, 4]
        shaken.scheduler.kill()
        again = "what is settled is kept; start it anew and give the same command again"
        lost = f"the scheduler at {shaken.address} was lost: {again}"
        assert [why for _, why in coming] == [lost, lost]
        assert cluster.faults == [lost]
        assert cluster.lost == lost


@pytest.mark.slow
def test_what_was_settled_is_in_the_file_when_the_scheduler_is_lost(shaken: Loopback, tmp_path: Path) -> None:
    """One line tells it; the file has what was settled."""
    shaken.worker()
    spec, kept = load_spec(CLONE / "specs" / "three-kilns.toml"), tmp_path / "search.json"
    settled = threading.Event()

    def climbed(ladder: Any) -> None:
        if len([rung for rung in ladder.rungs if rung.state == "none exists"]) >= 2 and not settled.is_set():
            settled.set()
            shaken.scheduler.kill()

    with Cluster(shaken.address) as cluster:
        request = Request(limit_s=300.0, ledger=kept, slots=cluster, ladder=climbed)
        answer = tighter(spec, request)
    assert settled.is_set()
    assert not answer.complete
    assert cluster.faults == [cluster.lost]
    mine = [claim for claim in answer.claims if claim.scheme == answer.schemes[0]]  # others have files of their own
    ruled_out = {claim.box for claim in mine if claim.verdict == "none exists"}
    assert len(ruled_out) >= 1
    closed = json.loads(kept.read_text(encoding="utf-8"))["closed"]
    assert {tuple(one["box"]) for one in closed} == ruled_out


# -- who is refused ---------------------------------------------------------------------------------------------------


def usable(address: str) -> Cluster:
    """Once it has a worker of this version."""
    end = in_force()
    while True:
        try:
            return Cluster(address)
        except InputError:
            assert time.monotonic() < end


def test_a_worker_of_another_version_is_left_out(shaken: Loopback, tmp_path: Path) -> None:
    """One with a different simulator gets no job; one of this version, beside it, all of them."""
    other = tmp_path / "other"
    for name in ("sim", "synth", "specs"):
        shutil.copytree(CLONE / name, other / name, ignore=shutil.ignore_patterns("__pycache__"))
    with (other / "sim" / "world" / "world.py").open("a", encoding="utf-8") as file:
        file.write("ANOTHER = 1\n")
    shaken.worker(other)
    with pytest.raises(InputError, match=r"no worker of the scheduler at \S+ has this version; install it there"):
        Cluster(shaken.address)
    good = shaken.worker()
    with usable(shaken.address) as cluster:
        until(lambda: cluster.faults)
        (fault,) = cluster.faults
        assert fault.startswith("the worker at tcp://127.0.0.1:")
        assert fault.endswith("runs another version and is left out; install this one there, start it anew")
        assert cluster.count == 1
        parents = {driver for _, driver in results(work.WHERE, cluster, list(range(4)))}
        assert parents == {good.pid}


def test_a_scheduler_with_certificates_takes_those_who_have_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ca, key = str(tmp_path / "cert.pem"), str(tmp_path / "key.pem")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=IP:127.0.0.1,DNS:localhost", "-keyout", key, "-out", ca],
        check=True, capture_output=True,
    )  # fmt: skip
    secured = Loopback(tls := Tls(ca, ca, key))
    try:
        secured.worker()
        with Cluster(secured.address, tls) as cluster:
            assert results(work.SQUARING, cluster, [3]) == [9]
        monkeypatch.setattr(module, "CONNECT_S", 2.0)
        with pytest.raises(InputError, match="no scheduler answers at tls://"):
            Cluster(secured.address)
        for bad, fault in ((tmp_path / "none.pem", "is not there"), (Path(key), "is not the authority's certificate")):
            with pytest.raises(InputError, match=f"^--cluster-tls: {bad} {fault}"):
                Cluster(secured.address, Tls(str(bad), ca, key))
    finally:
        secured.end()


def test_an_address_where_nobody_answers_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    address = f"tcp://127.0.0.1:{free_port()}"
    monkeypatch.setattr(module, "CONNECT_S", 1.0)
    with pytest.raises(InputError) as told:
        Cluster(address)
    assert str(told.value).startswith(f"--cluster: no scheduler answers at {address} (")
    assert "\n" not in str(told.value)


def test_an_address_where_something_else_listens_is_told_in_time(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """It takes the connection and stays silent."""
    monkeypatch.setattr(module, "CONNECT_S", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as other:
        address = f"tcp://127.0.0.1:{other.getsockname()[1]}"
        with pytest.raises(InputError, match=f"^SOME_VARIABLE: no scheduler answers at {address} "):
            Cluster(address, origin="SOME_VARIABLE")
    assert capfd.readouterr().err == ""


NO_ADDRESSES = (
    "", "here", "127.0.0.1", "mail://127.0.0.1:1", "tcp://127.0.0.1:99999", "tcp://", "tcp://[::1", f"{'x' * 70}:1"
)  # fmt: skip


@pytest.mark.parametrize("address", NO_ADDRESSES)
def test_what_is_no_address_is_told(address: str) -> None:
    with pytest.raises(InputError, match=r"is no address; right would be tcp://HOST:8786"):
        Cluster(address)


def test_without_the_extra_it_is_told_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    install = r"^--cluster: needs Dask's distributed, .*: pip install 'splitwright\[cluster\]'$"
    with pytest.raises(InputError, match=install):
        Cluster("tcp://127.0.0.1:8786")


def test_the_command_tells_it_in_one_line_and_ends_with_status_2(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CONNECT_S", 1.0)
    address = f"tcp://127.0.0.1:{free_port()}"
    result = run("tighter", "specs/two-kilns.toml", "--cluster", address)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith(f"splitwright: --cluster: no scheduler answers at {address} (")
    assert result.stderr.count("\n") == 1
