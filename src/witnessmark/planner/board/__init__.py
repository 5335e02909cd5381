"""Several machines together: each alone first, then one schedule for all."""
