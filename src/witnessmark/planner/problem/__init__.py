"""What is to be planned, and what a plan is: problem, answer, and what they say of each other."""
