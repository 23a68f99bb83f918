"""The schemes there are, found by themselves: every module of this package that has a ``SCHEME``."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from functools import cache

import synth.schemes
from sim.errors import InputError, nearest
from synth.ask.spec import Spec
from synth.schemes.scheme import Scheme


@cache
def schemes() -> dict[str, Scheme]:
    """All schemes of one row by name, the most promising first: those that are searched for."""
    return _found("SCHEME")


@cache
def joined_schemes() -> dict[str, Scheme]:
    """The schemes of splits put together from known builds; no search, and no claim, is about them."""
    return _found("JOINED")


def _found(attribute: str) -> dict[str, Scheme]:
    modules = [
        importlib.import_module(f"{synth.schemes.__name__}.{found.name}")
        for found in pkgutil.iter_modules(synth.schemes.__path__)
    ]
    found = [getattr(module, attribute) for module in modules if hasattr(module, attribute)]
    return {scheme.name: scheme for scheme in sorted(found, key=lambda one: (one.promise, one.name))}


def scheme_named(name: str) -> Scheme:
    """The scheme of that name. Raises InputError that names the nearest."""
    every = schemes() | joined_schemes()
    if name not in every:
        raise InputError(f'no scheme is called "{name}"; {nearest(name, every)}', field="split.scheme")
    return every[name]


def admissible(spec: Spec) -> list[Scheme]:
    """The schemes of one row that do what the spec asks, the most promising first; the pinned one alone, if it does."""
    return _serving(schemes().values(), spec)


def admissible_joined(spec: Spec) -> list[Scheme]:
    """The same of those put together from known builds."""
    return _serving(joined_schemes().values(), spec)


def every_admissible(spec: Spec) -> list[Scheme]:
    """Both: those that are searched for, then those put together."""
    return [*admissible(spec), *admissible_joined(spec)]


def _serving(among: Iterable[Scheme], spec: Spec) -> list[Scheme]:
    return [scheme for scheme in among if why_not(scheme, spec) is None and is_asked_for(scheme, spec)]


def is_asked_for(scheme: Scheme, spec: Spec) -> bool:
    """No scheme is pinned, or this one is."""
    return spec.scheme is None or spec.scheme == scheme.name


def why_not(scheme: Scheme, spec: Spec) -> str | None:
    """What the spec asks for and the scheme does not do, in words; None: it does all."""
    if spec.even_for not in scheme.even_for:
        return f"it is not even for a {spec.even_for}"
    if spec.leftovers == "deliver" and scheme.leaves == "hold":
        return "it leaves items in the nodes"
    if spec.outputs < scheme.outputs_least:
        return f"it is for {scheme.outputs_least} outputs or more"
    most = min(scheme.outputs_most(spec.rules, spec.stack_of(stream.item)) for stream in spec.streams)
    if spec.outputs > most:
        return f"it is for {most} outputs at most" if most else "no node reads enough under these rules"
    if scheme.joined is not None and not scheme.joined(spec.outputs):
        return f"{spec.outputs} outputs are no product of its splits"
    waiting = max(waiting_most(scheme, spec, stream.item) for stream in spec.streams)
    if spec.holds_most is not None and waiting > spec.holds_most:
        return f"it may leave {waiting} items in the nodes, what they start with among them"
    return None


def scheme_of(spec: Spec) -> Scheme:
    """The scheme that a question about the spec is about: the pinned one, or the most promising that serves.

    Raises InputError when none serves.
    """
    if spec.scheme is not None:
        return scheme_named(spec.scheme)
    serving = admissible(spec)
    if not serving:
        raise InputError(no_scheme(spec), field="split")
    return serving[0]


def waiting_most(scheme: Scheme, spec: Spec, item: str) -> int:
    """Items that may wait in the nodes at rest, those that they start with among them."""
    stack = spec.stack_of(item)
    filled = sum(slot[1] for slot in scheme.start(item, stack, spec.rules) if slot)
    return scheme.row_length(spec.outputs) * filled + scheme.held(spec.outputs, spec.rules, stack)


def kept_of(spec: Spec) -> int:
    """Items that nodes may keep of a stream at rest, by the scheme that a question about the spec is about; of streams
    with unlike stacks, of the one that may keep most."""
    return max(scheme_of(spec).held(spec.outputs, spec.rules, spec.stack_of(one.item)) for one in spec.streams)


def no_scheme(spec: Spec) -> str:
    """The fault of a spec that no scheme serves."""
    if spec.scheme is not None:
        return f'"{spec.scheme}" does not serve: {why_not(scheme_named(spec.scheme), spec)}'
    wanted = f'even_for = "{spec.even_for}" and leftovers = "{spec.leftovers}" with {spec.outputs} outputs'
    return f"no scheme serves {wanted}; known are {', '.join(schemes() | joined_schemes())}"
