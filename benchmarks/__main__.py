"""All benchmarks, one after the other."""

from benchmarks import exact, halls, simulator, synthesis

simulator.main()
synthesis.main()
exact.main()
halls.main()
