"""Slots on several machines: workers of a cluster of Dask's distributed (the extra ``splitwright[cluster]``).

Dask carries jobs and results, and keeps nothing: what is settled stands in the searches' own files. A worker whose code
differs is left out; the jobs of one that is lost, or silent for long, run again elsewhere, which changes nothing, since
a job's result depends on the job alone. Documentation: docs/cluster.md.
"""

from __future__ import annotations

import logging
import pickle
import queue
import socket
import ssl
import threading
import time
import uuid
import warnings
from collections.abc import Callable
from concurrent.futures import Future, InvalidStateError
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from typing import Any, Final
from urllib.parse import urlsplit

from sim.errors import InputError
from synth.solving.budget import Stop
from synth.solving.parallel import remote
from synth.solving.parallel.processes import MEBIBYTES_LEAST
from synth.solving.parallel.work import STOPPED, Do, End, Tell

CONNECT_S: Final = 10.0
"""Within which a scheduler must answer, and then a first worker of this very code."""
LOOK_S: Final = 0.1
"""Seconds between two looks at which jobs are not wanted any more."""
LOOK_AT_WORKERS_S: Final = 1.0
SILENT_S: Final = 30.0
"""A worker that was not heard of for so long is taken for lost until it is."""
ANSWER_S: Final = 10.0
"""Within which the scheduler must answer a question."""
MEMORY_SHARE: Final = 0.9
"""Of a worker's memory limit that its jobs may take together."""
ORIGIN: Final = "--cluster"
TLS_ORIGIN: Final = "--cluster-tls"
SCHEMES: Final = ("tcp", "tls")
START: Final = "start one with: dask scheduler; or name its address"
_HALF_MADE: Final[list[Any]] = []
"""Clients that could not be made; to take them apart prints a traceback."""
INSTALL: Final = "needs Dask's distributed, which is not installed: pip install 'splitwright[cluster]'"


@dataclass(frozen=True, slots=True)
class Tls:
    """Files for a scheduler that speaks TLS, both sides with a certificate."""

    ca: str
    cert: str
    key: str


@dataclass(slots=True)
class _Worker:
    """``heard``: by our clock, when it was found to have been in touch with the scheduler; ``code``: whether it is ours
    (None: asked for)."""

    slots: int
    mebibytes: int
    seen: float
    heard: float
    code: bool | None = None

    @property
    def is_usable(self) -> bool:
        return self.code is True and time.monotonic() - self.heard < SILENT_S


@dataclass(eq=False, slots=True)
class _Running:
    task: Any
    worker: str
    stop: Stop
    tell: Tell
    end: Future[End]
    so_far: Any = None


class Cluster:
    """The workers of the scheduler at ``address``. ``mebibytes``: of each job (0: its share of the worker's memory). As
    a context manager it takes leave of the scheduler with the block. ``origin``: the option or variable that named it.

    Raises InputError, one line: not installed, no scheduler answers, or no worker has this very code.
    """

    def __init__(self, address: str, tls: Tls | None = None, mebibytes: int = 0, origin: str = ORIGIN) -> None:
        self.address, self.lost, self.faults = address, "", list[str]()
        self._mebibytes = mebibytes
        self._lock = threading.RLock()
        self._workers: dict[str, _Worker] = {}
        self._running: dict[str, _Running] = {}
        self._numbers, self._name = count(), uuid.uuid4().hex[:12]
        self._left = threading.Event()
        self._client = _connected(address, tls, origin)
        self._topic = f"splitwright-{self._name}"
        self._client.subscribe_topic(self._topic, self._heard)
        self._watch = threading.Thread(target=self._look, daemon=True)
        self._watch.start()
        end = time.monotonic() + CONNECT_S
        while not (self.count or self.lost or self._is_vain()) and time.monotonic() < end:
            time.sleep(LOOK_S)
        if not self.count:
            self.leave()
            raise InputError(self.lost or self._no_worker(), file=origin)

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *_: object) -> None:
        self.leave()

    @property
    def count(self) -> int:
        """Jobs that can be done at once, by now."""
        with self._lock:
            return sum(one.slots for one in self._workers.values() if one.is_usable)

    def start(self, do: Do[Any, Any], job: Any, seconds: float, stop: Stop, tell: Tell) -> Future[End]:
        """Send a job to the worker with the most slots free."""
        end: Future[End] = Future()
        with self._lock:
            address = self._freest()
            if address is None or self.lost:
                end.set_result(End("lost", None, self.lost))
                return end
            one = self._workers[address]
            key = f"{self._topic}-{next(self._numbers)}"
            task = self._client.submit(
                remote.run, pickle.dumps((do, job)), seconds, self._mebibytes or one.mebibytes, self._topic,
                key=key, workers=[address], allow_other_workers=False, pure=False,
            )  # fmt: skip
            self._running[key] = _Running(task, address, stop, tell, end)
        task.add_done_callback(lambda task: self._done(key, task))
        return end

    def close(self) -> None:
        """Take all jobs back."""
        for key in list(self._running):
            self._take_back(key, "stopped", STOPPED)

    def leave(self) -> None:
        """Take all jobs back, and leave the scheduler."""
        self.close()
        self._left.set()
        with suppress(Exception):  # it may be gone
            self._client.close(timeout=2)

    # -- what comes of jobs -------------------------------------------------------------------------------------------

    def _done(self, key: str, task: Any) -> None:
        with suppress(Exception):
            if task.status == "finished":
                self._finish(key, pickle.loads(task.result()))
                return
        if task.status == "error":
            self._finish(key, End("failed", None, f"a worker failed with an exception: {task.exception()!r}"))
        else:
            self._take_back(key, "lost", self.lost)

    def _take_back(self, key: str, how: Any, why: str) -> None:
        one = self._running.get(key)
        if one is not None:
            if not self.lost:
                with suppress(Exception):
                    one.task.cancel()
            self._finish(key, End(how, one.so_far, why))

    def _finish(self, key: str, end: End) -> None:
        with self._lock:
            one = self._running.pop(key, None)
        if one is not None:
            with suppress(InvalidStateError):
                one.end.set_result(end)

    def _heard(self, event: tuple[float, tuple[str, bytes]]) -> None:
        key, so_far = event[1]
        one = self._running.get(key)
        if one is not None:
            one.so_far = pickle.loads(so_far)
            one.tell(one.so_far)

    # -- who is there -------------------------------------------------------------------------------------------------

    def _freest(self) -> str | None:
        busy = dict.fromkeys(self._workers, 0)
        for one in self._running.values():
            busy[one.worker] = busy.get(one.worker, 0) + 1
        free = {address: one.slots - busy[address] for address, one in self._workers.items() if one.is_usable}
        best = max(free, key=lambda address: free[address], default=None)
        return best if best is not None and free[best] > 0 else None

    def _look(self) -> None:
        looked = 0.0
        while not (self._left.wait(LOOK_S) or self.lost):
            for key, one in list(self._running.items()):
                if one.stop.is_set():
                    self._take_back(key, "stopped", STOPPED)
            if time.monotonic() - looked >= LOOK_AT_WORKERS_S:
                looked = time.monotonic()
                try:
                    there = self._client.sync(self._client.scheduler.identity, callback_timeout=ANSWER_S)["workers"]
                except Exception:  # whatever it raises, it does not answer
                    self._lose()
                    return
                self._note(there)

    def _note(self, there: dict[str, Any]) -> None:
        """Workers come, go, and fall silent."""
        now = time.monotonic()
        with self._lock:
            for address, facts in there.items():
                known = self._workers.get(address)
                if known is None:
                    slots = max(1, int(facts["nthreads"]))
                    cap = int(facts.get("memory_limit") or 0) * MEMORY_SHARE / slots / 2**20
                    known = _Worker(slots, max(MEBIBYTES_LEAST, int(cap)) if cap else 0, facts["last_seen"], now)
                    self._workers[address] = known
                    self._ask_for_code(address)
                elif facts["last_seen"] != known.seen:
                    known.seen, known.heard = facts["last_seen"], now
            for address in [one for one in self._workers if one not in there]:
                del self._workers[address]
        for key, one in list(self._running.items()):
            worker = self._workers.get(one.worker)
            if worker is None or not worker.is_usable:
                self._take_back(key, "lost", "")

    def _ask_for_code(self, address: str) -> None:
        key = f"{self._topic}-code-{next(self._numbers)}"
        task = self._client.submit(
            remote.code_digest, key=key, workers=[address], allow_other_workers=False, pure=False
        )
        task.add_done_callback(lambda task: self._answered(address, task))

    def _answered(self, address: str, task: Any) -> None:
        try:
            same = task.result() == remote.code_digest()
            why = "runs another version"
        except Exception as fault:  # it has no such module, or cannot load it
            same, why = False, f"cannot load this version ({type(fault).__name__})"
        with self._lock:
            worker = self._workers.get(address)
            if worker is not None:
                worker.code = same
        if worker is not None and not same and not self._left.is_set():
            self.faults.append(f"the worker at {address} {why} and is left out; install this one there, start it anew")

    def _is_vain(self) -> bool:
        """There are workers, and all of them are of other versions."""
        with self._lock:
            return bool(self._workers) and all(one.code is False for one in self._workers.values())

    def _no_worker(self) -> str:
        others = [address for address, one in self._workers.items() if one.code is False]
        if others:
            return f"no worker of the scheduler at {self.address} has this version; install it there, start them anew"
        return f"no worker has joined the scheduler at {self.address}; start one: dask worker {self.address}"

    def _lose(self) -> None:
        if self._left.is_set():
            return
        again = "what is settled is kept; start it anew and give the same command again"
        self.lost = f"the scheduler at {self.address} was lost: {again}"
        for key in list(self._running):
            self._take_back(key, "lost", self.lost)
        self.faults.append(self.lost)


def _connected(address: str, tls: Tls | None, origin: str) -> Any:
    """A client of the scheduler. Raises InputError."""
    try:
        from distributed import Client, Security
    except ImportError:
        raise InputError(INSTALL, file=origin) from None
    for name in list(logging.root.manager.loggerDict):
        if name.split(".")[0] in ("distributed", "tornado"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)  # what matters is told in our own words
    warnings.filterwarnings("ignore", module=r"distributed(\..*)?$")
    _check_listening(address, origin)
    security = None
    if tls is not None:
        _check_files(tls)
        security = Security(
            tls_ca_file=tls.ca, tls_client_cert=tls.cert, tls_client_key=tls.key, require_encryption=True
        )
    made: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def connect() -> None:
        client = Client.__new__(Client)
        try:
            client.__init__(address, timeout=CONNECT_S, security=security, set_as_default=False)
            made.put(client)
        except Exception as fault:  # of many kinds: no such protocol, no answer, refused
            _HALF_MADE.append(client)
            made.put(fault)

    # What listens and stays silent holds a client up for longer than its time limit: then it is left to itself.
    threading.Thread(target=connect, daemon=True).start()
    try:
        client = made.get(timeout=CONNECT_S + 1)
    except queue.Empty:
        client = TimeoutError()
    if isinstance(client, Exception):
        known = type(client).__name__ if isinstance(client, TimeoutError) else str(client).split("\n")[0]
        raise InputError(f"no scheduler answers at {address} ({known}); {START}", file=origin) from None
    return client


def _check_listening(address: str, origin: str) -> None:
    """Raises InputError where the address is none, or nobody listens there."""
    try:
        place = urlsplit(address if "://" in address else f"tcp://{address}")
        scheme, host, port = place.scheme, place.hostname or "", place.port
        host.encode("idna")  # as every resolver asks for
    except ValueError:
        scheme, host, port = "", "", None
    if scheme not in SCHEMES or not host or not port:
        raise InputError(f"{address!r} is no address; right would be tcp://HOST:8786, or tls://HOST:8786", file=origin)
    try:
        socket.create_connection((host, port), CONNECT_S).close()
    except OSError as fault:
        why = fault.strerror or "no answer in time"
        raise InputError(f"no scheduler answers at {address} ({why}); {START}", file=origin) from None


def _check_files(tls: Tls) -> None:
    """Raises InputError, with the file, where one is not what it should be."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    files: tuple[tuple[str, str, Callable[[], object]], ...] = (
        (tls.ca, "the authority's certificate", lambda: context.load_verify_locations(tls.ca)),
        (tls.cert, "a certificate", lambda: context.load_verify_locations(tls.cert)),
        (tls.key, "the key of that certificate", lambda: context.load_cert_chain(tls.cert, tls.key)),
    )
    for path, what, load in files:
        try:
            load()
        except OSError as fault:  # SSLError is one
            why = "is not there" if isinstance(fault, FileNotFoundError) else f"is not {what} (PEM)"
            raise InputError(f"{path} {why}; right would be CA CERT KEY, three PEM files", file=TLS_ORIGIN) from None
