"""The fewest changes that make a build pass: which parts to add, remove, turn or replace."""
