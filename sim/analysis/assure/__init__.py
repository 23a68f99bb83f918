"""For which loads, arrivals, update orders and handovers is a split even? Each question a module; ``asking`` asks."""
