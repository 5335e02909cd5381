"""Is this plan sound? Replays it from the problem alone; knows nothing of the solver."""
