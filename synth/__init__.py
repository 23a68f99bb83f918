"""The proposer: specs in, candidates out, every one confirmed by ``sim`` before anybody sees it."""
