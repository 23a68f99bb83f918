"""An uneven split: who took an item out of turn, why that one could, and why the other did not."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.mishap.causes import Causes, counts_in, since_when
from sim.analysis.mishap.lanes import Lane, gates_of, givers, outputs_of
from sim.analysis.mishap.mishap import Mishap
from sim.analysis.mishap.stuck import held_in, what_is_held
from sim.analysis.mishap.turns import OutOfTurn, out_of_turn
from sim.world.geometry import Cell, step
from sim.world.layout import Stream
from sim.world.parts import Node
from sim.world.recording import Move, Recording, Replay, value_at
from sim.world.statement import ItemWord, Statement, mention
from sim.world.trial import StreamResult


def uneven(recording: Recording, causes: Causes, stream: Stream, result: StreamResult) -> Mishap:
    """The mishap of a stream with a spread above 0: who took an item out of turn (``turns``), at the gates where these
    show it, else at the outputs themselves."""
    lanes, turn = _turn(recording, causes, stream, result)
    node, rival = lanes[turn.leader].gate, lanes[turn.rival].gate
    move = next(
        move
        for move in recording.moves
        if move.source is not None and (move.tick, move.target, move.kind) == (turn.tick, node, stream.item)
    )
    statements = (
        *_least_spread(stream, result),
        _taking(recording, move, rival, turn),
        *_why_open(recording, causes, stream, move),
        *_why_not(recording, stream, rival, turn.tick),
        Statement("mishap.never_level", {"rival": mention(recording.layout, rival)}),
        *_on_its_way(recording, causes, stream, rival),
    )
    return Mishap(stream.name, turn.tick, node, statements, "uneven")


def _turn(
    recording: Recording, causes: Causes, stream: Stream, result: StreamResult
) -> tuple[tuple[Lane, ...], OutOfTurn]:
    """The first taking out of turn, and the lanes that it was found by.

    The gates tell only where the one ahead there is the one that got more, by the last arrival: items that lie between
    gate and output can make it otherwise.
    """
    last = result.last_arrival
    assert last is not None, "a spread above 0 takes a delivery"
    gates = gates_of(recording, stream, causes.can_be_locked)
    turn = out_of_turn([lane.takes for lane in gates])
    if turn is not None and turn.tick <= last and result.delivered[turn.leader] > result.delivered[turn.rival]:
        return gates, turn
    outputs = outputs_of(recording, stream)
    turn = out_of_turn([lane.takes for lane in outputs])
    assert turn is not None, "outputs took what was delivered to them, and that differs"
    return outputs, turn


def _least_spread(stream: Stream, result: StreamResult) -> Iterator[Statement]:
    """What no split could have done better."""
    total, outputs = sum(result.delivered), len(stream.outputs)
    if result.spread == 1 and total % outputs:
        item = ItemWord(stream.item)
        yield Statement("mishap.least_spread", {"count": total, "item": item, "outputs": outputs})


def _taking(recording: Recording, move: Move, rival: Cell, turn: OutOfTurn) -> Statement:
    layout = recording.layout
    assert move.source is not None
    return Statement(
        "mishap.twice" if turn.twice else "mishap.alone",
        {
            "tick": turn.tick,
            "node": mention(layout, move.target),
            "item": ItemWord(move.kind),
            "source": mention(layout, move.source),
            "had": turn.had,
            "rival": mention(layout, rival),
            "behind": turn.behind,
        },
    )


def _mover(recording: Recording, move: Move) -> Cell:
    """The node that moved the item: what took it if it can pull and was not locked, else what pushed it."""
    source, target = move.source, move.target
    assert source is not None
    pulls = isinstance(recording.layout.by_cell[target], Node) and source == step(target, "U")
    return target if pulls and not value_at(recording.locks[target], move.tick) else source


def _why_open(recording: Recording, causes: Causes, stream: Stream, move: Move) -> Iterator[Statement]:
    """What let the node move: no signal at all, or a lock that opened, and what opened it."""
    layout = recording.layout
    node = _mover(recording, move)
    named = {"node": mention(layout, node)}
    if not causes.can_be_locked(node):
        yield Statement("mishap.never_lockable", named)
        return
    since = since_when(recording.locks[node], move.tick)
    if not since:
        yield Statement("mishap.open_from_start", named)
        return
    reading = causes.of_lock(node, since)
    if reading is None:
        yield Statement("mishap.open_since", {**named, "since": since})
        return
    gauge, container = mention(layout, reading.gauge), mention(layout, reading.container)
    key = "mishap.open_since_empty" if reading.is_empty else "mishap.open_since_holding"
    yield Statement(key, {**named, "since": since, "gauge": gauge, "container": container})
    if reading.is_empty:
        yield from _gap(recording, stream, reading.container, reading.tick)


def _gap(recording: Recording, stream: Stream, container: Cell, tick: int) -> Iterator[Statement]:
    """The container that was read empty got another item of the stream later on: the items came with a gap."""
    since = since_when(counts_in(recording, container), tick - 1)
    coming = (
        move.tick
        for move in recording.moves
        if move.tick > since and (move.target, move.kind) == (container, stream.item)
    )
    if (after := next(coming, None)) is not None:
        item, named = ItemWord(stream.item), mention(recording.layout, container)
        yield Statement("mishap.gap", {"container": named, "since": since, "item": item, "next": after})


def _why_not(recording: Recording, stream: Stream, rival: Cell, tick: int) -> Iterator[Statement]:
    """Why the rival took none at the end of that tick: locked, nothing to take, or no room."""
    layout = recording.layout
    if not isinstance(layout.by_cell[rival], Node):
        return
    named, item = mention(layout, rival), ItemWord(stream.item)
    locks = recording.locks[rival]
    replay = Replay(recording)
    replay.to(tick)
    if value_at(locks, tick):
        since = since_when(locks, tick)
        if since:
            yield Statement("mishap.rival_locked", {"rival": named, "since": since})
        else:
            yield Statement("mishap.rival_locked_from_start", {"rival": named})
    elif not any(replay.stores[cell].count(stream.item) for cell in givers(layout, rival)):
        yield Statement("mishap.rival_nothing", {"item": item, "rival": named})
    elif not replay.stores[rival].accepts(stream.item):
        yield Statement("mishap.rival_full", {"item": item, "rival": named})


def _on_its_way(recording: Recording, causes: Causes, stream: Stream, rival: Cell) -> Iterator[Statement]:
    """What lies, at the end, in the nodes that hand on to the rival, and what keeps it there."""
    if recording.result.at_rest:
        nodes = [rival, *givers(recording.layout, rival)]
        held = held_in(recording, stream, [cell for cell in nodes if cell in recording.locks])
        yield from what_is_held(recording, causes, stream, held)
