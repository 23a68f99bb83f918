"""Solvers behind their adapters, the loop of solving and judging, no-goods, budgets, work side by side, and what proofs
rest on.
"""
