"""The constraint model held against the simulator: every filling of tiny boxes, and random fillings of larger ones.

``python -m tests.exhaustive`` runs all of it; ``tests/test_model_exhaustive.py`` and
``tests/test_model_random_fillings.py`` run a share of it, and all of it with ``SPLITWRIGHT_EXHAUSTIVE=1``.

What is compared, filling by filling (``compare``): each of the laws below separately, and where none refuses, the whole
signal field in every row of the lock table. The left column is ``synth/model``, the right one ``sim``.

==============================  =======================================================================================
``every_part_supported``        the design check ``no_support``
``gauges_read_watched_nodes``   the design check ``reads_nothing``; and, the model's scope, nothing but T0 or TN is read
``no_relay_is_latched``         scope: in the simulator's tables no relay has a part that faces one of its sides
``chains_are_bounded``          scope: in the simulator's tables no signal part acts on itself
``RowField``                    the settled field: levels, energised cells, what is lit, on, above 0, which nodes are locked
==============================  =======================================================================================

The last two laws are compared on what the first three let stand, and the field on what the fourth does too: with feedback
there is no one field to compare. Left out is what a scheme or a spec asks for, which is no law of the world: the row's
shape, windows of delays, streams that keep apart, limits.
"""
