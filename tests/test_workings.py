"""How a layout works, sentence by sentence against the simulator: every filling, every switch, every tick of delay."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outside.rows import burst_row_layout
from outside.wirings import wiring_without_loops
from sim.case_file import Case, run_case  # noqa: F401
from sim.files.plan import layout_from_plan
from sim.files.reading import load_layout
from sim.geometry import Cell, neighbours
from sim.layout import Layout
from sim.parts import Node, Slot
from sim.rulebook import default_rules
from sim.statement import Mention, Statement
from sim.workings import Topic, workings
from sim.world import World
from splitwright.words import english
from splitwright.words.labels import fields_of
from strategies import layouts
