"""The world: what is said (parts, layouts, rulebooks, files), the laws (signals, items), runs of them, and how they
are told."""
