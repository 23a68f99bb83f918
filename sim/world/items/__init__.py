"""The item half of the world (rulebook section 3): stores, transfer nodes, furnaces."""
