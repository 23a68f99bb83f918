"""Couplings: signals of one row that get into another, found by a graph of influence and explained way by way."""

from sim.couplings.coupling import Coupling
from sim.couplings.found import couplings
from sim.couplings.telling import Step

__all__ = ["Coupling", "Step", "couplings"]
