"""How a layout works, as statements: the way of the items, gauges, locks, when nodes are locked, how long it takes."""

from sim.workings.finding import workings
from sim.workings.topic import Topic

__all__ = ["Topic", "workings"]
