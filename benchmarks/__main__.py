"""All benchmarks, one after the other."""

from benchmarks import simulator, synthesis

simulator.main()
synthesis.main()
