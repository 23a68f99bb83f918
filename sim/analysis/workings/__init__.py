"""How a layout works, as statements: the way of the items, gauges, locks, when nodes are locked, how long it takes."""

from sim.analysis.workings.finding import workings
from sim.analysis.workings.topic import Topic

__all__ = ["Topic", "workings"]
