"""The order in which a person can place the parts of a layout by hand, and a proof that each step is possible.

What a person can do (common practice, no source):

* **Hangs on.** A line, relay or gauge goes onto the solid cell directly below, an inverter onto the one on its mount
  side; that cell is there already. Which way a gauge or relay faces is set by where the builder stands: any way goes.
* **Against.** A support, furnace or bin goes against a face of a *body* that is there already: a support, furnace, bin
  or node beside, below or above it, or the ground below. Nothing goes against a line, relay, gauge or inverter.
* **Aimed.** A node goes against a body too, and its outlet then faces that body. So an outlet E takes a body at its
  east side while the node is being placed, an outlet D one below (or the ground).
* **Reach.** A hand gets at the cell: at least one of its six neighbours is open, which is: neither ground nor body.
  Outside of the site all is open. Lines, relays, gauges and inverters do not bar the way. The same holds for what is
  taken away. (Only next to the cell; no way in from afar is looked for.)
* **Temporary supports.** Where a part has nothing to go against, temporary supports lead from something that is there
  to it, and are taken away once it stands; nothing may hang on one that goes. A part stays where it is when what it
  was put against goes. Supports are the only temporary parts; a bin could merge with another.

``build_order`` finds the steps; ``prove`` replays them on an empty site and shares no code with the finder.
``filling`` tells how the containers of what stands then get the contents that they start with.
"""

from sim.analysis.building.filling import Filling, FillStep, filling
from sim.analysis.building.finding import build_order
from sim.analysis.building.proof import prove
from sim.analysis.building.step import BuildOrder, BuildStep
from sim.analysis.building.telling import filling_told, gone_told, instruction

__all__ = [
    "BuildOrder",
    "BuildStep",
    "FillStep",
    "Filling",
    "build_order",
    "filling",
    "filling_told",
    "gone_told",
    "instruction",
    "prove",
]
