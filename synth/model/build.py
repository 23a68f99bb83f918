"""The constraint families, in one list: a reader compares it with the rulebook, heading by heading."""

from __future__ import annotations

from synth.model.field import RowField
from synth.model.gauges import gauges_read_watched_nodes, no_relay_is_latched, watched_nodes_are_read
from synth.model.influence import edges
from synth.model.item_row import (
    drops_feed_furnaces,
    drops_hang_below,
    nothing_else_is_pulled,
    pins,
    row_is_a_chain,
    tail_pushes_into_nothing,
)
from synth.model.limits import part_limits
from synth.model.links import Links
from synth.model.locks import no_node_is_always_locked, nodes_obey
from synth.model.placement import every_part_supported, one_part_per_cell
from synth.model.question import Question
from synth.model.repetition import columns_repeat
from synth.model.separation import gauges_act_on_their_own_classes, numbers_do_not_couple, streams_do_not_couple
from synth.model.standing import barred_parts_stay_away, standing_nodes_are_left_alone, standing_parts_stay
from synth.model.states import states_of
from synth.model.symmetry import bin_in_canonical_part
from synth.model.timing import chains_are_bounded, locks_answer_in_time
from synth.model.vocabulary import Vocabulary


def model_of(question: Question) -> Vocabulary:
    """All constraints for one question.

    Size: linear in cells x rows of the lock table x levels; about 20 clauses for each such triple.
    """
    v = Vocabulary(question)
    # space, parts, supports (sections 1 and 2)
    one_part_per_cell(v)
    every_part_supported(v)
    standing_parts_stay(v)
    barred_parts_stay_away(v)
    # the item network (section 3, scheme)
    row_is_a_chain(v)
    drops_hang_below(v)
    drops_feed_furnaces(v)
    nothing_else_is_pulled(v)
    tail_pushes_into_nothing(v)
    pins(v)
    # signals (section 4), one field for each row of the lock table
    links = Links(v)
    gauges_read_watched_nodes(v)
    watched_nodes_are_read(v)
    no_relay_is_latched(v)
    fields = []
    for row, readings in states_of(question):
        fields.append(field := RowField(v, links))
        field.state({(s, label): reads for s in v.streams for label, reads in zip(v.labels, readings, strict=True)})
        nodes_obey(v, field, row)
        standing_nodes_are_left_alone(v, field, at_rest=not any(readings))
    no_node_is_always_locked(v, fields)
    # time, and no feedback
    influences = v.influences = list(edges(v, links))
    chains_are_bounded(v, influences)
    for s in v.streams:
        for label, window in question.windows.items():
            locks_answer_in_time(v, influences, s, label, window)
        gauges_act_on_their_own_classes(v, influences, s)
    streams_do_not_couple(v, influences)
    numbers_do_not_couple(v, influences)
    columns_repeat(v)
    # what the spec limits; one of each set of mirror images
    part_limits(v)
    bin_in_canonical_part(v)
    return v
