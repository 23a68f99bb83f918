"""The compiled kernel: the laws of ``sim.world.signals`` and ``sim.world.items`` once more, on flat arrays, for
millions of runs.

The readable simulator decides; ``tests/test_kernel_agreement.py`` holds the kernel against it tick by tick.
"""
