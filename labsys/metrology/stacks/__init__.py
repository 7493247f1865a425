"""Gauge-block stacks: the fewest blocks that make a length, other ways to make it, and the stack's uncertainty.

Lives here: blocks and their exact sizes, the search, what a stack adds up to, the usual sets. May not live here: which
blocks a laboratory may use today, the points of a plan.
"""
