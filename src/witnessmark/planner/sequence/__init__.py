"""The best order for one machine, proven."""
