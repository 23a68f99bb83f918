"""Which limits of a spec clash: a set of them that rules out every layout by itself, and none of which can be left out.

That is a minimal unsatisfiable subset, found by deletion (J. Marques-Silva, "Minimal Unsatisfiability: Models,
Algorithms and Applications", ISMVL 2010): each limit in turn is relaxed for good if it is proved that there is still no
layout, else kept. One search a limit; what ``obstacles`` has found out already is not asked again. A limit that could
not be decided in time is kept, and told as such: only what was proved is left out, so the set that is told is ruled out
by a proof whatever the time.

Why one pass is enough: to relax a limit never takes a layout away, so a layout that was found with more limits in force
stands with fewer. For one kind of limit that fails: a source on the far side of the site (E, N, U) moves with that side
when the site grows. Such an axis is never relaxed here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

from synth.answer.obstacles import Relaxation, obstacles, relaxations
from synth.ask.spec import AXES, Spec
from synth.search.race import first_layout
from synth.search.request import Request
from synth.search.result import Answer, Clash, Obstacle
from synth.search.scope import required_handovers

FAR_SIDES: Final = {"E": 0, "N": 1, "U": 2}
"""Sides of a site whose cells are others when it grows, and their axes."""
OBSTACLES_SHARE: Final = 2 / 3
"""Share of the time that is left for the limits one at a time; the clash has the rest, and what those leave."""

Ask = Callable[[tuple[str, ...], int], bool | None]
"""Whether there is a layout with all of these limits relaxed (False: proved not; None: undecided). The number: how many
questions may still come, this one among them."""


def explain(spec: Spec, answer: Answer, request: Request) -> None:
    """Fill in what stands in the way where ``answer`` to ``spec`` has no layout: obstacles, then the clash; within
    ``request.limit_s`` seconds in all."""
    end = time.monotonic() + request.limit_s
    answer.obstacles = obstacles(spec, _within(request, request.limit_s * OBSTACLES_SHARE))
    if answer.rules_out(spec.size, required_handovers(spec)):
        answer.clashes = clashes(spec, answer.obstacles, _within(request, end - time.monotonic()))


def clashes(spec: Spec, known: Sequence[Obstacle], request: Request) -> list[Clash]:
    """The clash of a spec of which it is proved that there is no layout; none where nothing is known of it but that.

    ``known``: what came of relaxing each limit alone. Time: at most ``request.limit_s`` seconds.
    """
    end = time.monotonic() + request.limit_s

    def ask(relaxed: tuple[str, ...], to_come: int) -> bool | None:
        left = end - time.monotonic()
        if request.stop.is_set() or left <= 0:
            return None
        request.told(f"do the other limits clash without {relaxed[-1]}?")
        easier = with_relaxed(spec, relaxed)
        answer = first_layout(easier, _within(request, left / to_come))
        if answer.proposals:
            return True
        return False if answer.rules_out(easier.size, required_handovers(easier)) else None

    limits = {one.limit: one for one in relaxations(spec)}
    helps = {one.limit: one.helps for one in known}
    kept = deleted(list(limits), helps, set(fixed_limits(spec)), ask)
    if len(kept) == len(limits) and not all(kept.values()):
        return []
    return [_clash(limits, kept)]


def deleted(
    limits: Sequence[str], known: Mapping[str, bool | None], fixed: set[str], ask: Ask
) -> dict[str, bool | None]:
    """The limits that are left when each was relaxed that could be, of limits that all together are infeasible.

    For each one that is left: with it relaxed as well there is a layout (True), or it is undecided (None).
    ``known``: the answers for each limit relaxed alone; ``fixed``: limits that must not be relaxed. Limits are tried in
    their order, those first of which it is known that they can go. At most ``len(limits)`` questions.
    """
    kept: dict[str, bool | None] = {limit: known.get(limit) or None for limit in limits}
    undecided = [limit for limit in limits if not known.get(limit) and limit not in fixed]
    undecided.sort(key=lambda limit: known.get(limit) is None)  # stable: within each kind as the spec has them
    relaxed: tuple[str, ...] = ()
    for done, limit in enumerate(undecided):
        alone = not relaxed and known.get(limit) is False
        found = False if alone else ask((*relaxed, limit), len(undecided) - done)
        if found is False:
            relaxed = (*relaxed, limit)
            del kept[limit]
        else:
            kept[limit] = found
    return kept


def with_relaxed(spec: Spec, limits: Sequence[str]) -> Spec:
    """The spec with all of these limits relaxed."""
    for wanted in limits:
        spec = next(one.spec for one in relaxations(spec) if one.limit == wanted)
    return spec


def fixed_limits(spec: Spec) -> Iterator[str]:
    """Limits that are no mere limits: with them relaxed, a layout of the spec need not stand."""
    for axis in {FAR_SIDES[stream.source] for stream in spec.streams if stream.source in FAR_SIDES}:
        yield f"{AXES[axis]} {spec.size[axis]}"


def _within(request: Request, seconds: float) -> Request:
    """A request for one layout of another spec; whoever waits for layouts of the user's own is not told of it."""
    return Request(
        1, max(0.0, seconds), request.workers, request.seed, request.mebibytes, stores=request.stores,
        told=request.told, stop=request.stop,
    )  # fmt: skip


def _clash(limits: Mapping[str, Relaxation], kept: Mapping[str, bool | None]) -> Clash:
    members = tuple(Obstacle(limit, limits[limit].relaxed, helps) for limit, helps in kept.items())
    beside = [one.instead for limit, one in limits.items() if limit not in kept]
    return Clash(members, tuple(beside), " ".join(_sentences(limits, kept, beside)))


def _sentences(
    limits: Mapping[str, Relaxation], kept: Mapping[str, bool | None], beside: Sequence[str]
) -> Iterator[str]:
    even = f" even with {_listed(beside, 'and')}" if beside else ""
    if not kept:
        yield f"No clash of these limits: none exists{even} (proved)."
        return
    told = _listed([limits[limit].told for limit in kept], "and")
    if len(kept) == 1:
        yield f"{_capital(told)} alone rules it out: none exists{even} (proved)."
    else:
        together = "both" if len(kept) == 2 else "all of them"
        or_some = "" if all(kept.values()) else ", or some of them"
        yield f"{_capital(told)} clash{or_some}: with {together}, none exists{even} (proved)."
    then = " then" if beside else ""
    if helping := [limits[limit].instead for limit, helps in kept.items() if helps]:
        yield f"With {_listed(helping, 'or')}, there is one{then} (confirmed)."
    if undecided := [limits[limit].instead for limit, helps in kept.items() if not helps]:
        yield f"With {_listed(undecided, 'or')}: not decided in time."


def _listed(words: Sequence[str], last: str) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
