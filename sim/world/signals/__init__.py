"""The signal half of the world (rulebook section 4): structure, levels, wants, timing."""
