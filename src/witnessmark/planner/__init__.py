"""Plan the order of work: proven, explained, checked."""
