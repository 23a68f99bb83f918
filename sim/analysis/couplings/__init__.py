"""Couplings: signals of one row that get into another, found by a graph of influence and explained way by way."""

from sim.analysis.couplings.coupling import Coupling
from sim.analysis.couplings.found import couplings
from sim.analysis.couplings.telling import Step

__all__ = ["Coupling", "Step", "couplings"]
