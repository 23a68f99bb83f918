"""From a question to layouts and claims: known builds, the exact search, first layouts, neighbourhoods, and the race
of all."""
