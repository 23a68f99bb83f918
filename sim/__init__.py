"""The block world: rulebook, layouts, design checks, simulator. It never imports the proposer."""
