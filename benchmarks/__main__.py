"""All benchmarks, one after the other."""

from benchmarks import exact, simulator, synthesis

simulator.main()
synthesis.main()
exact.main()
