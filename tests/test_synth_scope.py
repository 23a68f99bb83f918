"""What claims do not cover, told from what keeps it out of the model."""

from __future__ import annotations

import ast
import inspect

from sim.world.rulebook import default_rules
from synth.model import build
from synth.schemes.registry import schemes
from synth.search.scope import LEFT_OUT, not_looked_at

LAWS_AND_WISHES = {
    # laws of the world, and what design checks refuse
    *("one_part_per_cell", "every_part_supported", "no_node_is_always_locked"),
    # what is asked: by the spec, by a hall; one of each set of mirror images
    *("pins", "part_limits", "bin_in_canonical_part", "columns_repeat"),
    *("standing_parts_stay", "barred_parts_stay_away", "standing_nodes_are_left_alone"),
}


def test_every_family_of_the_model_is_a_law_or_told_as_left_out() -> None:
    """A family that is added, taken away or renamed without a word about it makes this fail."""
    tree = ast.parse(inspect.getsource(build.model_of))
    called = {
        call.func.id for call in ast.walk(tree) if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
    }
    families = called - {"Vocabulary", "Links", "RowField", "states_of", "edges", "list", "any", "zip"}
    assert families == LAWS_AND_WISHES | {family.__name__ for family in LEFT_OUT}


def test_what_was_not_looked_at_is_one_sentence_of_the_schemes_data() -> None:
    rules = default_rules()
    told = {name: not_looked_at([name], rules, 3) for name in schemes()}
    assert len(set(told.values())) == len(told)
    assert all(text.count(".") == 1 and "\n" not in text for text in told.values())
    assert "gauges on other nodes than T0 and T3" in told["burst row"]
    assert "gauges on other nodes than T3," in told["undrained row"]
    assert "longer than 8 ticks" in told["burst row"]
    slow = rules.with_overrides({"period": 12})
    assert "longer than 12 ticks" in not_looked_at(["burst row"], slow, 3)
    both = not_looked_at(["burst row", "muster row"], rules, 3)
    assert both.startswith("Not looked at: other ways to split than the burst row and muster row, ")
