"""The constraint model held against the simulator: every filling of tiny boxes, and random fillings of larger ones.

``python -m tests.exhaustive`` runs all of it. ``tests/test_model_random_fillings.py`` runs all random fillings,
``tests/test_model_exhaustive.py`` a share of the tiny boxes, and with ``SPLITWRIGHT_EXHAUSTIVE=1`` all of them.

What is compared, filling by filling (``compare``): each of the laws below separately, and where none refuses, the whole
signal field in every row of the lock table. The left column is ``synth/model``, the right one ``sim``.

==============================  =======================================================================================
``every_part_supported``        the design check ``no_support``
``gauges_read_watched_nodes``   the design check ``reads_nothing``; and, the model's scope, nothing but T0 or TN is read
``no_relay_is_latched``         scope: no relay or gauge faces a side of a relay
``chains_are_bounded``          scope: in the simulator's tables no signal part acts on itself
``RowField``                    the settled field: levels; what is energised, lit, on, above 0, locked
==============================  =======================================================================================

Feedback is compared on what the first three let stand, and the field on what has no feedback: with it the settled field
depends on where settling starts from, which the model leaves out of its scope. Where no gauge of a palette can tell two
rows of the lock table apart, one of them is compared. All relays have the shortest delay, on which no settled field
depends. Left out is what a scheme or a spec asks for, which is no law of the world: the row's shape, windows of delays,
streams that keep apart, limits.
"""
