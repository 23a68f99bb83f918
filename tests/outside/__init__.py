"""Checks of the world against the outside: Icarus Verilog (IEEE Std 1364), SimPy, a textbook formula, plain arithmetic.

Nothing here but the tests themselves runs the simulator; the models are written from the rulebook's text.
"""
