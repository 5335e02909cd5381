"""Why the plan is so, what a change would cost, and how to go on where there is no order."""
