"""What several pages need of one visit: its book and state, its plan, its price, its papers.

Here values are carried between the core's packages; nothing is computed that the core can compute.
"""
