"""One invented scenario: its makers, machines, workshop, people and figures exist nowhere else."""
