"""Pictures drawn from computed values, as SVG. `order` rests on the planner, `drawing` on nothing."""
