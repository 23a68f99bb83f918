"""What a part is called in pictures: its code, the text that shows when it is pointed to, its meaning in legends."""

from __future__ import annotations

from sim.world.files.plan_cells import code_of
from sim.world.parts import Bin, Gauge, Inverter, Line, Node, Part, Relay
from sim.world.signals.structure import Build, links, read_container
from sim.world.statement import Mention, Toward
from splitwright.words import Said, Words


def part_name(part: Part, build: Build, words: Words) -> Said:
    """``gauge at 2,0,1, reads the node at 1,0,1, output east``."""
    here = Mention(part.kind, part.at)
    if isinstance(part, Line):
        linked = tuple(Mention("line", cell) for cell in links(build, part.at))
        return words.say("drawing.line_linked", part=here, lines=linked) if linked else meaning(part, words, here)
    if isinstance(part, Gauge):
        read = read_container(build, part)
        if read is not None:
            there, output = Mention(build[read].kind, read), Toward(part.output)
            return words.say("drawing.gauge_reading", part=here, container=there, direction=output)
    return meaning(part, words, here)


def plan_code(part: Part, words: Words) -> str:
    """What stands beside a sign on plans: the code of plan files with the house's letter for its direction, ``r2O``.

    Two parts that differ have two codes, since directions differ in their letters (``words.labels``).
    """
    code = code_of(part)
    match part:
        case Node(outlet=way) | Inverter(mount=way) | Relay(output=way) | Gauge(output=way):
            return code.removesuffix(way) + words.letter(way)
        case _:
            return code


def meaning(part: Part, words: Words, name: Mention | None = None) -> Said:
    """``node, outlet east``: what a sign stands for. ``name``: what stands in place of the word for the kind."""
    called = name or words.part(part.kind)
    match part:
        case Bin(finish="marked"):
            return words.say("drawing.bin_marked", part=called)
        case Node():
            return words.say("drawing.node", part=called, direction=Toward(part.outlet))
        case Inverter():
            return words.say("drawing.inverter", part=called, direction=Toward(part.mount))
        case Relay():
            return words.say("drawing.relay", part=called, delay=part.delay, direction=Toward(part.output))
        case Gauge():
            return words.say("drawing.gauge", part=called, direction=Toward(part.output))
        case _:
            return words.say(f"drawing.{part.kind}", part=called)
