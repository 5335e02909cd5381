"""When to do steps whose order of states is fixed: by whom, on which lift, in which shift."""
