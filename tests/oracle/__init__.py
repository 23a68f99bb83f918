"""A second opinion on the block world: a naive simulator and random builds. Imports nothing of the project."""
