"""What is told of a spec within its time: layouts, verdicts, what stands in the way, what to do next."""
