"""What can go wrong in a hall, an incident each; ``INCIDENTS`` lists them by the word that asks for them."""

from __future__ import annotations

from typing import Final

from sim.analysis.production.incidents.fires_out import FiresOut
from sim.analysis.production.incidents.foreign_item import ForeignFeed, ForeignFuel
from sim.analysis.production.incidents.fuel_short import FuelShort
from sim.analysis.production.incidents.full_bin import FullBin
from sim.analysis.production.incidents.furnace_gone import FurnaceGone
from sim.analysis.production.incidents.incident import Incident
from sim.analysis.production.incidents.steady import Steady
from sim.analysis.production.incidents.trickle import Trickle

INCIDENTS: Final[dict[str, tuple[type[Incident], ...]]] = {
    "steady": (Steady,),
    "fires-out": (FiresOut,),
    "fuel-short": (FuelShort,),
    "full-bin": (FullBin,),
    "furnace-gone": (FurnaceGone,),
    "foreign-item": (ForeignFeed, ForeignFuel),
    "trickle": (Trickle,),
}
WHEN_ASKED_FOR: Final = ("trickle",)
"""Those that not every hall is built for."""
