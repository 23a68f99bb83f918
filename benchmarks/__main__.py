"""All benchmarks, one after the other."""

from benchmarks import answers, exact, halls, overshoot, simulator, synthesis

simulator.main()
synthesis.main()
exact.main()
halls.main()
answers.main(["--quick"])
overshoot.main(["--only", "10"])
