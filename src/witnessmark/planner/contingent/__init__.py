"""Plan the finding out: a tree of steps whose branches are the answers that readings give."""
