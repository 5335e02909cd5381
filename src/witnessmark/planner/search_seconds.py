"""How long each search for a plan may take, in one place.

In CP-SAT's deterministic seconds: about as long as seconds on a clock, but counted by the work done, so that
the same problem has the same plan on every machine. All of them judged by us.
"""

PLAN = 6.0  # a plan for which nobody says another limit, as in the terminal
TREE = 8.0  # a tree of what readings decide
END_OF_A_TREE = 0.01  # what each end of a tree counts for, when it is grown
ONE_MACHINE = 30.0  # the order of work of one machine, as the pages plan it
MACHINES_TOGETHER = 6.0  # several machines on the board
MOMENT_ON_A_PAGE = 4.0  # each of the few plans behind a last moment
REASON_IN_THE_TERMINAL = 10.0  # each plan behind the price of a wish, or behind a last moment
ORDER_AFTER_RECOVERY = 2.0  # one order of what can go on where not everything can
CONFLICT = 1.0  # one question whether work can be done without one of its operations
COUNTING = 1.0  # the most copies of each move; a bound that took longer would not pay
LESS_EXPOSURE = 0.1  # less time in exposed states among best plans: not proven anyway
