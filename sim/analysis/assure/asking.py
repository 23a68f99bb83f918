"""Ask the questions of a layout one after another, under both handovers, within the limits."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Final

from sim.analysis.assure.all_orders import every_arrival_in_every_order, every_order
from sim.analysis.assure.arrivals import every_arrival
from sim.analysis.assure.drift import drift
from sim.analysis.assure.figures import Figures, figures_of
from sim.analysis.assure.file_orders import file_orders
from sim.analysis.assure.gaps import gaps
from sim.analysis.assure.hazards import hazards
from sim.analysis.assure.load import loads, multiples
from sim.analysis.assure.overheating import overheating
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import QUESTIONS, Question, Verdict
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Furnace, Node
from sim.world.rulebook import Rules, default_rules, known_handovers

FORMAT: Final = "splitwright-assurance/1"
QUICK_FIRST: Final[tuple[Question, ...]] = (
    "load", "handover", "drift", "gaps", "overheating", "hazards", "arrivals", "orders",
)
"""The order in which questions are asked: those that may take all the time come last."""
ARRIVALS_SHARE: Final = 0.4
"""Share of the time left for the search over all arrivals."""
ORDERS_SHARE: Final = 0.5
"""Share of the time left then for the loads in every update order, for each handover in turn."""
PROBE_S: Final = 10.0
"""Seconds for finding out whether a layout has few states."""
STATES_FOR_ALL_ORDERS: Final = 400_000
"""A layout with more states under every arrival is not searched once more in each update order."""

WARM_UP_S: Final = 600.0
"""Seconds that a warm-up is given: far more than it takes."""

Asked = Callable[[Subject, Request], Iterable[Verdict]]
Searches = Callable[[Subject, Request, float], Iterable[Verdict]]
"""Subject, request, MiB of memory."""


@dataclass(slots=True)
class Assurance:
    """All verdicts so far, figures for each handover. ``complete``: every question that was asked has been answered."""

    verdicts: list[Verdict] = field(default_factory=list)
    figures: list[Figures] = field(default_factory=list)
    seconds: float = 0.0
    complete: bool = True

    @property
    def is_refuted(self) -> bool:
        """Some question that decides has a counterexample."""
        return any(one.verdict == "refuted" and one.decides for one in self.verdicts)

    @property
    def is_open(self) -> bool:
        """Some question that decides was left open."""
        return not self.complete or any(one.verdict == "open" and one.decides for one in self.verdicts)

    def as_json(self) -> dict[str, Any]:
        """``splitwright-assurance/1``."""
        return {
            "format": FORMAT,
            "verdicts": [one.as_json() for one in self.verdicts],
            "figures": [one.as_json() for one in self.figures],
            "complete": self.complete,
            "seconds": round(self.seconds, 2),
        }


def ask(
    layout: Layout,
    request: Request,
    rules: Rules | None = None,
    answered: Callable[[Verdict], None] = lambda _: None,
    handovers: Sequence[int] = (),
) -> Assurance:
    """Every question of the request, under each of ``handovers`` (default: the layout's own, then the other known one).

    ``answered`` is told of each verdict as it comes. Raises InputError for a layout that has no stream from a bin with
    a node below it. The search over arrivals has half of the memory for each of two handovers at once.
    """
    base = rules or default_rules()
    every = handovers or dict.fromkeys((layout.rules_in_force(base).handover, *known_handovers()))
    subjects = [Subject(layout, base, handover) for handover in every]
    found = Assurance()

    def note(verdicts: Iterable[Verdict]) -> None:
        for verdict in verdicts:
            found.verdicts.append(verdict)
            answered(verdict)

    for question in (one for one in QUICK_FIRST if one in request.questions):
        if request.stop.is_set():
            break
        note(_answers(question, subjects, request, found.verdicts))
    found.complete = not request.stop.is_set()
    found.verdicts.sort(key=lambda one: QUESTIONS.index(one.question))
    if not request.stop.is_set():
        request.told("steady flow and fairness")
        found.figures = [figures_of(subject) for subject in subjects]
    found.seconds = time.monotonic() - request.began
    return found


@cache
def warm_up() -> None:
    """Have everything compiled (seconds, on the first use on a machine), so that no limit of time is spent on it.

    Every question is asked once of the smallest layout that there is.
    """
    source, output = (0, 0, 2), (0, 0, 0)
    small = Layout(
        "", (1, 1, 3), {}, (Bin(source), Node((0, 0, 1), "D"), Furnace(output)),
        (Stream("feed", "clay", source, (output,)),), {"bin_slots": 1, "node_slots": 1, "stack": 2},
    )  # fmt: skip
    ask(small, Request(limit_s=WARM_UP_S, workers=1))


def _answers(
    question: Question, subjects: list[Subject], request: Request, known: Sequence[Verdict]
) -> Iterator[Verdict]:
    match question:
        case "load":
            yield from _each(loads, "one load", subjects, request)
        case "drift":
            yield from _each(drift, "loads one after another", subjects, request)
        case "gaps":
            yield from _each(gaps, "gaps", subjects, request)
        case "arrivals":
            share = request.share(ARRIVALS_SHARE)
            yield from _side_by_side(every_arrival, "every pattern of arrivals", subjects, share)
        case "orders":
            for subject in subjects:
                share = request.share(ORDERS_SHARE)
                yield from _each(every_order, "update orders", [subject], share)
            yield from _each(file_orders, "file orders", subjects, request)
            yield from _side_by_side(_arrivals_in_orders, "every arrival in every update order", subjects, request)
        case "handover":
            yield _handover_safe(subjects, request, known)
        case "overheating":
            yield from _each(overheating, "overheating", subjects, request)
        case "hazards":
            yield from _each(hazards, "hazards", subjects[:1], request)


def _each(asked: Asked, what: str, subjects: list[Subject], request: Request) -> Iterator[Verdict]:
    for subject in subjects:
        request.told(f"{what}, handover {subject.handover}")
        began = time.monotonic()
        for verdict in asked(subject, request):
            yield replace(verdict, seconds=time.monotonic() - began)
            began = time.monotonic()


def _side_by_side(search: Searches, what: str, subjects: list[Subject], request: Request) -> Iterator[Verdict]:
    """Searches over arrivals take long and one core: each handover has its own, and its share of the memory."""
    request.told(f"{what}, handover " + " and ".join(str(one.handover) for one in subjects))
    at_once = max(1, min(request.workers, len(subjects)))

    def searched(subject: Subject) -> list[Verdict]:
        began = time.monotonic()
        found = list(search(subject, request, request.mebibytes / at_once))
        return [replace(one, seconds=time.monotonic() - began) for one in found]

    with ThreadPoolExecutor(at_once) as pool:
        for verdicts in pool.map(searched, subjects):
            yield from verdicts


def _arrivals_in_orders(subject: Subject, request: Request, mebibytes: float) -> Iterator[Verdict]:
    """Only where the file order is even under every arrival, with few states."""
    if subject.why_not_searched is not None:
        return
    probe = request.share(min(1.0, PROBE_S / max(PROBE_S, request.left())))
    verdict = next(iter(every_arrival(subject, probe, mebibytes)))
    if verdict.verdict == "proved" and (verdict.states or 0) <= STATES_FOR_ALL_ORDERS:
        yield from every_arrival_in_every_order(subject, request, mebibytes)


def _handover_safe(subjects: list[Subject], request: Request, known: Sequence[Verdict]) -> Verdict:
    """Loads of k*N under every known handover; not run again where it is known what they come to."""
    loads_of = {one.handover: one for one in reversed(known) if one.question == "load"}  # the first: multiples of N
    under = " and ".join(str(one.handover) for one in subjects)
    scope = subjects[0].scope(f"loads of k*N items under handover {under}")
    done = 0
    for subject in subjects:
        verdict = loads_of.get(subject.handover) or multiples(subject, request)
        done += verdict.cases
        if verdict.verdict == "refuted":
            text = f"not under handover {subject.handover}: {verdict.text}"
            return replace(verdict, question="handover", scope=scope, text=text, cases=done)
        if verdict.verdict == "open":
            return replace(verdict, question="handover", scope=scope, cases=done)
    return Verdict("handover", "proved", scope, "even under each of them", done)
